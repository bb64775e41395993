// What is taken along: the card for the studio floor, the picture, one thing changed step by step.

import { blank, choice } from "./blanks.js";
import { byId, make, write } from "./make.js";
import { readName } from "./disk.js";
import { fetched } from "./state.js";
import { length, readAzimuth, readLength, spoken } from "./words.js";

export const UNHEARD = "The server does not answer.";
const MOST_CELLS = 5;

// Fills the section once; gives a function that offers what the set has.
export function taking(act) {
  const line = byId("taken");
  let busy = false;

  async function take(path, body, words) {
    if (busy) return;
    busy = true;
    write(line, `${words} is being made …`);
    const { name, error } = await saved(`/api/${path}`, body).catch(() => ({ error: UNHEARD }));
    write(line, error ?? `${name} is saved where the browser keeps what it loads.`);
    busy = false;
  }
  const button = (words, pressed) =>
    make("button", { type: "button", class: "small", onclick: pressed }, words);

  const paper = choice("Paper of the card", (value) => paper.show(PAPERS, value));
  paper.show(PAPERS, "a4");
  const what = choice("Changed step by step", (value) => {
    what.now = value;
    due();
  });
  const values = make("input", { type: "text", class: "blank", "aria-label": "Its values" });
  const again = make("input", { type: "checkbox", id: "again" });
  let due = () => {};
  const series = () => {
    const key = JSON.parse(what.value);
    const read = reader(key, act.unit());
    const found = values.value.split(/[;,]\s+|;/).map((text) => read(text));
    if (found.length < 2 || found.length > MOST_CELLS || found.some((each) => each === null)) {
      write(line, `Its values: write 2 to ${MOST_CELLS} of them, such as ${values.placeholder}.`);
      return;
    }
    take("export/series", { key, values: found, rebalance: again.checked }, "The series");
  };
  const card = () =>
    take(`export/card.pdf?paper=${JSON.parse(paper.value)}&look=1`, undefined, "The card");
  const copy = blank("Name of another scene file", {
    read: readName,
    accepted: "letters, numbers, - and _",
    put: (name) => act.saveAs(name),
    say: (sentence) => write(line, sentence),
  });
  copy.placeholder = "another-name";
  const rebalanced = make("label", { for: "again" }, again, " powers balanced again");
  byId("taking").append(
    make("p", {}, "The card for the studio floor on ", paper, " ", button("Save card", card)),
    make("p", {}, "The same set with ", what, " of ", values, " ", rebalanced, " "),
    make("p", {}, "The scene file as ", copy, ", to go on with under that name."),
  );
  const [, stepped] = byId("taking").children;
  stepped.append(button("Save series", series));
  return (set) => {
    stepped.hidden = !set.camera || steps(set).length === 0;
    due = () => {
      const all = steps(set);
      what.show(all, all.some(([key]) => key === what.now) ? what.now : all[0]?.[0]);
      const [, , now] = all.find(([key]) => key === JSON.parse(what.value)) ?? [];
      values.placeholder = now ? example(JSON.parse(what.value), now, act.unit()) : "";
      values.size = Math.max(18, values.placeholder.length);
    };
    due();
  };
}

const PAPERS = [
  ["a4", "A4"],
  ["letter", "US letter"],
];
const WORDS = { distance_m: "distance", azimuth_deg: "angle", elevation_deg: "height angle" };

// [[key, words, value now], ...] of what a series may change.
const steps = (set) =>
  set.lights
    .filter(({ placed }) => placed)
    .flatMap(({ name, placed }) =>
      Object.entries(WORDS).map(([key, words]) => [
        `light.${name}.${key}`,
        `the ${spoken(name)}'s ${words}`,
        placed[key],
      ]),
    );

const reader = (key, unit) =>
  key.endsWith("_m") ? (text) => readLength(text, unit) : (text) => readAzimuth(text);

// Three values about the present one.
function example(key, now, unit) {
  const by = key.endsWith("_m") ? 0.3 : 15;
  const show = key.endsWith("_m") ? (x) => length(x, unit) : (x) => `${Math.round(x)}`;
  return [now - by, now, now + by].map(show).join(", ");
}

// The file that the server makes, put where the browser puts what is saved: {name} or {error}.
export async function saved(path, body) {
  const { ok, blob, name, error } = await fetched(path, body);
  if (!ok) return { error };
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  return { name };
}

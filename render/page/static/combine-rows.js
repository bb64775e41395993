// The elements as rows of sentences: how each lies, how it is added, how black its black is.

import { sentence } from "./blanks.js";
import { blackOf } from "./combine-black.js";
import { blanksOf, fillBlanks } from "./combine-blanks.js";
import { plateChoice } from "./combine-plates.js";
import { make, match, write } from "./make.js";
import { say } from "./notices.js";
import { signed } from "./words.js";

// act: {now(k), set(k, keys, word), settle(), choose(k), order(k, by), take(k)}
export function rows(list, act) {
  return (elements, told) => {
    const names = elements.map((_, k) => `${k}`);
    match(list, names, (name) => row(Number(name), act)).forEach((node, k) =>
      node.show(elements[k], { ...told, ...told.of(k), last: k === elements.length - 1 }),
    );
  };
}

function row(k, act) {
  const words = (what) => `Element ${k + 1}: ${what}`;
  const error = make("p", { class: "error", role: "alert", hidden: true });
  const put = (keys) => {
    say({ error }, "");
    act.set(k, keys);
  };
  const parts = blanksOf(words, () => act.now(k), {
    put,
    turn: (keys) => act.set(k, keys, "gain"),
    settle: () => act.settle(),
    say: (told) => say({ error }, told),
  });
  const lines = { name: make("strong"), differs: make("span"), black: make("p") };
  const plates = plateChoice(put);
  const regions = make("p", { class: "quiet" });
  const { pick, up, down, away } = buttons(k, words, act);
  const body = make(
    "div",
    { class: "body sentence" },
    ...sentences(parts, lines),
    plates.node,
    regions,
    error,
    make("div", { class: "doings" }, up, down, away),
  );
  const node = make("li", {}, pick, body);
  node.addEventListener("focusin", () => act.choose(k));
  node.show = (element, { chosen, picture, difference, pictures, last }) => {
    node.classList.toggle("chosen", chosen === k);
    pick.setAttribute("aria-pressed", `${chosen === k}`);
    write(lines.name, element.file);
    fillBlanks(parts, element, picture?.told?.alpha || element.matte === "alpha");
    write(lines.differs, differing(difference, element.way));
    blackOf(lines.black, picture, element);
    plates.show(element, pictures);
    regions.hidden = element.region.length === 0;
    write(regions, `Regions of its recipe that limit it: ${element.region.length}; they are kept.`);
    up.disabled = k === 0;
    down.disabled = last;
  };
  return node;
}

// What is said of an element, one paragraph each.
function sentences(parts, { name, differs, black }) {
  const place = [" lies ", parts.flip, ", its middle ", parts.across, " % across and ", parts.down];
  const size = [" % down, ", parts.scale, " % as wide as the look, turned by ", parts.turn, "°."];
  const kept = make("span", { class: "kept" }, parts.gain, " stops");
  return [
    sentence({}, name, ...place, ...size),
    make("div", { class: "dial" }, "gain", parts.less, parts.dial, parts.more, kept),
    sentence({}, "It is ", parts.way, ". ", differs),
    sentence({}, "It hides ", parts.matte, "; its own edge fades over ", parts.fade, "."),
    black,
  ];
}

function buttons(k, words, act) {
  const made = (kind, label, sign, pressed) =>
    make(
      "button",
      { type: "button", class: kind, "aria-label": label ? words(label) : null, onclick: pressed },
      sign,
    );
  return {
    pick: made("mark", "choose it", `${k + 1}`, () => act.choose(k)),
    up: made("turn", "earlier in the order", "↑", () => act.order(k, -1)),
    down: made("turn", "later in the order", "↓", () => act.order(k, 1)),
    away: made("small", "", "Take it away", () => act.take(k)),
  };
}

// Screen against adding, in words; measured on the reduced picture.
function differing(found, way) {
  if (!found) return "";
  const { least, median, most } = found;
  const than = `${Math.abs(median).toFixed(2)} stop ${median > 0 ? "brighter" : "darker"}`;
  const range = `median where it shows; from ${signed(least, 2)} to ${signed(most, 2)}`;
  return way === "add"
    ? `Screened it would be ${than} (${range}).`
    : `That is ${than} than light adds (${range}).`;
}

// A sheet of pictures in which one thing changes step by step: which thing, its values, the sheet.

import { choice, sentence } from "./blanks.js";
import { fill, make, write } from "./make.js";
import { written } from "./notices.js";
import { ask } from "./state.js";
import { saved, UNHEARD } from "./taking.js";
import { whole } from "./vectors.js";
import * as words from "./words.js";

const LEAST = 2; // pictures of a sheet, as the server takes them
const MOST = 5;
const LEAVE = "leave"; // a choice that is not made

// Steps about what stands there, for a start; common practice, no source.
const farther = (at) => [0.75, 1, 1.4].map((times) => Math.round(at * times * 20) / 20);
const about = (step) => (at) => [-step, 0, step].map((by) => at + by);

const LONG = { read: words.readLength, show: words.length, near: farther };
const ANGLE = { read: words.readAzimuth, show: words.azimuth, near: about(20) };
const UP = { read: words.readDegrees, show: words.elevation, near: about(15) };
const DIAL = {
  read: (text) => (words.readDial(text) === null ? null : text.trim()),
  show: (stops) => words.dial(stops, 0.1),
  near: (stops) => [-2, -1, 0].map((by) => Math.min(0, stops + by)),
};
const STOP = {
  read: words.readStop,
  show: (said) => `${said}`,
  near: () => [5.6, 8, 11],
};
const PLACED = [
  ["distance_m", "distance", LONG],
  ["azimuth_deg", "angle from the camera", ANGLE],
  ["elevation_deg", "angle up", UP],
];
const EXPOSED = [
  [false, "the exposure stays"],
  [true, "the key is turned until the face reads the same"],
];
const PEOPLE = [
  ["model", "who sits there"],
  ["hair", "hair"],
  ["expression", "expression"],
  ["glasses", "glasses"],
  ["top", "clothes"],
];

// All that can be varied: {key: {label, at, ...kind} | {label, at, among}}.
function varied(set, act) {
  const found = {};
  const add = (key, label, at, kind) => {
    if (at !== undefined && at !== null) found[key] = { label, at, ...kind };
  };
  const pick = (key, label, at, among) => {
    if (among.length >= LEAST) found[key] = { label, at, among };
  };
  for (const light of set.lights) {
    const [id, label] = [`light.${light.name}`, words.spoken(light.name)];
    for (const [key, what, kind] of PLACED)
      add(`${id}.${key}`, `${label}, ${what}`, light.placed?.[key], kind);
    if (!light.fixed) add(`${id}.power`, `${label}, power`, light.power_stops, DIAL);
    if (set.written?.light?.[light.name]?.modifier)
      pick(
        `${id}.modifier`,
        `${label}, modifier`,
        light.modifier,
        act.choices.of("light", "modifier"),
      );
  }
  for (const panel of set.panels ?? []) {
    const [id, label] = [`panel.${panel.name}`, words.spoken(panel.name)];
    const beam = panel.guards?.distance_m;
    for (const [key, what, kind] of PLACED)
      add(`${id}.${key}`, `${label} panel, ${what}`, panel.placed?.[key], kind);
    add(`${id}.guards.distance_m`, `${label} panel, way before its light`, beam, LONG);
  }
  if (set.sitter && !set.written?.sitter?.mesh)
    for (const [key, what] of PEOPLE)
      pick(
        `sitter.${key}`,
        `sitter, ${what}`,
        set.sitter.wishes?.[key],
        act.choices.of("sitter", key),
      );
  add("sitter.head_turn_deg", "sitter, head turned", set.sitter?.wishes?.head_turn_deg, ANGLE);
  add("camera.distance_m", "camera, distance", set.camera?.distance_m, LONG);
  add("camera.f_number", "camera, f-number", set.camera?.f_number, STOP);
  if (set.backdrop) {
    add("backdrop.gap_m", "backdrop, way behind the sitter", set.backdrop.gap_m, LONG);
  }
  return found;
}

// "0.8, 1.2 and 1.6 m": what stands between commas, semicolons or the word and.
const parts = (text) =>
  text
    .split(/\s*[,;]\s*|\s+and\s+/)
    .map((each) => each.trim())
    .filter(Boolean);

// Fills the form; gives {show(set), hear(words)}.
export function seriesOf(box, act) {
  let key = "";
  let known = {};
  let filled = ""; // what the values were last filled for
  let busy = false;
  const line = make("p", { class: "quiet", role: "status" });
  const what = choice("What changes", (value) => {
    key = value;
    refill(true);
  });
  const values = make("input", {
    type: "text",
    class: "blank",
    autocomplete: "off",
    spellcheck: "false",
    "aria-label": "Its values, with commas between them",
    oninput: () => fill(values, ""),
  });
  const among = Array.from({ length: MOST }, (_, i) => {
    const one = choice(`Picture ${i + 1}`, (value) => {
      one.value_ = value;
    });
    return one;
  });
  const listed = make("span", {}, ...among.flatMap((each) => [each, " "]));
  const exposed = choice("Exposure of the pictures", (value) => exposed.show(EXPOSED, value));
  exposed.show(EXPOSED, false);
  const start = make("button", { type: "button", class: "small", onclick: begin }, "Make the sheet");
  const stop = make(
    "button",
    {
      type: "button",
      class: "small",
      hidden: true,
      onclick: () => {
        write(line, "It is being given up …");
        ask("/api/export/series/stop", {}).catch(() => {});
      },
    },
    "Give it up",
  );
  box.append(
    sentence({}, "Change ", what, " to ", values, listed, " while ", exposed, "."),
    make("div", { class: "doings" }, start, stop),
    line,
  );

  function refill(anew) {
    const thing = known[key];
    if (!thing) return;
    values.hidden = Boolean(thing.among);
    listed.hidden = !thing.among;
    const now = `${key} ${act.unit()}`;
    if (!anew && now === filled) return;
    filled = now;
    values.removeAttribute("aria-invalid");
    if (thing.among) offer(thing);
    else {
      const near = thing.near(thing.at).map((each) => thing.show(each, act.unit()));
      fill(values, [...new Set(near)].join(", "));
    }
  }

  // What is there now, then the two that follow it in the list.
  function offer(thing) {
    const all = thing.among.map(([value]) => value);
    const at = Math.max(0, all.indexOf(thing.at));
    among.forEach((each, i) => {
      const value = i < Math.min(3, all.length) ? all[(at + i) % all.length] : LEAVE;
      each.value_ = value;
      const none = i < LEAST ? [] : [[LEAVE, "no more"]];
      each.show([...thing.among, ...none], value);
    });
  }

  // The values as the scene file takes them; a sentence where they cannot be read.
  function read() {
    const thing = known[key];
    if (thing.among) {
      const chosen = among.map((each) => each.value_).filter((value) => value !== LEAVE);
      return { values: chosen };
    }
    const said = parts(values.value);
    const found = said.map((each) => thing.read(each, act.unit()));
    const wrong = said.find((_, i) => found[i] === null);
    const such = thing.show(thing.near(thing.at)[0], act.unit());
    if (wrong !== undefined)
      return { error: `Found “${wrong}”; write values such as ${such}, with commas between them.` };
    if (found.length < LEAST || found.length > MOST)
      return { error: `Found ${found.length}; write ${LEAST} to ${MOST} values.` };
    return { values: found.map((each) => (typeof each === "number" ? whole(each) : each)) };
  }

  async function begin() {
    if (busy || !known[key]) return;
    const { values: asked, error } = read();
    values.toggleAttribute("aria-invalid", Boolean(error));
    if (error) {
      write(line, error);
      return;
    }
    busy = true;
    start.disabled = true;
    stop.hidden = false;
    write(line, "The sheet is begun …");
    const body = { key, values: asked, rebalance: JSON.parse(exposed.value), lengths: act.unit() };
    const made = await act.withVersion((version) =>
      saved("/api/export/series", { version, ...body }).catch(() => ({ error: UNHEARD })),
    );
    const there = `${made.name} is saved where the browser keeps what it loads.`;
    write(line, made.error ? written(made.error) : there);
    busy = false;
    start.disabled = false;
    stop.hidden = true;
  }

  return {
    show(set) {
      if (!box.closest("details").open) return;
      known = varied(set, act);
      const names = Object.keys(known);
      box.hidden = names.length === 0 || !set.camera;
      if (!known[key]) key = names[0] ?? "";
      what.show(
        names.map((each) => [each, known[each].label]),
        key,
      );
      refill(false);
    },
    hear(sentence) {
      if (busy) write(line, `${sentence} …`);
    },
  };
}

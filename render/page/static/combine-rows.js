// The elements as rows of sentences: how each lies, how it is added, how black its black is.

import { blank, choice, number, sentence } from "./blanks.js";
import { placed, scaled, turned } from "./combine-handles.js";
import { blackOf } from "./combine-black.js";
import { make, match, write } from "./make.js";
import { written } from "./notices.js";
import { signed } from "./words.js";

const FLIPS = [
  ["none", "as it stands"],
  ["sideways", "mirrored sideways"],
  ["upside down", "upside down"],
  ["both", "mirrored and upside down"],
];
const WAYS = [
  ["add", "added as light"],
  ["screen", "screened"],
];
const MATTES = [
  ["none", "nothing of the look"],
  ["light", "as much as it is bright"],
];
const ALPHA = ["alpha", "what its file says"];
const DIAL_STOPS = 6; // either way; the blank takes more
const MOST_GAIN = 10;

const percent = (share) => `${Math.round(10000 * share) / 100}`;
const readPercent = (text) => {
  const found = number(text.replace(/%\s*$/, ""));
  return found === null ? null : found / 100;
};
const readAuto = (text) => (/^\s*auto\s*$/i.test(text) ? "auto" : readFade(text));
const readFade = (text) => {
  const found = readPercent(text);
  return found !== null && found >= 0 && found <= 0.5 ? found : null;
};
const least = (read, low) => (text) => {
  const found = read(text);
  return found !== null && found > low ? found : null;
};
const readGain = (text) => {
  const found = number(text);
  return found !== null && Math.abs(found) <= MOST_GAIN ? Math.round(10 * found) / 10 : null;
};

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
  const set = (keys, word) => act.set(k, keys, word);
  const error = make("p", { class: "error", role: "alert", hidden: true });
  const say = (words) => {
    error.hidden = !words;
    write(error, words && written(words));
  };
  const put = (keys) => {
    say("");
    set(keys);
  };
  const label = (words) => `Element ${k + 1}: ${words}`;
  const field = (words, read, accepted, keys) =>
    blank(label(words), { read, accepted, put: (found) => put(keys(found)), say });
  const parts = {
    name: make("strong"),
    flip: choice(label("mirrored"), (flip) => put({ flip })),
    across: field("middle across, per cent of the look", readPercent, "per cent such as 50", (x) =>
      placed([x, act.now(k).at[1]]),
    ),
    down: field("middle down, per cent of the look", readPercent, "per cent such as 80", (y) =>
      placed([act.now(k).at[0], y]),
    ),
    scale: field(
      "width, per cent of the look's",
      least(readPercent, 0),
      "per cent over 0 such as 100",
      scaled,
    ),
    turn: field("turned clockwise, degrees", number, "degrees such as −12.5", turned),
    gain: field("gain in stops", readGain, "stops from −10 to 10", (gain_stops) => ({
      gain_stops,
    })),
    dial: make("input", {
      type: "range",
      min: -DIAL_STOPS,
      max: DIAL_STOPS,
      step: 0.1,
      "aria-label": label("gain, as on a dial"),
      oninput: (event) => set({ gain_stops: Number(event.target.value) }, "gain"),
      onchange: () => act.settle(),
    }),
    way: choice(label("the way it is laid over"), (way) => put({ way })),
    matte: choice(label("what it hides"), (matte) => put({ matte })),
    fade: field(
      "fade of its edge, per cent of its shorter side, or auto",
      readAuto,
      "auto, or per cent from 0 to 50",
      (fade) => ({ fade: fade === "auto" ? null : fade }),
    ),
  };
  const differs = make("span");
  const black = make("p");
  const regions = make("p", { class: "quiet" });
  const plates = plateChoice(put);
  const step = (words, sign, by) =>
    make(
      "button",
      { type: "button", class: "turn", "aria-label": label(words), onclick: () => by() },
      sign,
    );
  const nudge = (by) => () =>
    put({ gain_stops: Math.round(10 * (act.now(k).gain_stops + by)) / 10 });
  const tools = {
    up: step("earlier in the order", "↑", () => act.order(k, -1)),
    down: step("later in the order", "↓", () => act.order(k, 1)),
  };
  const gone = make(
    "button",
    { type: "button", class: "small", onclick: () => act.take(k) },
    "Take it away",
  );
  const pick = make(
    "button",
    {
      type: "button",
      class: "mark",
      "aria-label": label("choose it"),
      onclick: () => act.choose(k),
    },
    `${k + 1}`,
  );
  const body = make(
    "div",
    { class: "body sentence" },
    sentence(
      {},
      parts.name,
      " lies ",
      parts.flip,
      ", its middle ",
      parts.across,
      " % across and ",
      parts.down,
      " % down, ",
      parts.scale,
      " % as wide as the look, turned by ",
      parts.turn,
      "°.",
    ),
    make(
      "div",
      { class: "dial" },
      "gain",
      step("a tenth of a stop less", "−", nudge(-0.1)),
      parts.dial,
      step("a tenth of a stop more", "+", nudge(0.1)),
      make("span", { class: "kept" }, parts.gain, " stops"),
    ),
    sentence({}, "It is ", parts.way, ". ", differs),
    sentence({}, "It hides ", parts.matte, "; its own edge fades over ", parts.fade, "."),
    black,
    plates.node,
    regions,
    error,
    make("div", { class: "doings" }, tools.up, tools.down, gone),
  );
  const node = make("li", {}, pick, body);
  node.addEventListener("focusin", () => act.choose(k));
  node.show = (element, told) => {
    node.classList.toggle("chosen", told.chosen === k);
    pick.setAttribute("aria-pressed", `${told.chosen === k}`);
    write(parts.name, element.file);
    parts.flip.show(FLIPS, element.flip);
    parts.across.show(percent(element.at[0]));
    parts.down.show(percent(element.at[1]));
    parts.scale.show(percent(element.scale));
    parts.turn.show(`${element.turn_deg}`.replace("-", "−"));
    parts.gain.show(signed(element.gain_stops));
    parts.dial.value = element.gain_stops;
    parts.way.show(WAYS, element.way);
    const held = told.picture;
    const alpha = held?.told?.alpha || element.matte === "alpha";
    parts.matte.show(alpha ? [...MATTES, ALPHA] : MATTES, element.matte);
    parts.fade.show(element.fade === null ? "auto" : `${percent(element.fade)} %`);
    write(differs, differing(told.difference, element.way));
    blackOf(black, held, element);
    plates.show(element, told.pictures);
    regions.hidden = element.region.length === 0;
    write(regions, `Its recipe limits it by ${element.region.length} region(s); they are kept.`);
    tools.up.disabled = k === 0;
    tools.down.disabled = told.last;
  };
  return node;
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

// Boxes for the pictures that may be clean plates of an element.
function plateChoice(put) {
  const boxes = make("div", { class: "plates" });
  const summary = make("summary");
  const node = make("details", {}, summary, boxes);
  return {
    node,
    show({ file, plates }, pictures) {
      const others = pictures.filter((name) => name !== file);
      node.hidden = others.length === 0;
      write(
        summary,
        plates.length > 0 ? `Clean plates: ${plates.join(", ")}` : "Take out a clean plate",
      );
      match(boxes, others, (name) => {
        const box = make("input", { type: "checkbox" });
        const label = make("label", {}, box, name);
        box.addEventListener("change", () => {
          const kept = label.plates.filter((each) => each !== name);
          put({ plates: box.checked ? [...kept, name] : kept });
        });
        return label;
      }).forEach((label) => {
        label.plates = plates;
        label.querySelector("input").checked = plates.includes(label.dataset.name);
      });
    },
  };
}

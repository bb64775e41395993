// The blanks and choices in an element's sentences: what each writes, reads and accepts.

import { blank, choice, number } from "./blanks.js";
import { placed, scaled, turned } from "./combine-handles.js";
import { make } from "./make.js";
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
const AUTO = "auto"; // the program fades where an edge shows
const DIAL_STOPS = 6; // either way; the blank takes more
const MOST_GAIN = 10;

const percent = (share) => `${Math.round(10000 * share) / 100}`;
const readPercent = (text) => {
  const found = number(text.replace(/%\s*$/, ""));
  return found === null ? null : found / 100;
};
const readWidth = (text) => {
  const found = readPercent(text);
  return found !== null && found > 0 ? found : null;
};
const readFade = (text) => {
  if (text.trim().toLowerCase() === AUTO) return AUTO;
  const found = readPercent(text);
  return found !== null && found >= 0 && found <= 0.5 ? found : null;
};
const readGain = (text) => {
  const found = number(text);
  return found !== null && Math.abs(found) <= MOST_GAIN ? found : null;
};

// words(what): a label; now(): the element as it is; act: {put(keys), turn(keys), settle(),
// say(sentence)}.
export function blanksOf(words, now, act) {
  const field = (what, read, accepted, keys) =>
    blank(words(what), { read, accepted, put: (found) => act.put(keys(found)), say: act.say });
  const of = "per cent of the look";
  const by = (stops) => () => act.put(gained(now().gain_stops + stops));
  return {
    flip: choice(words("mirrored"), (flip) => act.put({ flip })),
    across: field(`middle across, ${of}`, readPercent, "per cent such as 50", (x) =>
      placed([x, now().at[1]]),
    ),
    down: field(`middle down, ${of}`, readPercent, "per cent such as 80", (y) =>
      placed([now().at[0], y]),
    ),
    scale: field(`width, ${of}'s`, readWidth, "per cent over 0 such as 100", scaled),
    turn: field("turned clockwise, degrees", number, "degrees such as −12.5", turned),
    gain: field("gain in stops", readGain, "stops from −10 to 10", gained),
    less: nudge(words("a tenth of a stop less"), "−", by(-0.1)),
    more: nudge(words("a tenth of a stop more"), "+", by(0.1)),
    dial: make("input", {
      type: "range",
      min: -DIAL_STOPS,
      max: DIAL_STOPS,
      step: 0.1,
      "aria-label": words("gain, as on a dial"),
      oninput: (event) => act.turn(gained(Number(event.target.value))),
      onchange: () => act.settle(),
    }),
    way: choice(words("the way it is laid over"), (way) => act.put({ way })),
    matte: choice(words("what it hides"), (matte) => act.put({ matte })),
    fade: field(
      "fade of its edge, per cent of its shorter side, or auto",
      readFade,
      "auto, or per cent from 0 to 50",
      (fade) => ({ fade: fade === AUTO ? null : fade }),
    ),
  };
}

const gained = (stops) => ({
  gain_stops: Math.round(10 * Math.min(MOST_GAIN, Math.max(-MOST_GAIN, stops))) / 10,
});
const nudge = (words, sign, pressed) =>
  make("button", { type: "button", class: "turn", "aria-label": words, onclick: pressed }, sign);

// alpha: whether its file says what it hides
export function fillBlanks(parts, element, alpha) {
  parts.flip.show(FLIPS, element.flip);
  parts.across.show(percent(element.at[0]));
  parts.down.show(percent(element.at[1]));
  parts.scale.show(percent(element.scale));
  parts.turn.show(`${element.turn_deg}`.replace("-", "−"));
  parts.gain.show(signed(element.gain_stops));
  parts.dial.value = element.gain_stops;
  parts.way.show(WAYS, element.way);
  parts.matte.show(alpha ? [...MATTES, ALPHA] : MATTES, element.matte);
  parts.fade.show(element.fade === null ? AUTO : `${percent(element.fade)} %`);
}

// The sitter, the room and the backdrop as sentences with blanks to write in and choose from.

import { blank, choice, number, sentence } from "./blanks.js";
import { write as put } from "./make.js";
import { whole } from "./vectors.js";
import { azimuth, length, readAzimuth, readDegrees, readLength } from "./words.js";

const GREYS = [0.05, 0.18, 0.5, 0.7, 0.85]; // luminous reflectances, beside the kit's paints

const NONE = (what) => (words) => (words === "none" ? `no ${what}` : `${words} ${what}`);
// What the sitter has where the file says nothing, and what the file says, in words.
const OWN = {
  hair: "own hair",
  hair_colour: "own colour of hair",
  beard: "own beard or none",
  glasses: "own glasses or none",
  expression: "own expression",
  top: "own clothes",
  headwear: "own headwear or none",
};
const NAMED = {
  hair: (words) => (words === "long" ? "long hair" : words),
  hair_colour: (words) => `${words} hair`,
  beard: NONE("beard"),
  glasses: NONE("glasses"),
  expression: (words) => words,
  top: (words) => words,
  headwear: (words) => (words === "none" ? "no headwear" : words),
};

// Fills the two sections once; gives a function that shows the set in them.
export function people(sitterBox, roomBox, act) {
  const shows = [sitterOf(sitterBox, act), roomOf(roomBox, act), backdropOf(roomBox, act)];
  return (set) => {
    if (set.written) for (const show of shows) show(set);
    for (const box of [sitterBox, roomBox]) {
      const folded = box.closest("details");
      put(folded.querySelector("summary"), folded.open ? "Change it:" : plain(box));
    }
  };
}

// What the sentences of a box say, without their blanks.
function plain(node) {
  if (node instanceof HTMLSelectElement)
    // "own: bob" is a bob; of "alma: woman of 36 ..." the name will do.
    return (node.selectedOptions[0]?.textContent ?? "").replace(/^own: /, "").split(": ")[0];
  if (node instanceof HTMLInputElement) return node.value;
  if (node.nodeType === Node.TEXT_NODE) return node.textContent;
  if (node.hidden) return "";
  const parts = [...node.childNodes].map(plain);
  return node.matches("p") ? `${parts.join("")} ` : parts.join("");
}

const OWN_VALUE = "own"; // takes the key out of the file
const share = (text) => (/^(its )?own$|^$/.test(text.trim()) ? OWN_VALUE : number(text));

// Fields of one table of the scene file.
function fieldsOf(table, label, act) {
  const put = (key) => (value) =>
    act.change({ [`${table}.${key}`]: { value: value === OWN_VALUE ? null : value } }, true);
  const write = (key, words, read, accepted) =>
    blank(`${label}, ${words}`, { read, accepted, put: put(key), say: act.tell });
  const metres = (text) => {
    const found = readLength(text, act.unit());
    return found === null ? null : whole(found);
  };
  return {
    put,
    write,
    pick: (key, words) => choice(`${label}, ${words}`, put(key)),
    long: (key, words) => write(key, words, metres, "a length such as 1.2 m or 4 ft"),
    turn: (key, words) => write(key, words, readAzimuth, "degrees and a side, such as 15 left"),
  };
}

function sitterOf(box, act) {
  const { pick, long, turn, write } = fieldsOf("sitter", "Sitter", act);
  const field = {
    model: pick("model", "who"),
    skin_reflectance: write(
      "skin_reflectance",
      "skin",
      share,
      "a reflectance such as 0.35, or own",
    ),
    hair: pick("hair", "hair"),
    hair_colour: pick("hair_colour", "colour of the hair"),
    beard: pick("beard", "beard"),
    expression: pick("expression", "expression"),
    glasses: pick("glasses", "glasses"),
    top: pick("top", "top"),
    headwear: pick("headwear", "headwear"),
    turn_deg: turn("turn_deg", "body turned"),
    head_turn_deg: turn("head_turn_deg", "head turned"),
    head_nod_deg: write("head_nod_deg", "nod", readDegrees, "degrees; chin down is positive"),
    eyes_height_m: long("eyes_height_m", "height of the eyes"),
  };
  const f = field;
  const clothes = [f.glasses, ", ", f.expression, ", ", f.top, ", ", f.headwear];
  const hair = [f.hair, ", ", f.hair_colour, ", ", f.beard, ", "];
  const skin = ["; reflectance of the skin ", f.skin_reflectance, "."];
  const turns = [f.turn_deg, ", the head ", f.head_turn_deg, " of it, nodding ", f.head_nod_deg];
  box.append(
    sentence({}, "Here sits ", f.model, " with ", ...hair, ...clothes, ...skin),
    sentence({}, "The body is turned ", ...turns, "; eyes ", f.eyes_height_m, " high."),
  );
  const picks = Object.entries(OWN);
  return (set) => {
    box.closest("section").hidden = !set.sitter;
    const said = set.written.sitter ?? {};
    f.model.show(act.choices.of("sitter", "model"), said.mesh ? said.mesh : (said.model ?? "alma"));
    for (const [key, own] of picks) {
      const named = act.choices
        .of("sitter", key)
        .map(([value, words]) => [value, NAMED[key](words)]);
      const way = set.sitter?.wishes?.[key];
      const words = way ? `own: ${NAMED[key](way)}` : own;
      field[key].show([[null, words], ...named], said[key]);
    }
    f.skin_reflectance.show(
      said.skin_reflectance === undefined ? "own" : `${said.skin_reflectance}`,
    );
    f.turn_deg.show(azimuth(said.turn_deg ?? 0));
    f.head_turn_deg.show(azimuth(said.head_turn_deg ?? 0));
    f.head_nod_deg.show(`${said.head_nod_deg ?? 0}°`);
    f.eyes_height_m.show(length(said.eyes_height_m ?? set.sitter?.eyes[1] ?? 0, act.unit()));
  };
}

// A paint of the kit, a grey, or what the file says.
const paints = (act) => [
  ...act.choices.of("room", "paint"),
  ...GREYS.map((each) => [each, tone(each)]),
];

const tone = (said) => (typeof said === "number" ? `grey, ${Math.round(100 * said)} %` : said);

function roomOf(box, act) {
  const { pick, long } = fieldsOf("room", "Room", act);
  const field = {
    walls: pick("walls", "walls"),
    ceiling: pick("ceiling", "ceiling"),
    floor: pick("floor", "floor"),
  };
  const sizes = {
    width_m: long("width_m", "width"),
    depth_m: long("depth_m", "depth"),
    height_m: long("height_m", "height"),
  };
  const walls = ["Walls ", field.walls, ", ceiling ", field.ceiling, ", floor ", field.floor];
  const wide = ["; the room ", sizes.width_m, " wide, ", sizes.depth_m, " deep, "];
  const line = sentence({}, ...walls, ...wide, sizes.height_m, " high.");
  box.append(line);
  const usual = { walls: 0.7, ceiling: 0.8, floor: 0.25 }; // defaults of the scene file
  return (set) => {
    line.hidden = !set.room;
    if (!set.room) return;
    for (const [key, each] of Object.entries(field))
      each.show(paints(act), set.written.room?.[key] ?? usual[key], tone);
    for (const [key, each] of Object.entries(sizes)) each.show(length(set.room[key], act.unit()));
  };
}

function backdropOf(box, act) {
  const { pick, long, write } = fieldsOf("backdrop", "Backdrop", act);
  const kind = pick("kind", "kind");
  const gap = long("gap_m", "behind the sitter");
  const width = long("width_m", "width");
  const colour = pick("colour", "colour");
  const grey = write("reflectance", "reflectance", share, "a number such as 0.18, or own");
  const who = document.createTextNode("");
  const place = ["Backdrop ", kind, ", ", gap, " behind ", who, ", ", width, " wide, "];
  const line = sentence({}, ...place, colour, ", reflectance ", grey, ".");
  box.append(line);
  return (set) => {
    line.hidden = !set.backdrop;
    box.closest("section").hidden = !set.backdrop && !set.room;
    if (!set.backdrop) return;
    const said = set.written.backdrop ?? {};
    who.data = set.sitter ? "the sitter" : "the mark";
    kind.show(act.choices.of("backdrop", "kind"), said.kind ?? "cloth");
    gap.show(length(set.backdrop.gap_m ?? said.gap_m, act.unit()));
    width.show(length(set.backdrop.width_m ?? said.width_m ?? 0, act.unit()));
    colour.show([[null, "neutral"], ...act.choices.of("backdrop", "colour")], said.colour);
    grey.show(`${said.reflectance ?? (said.colour === undefined ? 0.18 : "its own")}`);
  };
}

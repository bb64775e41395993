// Plan from above and elevation from the side, to scale, one exactly under the other.

import { noteOf } from "./findings.js";
import { fingerOf, gripAt } from "./hands.js";
import { LETTER, labels } from "./labels.js";
import { draw, make } from "./make.js";
import { VIEWS, camera, extent, housing, place } from "./scale.js";
import { air, airOf, backdrop, flat, lamp, lens } from "./standing.js";
import { panels, sitter, sitterOf, walls } from "./standing.js";
import { dimension, heightLine, tapes } from "./tapes.js";
import { lightId, panelId, panelsOf, thingOf } from "./things.js";
import { length, spoken } from "./words.js";

const LETTER_PX = 12.5; // on the screen, however large the room

// chosen: name of the thing that shows its tape lines
// act: {grab(event, id, part, view, svg), key(event, id, part, view), choose(id), on(id)}
export function drawViews(box, set, chosen, unit, act) {
  const focus = document.activeElement?.closest?.("g[data-thing]")?.dataset;
  const abreast = window.getComputedStyle(box).gridTemplateColumns.split(" ").length;
  const width = box.clientWidth / abreast;
  box.replaceChildren(
    ...Object.values(VIEWS).map((view) => oneView(set, view, width, chosen, unit, act)),
  );
  for (const svg of box.querySelectorAll("svg")) oneStop(svg);
  if (!focus) return;
  const same = ({ dataset }) =>
    ["thing", "part", "view"].every((key) => dataset[key] === focus[key]);
  [...box.querySelectorAll("g[data-thing]")].find(same)?.focus({ preventScroll: true });
}

// Each drawing is one stop of the Tab key, at what is chosen; End and Home go on from there.
function oneStop(svg) {
  const all = [...svg.querySelectorAll("g[data-thing]")];
  const stop = all.find((each) => each.getAttribute("aria-pressed") === "true") ?? all[0];
  for (const each of all) each.setAttribute("tabindex", each === stop ? 0 : -1);
}

function onward(event) {
  const by = { End: 1, Home: -1 }[event.key];
  const all = [...event.currentTarget.querySelectorAll("g[data-thing]")];
  const at = all.indexOf(event.target.closest("g[data-thing]"));
  if (!by || at < 0) return;
  event.preventDefault();
  all[(at + by + all.length) % all.length].focus();
}

function oneView(set, view, width, chosen, unit, act) {
  const [low, high] = extent(set);
  const [left, bottom] = place(low, view.seen);
  const [right, top] = place(high, view.seen);
  // So many drawing units are a letter's height on the screen.
  const scale = ((LETTER_PX / LETTER) * (right - left)) / (width - 44 * (LETTER_PX / LETTER));
  const pad = { left: 30 * scale, right: 14 * scale, top: 8 * scale, bottom: 28 * scale };
  const frame = [left, top, right, bottom];
  const box = [left - pad.left, top - pad.top, right - left, bottom - top];
  const svg = draw("svg", {
    viewBox: [box[0], box[1], box[2] + pad.left + pad.right, box[3] + pad.top + pad.bottom].join(
      " ",
    ),
    role: "group",
    "aria-label": `${view.title}. End goes to the next thing, Home to the one before.`,
    onkeydown: onward,
    class: `view ${view.name}`,
  });
  const px = (scale * LETTER) / LETTER_PX;
  const put = labels(svg, frame, scale);
  const sheet = { svg, set, view, scale, px, unit, frame, put, chosen, act, grips: [] };
  walls(sheet, low);
  dimension(sheet, low, high);
  backdrop(sheet);
  sitter(sheet);
  air(sheet);
  panels(sheet);
  lens(sheet);
  const last = ({ name }) => lightId(name) === chosen;
  const order = [...set.lights.keys()].sort((a, b) => last(set.lights[a]) - last(set.lights[b]));
  for (const i of order) lamp(sheet, i);
  keepClear(sheet);
  const thing = thingOf(set, chosen);
  if (thing) (view.name === "plan" ? tapes : heightLine)(sheet, thing);
  names(sheet);
  svg.addEventListener("pointerdown", (event) => {
    const grip = gripAt(svg, sheet.grips, event);
    if (grip) act.grab(event, grip.id, grip.part, view, svg);
  });
  // A finger on a thing drags it; elsewhere it scrolls the page.
  const still = (event) => gripAt(svg, sheet.grips, fingerOf(event)) && event.preventDefault();
  svg.addEventListener("touchstart", still, { passive: false });
  return make("figure", {}, make("figcaption", {}, view.title), svg);
}

// What is drawn is to be covered by words as little as possible.
function keepClear({ set, view, put }) {
  for (const light of set.lights) put.avoid(flat([...housing(light), light.centre], view));
  for (const { leaves } of set.panels) for (const leaf of leaves) put.avoid(flat(leaf, view));
  if (set.camera) for (const part of camera(set.camera, view)) put.avoid(part);
  if (set.backdrop) put.avoid(flat(set.backdrop.corners, view));
  if (set.sitter) for (const ring of sitterOf(set, view)) put.avoid(ring);
  for (const { outlines } of airOf(set, view)) put.avoid(outlines.flat());
}

// Every name beside its thing, with what is wrong there and by how much.
function names({ set, view, unit, put, chosen }) {
  const high = (metres) => (view.name === "side" ? ` ${length(metres, unit)}` : "");
  const name = (at, id, words, mark = "") =>
    put.name(place(at, view.seen), words, {
      mark,
      strong: id === chosen,
      note: noteOf(set.findings, id),
    });
  set.lights.forEach((light, i) =>
    name(
      light.centre,
      lightId(light.name),
      `${spoken(light.name)}${high(light.centre[1])}`,
      `${i + 1}`,
    ),
  );
  const { camera: cam } = set;
  if (cam) name([cam.x, cam.y, cam.z + 0.12], "camera", `camera${high(cam.y)}`);
  if (set.sitter && view.name === "side")
    name(set.sitter.eyes, "sitter", `eyes${high(set.sitter.eyes[1])}`);
  for (const { names: told, outlines } of airOf(set, view)) {
    const corners = outlines.flat();
    const middle = [0, 1].map((axis) => {
      const all = corners.map((point) => point[axis]);
      return (Math.min(...all) + Math.max(...all)) / 2;
    });
    put.name(middle, `in the air: ${told.join(", ")}`);
  }
  for (const panel of panelsOf(set)) {
    const words = `${spoken(panel.name)}${high(panel.centre[1])}`;
    name(panel.centre, panelId(panel.name), words, panel.mark);
  }
}

// Plan from above and elevation from the side, to scale, one exactly under the other.

import { draw, make } from "./make.js";
import {
  VIEWS,
  aimOf,
  camera,
  edges,
  extent,
  hull,
  housing,
  lookedInto,
  path,
  place,
} from "./scale.js";
import { CAMERA, asThing } from "./standpoint.js";
import { dimension, heightLine, tapes } from "./tapes.js";
import { LETTER, labels } from "./labels.js";
import { azimuth, elevation, length, spoken } from "./words.js";

const LETTER_PX = 12.5; // on the screen, however large the room

// chosen: name of the light that shows its tape lines
// act: {grab(event, name, view, svg), key(event, name, view), choose(name)}
export function drawViews(box, set, chosen, unit, act) {
  const focus = document.activeElement?.closest?.("g[data-light]");
  const again = focus && [focus.dataset.light, focus.dataset.view];
  const abreast = window.getComputedStyle(box).gridTemplateColumns.split(" ").length;
  const width = box.clientWidth / abreast;
  box.replaceChildren(
    ...Object.values(VIEWS).map((view) => oneView(set, view, width, chosen, unit, act)),
  );
  if (again)
    box
      .querySelector(`g[data-light="${CSS.escape(again[0])}"][data-view="${again[1]}"]`)
      ?.focus({ preventScroll: true });
}

function oneView(set, view, width, chosen, unit, act) {
  const [low, high] = extent(set);
  const [left, bottom] = place(low, view.seen);
  const [right, top] = place(high, view.seen);
  // So many drawing units are a letter's height on the screen.
  const scale = ((LETTER_PX / LETTER) * (right - left)) / (width - 44 * (LETTER_PX / LETTER));
  const pad = { left: 30 * scale, right: 14 * scale, top: 8 * scale, bottom: 28 * scale };
  const frame = [left, top, right, bottom];
  const svg = draw("svg", {
    viewBox: [
      left - pad.left,
      top - pad.top,
      right - left + pad.left + pad.right,
      bottom - top + pad.top + pad.bottom,
    ].join(" "),
    role: "group",
    "aria-label": view.title,
    class: `view ${view.name}`,
  });
  const sheet = { svg, set, view, scale, unit, frame, put: labels(svg, frame, scale) };
  if (set.room)
    svg.append(
      draw("rect", { class: "walls", x: left, y: top, width: right - left, height: bottom - top }),
    );
  else if (view.name === "side")
    svg.append(
      draw("path", {
        class: "walls",
        d: path(
          [
            [left, 0],
            [right, 0],
          ],
          false,
        ),
      }),
    );
  dimension(sheet, low, high);
  still(sheet, low);
  const light =
    chosen === CAMERA && set.camera
      ? asThing(set.camera)
      : set.lights.find((each) => each.name === chosen);
  if (light) (view.name === "plan" ? tapes : heightLine)(sheet, light);
  if (set.camera) lens(sheet, chosen, act);
  const order = [...set.lights.keys()].sort(
    (a, b) => (set.lights[a].name === chosen) - (set.lights[b].name === chosen),
  );
  for (const i of order) lamp(sheet, i, chosen, act);
  names(sheet, chosen);
  return make("figure", {}, make("figcaption", {}, view.title), svg);
}

function still({ svg, set, view }, low) {
  const { backdrop, camera: cam, sitter } = set;
  if (cam) {
    const until = backdrop ? backdrop.corners[0][2] : low[2];
    for (const edge of edges(cam, view, until))
      svg.append(draw("path", { class: "sight", d: path(edge, false) }));
  }
  if (backdrop)
    svg.append(draw("path", { class: "backdrop", d: path(flat(backdrop.corners, view)) }));
  if (sitter) {
    for (const ring of sitterOf(set, view))
      svg.append(draw("path", { class: "sitter", d: path(ring) }));
    const [x, y] = place(sitter.eyes, view.seen);
    svg.append(
      draw("path", { class: "eyes", d: `M${x - 5} ${y}H${x + 5}M${x} ${y - 5}V${y + 5}` }),
    );
  }
  for (const panel of set.panels) {
    svg.append(
      draw("path", {
        class: /black|flag/.test(panel.kind) ? "panel dark" : "panel",
        d: path(flat(panel.corners, view)),
      }),
    );
  }
}

// The camera as something to take hold of.
function lens({ svg, set, view, unit }, chosen, act) {
  const cam = set.camera;
  const at = place([cam.x, cam.y, cam.z + 0.1], view.seen);
  const is = chosen === CAMERA;
  svg.append(
    draw(
      "g",
      {
        class: ["lens", is ? "chosen" : "", cam.draft ? "draft" : ""].join(" "),
        tabindex: 0,
        role: "button",
        "aria-pressed": `${is}`,
        "aria-label": `camera: ${length(cam.z, unit)} from the mark, ${length(cam.y, unit)} high. Arrow keys move it.`,
        "data-light": CAMERA,
        "data-view": view.name,
        onpointerdown: (event) => act.grab(event, CAMERA, view, svg),
        onkeydown: (event) => act.key(event, CAMERA, view),
        onfocus: () => act.choose(CAMERA),
      },
      ...camera(cam, view).map((part) => draw("path", { class: "camera", d: path(part) })),
      draw("circle", { class: "grip", cx: at[0], cy: at[1], r: 16 }),
    ),
  );
}

// Outlines of the sitter, shoulders first: in the plan x and z, from the side z and y.
const sitterOf = ({ sitter }, view) =>
  sitter[view.name].map((ring) =>
    ring.map(([a, b]) =>
      view.name === "plan" ? place([a, 0, b], view.seen) : place([0, b, a], view.seen),
    ),
  );

const flat = (corners, view) => hull(corners.map((corner) => place(corner, view.seen)));

export function stands(light, unit) {
  const { placed } = light;
  const where = placed
    ? `${length(placed.distance_m ?? 0, unit)} away, ${azimuth(placed.azimuth_deg ?? 0)}, ${elevation(placed.elevation_deg ?? 0)}`
    : `${length(light.centre[1], unit)} high`;
  return `${spoken(light.name)}: ${light.words}; ${where}`;
}

function lamp({ svg, set, view, unit }, i, chosen, act) {
  const light = set.lights[i];
  const lit = flat(light.corners, view);
  const at = place(light.centre, view.seen);
  const aim = aimOf(light);
  const group = draw(
    "g",
    {
      class: [
        "lamp",
        light.on ? "" : "unfired",
        light.name === chosen ? "chosen" : "",
        light.draft ? "draft" : "",
      ].join(" "),
      tabindex: 0,
      role: "button",
      "aria-pressed": `${light.name === chosen}`,
      "aria-label": `${stands(light, unit)}. Arrow keys move it.`,
      "data-light": light.name,
      "data-view": view.name,
      onpointerdown: (event) => act.grab(event, light.name, view, svg),
      onkeydown: (event) => act.key(event, light.name, view),
      onfocus: () => act.choose(light.name),
    },
    draw("path", { class: "axis", d: path([at, place(aim, view.seen)], false) }),
    draw("path", { class: "housing", d: path(flat(housing(light), view)) }),
    draw("path", { class: `front${lookedInto(light, view) ? " seen" : ""}`, d: path(lit) }),
    draw("circle", { class: "middle", cx: at[0], cy: at[1], r: 2.6 }),
    draw("circle", { class: "grip", cx: at[0], cy: at[1], r: 22 }),
  );
  svg.append(group);
}

function names({ set, view, unit, put }, chosen) {
  const high = (metres) => (view.name === "side" ? ` ${length(metres, unit)}` : "");
  for (const light of set.lights) put.avoid(flat([...housing(light), light.centre], view));
  if (set.camera) for (const part of camera(set.camera, view)) put.avoid(part);
  if (set.backdrop) put.avoid(flat(set.backdrop.corners, view));
  if (set.sitter) for (const ring of sitterOf(set, view)) put.avoid(ring);
  set.lights.forEach((light, i) =>
    put.name(place(light.centre, view.seen), `${spoken(light.name)}${high(light.centre[1])}`, {
      mark: `${i + 1}`,
      strong: light.name === chosen,
    }),
  );
  if (set.camera)
    put.name(
      place([set.camera.x, set.camera.y, set.camera.z + 0.12], view.seen),
      `camera${high(set.camera.y)}`,
    );
  if (set.sitter && view.name === "side")
    put.name(place(set.sitter.eyes, view.seen), `eyes${high(set.sitter.eyes[1])}`);
  for (const panel of set.panels) {
    const middle = [0, 1, 2].map(
      (axis) => panel.corners.reduce((sum, c) => sum + c[axis], 0) / panel.corners.length,
    );
    put.name(place(middle, view.seen), spoken(panel.name));
  }
}

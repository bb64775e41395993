// What stands in the set, drawn: lights, panels, camera, sitter, backdrop, each with a grip.

import { draw } from "./make.js";
import { camera, edges, hull, housing, lookedInto, path, place } from "./scale.js";
import { handle, lightId, nose, panelId, panelsOf, thingOf } from "./things.js";
import { azimuth, elevation, length, spoken } from "./words.js";

const GRIP_PX = 22; // half of what a finger hits

export const flat = (corners, view) => hull(corners.map((corner) => place(corner, view.seen)));

// A group that can be chosen, dragged and moved by keys.
function held(sheet, id, part, label, at, outline, ...children) {
  const { svg, view, act, chosen, grips, px } = sheet;
  const name = [part || id.split(".")[0], id === chosen ? "chosen" : "", act.on(id) ? "draft" : ""];
  grips.push({ id, part, at, inside: outline && ((x, y) => inside(outline, x, y)) });
  const group = draw(
    "g",
    {
      class: name.join(" "),
      tabindex: 0,
      role: "button",
      "aria-pressed": part ? null : `${id === chosen}`,
      "aria-label": `${label}. Arrow keys move it.`,
      "data-thing": id,
      "data-part": part,
      "data-view": view.name,
      onkeydown: (event) => act.key(event, id, part, view),
      onfocus: () => act.choose(id),
    },
    draw("circle", { class: "grip", cx: at[0], cy: at[1], r: (part ? 0.6 : 1) * GRIP_PX * px }),
    ...children,
  );
  svg.append(group);
  return group;
}

// Whether a place lies in a convex outline.
function inside(outline, x, y) {
  const sides = outline.map(([x0, y0], i) => {
    const [x1, y1] = outline[(i + 1) % outline.length];
    return (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0);
  });
  return outline.length > 2 && (sides.every((s) => s >= 0) || sides.every((s) => s <= 0));
}

export function walls({ svg, set, view, frame: [left, top, right, bottom] }, low) {
  if (set.room) {
    const box = { x: left, y: top, width: right - left, height: bottom - top };
    svg.append(draw("rect", { class: "walls", ...box }));
  } else if (view.name === "side") {
    svg.append(draw("path", { class: "walls", d: `M${left} 0H${right}` }));
  }
  if (!set.camera) return;
  const until = set.backdrop ? set.backdrop.corners[0][2] : low[2];
  for (const edge of edges(set.camera, view, until))
    svg.append(draw("path", { class: "sight", d: path(edge, false) }));
}

export function backdrop(sheet) {
  const { set, view, unit } = sheet;
  if (!set.backdrop) return;
  const outline = flat(set.backdrop.corners, view);
  const { centre } = thingOf(set, "backdrop");
  const label = `backdrop: ${length(-centre[2], unit)} behind the mark`;
  const at = place(centre, view.seen);
  held(sheet, "backdrop", "", label, at, null, draw("path", { class: "sheet", d: path(outline) }));
}

// An outline as the server tells it: in the plan x and z, from the side z and y.
const ringOf = (ring, view) =>
  ring.map(([a, b]) =>
    view.name === "plan" ? place([a, 0, b], view.seen) : place([0, b, a], view.seen),
  );

// Outlines of the sitter, shoulders first.
export const sitterOf = ({ sitter }, view) =>
  sitter[view.name].map((ring) => ringOf(ring, view));

// Where something is in the air: [{names, outlines}], what overlaps together.
export function airOf({ elements }, view) {
  const found = [];
  for (const { name, [view.name]: ring } of elements) {
    const outline = ringOf(ring, view);
    const near = found.find(({ outlines }) => outlines.some((other) => meet(other, outline)));
    if (near) {
      near.names.push(name);
      near.outlines.push(outline);
    } else found.push({ names: [name], outlines: [outline] });
  }
  return found;
}

const ends = (outline, axis) => {
  const all = outline.map((point) => point[axis]);
  return [Math.min(...all), Math.max(...all)];
};
const meet = (one, other) =>
  [0, 1].every((axis) => {
    const [[low, high], [least, most]] = [ends(one, axis), ends(other, axis)];
    return low <= most && least <= high;
  });

// Elements are seen and named; their places are changed in the scene file.
export function air({ svg, set, view, unit }) {
  for (const { names, outlines } of airOf(set, view)) {
    const all = outlines.flat();
    const [[left, right], [top, bottom]] = [ends(all, 0), ends(all, 1)];
    const size = `${length((right - left) / 100, unit)} by ${length((bottom - top) / 100, unit)}`;
    svg.append(
      draw(
        "g",
        { class: "air", role: "img", "aria-label": `In the air: ${names.join(", ")}; ${size}` },
        ...outlines.map((outline) => draw("path", { d: path(outline) })),
      ),
    );
  }
}

export function sitter(sheet) {
  const { set, view, unit, chosen } = sheet;
  if (!set.sitter) return;
  const rings = sitterOf(set, view);
  const [x, y] = place(set.sitter.eyes, view.seen);
  const thing = thingOf(set, "sitter");
  const high = length(set.sitter.eyes[1], unit);
  const label = `sitter: eyes ${high} high, turned ${azimuth(thing.turn_deg)}`;
  held(
    sheet,
    "sitter",
    "",
    label,
    [x, y],
    hull(rings.flat()),
    ...rings.map((ring) => draw("path", { class: "body", d: path(ring) })),
    draw("path", { class: "eyes", d: `M${x - 5} ${y}H${x + 5}M${x} ${y - 5}V${y + 5}` }),
  );
  if (view.name !== "plan" || chosen !== "sitter") return;
  const at = place(nose(thing), view.seen);
  knob(sheet, "sitter", "turn", `way the sitter faces: ${azimuth(thing.turn_deg)}`, [x, y], at);
}

// The end of a line that turns what it starts from.
function knob(sheet, id, part, label, from, at) {
  const line = draw("path", { class: "turning", d: path([from, at], false) });
  const end = draw("circle", { class: "knob", cx: at[0], cy: at[1], r: 5 * sheet.px });
  held(sheet, id, part, label, at, null, line, end);
}

export function panels(sheet) {
  const { set, view, unit } = sheet;
  for (const panel of panelsOf(set)) {
    const { centre: middle } = panel;
    const label = `${spoken(panel.name)}: ${panel.words}, ${length(middle[1], unit)} high`;
    const kind = /black/.test(panel.kind) ? "leaf dark" : "leaf";
    const outlines = panel.leaves.map((corners) => flat(corners, view));
    held(
      sheet,
      panelId(panel.name),
      "",
      label,
      place(middle, view.seen),
      outlines[0],
      ...outlines.map((outline) => draw("path", { class: kind, d: path(outline) })),
    );
  }
}

// The camera as something to take hold of.
export function lens(sheet) {
  const { set, view, unit } = sheet;
  if (!set.camera) return;
  const cam = set.camera;
  const label = `camera: ${length(cam.z, unit)} from the mark, ${length(cam.y, unit)} high`;
  const parts = camera(cam, view);
  const bodies = parts.map((part) => draw("path", { class: "body", d: path(part) }));
  const at = place([cam.x, cam.y, cam.z + 0.1], view.seen);
  held(sheet, "camera", "", label, at, hull(parts.flat()), ...bodies);
}

function stands({ name, words, placed, centre }, unit) {
  const high = `${length(centre[1], unit)} high`;
  if (!placed) return `${spoken(name)}: ${words}; ${high}`;
  const [turn, tilt] = [azimuth(placed.azimuth_deg), elevation(placed.elevation_deg)];
  return `${spoken(name)}: ${words}; ${length(placed.distance_m, unit)} away, ${turn}, ${tilt}`;
}

export function lamp(sheet, i) {
  const { set, view, unit, chosen, px } = sheet;
  const light = set.lights[i];
  const id = lightId(light.name);
  const body = flat(housing(light), view);
  const at = place(light.centre, view.seen);
  const end = place(handle(thingOf(set, id), "aim"), view.seen);
  if (id !== chosen) sheet.svg.append(draw("path", { class: "axis", d: path([at, end], false) }));
  const group = held(
    sheet,
    id,
    "",
    stands(light, unit),
    at,
    body,
    draw("path", { class: "housing", d: path(body) }),
    draw("path", {
      class: `front${lookedInto(light, view) ? " seen" : ""}`,
      d: path(flat(light.corners, view)),
    }),
    draw("circle", { class: "middle", cx: at[0], cy: at[1], r: 2.6 * px }),
  );
  group.classList.toggle("unfired", !light.on);
  if (id === chosen && Math.hypot(at[0] - end[0], at[1] - end[1]) > 2 * GRIP_PX * px)
    knob(sheet, id, "aim", `where the ${spoken(light.name)} is aimed`, at, end);
}

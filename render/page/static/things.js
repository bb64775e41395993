// Everything in the set that can be taken hold of, by one name each: "light.key", "panel.chin",
// "camera", "sitter", "backdrop".

import { backdrop, bearing, camera, sitter, turnedTo } from "./fixtures.js";
import { ARROWS, STEP_DEG, STEP_M, aimed, canMove, dragged, placing, stepped } from "./moving.js";
import { aimOf } from "./scale.js";
import { plus, snap } from "./vectors.js";

const KINDS = { camera, sitter, backdrop };

export const lightId = (name) => `light.${name}`;
export const panelId = (name) => `panel.${name}`;

// Panels marked as on the card, where every leaf of a V-flat has a letter.
export const panelsOf = (set) =>
  set.panels.map((panel, i) => {
    const before = set.panels.slice(0, i).reduce((sum, { leaves }) => sum + leaves.length, 0);
    return { ...panel, mark: String.fromCharCode("a".charCodeAt(0) + (before % 26)) };
  });

// A thing of the set by its name; null where there is none (any more).
export function thingOf(set, id) {
  if (!id) return null;
  const [kind, name] = id.split(".");
  if (kind === "light") {
    const light = set.lights.find((each) => each.name === name);
    const { centre, axis, placed, position_m } = light ?? {};
    const outlines = [light?.corners];
    return (
      light && { id, kind, name, centre, axis, placed, position_m, outlines, aim: aimOf(light) }
    );
  }
  if (kind === "panel") {
    const panel = set.panels.find((each) => each.name === name);
    const { centre, axis, placed, position_m, guards, leaves: outlines } = panel ?? {};
    return panel && { id, kind, name, centre, axis, placed, position_m, guards, outlines };
  }
  return kind in KINDS && set[kind] ? KINDS[kind].of(set) : null;
}

// Whether it can be moved at all.
export const movable = (thing) => thing.id in KINDS || canMove(thing);

// The set with one of its things moved.
export function laid(set, thing) {
  const { kind, name, centre, axis, outlines, placed, position_m, guards, aim } = thing;
  if (kind in KINDS) return KINDS[kind].laid(set, thing);
  const moved = { centre, axis, placed, position_m };
  if (kind === "light") {
    const lights = set.lights.map((each) =>
      each.name === name ? { ...each, ...moved, corners: outlines[0], aim_at: aim } : each,
    );
    return { ...set, lights };
  }
  const panels = set.panels.map((each) =>
    each.name === name ? { ...each, ...moved, guards, leaves: outlines } : each,
  );
  return { ...set, panels };
}

// What the scene file gets for a thing that was moved.
export function keysOf(thing, before) {
  if (thing.kind in KINDS) return KINDS[thing.kind].keys(thing, before);
  if (thing.aimed) return { [`${thing.id}.aim`]: { value: thing.aim } };
  return placing(thing, before);
}

// The place of the thing, or of a part of it, that the hand holds.
export function handle(thing, part) {
  if (part === "aim") return thing.aim;
  return part === "turn" ? nose(thing) : thing.centre;
}

const NOSE_M = 0.32; // from the eyes to the handle that turns the sitter

export const nose = ({ centre, turn_deg }) =>
  plus(
    centre,
    [Math.sin((turn_deg * Math.PI) / 180), 0, Math.cos((turn_deg * Math.PI) / 180)],
    NOSE_M,
  );

// The thing when the hand is at a place of the drawing.
export function draggedTo(thing, part, view, [right, up]) {
  if (part === "aim") {
    const aim = [...thing.aim];
    aim[view.seen[0]] = snap(right, STEP_M);
    aim[view.seen[1]] = snap(up, STEP_M);
    return aimed(thing, aim);
  }
  if (part === "turn") {
    const at = [...thing.centre];
    [at[view.seen[0]], at[view.seen[1]]] = [right, up];
    return turnedTo(thing, bearing(thing.centre, at));
  }
  return (KINDS[thing.kind]?.dragged ?? dragged)(thing, view, [right, up]);
}

// The thing one key on; null for keys that do nothing.
export function steppedOn(thing, part, key, view) {
  const way = ARROWS[key];
  if (part === "aim") {
    if (!way) return null;
    const aim = [...thing.aim];
    const axis = view.seen[way[0]];
    aim[axis] = snap(aim[axis] + way[1] * STEP_M, STEP_M);
    return aimed(thing, aim);
  }
  if (part === "turn") return way ? turnedTo(thing, thing.turn_deg + way[1] * STEP_DEG) : null;
  return (KINDS[thing.kind]?.stepped ?? stepped)(thing, key, view);
}

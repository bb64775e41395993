// Moving a light or a panel to a place of a drawing, or by a key, in steps of 5 cm and 5 degrees.

import {
  RAD,
  cross,
  dot,
  minus,
  offset,
  plus,
  size,
  snap,
  turned,
  unit,
  whole,
  within,
} from "./vectors.js";

export const STEP_M = 0.05;
export const STEP_DEG = 5;
const LEAST_M = { light: 0.15, panel: 0.05 }; // as the scene file allows
const FARTHEST_M = 15;
const STEEPEST_DEG = 89;
const EDGE_ON = 0.3; // cosine of the azimuth below which the elevation cannot tell distances
const ROUNDED = ["distance_m", "azimuth_deg", "elevation_deg"];

export const ARROWS = {
  ArrowLeft: [0, -1],
  ArrowRight: [0, 1],
  ArrowUp: [1, 1],
  ArrowDown: [1, -1],
};

// The front's own axes, upright as it stands.
function axes(way) {
  const right = unit(Math.abs(way[1]) > 0.999 ? [1, 0, 0] : cross([0, 1, 0], way));
  return [right, cross(way, right), way];
}

// A light carried to another place, turned so that it stays aimed where it was; a panel as it is,
// until the server tells how it is tilted there.
function carried(thing, centre, placing) {
  const { aim } = thing;
  const turns = thing.kind === "light" && aim && size(minus(aim, centre)) > 1e-3;
  const axis = turns ? unit(minus(aim, centre)) : thing.axis;
  const [from, to] = [axes(thing.axis), axes(axis)];
  const outlines = thing.outlines.map((corners) =>
    corners.map((corner) => {
      const local = from.map((way) => dot(minus(corner, thing.centre), way));
      return local.reduce((point, x, i) => plus(point, to[i], x), centre);
    }),
  );
  return { ...thing, ...placing, centre, outlines, axis };
}

function polar(thing, placed) {
  const kept = {
    ...placed,
    distance_m: within(placed.distance_m, LEAST_M[thing.kind], FARTHEST_M),
    azimuth_deg: turned(placed.azimuth_deg),
    elevation_deg: within(placed.elevation_deg, -STEEPEST_DEG, STEEPEST_DEG),
  };
  const from = minus(thing.centre, offset(thing.placed));
  return carried(thing, plus(from, offset(kept)), { placed: kept });
}

const free = (thing, position) =>
  carried(thing, plus(thing.centre, minus(position, thing.position_m)), {
    position_m: position.map(whole),
  });

function guarding(thing, distance) {
  const kept = within(distance, STEP_M, FARTHEST_M);
  const { from, towards } = thing.guards;
  return carried(thing, plus(from, towards, kept), {
    guards: { ...thing.guards, distance_m: whole(kept) },
  });
}

export const canMove = (thing) => Boolean(thing.placed || thing.position_m || thing.guards);

// The thing as it would stand with its middle at a place of the drawing; snapped.
export function dragged(thing, view, [right, up]) {
  if (thing.guards) return draggedInBeam(thing, view, [right, up]);
  if (thing.placed) return draggedAround(thing, view, [right, up]);
  const position = [...thing.position_m];
  position[view.seen[0]] = snap(right, STEP_M);
  position[view.seen[1]] = snap(up, STEP_M);
  return free(thing, position);
}

// A flag stays on the line from its light to the point that it keeps dark.
function draggedInBeam(thing, view, at) {
  const { from, towards } = thing.guards;
  const [flat, start] = [towards, from].map((each) => view.seen.map((axis) => each[axis]));
  const along = dot(minus(at, start), flat) / Math.max(1e-3, dot(flat, flat));
  return guarding(thing, snap(along, STEP_M));
}

function draggedAround(thing, view, [right, up]) {
  const { placed } = thing;
  const from = minus(thing.centre, offset(placed));
  const { azimuth_deg, elevation_deg } = placed;
  const [a, b] = [right - from[view.seen[0]], up - from[view.seen[1]]];
  if (view.name === "plan") {
    return polar(thing, {
      ...placed,
      distance_m: snap(Math.hypot(a, b) / Math.cos(elevation_deg * RAD), STEP_M),
      azimuth_deg: snap(Math.atan2(b, a) / RAD, STEP_DEG),
    });
  }
  const across = Math.cos(azimuth_deg * RAD);
  if (Math.abs(across) < EDGE_ON) {
    const high = Math.asin(within(b / placed.distance_m, -1, 1)) / RAD;
    return polar(thing, { ...placed, elevation_deg: snap(high, STEP_DEG) });
  }
  const level = Math.max(0.01, a / across);
  return polar(thing, {
    ...placed,
    distance_m: snap(Math.hypot(level, b), STEP_M),
    elevation_deg: snap(Math.atan2(b, level) / RAD, STEP_DEG),
  });
}

// The thing one step on, by a key; null for keys that do not move it.
export function stepped(thing, key, view) {
  if (thing.guards) {
    const way = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[key];
    return way ? guarding(thing, snap(thing.guards.distance_m + way * STEP_M, STEP_M)) : null;
  }
  if (!thing.placed) {
    const way = ARROWS[key];
    if (!way || !thing.position_m) return null;
    const position = [...thing.position_m];
    const axis = view.seen[way[0]];
    position[axis] = snap(position[axis] + way[1] * STEP_M, STEP_M);
    return free(thing, position);
  }
  const way = {
    ArrowUp: ["distance_m", STEP_M],
    ArrowDown: ["distance_m", -STEP_M],
    ArrowRight: ["azimuth_deg", STEP_DEG],
    ArrowLeft: ["azimuth_deg", -STEP_DEG],
    PageUp: ["elevation_deg", STEP_DEG],
    PageDown: ["elevation_deg", -STEP_DEG],
  }[key];
  if (!way) return null;
  const [name, step] = way;
  const next = snap(thing.placed[name] + step, Math.abs(step));
  return polar(thing, { ...thing.placed, [name]: next });
}

// What the scene file gets for a moved light or panel.
export function placing(thing, before) {
  const at = `${thing.id}.`;
  if (thing.guards) return { [`${at}guards.distance_m`]: { value: thing.guards.distance_m } };
  if (!thing.placed) return { [`${at}position_m`]: { value: thing.position_m } };
  const changed = ROUNDED.filter((key) => thing.placed[key] !== before.placed[key]);
  return Object.fromEntries(changed.map((key) => [`${at}${key}`, { value: thing.placed[key] }]));
}

// A light turned to face another place; the end of its axis is what is dragged.
export function aimed(thing, aim) {
  const kept = { ...thing, aim };
  return { ...carried(kept, thing.centre, {}), aim: aim.map(whole), aimed: true };
}

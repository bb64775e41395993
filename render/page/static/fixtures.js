// Moving what is not on a stand of its own: the camera on its line, the sitter, the backdrop.

import { ARROWS, STEP_DEG, STEP_M } from "./moving.js";
import { RAD, minus, plus, snap, turned, whole, within } from "./vectors.js";

const NEAREST_M = 0.3; // of camera and backdrop, as the scene file allows
const FARTHEST_M = 15;
const EYES_M = [0.4, 2.2]; // as the scene file allows
const LOWEST_M = 0.05;
const HIGHEST_M = 6;

// By kind: `dragged(thing, view, [right, up])` and `stepped(thing, key, view)` give the thing
// moved, null where it is not; `laid(set, thing)` the set with it; `keys(thing, before)` what the
// scene file gets.
export const camera = {
  of: (set) => ({
    id: "camera",
    kind: "camera",
    centre: [set.camera.x, set.camera.y, set.camera.z],
    aim: set.camera.target,
  }),
  dragged(thing, view, [right, up]) {
    const [x, y] = thing.centre;
    const z = within(snap(right, STEP_M), NEAREST_M, FARTHEST_M);
    const high = view.name === "side" ? within(snap(up, STEP_M), LOWEST_M, HIGHEST_M) : y;
    return { ...thing, centre: [x, high, z] };
  },
  stepped: (thing, key, view) => byArrow(camera, thing, key, view),
  laid(set, { centre }) {
    const cam = set.camera;
    const grown = (centre[2] - cam.target[2]) / (cam.z - cam.target[2]);
    const frame = cam.frame.map((corner) => plus(cam.target, minus(corner, cam.target), grown));
    return { ...set, camera: { ...cam, y: centre[1], z: centre[2], frame } };
  },
  keys: (thing, before) => ({
    ...changed("camera.distance_m", thing.centre[2], before.centre[2]),
    ...changed("camera.height_m", thing.centre[1], before.centre[1]),
  }),
};

// The sitter moves in the room with the camera and the lights that are measured from her; drawn,
// she stays and the room moves.
export const sitter = {
  of: (set) => ({
    id: "sitter",
    kind: "sitter",
    centre: set.sitter.eyes,
    moved_m: [0, 0, 0],
    turn_deg: set.written?.sitter?.turn_deg ?? 0,
  }),
  dragged(thing, view, at) {
    const moved = [...thing.moved_m];
    view.seen.forEach((axis, i) => {
      moved[axis] = snap(at[i] - thing.centre[axis], STEP_M);
    });
    return limited(thing, moved);
  },
  stepped(thing, key, view) {
    if (key === "PageUp" || key === "PageDown")
      return turnedTo(thing, thing.turn_deg + (key === "PageUp" ? STEP_DEG : -STEP_DEG));
    const way = ARROWS[key];
    if (!way) return null;
    const moved = [...thing.moved_m];
    moved[view.seen[way[0]]] += way[1] * STEP_M;
    return limited(thing, moved);
  },
  laid(set, { moved_m: [x, y, z], turn_deg }) {
    const { room, backdrop, sitter: body, written } = set;
    const away = [-x, 0, -z];
    const by = (turn_deg - (written?.sitter?.turn_deg ?? 0)) * RAD;
    return {
      ...set,
      room: room && { ...room, left_m: room.left_m - x, back_m: room.back_m - z },
      backdrop: backdrop && {
        ...backdrop,
        corners: backdrop.corners.map((corner) => plus(corner, away)),
      },
      sitter: {
        ...body,
        eyes: plus(body.eyes, [0, y, 0]),
        plan: body.plan.map((ring) => ring.map((at) => rotated(at, body.eyes, by))),
        side: body.side.map((ring) => ring.map(([a, b]) => [a, b + y])),
      },
      written: { ...written, sitter: { ...written?.sitter, turn_deg } },
    };
  },
  keys: ({ moved_m, turn_deg }, before) => ({
    ...(moved_m.some(Boolean) ? { "sitter.moved_m": { value: moved_m } } : {}),
    ...changed("sitter.turn_deg", turn_deg, before.turn_deg),
  }),
};

// A place [x, z] of the plan turned about the eyes; to camera right is positive.
function rotated([x, z], [x0, , z0], by) {
  const [cos, sin] = [Math.cos(by), Math.sin(by)];
  return [x0 + (x - x0) * cos + (z - z0) * sin, z0 + (z - z0) * cos - (x - x0) * sin];
}

function limited(thing, moved) {
  const [low, high] = EYES_M.map((end) => end - thing.centre[1]);
  const kept = [moved[0], within(moved[1], low, high), moved[2]];
  return { ...thing, moved_m: kept.map(whole) };
}

export const turnedTo = (thing, degrees) => ({
  ...thing,
  turn_deg: turned(snap(degrees, STEP_DEG)),
});

// Degrees that something faces which looks from a place to another: 0 to the camera.
export const bearing = (from, to) => Math.atan2(to[0] - from[0], to[2] - from[2]) / RAD;

export const backdrop = {
  of({ backdrop: sheet }) {
    const upright = sheet.corners;
    const mean = (axis) => upright.reduce((sum, c) => sum + c[axis], 0) / upright.length;
    return { id: "backdrop", kind: "backdrop", centre: [0, 1, 2].map(mean), whole: sheet.kind };
  },
  dragged(thing, view, [right, up]) {
    const [x, y] = thing.centre;
    const z = -within(snap(-right, STEP_M), NEAREST_M, FARTHEST_M);
    const across = view.name === "plan" && thing.whole !== "wall" ? snap(up, STEP_M) : x;
    return { ...thing, centre: [across, y, z] };
  },
  stepped: (thing, key, view) =>
    view.name === "side" && /Up|Down/.test(key) ? null : byArrow(backdrop, thing, key, view),
  laid(set, { centre }) {
    const by = minus(centre, backdrop.of(set).centre);
    const corners = set.backdrop.corners.map((corner) => plus(corner, by));
    return { ...set, backdrop: { ...set.backdrop, corners } };
  },
  keys: (thing, before) => ({
    ...changed("backdrop.gap_m", -thing.centre[2], -before.centre[2]),
    ...changed("backdrop.offset_m", thing.centre[0], before.centre[0]),
  }),
};

const changed = (key, now, before) =>
  whole(now) === whole(before) ? {} : { [key]: { value: whole(now) } };

function byArrow(kind, thing, key, view) {
  const way = ARROWS[key];
  if (!way) return null;
  const at = view.seen.map((axis) => thing.centre[axis]);
  at[way[0]] += way[1] * STEP_M;
  return kind.dragged(thing, view, at);
}

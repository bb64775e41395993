// Moving a light: by hand in the drawings, by arrow keys, in steps of 5 cm and 5 degrees.

import { aimOf, inRoom } from "./scale.js";

const STEP_M = 0.05;
const STEP_DEG = 5;
const NEAREST_M = 0.15;
const FARTHEST_M = 15; // as the scene file allows
const STEEPEST_DEG = 89;
const EDGE_ON = 0.3; // cosine of the azimuth below which the elevation cannot tell distances
const START_PX = 3; // less is a press, not a drag
const RAD = Math.PI / 180;

const snap = (x, step) => Math.round(Math.round(x / step) * step * 1e4) / 1e4;
const within = (x, low, high) => Math.min(high, Math.max(low, x));
const minus = (a, b) => a.map((x, i) => x - b[i]);
const plus = (a, b, much = 1) => a.map((x, i) => x + much * b[i]);
const dot = (a, b) => a.reduce((sum, x, i) => sum + x * b[i], 0);
const cross = (a, b) => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
const unit = (a) => a.map((x) => x / Math.hypot(...a));

function offset({ distance_m: d, azimuth_deg: a, elevation_deg: e }) {
  const level = d * Math.cos(e * RAD);
  return [level * Math.sin(a * RAD), d * Math.sin(e * RAD), level * Math.cos(a * RAD)];
}

// The place that distance and angles count from.
const anchor = (light) => minus(light.centre, offset(light.placed));

// The front's own axes, upright as it stands.
function axes(way) {
  const right = unit(Math.abs(way[1]) > 0.999 ? [1, 0, 0] : cross([0, 1, 0], way));
  return [right, cross(way, right), way];
}

// A light carried to another place, turned so that it stays aimed where it was.
function carried(light, centre, placing) {
  const aim = aimOf(light);
  const axis = Math.hypot(...minus(aim, centre)) > 1e-3 ? unit(minus(aim, centre)) : light.axis;
  const [from, to] = [axes(light.axis), axes(axis)];
  const corners = light.corners.map((corner) => {
    const local = from.map((way) => dot(minus(corner, light.centre), way));
    return local.reduce((point, x, i) => plus(point, to[i], x), centre);
  });
  return { ...light, ...placing, centre, corners, axis, draft: true };
}

const polar = (light, placed) => {
  const kept = {
    ...placed,
    distance_m: within(placed.distance_m, NEAREST_M, FARTHEST_M),
    azimuth_deg:
      placed.azimuth_deg > 180
        ? placed.azimuth_deg - 360
        : placed.azimuth_deg < -180
          ? placed.azimuth_deg + 360
          : placed.azimuth_deg,
    elevation_deg: within(placed.elevation_deg, -STEEPEST_DEG, STEEPEST_DEG),
  };
  return carried(light, plus(anchor(light), offset(kept)), { placed: kept });
};

const free = (light, position) =>
  carried(light, plus(light.centre, minus(position, light.position_m)), { position_m: position });

// The light as it would stand with its middle at a place of the drawing; snapped.
function dragged(light, view, [right, up]) {
  if (!light.placed) {
    const position = [...light.position_m];
    position[view.seen[0]] = snap(right, STEP_M);
    position[view.seen[1]] = snap(up, STEP_M);
    return free(light, position);
  }
  const from = anchor(light);
  const { azimuth_deg, elevation_deg } = light.placed;
  const [a, b] = [right - from[view.seen[0]], up - from[view.seen[1]]];
  if (view.name === "plan") {
    return polar(light, {
      distance_m: snap(Math.hypot(a, b) / Math.cos(elevation_deg * RAD), STEP_M),
      azimuth_deg: snap(Math.atan2(b, a) / RAD, STEP_DEG),
      elevation_deg,
    });
  }
  const across = Math.cos(azimuth_deg * RAD);
  const distance = light.placed.distance_m;
  if (Math.abs(across) < EDGE_ON) {
    const high = Math.asin(within(b / distance, -1, 1)) / RAD;
    return polar(light, { ...light.placed, elevation_deg: snap(high, STEP_DEG) });
  }
  const level = Math.max(0.01, a / across);
  return polar(light, {
    distance_m: snap(Math.hypot(level, b), STEP_M),
    azimuth_deg,
    elevation_deg: snap(Math.atan2(b, level) / RAD, STEP_DEG),
  });
}

// The light one step on, by a key; null for keys that do not move it.
export function stepped(light, key, view) {
  if (!light.placed) {
    const way = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [1, 1], ArrowDown: [1, -1] }[
      key
    ];
    if (!way || !light.position_m) return null;
    const position = [...light.position_m];
    const axis = view.seen[way[0]];
    position[axis] = snap(position[axis] + way[1] * STEP_M, STEP_M);
    return free(light, position);
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
  return polar(light, { ...light.placed, [name]: snap(light.placed[name] + step, Math.abs(step)) });
}

// What the scene file gets for a moved light.
export function placing(light, before) {
  const at = `light.${light.name}.`;
  if (!light.placed) return { [`${at}position_m`]: { value: light.position_m } };
  const changed = ["distance_m", "azimuth_deg", "elevation_deg"].filter(
    (key) => light.placed[key] !== before.placed[key],
  );
  return Object.fromEntries(changed.map((key) => [`${at}${key}`, { value: light.placed[key] }]));
}

// Follows the pointer from a press on a light to its release.
// act: {show(light), drop(light), leave()}
export function follow(event, light, view, svg, act) {
  if (event.button !== 0 || (!light.placed && !light.position_m)) return;
  event.preventDefault();
  const box = svg.viewBox.baseVal;
  const shown = svg.getBoundingClientRect();
  const here = (at) =>
    inRoom(
      box.x + ((at.clientX - shown.left) * box.width) / shown.width,
      box.y + ((at.clientY - shown.top) * box.height) / shown.height,
    );
  const grip = minus(
    view.seen.map((axis) => light.centre[axis]),
    here(event),
  );
  let moved = null;
  const stop = new AbortController();
  const end = (drop) => {
    stop.abort();
    if (drop && moved) act.drop(moved);
    else act.leave();
  };
  // The drawing is made anew while the light moves; what holds the drawings stays.
  svg.closest("#views")?.setPointerCapture(event.pointerId);
  const listen = (name, heard) => window.addEventListener(name, heard, { signal: stop.signal });
  listen("pointermove", (at) => {
    if (at.pointerId !== event.pointerId) return;
    if (!moved && Math.hypot(at.clientX - event.clientX, at.clientY - event.clientY) < START_PX)
      return;
    moved = dragged(light, view, plus(here(at), grip));
    act.show(moved);
  });
  listen("pointerup", () => end(true));
  listen("pointercancel", () => end(false));
  listen("keydown", (at) => at.key === "Escape" && end(false));
}

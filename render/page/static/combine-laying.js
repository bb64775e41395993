// Lays an element into the look's frame, as the program does: moved, scaled, turned, mirrored,
// its edge faded out. Light is mixed linear, by kernels that are nowhere negative.

import { luminance } from "./develop.js";

const WHOLE = 1e-6; // pixels that are whole numbers up to this
export const [FAINT, BRIGHT] = [1, 2]; // marks of light over the limit
const FAINT_STOPS = 3; // over the limit, up to which it is marked as dirt

// Where an element of a size lies in a look of a size [px].
export function frameOf(element, own, size) {
  const width = element.scale * size[0];
  return {
    size,
    middle: [element.at[0] * size[0], element.at[1] * size[1]],
    width,
    height: (width * own[1]) / own[0],
    turn: (element.turn_deg * Math.PI) / 180,
    mirror: [
      ["sideways", "both"],
      ["upside down", "both"],
    ].map((all) => all.includes(element.flip)),
  };
}

// Distance [px] from a place to the nearest edge of the element, + inside.
function inwardOf({ middle, width, height, turn }) {
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const [left, top] = middle;
  return (x, y) => {
    const dx = x + 0.5 - left;
    const dy = y + 0.5 - top;
    const across = width / 2 - Math.abs(cos * dx + sin * dy);
    const down = height / 2 - Math.abs(cos * dy - sin * dx);
    return across < down ? across : down;
  };
}

// Width [px] of the fall to nothing along the element's own edge.
function fadeOf(frame, fade, usual) {
  const inward = inwardOf(frame);
  const [right, low] = [frame.size[0] - 1, frame.size[1] - 1];
  const corners = [inward(0, 0), inward(right, 0), inward(0, low), inward(right, low)];
  const share = fade ?? (Math.min(...corners) > -WHOLE ? 0 : usual);
  return share * Math.min(frame.width, frame.height);
}

// Means over triangles along one side: [[first, weights], ...] for each new place.
function triangles(from, to) {
  const scale = from / to;
  return Array.from({ length: to }, (_, k) => {
    const centre = (k + 0.5) * scale;
    const first = Math.max(0, Math.floor(centre - scale + 0.5));
    const last = Math.min(from, Math.floor(centre + scale + 0.5));
    const found = [];
    for (let i = first; i < last; i += 1)
      found.push(Math.max(0, 1 - Math.abs((i - centre + 0.5) / scale)));
    const sum = found.reduce((all, each) => all + each, 0);
    return [first, found.map((each) => each / sum)];
  });
}

// Planes of four values a place with at most so many places; never enlarged.
function reduced({ planes, size: [w, h] }, width, height) {
  const [to, down] = [Math.min(w, width), Math.min(h, height)];
  const wide = to === w ? planes : new Float32Array(4 * to * h);
  if (to !== w) {
    const steps = triangles(w, to);
    for (let y = 0; y < h; y += 1)
      steps.forEach(([first, weights], x) => {
        gather(planes, 4 * (y * w + first), 4, weights, wide, 4 * (y * to + x));
      });
  }
  if (down === h) return { planes: wide, size: [to, h] };
  const small = new Float32Array(4 * to * down);
  triangles(h, down).forEach(([first, weights], y) => {
    for (let x = 0; x < to; x += 1)
      gather(wide, 4 * (first * to + x), 4 * to, weights, small, 4 * (y * to + x));
  });
  return { planes: small, size: [to, down] };
}

function gather(from, at, step, weights, to, into) {
  for (let k = 0, i = at; k < weights.length; k += 1, i += step) {
    for (let c = 0; c < 4; c += 1) to[into + c] += weights[k] * from[i + c];
  }
}

// The brightest of every place of a smaller picture.
function pooled(peaks, [w, h], [to, down]) {
  const found = new Float32Array(to * down);
  for (let y = 0; y < h; y += 1) {
    const row = Math.floor((y * down) / h) * to;
    for (let x = 0; x < w; x += 1) {
      const at = row + Math.floor((x * to) / w);
      if (peaks[y * w + x] > found[at]) found[at] = peaks[y * w + x];
    }
  }
  return found;
}

// What an element hides, in the fourth plane: nothing, by its own light, or what its file says.
function matted({ planes, size }, { matte }, opaque) {
  if (matte === "alpha") return { planes, size };
  const hiding = Float32Array.from(planes);
  for (let i = 0; i < hiding.length; i += 4) {
    const share = matte === "light" ? luminance(planes.subarray(i, i + 3)) / opaque : 0;
    hiding[i + 3] = Math.min(1, Math.max(0, share));
  }
  return { planes: hiding, size };
}

// Keeps what only depends on an element's size, for drags and gains.
export function layer() {
  let held = { key: "" };

  // The element's picture no larger than it is shown.
  function ready(picture, element, frame, opaque) {
    const to = [frame.width, frame.height].map((far) => Math.max(1, Math.ceil(far)));
    const key = JSON.stringify([picture.key, element.matte, opaque, to]);
    if (held.key !== key) {
      const small = reduced(matted(picture, element, opaque), ...to);
      held = { key, ...small, peaks: pooled(picture.peaks, picture.size, small.size) };
    }
    return held;
  }

  // weight: of its regions, or null; usual: share that fades where an edge shows; opaque: light
  // from which it hides all. Gives light and what it hides, for every place of the look.
  return (picture, element, { size, weight, usual, opaque }) => {
    const { told } = picture;
    const frame = frameOf(element, [told.width_px, told.height_px], size);
    const small = ready(picture, element, frame, opaque);
    const count = size[0] * size[1];
    const out = {
      light: new Float32Array(3 * count),
      hides: element.matte === "none" ? null : new Float32Array(count),
      marks: new Uint8Array(count),
    };
    const gain = 2 ** element.gain_stops;
    const limit = told.black.over_light / gain;
    const wide = fadeOf(frame, element.fade, usual);
    fill(out, { frame, small, nudge: nudged(frame, picture), wide, weight, gain, limit });
    return out;
  };
}

// The rectangle of the look in which an element lies.
function boxOf({ size, middle, width, height, turn }) {
  const [cos, sin] = [Math.abs(Math.cos(turn)), Math.abs(Math.sin(turn))];
  const half = [(cos * width + sin * height) / 2 + 1, (sin * width + cos * height) / 2 + 1];
  const low = [0, 1].map((k) => Math.max(0, Math.floor(middle[k] - half[k])));
  const high = [0, 1].map((k) => Math.min(size[k], Math.ceil(middle[k] + half[k])));
  return [...low, ...high];
}

// As large as it is and upright, an element is moved by whole pixels; by how much more than asked.
function nudged({ middle, width, turn }, { size: own, told }) {
  const asItIs = Math.abs(width - own[0]) < WHOLE && own[0] === told.width_px;
  if (!asItIs || Math.abs(Math.sin(turn)) >= WHOLE) return [0, 0];
  return middle.map((far, k) => {
    const left = far - own[k] / 2;
    return Math.sign(Math.cos(turn)) * (left - even(left));
  });
}

// Rounded as the program rounds: halves to the even number.
function even(far) {
  const low = Math.floor(far);
  if (far - low !== 0.5) return Math.round(far);
  return low % 2 === 0 ? low : low + 1;
}

// Fills every place of the look with the mean of the four places around in the small picture.
// One loop without calls: it runs at every step of a drag.
function fill({ light, hides, marks }, { frame, small, nudge, wide, weight, gain, limit }) {
  const { planes, peaks } = small;
  const [w, h] = small.size;
  const { size, middle, width, height, turn, mirror } = frame;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const [signX, signY] = mirror.map((mirrored) => (mirrored ? -1 : 1));
  const [perX, perY] = [(signX * w) / width, (signY * h) / height];
  const fromX = (w - 1) / 2 + signX * nudge[0];
  const fromY = (h - 1) / 2 + signY * nudge[1];
  const bright = limit * 2 ** FAINT_STOPS;
  const [left, top, right, low] = boxOf(frame);
  for (let y = top; y < low; y += 1) {
    const dy = y + 0.5 - middle[1];
    for (let x = left; x < right; x += 1) {
      const dx = x + 0.5 - middle[0];
      const alongX = cos * dx + sin * dy;
      const alongY = cos * dy - sin * dx;
      const far = Math.min(width / 2 - Math.abs(alongX), height / 2 - Math.abs(alongY));
      if (far <= -0.5) continue;
      const at = y * size[0] + x;
      // 1 within, falling smoothly to exactly 0 on the edge
      let share = 1;
      if (wide <= 0) share = far < 0.5 ? far + 0.5 : 1;
      else if (far < wide) share = far <= 0 ? 0 : (far / wide) ** 2 * (3 - (2 * far) / wide);
      if (weight) share *= weight[at];
      if (share === 0) continue;

      const across = Math.min(w - 1, Math.max(0, alongX * perX + fromX));
      const down = Math.min(h - 1, Math.max(0, alongY * perY + fromY));
      const column = across | 0;
      const row = down | 0;
      const u = across - column;
      const v = down - row;
      const i = 4 * (row * w + column);
      const j = column + 1 < w ? i + 4 : i;
      const under = row + 1 < h ? 4 * w : 0;
      const a = share * (1 - u) * (1 - v);
      const b = share * u * (1 - v);
      const c = share * (1 - u) * v;
      const d = share * u * v;
      for (let k = 0; k < 3; k += 1)
        light[3 * at + k] =
          gain *
          (a * planes[i + k] +
            b * planes[j + k] +
            c * planes[i + under + k] +
            d * planes[j + under + k]);
      if (hides)
        hides[at] =
          a * planes[i + 3] +
          b * planes[j + 3] +
          c * planes[i + under + 3] +
          d * planes[j + under + 3];
      const peak = share * peaks[Math.round(down) * w + Math.round(across)];
      if (peak > limit) marks[at] = peak > bright ? BRIGHT : FAINT;
    }
  }
}

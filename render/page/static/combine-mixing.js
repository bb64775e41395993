// Adds elements to a look, or screens them, and writes the codes that are shown.

import { encode } from "./develop.js";
import { FAINT } from "./combine-laying.js";

// The sRGB curve over the square root of light, and back over codes: read between two entries
// it is off by less than a thousandth of a code.
const LAST = 4096;
const CURVE = Float32Array.from({ length: LAST + 2 }, (_, k) => encode((k / LAST) ** 2));
const BACK = Float32Array.from({ length: LAST + 2 }, (_, k) => decode(Math.min(1, k / LAST)));

// Linear light of a code 0 ... 1; IEC 61966-2-1.
export function decode(code) {
  return code <= 0.04045 ? code / 12.92 : ((code + 0.055) / 1.055) ** 2.4;
}

// Codes as they are shown, over the square root of light: within 0.02 of a code before rounding.
const FINE = 16384;
const SHOWN = Uint8ClampedArray.from({ length: FINE + 1 }, (_, k) => 255 * encode((k / FINE) ** 2));

function read(table, x) {
  const at = x * LAST;
  const k = at | 0;
  return table[k] + (at - k) * (table[k + 1] - table[k]);
}
const clipped = (x) => (x > 0 ? (x < 1 ? x : 1) : 0);
const coded = (light) => read(CURVE, Math.sqrt(clipped(light)));
const screened = (a, b) => read(BACK, 1 - (1 - coded(a)) * (1 - coded(b)));

// A look with one layer over it, both linear.
function joined(base, { light, hides }, way) {
  const out = Float32Array.from(base);
  if (hides)
    for (let i = 0; i < out.length; i += 1) out[i] *= 1 - hides[Math.trunc(i / 3)];
  if (way === "add") for (let i = 0; i < out.length; i += 1) out[i] += light[i];
  else
    for (let i = 0; i < out.length; i += 1) if (light[i] > 0) out[i] = screened(out[i], light[i]);
  return out;
}

// Mixes and remembers, so that only what lies over a change is mixed again.
export function mixer() {
  let before = { look: null, layers: [], ways: [], bases: [] };
  // Gives the result, and what each element is laid over.
  return (look, layers, ways) => {
    const kept = before.look === look ? before : { layers: [], ways: [], bases: [] };
    let same = true;
    const bases = [look];
    layers.forEach((each, k) => {
      same &&= kept.layers[k] === each && kept.ways[k] === ways[k];
      bases.push(same ? kept.bases[k + 1] : joined(bases[k], each, ways[k]));
    });
    before = { look, layers: [...layers], ways: [...ways], bases };
    return bases;
  };
}

// Screen against adding in stops where an element is over the limit, as both would be written:
// {least, median, most}, null where it is nowhere. An even sample is judged.
export function difference(base, { light, hides }, limit, most = 40000) {
  const seen = [];
  for (let i = 0; i < light.length; i += 3) {
    if (Math.max(light[i], light[i + 1], light[i + 2]) > limit) seen.push(i);
  }
  const step = Math.max(1, Math.ceil(seen.length / most));
  const found = [];
  for (let k = 0; k < seen.length; k += step) {
    const i = seen[k];
    const left = hides ? 1 - hides[i / 3] : 1;
    const pair = [0, 1, 2].map((c) => [left * base[i + c], light[i + c]]);
    const one = shine(pair.map(([a, b]) => clipped(a + b)));
    const other = shine(pair.map(([a, b]) => screened(a, b)));
    if (one > 0 && other > 0) found.push(Math.log2(other / one));
  }
  if (found.length === 0) return null;
  const all = Float64Array.from(found).sort();
  const middle = (all.length - 1) / 2;
  const median = (all[Math.floor(middle)] + all[Math.ceil(middle)]) / 2;
  return { least: all[0], median, most: all.at(-1) };
}
const shine = ([r, g, b]) => 0.2126 * r + 0.7152 * g + 0.0722 * b; // IEC 61966-2-1

// Writes codes of linear light into RGBA, from one column to another of a picture so wide.
export function codesOf(linear, into, { gain, width, from = 0, to = width }) {
  for (let row = 0; row < linear.length / 3; row += width) {
    let i = 3 * (row + from);
    let o = 4 * (row + from);
    for (const end = 4 * (row + to); o < end; i += 3, o += 4) {
      for (let c = 0; c < 3; c += 1) {
        const light = gain * linear[i + c];
        into[o + c] = light < 1 ? SHOWN[(Math.sqrt(light > 0 ? light : 0) * FINE + 0.5) | 0] : 255;
      }
      into[o + 3] = 255;
    }
  }
}

const MARK = [0xf0, 0xc8, 0x69];

// Stripes where a layer is over the limit: told by their pattern as well as by their colour.
export function mark(marks, into, width) {
  marks.forEach((kind, i) => {
    if (!kind) return;
    const along = ((i % width) + Math.floor(i / width)) % 6;
    const on = kind === FAINT ? along < 3 : along === 0;
    if (!on && kind !== FAINT) return;
    for (let c = 0; c < 3; c += 1) into[4 * i + c] = on ? MARK[c] : 0;
  });
}

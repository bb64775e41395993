// The arithmetic of a picture: light frames times gains, exposure, and the sRGB curve.

// IEC 61966-2-1
const LINEAR_BREAK = 0.0031308;
const [SLOPE, GAIN, OFFSET, GAMMA] = [12.92, 1.055, 0.055, 2.4];
const LUMINANCE = [0.2126, 0.7152, 0.0722];
const CARD = 0.18; // linear value of the metered 18 % card

// Every half-precision number as a float, read once.
export const HALVES = (() => {
  const table = new Float32Array(65536);
  for (let bits = 0; bits < 65536; bits += 1) {
    const sign = bits & 0x8000 ? -1 : 1;
    const exponent = (bits >> 10) & 31;
    const part = bits & 1023;
    if (exponent === 0) table[bits] = sign * part * 2 ** -24;
    else if (exponent === 31) table[bits] = part ? NaN : sign * Infinity;
    else table[bits] = sign * (1 + part / 1024) * 2 ** (exponent - 15);
  }
  return table;
})();

// What one unit of a light's frame counts for in the picture, per channel.
export function gains(light, camera) {
  if (!light.on) return [0, 0, 0];
  const exposure = camera.iso_speed / 100 / camera.f_number ** 2;
  const gain = light.gain * 2 ** light.power_stops * exposure;
  return light.colour.map((share) => gain * share);
}

export function encode(linear) {
  const x = Math.min(1, Math.max(0, linear));
  return x <= LINEAR_BREAK ? SLOPE * x : GAIN * x ** (1 / GAMMA) - OFFSET;
}

// Linear values of one pixel: of every light, and of all together.
export function pixel(parts, at) {
  const each = parts.map(({ frame, gain }) =>
    gain.map((g, c) => g * HALVES[frame.halves[3 * at + c]]),
  );
  const sum = [0, 1, 2].map((c) => each.reduce((total, one) => total + one[c], 0));
  return { each, sum };
}

export const luminance = (rgb) => rgb.reduce((y, value, c) => y + value * LUMINANCE[c], 0);

// Stops of a place in the picture from the metered card.
export const stopsFromCard = (rgb) => Math.log2(Math.max(luminance(rgb), 0) / CARD);

// The curve by the upper 20 bits of a float between 0 and 1: 2048 steps in every doubling of the
// light, so that a code is right within a tenth.
const DROPPED_BITS = 12;
const ONE = 0x3f800000 >>> DROPPED_BITS;
const NEGATIVE = 0x80000000 >>> DROPPED_BITS;
const CURVE = (() => {
  const middles = Uint32Array.from({ length: ONE }, (_, i) => (i + 0.5) * 2 ** DROPPED_BITS);
  return Uint8ClampedArray.from(new Float32Array(middles.buffer), (x) =>
    Math.round(255 * encode(x)),
  );
})();

function decoded(frame) {
  frame.floats ??= Float32Array.from(frame.halves, (half) => HALVES[half]);
  return frame.floats;
}

function add(sum, { frame, gain: [r, g, b] }) {
  const floats = decoded(frame);
  for (let i = 0; i < sum.length; i += 3) {
    sum[i] += r * floats[i];
    sum[i + 1] += g * floats[i + 1];
    sum[i + 2] += b * floats[i + 2];
  }
}

const alike = (one, other) =>
  one?.frame === other.frame && one.gain.every((gain, c) => gain === other.gain[c]);

const BLOCK = 3 * 4096; // numbers that are added and encoded at a time: they stay in the cache

// The plain-canvas way: the same sum for every pixel. While one light is being turned, the sum of
// the others is kept. Gives a function of the parts and of the RGBA codes that it fills.
export function painter() {
  let rest = new Float32Array(0); // sum of all lights but the one that is turned
  let before = [];
  let turned = -1;
  return (parts, into) => {
    const size = (3 * into.length) / 4;
    const changed = parts.flatMap((part, i) => (alike(before[i], part) ? [] : [i]));
    const known = rest.length === size && before.length === parts.length && changed.length <= 1;
    if (rest.length !== size) rest = new Float32Array(size);
    if (!known || (changed.length === 1 && changed[0] !== turned)) {
      turned = changed.length === 1 ? changed[0] : parts.length - 1;
      rest.fill(0);
      parts.forEach((part, i) => i !== turned && part.gain.some(Boolean) && add(rest, part));
    }
    before = parts.map(({ frame, gain }) => ({ frame, gain }));
    if (turned >= 0) finish(rest, parts[turned], into);
  };
}

// Adds the last light and writes the codes.
function finish(rest, { frame, gain: [r, g, b] }, into) {
  const floats = decoded(frame);
  const sum = new Float32Array(BLOCK);
  const bits = new Uint32Array(sum.buffer);
  const pixels = new Uint32Array(into.buffer, into.byteOffset, into.length / 4);
  for (let from = 0; from < rest.length; from += BLOCK) {
    const count = Math.min(BLOCK, rest.length - from);
    for (let k = 0, i = from; k < count; k += 3, i += 3) {
      sum[k] = rest[i] + r * floats[i];
      sum[k + 1] = rest[i + 1] + g * floats[i + 1];
      sum[k + 2] = rest[i + 2] + b * floats[i + 2];
    }
    // Red is the lowest byte on every processor that a browser runs on.
    for (let k = 0, o = from / 3; k < count; k += 3, o += 1)
      pixels[o] = coded(bits[k]) | (coded(bits[k + 1]) << 8) | (coded(bits[k + 2]) << 16) | OPAQUE;
  }
}

const OPAQUE = 0xff000000;

function coded(bits) {
  const at = bits >>> DROPPED_BITS;
  return at < ONE ? CURVE[at] : at < NEGATIVE ? 255 : 0;
}

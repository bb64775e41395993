// The arithmetic of a picture: light frames times gains, exposure, and the sRGB curve.

// IEC 61966-2-1
const LINEAR_BREAK = 0.0031308;
const [SLOPE, GAIN, OFFSET, GAMMA] = [12.92, 1.055, 0.055, 2.4];
const LUMINANCE = [0.2126, 0.7152, 0.0722];
const CARD = 0.18; // linear value of the metered 18 % card

// Every half-precision number as a float, read once.
const HALVES = (() => {
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
    gain.map((g, c) => g * HALVES[frame.halves[3 * at + c]]));
  const sum = [0, 1, 2].map((c) => each.reduce((total, one) => total + one[c], 0));
  return { each, sum };
}

export const luminance = (rgb) => rgb.reduce((y, value, c) => y + value * LUMINANCE[c], 0);

// Stops of a place in the picture from the metered card.
export const stopsFromCard = (rgb) => Math.log2(Math.max(luminance(rgb), 0) / CARD);

// The curve as codes over the square root, near its own spacing: within half a code.
const CURVE = Uint8ClampedArray.from({ length: 4097 }, (_, i) => Math.round(255 * encode((i / 4096) ** 2)));

function decoded(frame) {
  frame.floats ??= Float32Array.from(frame.halves, (half) => HALVES[half]);
  return frame.floats;
}

// The plain-canvas way: the same sum for every pixel.
export function paint(parts, width, height, into) {
  const sum = new Float32Array(3 * width * height);
  for (const { frame, gain } of parts) {
    if (gain.every((g) => g === 0)) continue;
    const [r, g, b] = gain;
    const floats = decoded(frame);
    for (let i = 0; i < sum.length; i += 3) {
      sum[i] += r * floats[i];
      sum[i + 1] += g * floats[i + 1];
      sum[i + 2] += b * floats[i + 2];
    }
  }
  for (let i = 0, o = 0; i < sum.length; i += 3, o += 4) {
    for (let c = 0; c < 3; c += 1) {
      const x = sum[i + c];
      into[o + c] = x >= 1 ? 255 : x > 0 ? CURVE[(4096 * Math.sqrt(x) + 0.5) | 0] : 0;
    }
    into[o + 3] = 255;
  }
}

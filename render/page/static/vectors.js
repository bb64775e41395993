// Places and ways in the room: small arithmetic on [x, y, z], and steps that numbers snap to.

export const RAD = Math.PI / 180;

export const snap = (x, step) => Math.round(Math.round(x / step) * step * 1e4) / 1e4;
export const whole = (x) => Math.round(x * 1e4) / 1e4; // tenths of a millimetre
export const within = (x, low, high) => Math.min(high, Math.max(low, x));
export const minus = (a, b) => a.map((x, i) => x - b[i]);
export const plus = (a, b, much = 1) => a.map((x, i) => x + much * b[i]);
export const dot = (a, b) => a.reduce((sum, x, i) => sum + x * b[i], 0);
export const size = (a) => Math.hypot(...a);
export const unit = (a) => a.map((x) => x / size(a));
export const cross = (a, b) => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];

// From a point to what stands at a distance, azimuth and elevation from it.
export function offset({ distance_m: d, azimuth_deg: a, elevation_deg: e }) {
  const level = d * Math.cos(e * RAD);
  return [level * Math.sin(a * RAD), d * Math.sin(e * RAD), level * Math.cos(a * RAD)];
}

// Degrees between -180 and 180.
export const turned = (degrees) => degrees - 360 * Math.round(degrees / 360);

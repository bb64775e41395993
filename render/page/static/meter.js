// What the flash meter shows, from light at full power and the powers set; all of it is a sum.

export const power = (light) => (light.on ? 2 ** light.power_stops : 0);

// The meter's own ISO, where the file states one; else what is set on the camera.
const meterSpeed = (set) =>
  set.meter?.own || !set.camera ? (set.meter?.iso_speed ?? 100) : set.camera.iso_speed;

const fOf = (exposure, speed, constant) => Math.sqrt((exposure * speed) / constant);

const summed = (full, powers) => full.reduce((sum, each, i) => sum + each * powers[i], 0);

// Readings of every point: f-number and stops from the key, of each light alone and of all.
export function readings(set) {
  const powers = set.lights.map(power);
  const speed = meterSpeed(set);
  const key = set.lights.findIndex((light) => light.name === set.key);
  const base = set.points.find((point) => point.name === set.reference?.point);
  const reference = base && key >= 0 ? base.alone[key] * powers[key] : 0;
  const reading = (exposure, constant) => ({
    f: fOf(exposure, speed, constant),
    stops: exposure > 0 && reference > 0 ? Math.log2(exposure / reference) : null,
  });
  return set.points.map((point) => ({
    point,
    alone: point.alone.map((full, i) => reading(full * powers[i], point.constant_alone)),
    together: reading(summed(point.together, powers), point.constant_together),
  }));
}

const TENTH_HALVED_STOPS = 0.05;

// Half a click of the coarsest head that fires for a wish, at least half a tenth: as `balance`.
function nearest(lights, wish) {
  const clicks = lights.map((light, i) =>
    light.on && !light.fixed && wish.full[i] > 0 ? light.step_stops : 0,
  );
  return Math.max(0.5 * Math.max(0, ...clicks), TENTH_HALVED_STOPS) + 1e-6;
}

// Every wish with what is read now and by how much it is off; + is too much light.
export function wishes(set) {
  const powers = set.lights.map(power);
  const speed = meterSpeed(set);
  return set.wanted.map((wish) => {
    const f = fOf(summed(wish.full, powers), speed, wish.constant);
    const off = f > 0 ? 2 * Math.log2(f / wish.f_number) : null;
    const [low, high] = wish.range_stops;
    const near = nearest(set.lights, wish);
    return { wish, f, off, met: off !== null && off >= low - near && off <= high + near };
  });
}

// Where a light or a panel stands, as a sentence with blanks to write in.

import { blank, sentence } from "./blanks.js";
import { make, write } from "./make.js";
import { say } from "./notices.js";
import { whole } from "./vectors.js";
import {
  azimuth,
  elevation,
  length,
  readAzimuth,
  readDegrees,
  readLength,
  readSided,
  showSided,
  spoken,
} from "./words.js";

const READ = {
  distance_m: {
    read: readLength,
    show: length,
    label: "distance",
    accepted: "a length such as 1.2 m or 3 ft 11 in",
  },
  azimuth_deg: {
    read: readAzimuth,
    show: azimuth,
    label: "angle from the camera",
    accepted: "degrees and a side, such as 45 left",
  },
  elevation_deg: {
    read: readDegrees,
    show: elevation,
    label: "angle up",
    accepted: "degrees, such as 30 or 10 down",
  },
};

const sided = (label, less, more) => ({
  label,
  read: (text, unit) => readSided(text, unit, less, more),
  show: (metres, unit) => showSided(metres, unit, less, more),
  accepted: `a length and a side, such as 0.5 m ${less}`,
});
const AXES = [
  sided("side of the camera line", "left", "right"),
  { ...READ.distance_m, label: "height" },
  sided("along the camera line, from the eyes", "behind", "before"),
];

// node: the row; id: of the thing, such as light.key; thing(): it as it stands
export function placeOf(node, id, label, act) {
  const field = (key, how, value) => {
    const input = blank(`${label}, ${how.label}`, {
      read: (text) => how.read(text, act.unit()),
      accepted: how.accepted,
      put: (found) => act.change({ [`${id}.${key}`]: { value: value(whole(found)) } }, true),
      say: (sentence) => say(node, sentence),
    });
    const show = input.show;
    input.show = (number) => show(how.show(number, act.unit()));
    return input;
  };
  const polar = Object.fromEntries(
    Object.entries(READ).map(([key, how]) => [key, field(key, how, (found) => found)]),
  );
  const axes = AXES.map((how, axis) =>
    field("position_m", how, (found) => {
      const at = [...node.thing.position_m];
      at[axis] = found;
      return at;
    }),
  );
  const beam = field(
    "guards.distance_m",
    { ...READ.distance_m, label: "way before its light" },
    (found) => found,
  );
  const from = make("span", {}, " away");
  const off = make("span");
  const stands = (...parts) => sentence({ class: "place" }, "Stands ", ...parts);
  const around = stands(
    polar.distance_m,
    from,
    ", ",
    polar.azimuth_deg,
    ", ",
    polar.elevation_deg,
    ".",
  );
  const fixed = stands(axes[0], ", ", axes[2], " the eyes, ", axes[1], " high.");
  const guard = stands("in the beam of the ", off, ", ", beam, " before it.");
  const still = make("p", { class: "place quiet" });
  return {
    node: make("div", {}, around, fixed, guard, still),
    // thing: with `centre` and what of placed, position_m and guards there is
    fill(thing) {
      node.thing = thing;
      const { placed, position_m, guards } = thing;
      around.hidden = !placed;
      fixed.hidden = Boolean(placed) || !position_m;
      guard.hidden = !guards;
      still.hidden = Boolean(placed || position_m || guards);
      write(from, placed?.around ? ` from the ${spoken(placed.around)}` : " away");
      for (const [key, input] of Object.entries(polar)) if (placed) input.show(placed[key] ?? 0);
      axes.forEach((input, axis) => position_m && input.show(position_m[axis]));
      if (guards) {
        write(off, spoken(guards.light));
        beam.show(guards.distance_m);
      }
      write(still, `Stands ${length(thing.centre[1], act.unit())} high.`);
    },
  };
}

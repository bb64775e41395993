// Where a light stands, as a sentence with blanks to write in.

import { fill, make, write } from "./make.js";
import { say } from "./notices.js";
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

export function placeOf(node, name, label, act) {
  const field = (key, how, value) => {
    const input = make("input", {
      type: "text",
      class: "blank",
      size: 7,
      autocomplete: "off",
      spellcheck: "false",
      "aria-label": `${label}, ${how.label}`,
      oninput: () => fill(input, ""),
      onchange: () => {
        const found = how.read(input.value, act.unit());
        if (found === null) {
          say(node, `${how.label}: found “${input.value}”; write ${how.accepted}.`);
          input.setAttribute("aria-invalid", "true");
          return;
        }
        input.removeAttribute("aria-invalid");
        say(node, "");
        act.change({ [`light.${name}.${key}`]: { value: value(found) } }, true);
        input.blur();
      },
    });
    input.show = (number) => fill(input, how.show(number, act.unit()));
    return input;
  };
  const whole = (number) => Math.round(number * 1e4) / 1e4;
  const polar = Object.fromEntries(
    Object.entries(READ).map(([key, how]) => [key, field(key, how, whole)]),
  );
  const axes = AXES.map((how, axis) =>
    field("position_m", how, (found) => {
      const at = [...node.light.position_m];
      at[axis] = whole(found);
      return at;
    }),
  );
  const from = make("span", {}, " away");
  const around = make(
    "p",
    { class: "place" },
    "Stands ",
    polar.distance_m,
    from,
    ", ",
    polar.azimuth_deg,
    ", ",
    polar.elevation_deg,
    ".",
  );
  const fixed = make(
    "p",
    { class: "place" },
    "Stands ",
    axes[0],
    ", ",
    axes[2],
    " the eyes, ",
    axes[1],
    " high.",
  );
  const still = make("p", { class: "place quiet" });
  return {
    node: make("div", {}, around, fixed, still),
    fill(light) {
      around.hidden = !light.placed;
      fixed.hidden = Boolean(light.placed) || !light.position_m;
      write(from, light.placed?.around ? ` from the ${spoken(light.placed.around)}` : " away");
      still.hidden = !around.hidden || !fixed.hidden;
      for (const [key, input] of Object.entries(polar))
        if (light.placed) input.show(light.placed[key] ?? 0);
      axes.forEach((input, axis) => light.position_m && input.show(light.position_m[axis]));
      write(still, `Stands ${length(light.centre[1], act.unit())} high.`);
    },
  };
}

// What is set on the camera, as the caption under the look.

import { make } from "./make.js";
import { ring } from "./words.js";

// Thirds of a stop as engraved; common practice, no source.
const RINGS = [
  1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18,
  20, 22, 25, 29, 32,
];
const SPEEDS = [
  50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200,
  6400,
];

const SAME = 0.045; // of the binary logarithm: marks are rounded to two figures

export function exposureOf(node, camera, change) {
  if (!node.fields) {
    const field = (key, label) =>
      make("select", {
        "aria-label": label,
        oninput: (event) => {
          const value = Number(event.target.value);
          change({
            [`camera.${key}`]: { value, exact: key === "f_number" ? meant(value) : value },
          });
        },
      });
    node.fields = {
      f_number: field("f_number", "f-number"),
      iso_speed: field("iso_speed", "ISO speed"),
    };
    node.rest = make("span");
    node.append("At f/", node.fields.f_number, ", ISO ", node.fields.iso_speed, node.rest);
  }
  offer(node.fields.f_number, RINGS, camera.f_number);
  offer(node.fields.iso_speed, SPEEDS, camera.iso_speed);
  const shutter = !camera.shutter_s
    ? ""
    : camera.shutter_s < 0.3
      ? `, 1/${Math.round(1 / camera.shutter_s)} s`
      : `, ${camera.shutter_s} s`;
  node.rest.textContent = `${shutter}.`;
}

// An engraved whole stop stands for the exact one: f/11 is 11.31.
function meant(mark) {
  const whole = 2 ** (Math.round(2 * Math.log2(mark)) / 2);
  return near(mark, whole) ? whole : mark;
}

const near = (one, other) => Math.abs(Math.log2(one / other)) < SAME;

function offer(select, usual, given) {
  const value = usual.find((each) => near(each, given)) ?? given;
  const all = usual.includes(value) ? usual : [...usual, value].sort((a, b) => a - b);
  if (select.dataset.all !== `${all}`) {
    select.dataset.all = `${all}`;
    select.replaceChildren(...all.map((each) => make("option", { value: each }, ring(each))));
  }
  if (Number(select.value) !== value) select.value = `${value}`;
}

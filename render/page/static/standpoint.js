// The camera as a thing that can be moved: along its line, up and down, by hand, keys or number.

import { fill, make } from "./make.js";
import { length, readLength } from "./words.js";

export const CAMERA = ":camera"; // no light has such a name

// The camera in the shape of a light, for what moves lights.
export const asThing = (cam) => ({
  name: CAMERA,
  placed: null,
  position_m: [cam.x, cam.y, cam.z],
  centre: [cam.x, cam.y, cam.z],
  corners: [],
  axis: [0, 0, -1],
  aim_at: cam.target,
});

// The camera where the thing was carried; its frame at the sitter grows with the distance.
export function carriedCamera(cam, thing) {
  const [, y, z] = thing.position_m;
  const grown = (z - cam.target[2]) / (cam.z - cam.target[2]);
  const frame = cam.frame.map((corner) =>
    corner.map((at, i) => cam.target[i] + grown * (at - cam.target[i])),
  );
  return { ...cam, y, z, frame, draft: true };
}

// What the scene file gets; the camera stands on the line in front of the mark.
export function placingCamera(thing, before) {
  const keys = {};
  const whole = (x) => Math.round(x * 1e4) / 1e4;
  if (thing.position_m[2] !== before.position_m[2])
    keys["camera.distance_m"] = { value: whole(thing.position_m[2]) };
  if (thing.position_m[1] !== before.position_m[1])
    keys["camera.height_m"] = { value: whole(thing.position_m[1]) };
  return keys;
}

// "Camera 1.70 m from the mark, 1.24 m high, 100 mm.", with blanks to write in.
export function standpointOf(node, cam, unit, act) {
  node.shown ??= blanks(node, act);
  node.shown(cam, unit);
}

function blanks(node, act) {
  const blank = (label, read, key) => {
    const input = make("input", {
      type: "text",
      class: "blank",
      autocomplete: "off",
      spellcheck: "false",
      "aria-label": `camera, ${label}`,
    });
    input.addEventListener("input", () => fill(input, ""));
    input.addEventListener("change", () => {
      const found = read(input.value);
      input.setAttribute("aria-invalid", `${found === null}`);
      if (found === null) {
        act.tell(`Camera, ${label}: found “${input.value}”; write a number.`);
        return;
      }
      input.blur();
      act.change({ [`camera.${key}`]: { value: Math.round(found * 1e4) / 1e4 } }, true);
    });
    return input;
  };
  const metres = (text) => readLength(text, act.unit());
  const away = blank("distance", metres, "distance_m");
  const high = blank("height", metres, "height_m");
  const lens = blank(
    "focal length in millimetres",
    (text) => Number.parseFloat(text) || null,
    "focal_length_mm",
  );
  node.append("Camera ", away, " from the mark, ", high, " high, ", lens, ".");
  return (cam, unit) => {
    fill(away, length(cam.z, unit));
    fill(high, length(cam.y, unit));
    fill(lens, `${Math.round(cam.focal_length_mm * 10) / 10} mm`);
  };
}

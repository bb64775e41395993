// The camera in a sentence, with blanks to write in.

import { blank, number } from "./blanks.js";
import { whole } from "./vectors.js";
import { length, readLength } from "./words.js";

// "Camera 1.70 m from the mark, 1.24 m high, 100 mm.", with blanks to write in.
export function standpointOf(node, cam, unit, act) {
  node.shown ??= blanks(node, act);
  node.shown(cam, unit);
}

function blanks(node, act) {
  const field = (label, read, key, accepted) =>
    blank(`Camera, ${label}`, {
      read,
      accepted,
      put: (found) => act.change({ [`camera.${key}`]: { value: whole(found) } }, true),
      say: act.tell,
    });
  const metres = (text) => readLength(text, act.unit());
  const usual = "a length such as 1.7 m or 5 ft 7 in";
  const away = field("distance", metres, "distance_m", usual);
  const high = field("height", metres, "height_m", usual);
  const millimetres = (text) => number(text.replace(/mm\s*$/, ""));
  const lens = field("focal length", millimetres, "focal_length_mm", "millimetres such as 85");
  node.append("Camera ", away, " from the mark, ", high, " high, ", lens, ".");
  return (cam, unit) => {
    away.show(length(cam.z, unit));
    high.show(length(cam.y, unit));
    lens.show(`${Math.round(cam.focal_length_mm * 10) / 10} mm`);
  };
}

// Sentences that say what can be done with what is chosen, and what the picture still waits for.

import { CAMERA } from "./standpoint.js";
import { spoken } from "./words.js";

const OF_CAMERA =
  "Drag the camera, or press ← → for 5 cm nearer or farther and, seen from the side, " +
  "↑ ↓ for its height.";
const OF_PLACED =
  "Drag a light, or choose it and press ↑ ↓ for 5 cm farther or nearer, ← → for 5° to camera " +
  "left or right, Page Up and Page Down for 5° up or down.";
const OF_FREE = "Drag a light, or choose it and press the arrow keys: 5 cm a step.";
const OF_STILL = "This light stays where its file puts it.";

export function handling(chosen, light) {
  if (chosen === CAMERA) return OF_CAMERA;
  if (!light) return "";
  if (light.placed) return OF_PLACED;
  return light.position_m ? OF_FREE : OF_STILL;
}

// coming: lights whose picture is not that of the set yet; any: whether there is a picture at all
export function awaited(coming, any) {
  if (coming.length === 0) return "";
  const names = coming.map((light) => spoken(light.name)).join(" and ");
  const now = any ? "the picture still shows it as it was" : "the picture follows";
  return `${names}: the light is being traced; ${now}.`;
}

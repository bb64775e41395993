// Sentences that say what can be done with what is chosen, and what the picture still waits for.

import { readings } from "./meter.js";
import { written } from "./notices.js";
import { azimuth, elevation, fNumber, length, spoken } from "./words.js";

const OF = {
  camera:
    "Drag the camera, or press ← → for 5 cm nearer or farther and, seen from the side, " +
    "↑ ↓ for its height.",
  sitter:
    "Drag the sitter: camera and lights come along, backdrop and its lights stay. " +
    "The ring before the face turns the body; Page Up and Page Down do so by 5°.",
  backdrop: "Drag the backdrop, or press the arrow keys: 5 cm a step.",
};
const OF_PLACED =
  "Drag it, or press ↑ ↓ for 5 cm farther or nearer, ← → for 5° to camera " +
  "left or right, Page Up and Page Down for 5° up or down.";
const OF_FREE = "Drag it, or press the arrow keys: 5 cm a step.";
const OF_GUARD = "It stays in the beam that it keeps off; drag it along, or press the arrow keys.";
const OF_AIMED = " The ring at the end of its dotted line is where it is aimed.";
const OF_STILL = "It stays where the scene file puts it.";

export function handling(thing) {
  if (!thing) return "Drag a light, a panel, the sitter, the backdrop or the camera.";
  if (thing.kind in OF) return OF[thing.kind];
  if (thing.guards) return OF_GUARD;
  const aimed = thing.kind === "light" ? OF_AIMED : "";
  if (thing.placed) return OF_PLACED + aimed;
  return (thing.position_m ? OF_FREE : OF_STILL) + aimed;
}

// Where a thing on the move is, and the reading that matters most there.
export function onTheMove(set, thing, unit) {
  const row = readings(set).find(({ point }) => point.name === set.reference?.point);
  const read = row ? ` At the ${row.point.label}: ${fNumber(row.together.f)} together.` : "";
  return `${thing ? whereabouts(thing, set, unit) : ""}${read}`.trim();
}

function whereabouts({ kind, name, placed, guards, centre, turn_deg }, set, unit) {
  const words = spoken(name ?? kind);
  if (placed) {
    const far = length(placed.distance_m, unit);
    const [turn, tilt] = [azimuth(placed.azimuth_deg), elevation(placed.elevation_deg)];
    return `${words}: ${far} from the ${spoken(placed.around)}, ${turn}, ${tilt}.`;
  }
  if (guards) return `${words}: ${length(guards.distance_m, unit)} before the light.`;
  if (kind === "sitter") {
    const gap = set.backdrop
      ? `${length(-set.backdrop.corners[0][2], unit)} from the backdrop, `
      : "";
    const eyes = `eyes ${length(set.sitter.eyes[1], unit)} high`;
    return `${words}: ${gap}${eyes}, turned ${azimuth(turn_deg)}.`;
  }
  if (kind === "backdrop") return `${words}: ${length(-centre[2], unit)} behind the mark.`;
  if (kind === "camera")
    return `${words}: ${length(centre[2], unit)} from the mark, ${length(centre[1], unit)} high.`;
  const [x, y, z] = centre.map((each) => length(Math.abs(each), unit));
  const side = centre[0] < 0 ? "left" : "right";
  return `${words}: ${x} ${side}, ${z} ${centre[2] < 0 ? "behind" : "before"} the eyes, ${y} high.`;
}

// making: what is said while the sitter is being made, else empty; traced: whether pictures are
// coming: lights whose picture is not that of the set yet; any: whether there is a picture at all
export function awaited({ making, traced, lights }, coming, any) {
  if (making) return written(making);
  if (!traced) return "No picture: no engine works here.";
  if (coming.length === 0) return refined(lights);
  const names = coming.map((light) => spoken(light.name)).join(" and ");
  const now = any ? "the picture still shows it as it was" : "the picture follows";
  return `${names}: the light is being traced; ${now}.`;
}

// How far the grainiest light is.
function refined(lights) {
  const frames = lights.map(({ frame }) => frame).filter(Boolean);
  const least = frames.reduce(
    (one, other) => (other.samples < one.samples ? other : one),
    frames[0],
  );
  if (!least || least.samples >= least.of) return "";
  return `The picture is still grainy: ${least.samples} of ${least.of} samples.`;
}

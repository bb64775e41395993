// Taking hold of what is drawn: follows a finger, pen or mouse from the press to the release.

import { minus, plus } from "./vectors.js";
import { inRoom } from "./scale.js";
import { draggedTo, handle } from "./things.js";

const START_PX = 3; // less is a press, not a drag
const REACH_PX = { mouse: 16, touch: 26, pen: 20 }; // around a middle, when outlines are missed

// The grip that a press means: the nearest of those that it touches. `grips` are
// [{id, part, at: [x, y], inside(x, y)}] in drawing units.
export function gripAt(svg, grips, event) {
  const [x, y] = onSheet(svg, event);
  const units = svg.viewBox.baseVal.width / svg.getBoundingClientRect().width;
  const reach = (REACH_PX[event.pointerType] ?? REACH_PX.mouse) * units;
  const touched = grips
    .map((grip) => ({ grip, away: Math.hypot(x - grip.at[0], y - grip.at[1]) }))
    .filter(({ grip, away }) => away <= reach || grip.inside?.(x, y))
    .map(({ grip, away }) => ({ grip, away: grip.part ? away - reach / 2 : away }))
    .sort((one, other) => one.away - other.away);
  return touched[0]?.grip ?? null;
}

export const fingerOf = ({ touches: [{ clientX, clientY }] }) => ({
  clientX,
  clientY,
  pointerType: "touch",
});

function onSheet(svg, at) {
  const box = svg.viewBox.baseVal;
  const shown = svg.getBoundingClientRect();
  return [
    box.x + ((at.clientX - shown.left) * box.width) / shown.width,
    box.y + ((at.clientY - shown.top) * box.height) / shown.height,
  ];
}

// act: {show(thing), drop(thing), leave()}
export function follow(event, thing, part, view, svg, act) {
  if (event.button !== 0) return;
  event.preventDefault();
  const box = svg.viewBox.baseVal;
  const sheet = { x: box.x, y: box.y, width: box.width, height: box.height };
  const shown = svg.getBoundingClientRect();
  const here = (at) =>
    inRoom(
      sheet.x + ((at.clientX - shown.left) * sheet.width) / shown.width,
      sheet.y + ((at.clientY - shown.top) * sheet.height) / shown.height,
    );
  const held = handle(thing, part);
  const grip = minus(
    view.seen.map((axis) => held[axis]),
    here(event),
  );
  let moved = null;
  const stop = new AbortController();
  const end = (drop) => {
    stop.abort();
    if (drop && moved) act.drop(moved);
    else act.leave();
  };
  // The drawing is made anew while the thing moves; what holds the drawings stays.
  svg.closest("#views")?.setPointerCapture(event.pointerId);
  const listen = (name, heard) => window.addEventListener(name, heard, { signal: stop.signal });
  const own = (heard) => (at) => at.pointerId === event.pointerId && heard(at);
  listen(
    "pointermove",
    own((at) => {
      if (!moved && Math.hypot(at.clientX - event.clientX, at.clientY - event.clientY) < START_PX)
        return;
      moved = draggedTo(thing, part, view, plus(here(at), grip));
      act.show(moved);
    }),
  );
  listen(
    "pointerup",
    own(() => end(true)),
  );
  listen(
    "pointercancel",
    own(() => end(false)),
  );
  listen("keydown", (at) => at.key === "Escape" && end(false));
}

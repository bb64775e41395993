// Taking hold of the chosen element on the picture: its place, its size, its turn.

import { frameOf } from "./combine-laying.js";
import { draw } from "./make.js";

const STEP = 0.01; // of the look's frame, for each arrow key
const FINE = 0.001; // with Shift
const GROW = 1.02;
const KNOB_PX = 7;
const REACH_PX = 22; // around a knob, for a finger
const START_PX = 3; // less is a press, not a drag
const CORNERS = [
  [-1, -1],
  [1, -1],
  [1, 1],
  [-1, 1],
];
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const rounded = (x, digits) => Math.round(x * 10 ** digits) / 10 ** digits;
const within = (x, most) => Math.min(most, Math.max(-most, x));
const MOST_AT = 10; // as a recipe accepts
const MOST_SCALE = 100;

export const placed = ([x, y]) => ({
  at: [x, y].map((far) => rounded(within(far, MOST_AT), 4)),
});
export const scaled = (scale) => ({
  scale: rounded(Math.min(MOST_SCALE, Math.max(0.001, scale)), 4),
});
export const turned = (deg) => ({
  turn_deg: rounded(((((deg + 180) % 360) + 360) % 360) - 180, 1),
});

// act: {element(), set(keys, word), settle()}; gives a function that shows an element's frame.
export function handles(svg, act) {
  let shown = null; // {own, size}: of element and look [px]
  let grabs = 0;
  const under = draw("path", { class: "under" });
  const frame = draw("path", { class: "frame", tabindex: 0, role: "button" });
  const corner = draw("circle", { class: "knob" });
  const turn = draw("rect", { class: "knob" });
  const reach = draw("circle", { class: "reach" });
  const turnReach = draw("circle", { class: "reach turn" });
  svg.append(under, frame, corner, turn, reach, turnReach);

  const unit = () => shown.size[0] / (svg.getBoundingClientRect().width || 1); // look's px per px
  const onLook = (at) => {
    const box = svg.getBoundingClientRect();
    return [at.clientX - box.left, at.clientY - box.top].map((far) => far * unit());
  };

  function follow(event, moved) {
    if (event.button !== 0 || !shown) return;
    event.preventDefault();
    frame.focus({ preventScroll: true });
    svg.setPointerCapture(event.pointerId);
    const first = { element: act.element(), size: shown.size };
    const [start, word] = [onLook(event), `drag ${(grabs += 1)}`];
    const stop = new AbortController();
    let going = false;
    const listen = (name, heard) =>
      window.addEventListener(
        name,
        (at) => (at.pointerId ?? event.pointerId) === event.pointerId && heard(at),
        { signal: stop.signal },
      );
    const end = () => {
      stop.abort();
      act.settle();
    };
    listen("pointermove", (at) => {
      going ||= Math.hypot(at.clientX - event.clientX, at.clientY - event.clientY) >= START_PX;
      if (going) act.set(moved(first, start, onLook(at)), word);
    });
    listen("pointerup", end);
    listen("pointercancel", end);
    listen("keydown", (at) => {
      if (at.key !== "Escape") return;
      if (going) act.set(keysOf(first.element), word);
      end();
    });
  }
  const keysOf = ({ at, scale, turn_deg }) => ({ at, scale, turn_deg });
  const from = ({ element, size }, at) => at.map((far, k) => far - element.at[k] * size[k]);

  frame.addEventListener("pointerdown", (event) =>
    follow(event, ({ element, size }, start, now) =>
      placed(element.at.map((far, k) => far + (now[k] - start[k]) / size[k])),
    ),
  );
  reach.addEventListener("pointerdown", (event) =>
    follow(event, (first, start, now) => {
      const far = [start, now].map((at) => Math.hypot(...from(first, at)));
      return scaled((first.element.scale * far[1]) / Math.max(1, far[0]));
    }),
  );
  turnReach.addEventListener("pointerdown", (event) =>
    follow(event, (first, start, now) => {
      const [one, other] = [start, now].map((at) => {
        const [x, y] = from(first, at);
        return (Math.atan2(y, x) * 180) / Math.PI;
      });
      return turned(first.element.turn_deg + other - one);
    }),
  );
  // A finger drags without scrolling the page.
  for (const each of [frame, reach, turnReach])
    each.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  frame.addEventListener("keydown", (event) => {
    if (!shown || event.ctrlKey || event.metaKey || event.altKey) return;
    const way = ARROWS[event.key];
    const { at, scale } = act.element();
    const step = event.shiftKey ? FINE : STEP;
    if (way) act.set(placed(at.map((far, k) => far + step * way[k])), "keys");
    else if (event.key === "+" || event.key === "=") act.set(scaled(scale * GROW), "grow");
    else if (event.key === "-" || event.key === "−") act.set(scaled(scale / GROW), "grow");
    else return;
    event.preventDefault();
  });

  // element: null where none is chosen; own, size: of element and look [px]
  return (element, own, size, name) => {
    svg.style.display = element ? "" : "none";
    if (!element) return;
    shown = { own, size };
    svg.setAttribute("viewBox", `0 0 ${size[0]} ${size[1]}`);
    const lies = frameOf(element, own, size);
    const at = placesOf(lies);
    const path = `M${CORNERS.map(([u, v]) => at(u, v).join(" ")).join("L")}Z`;
    for (const each of [under, frame]) each.setAttribute("d", path);
    frame.setAttribute("aria-label", labelOf(element, name));
    const px = unit();
    const inside = ([x, y]) =>
      [x, y].map((far, k) => Math.min(size[k] - 12 * px, Math.max(12 * px, far)));
    put(corner, inside(at(1, 1)), { r: KNOB_PX * px });
    put(reach, inside(at(1, 1)), { r: REACH_PX * px });
    put(turnReach, inside(at(0, -1)), { r: REACH_PX * px });
    const [x, y] = inside(at(0, -1));
    const half = KNOB_PX * px;
    const box = { x: x - half, y: y - half, width: 2 * half, height: 2 * half };
    for (const [key, value] of Object.entries(box)) turn.setAttribute(key, value);
  };
}

function put(circle, [x, y], { r }) {
  for (const [key, value] of Object.entries({ cx: x, cy: y, r })) circle.setAttribute(key, value);
}

// A place of the element's own frame, -1 to 1 across and down, in the look.
function placesOf({ middle, width, height, turn }) {
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  return (u, v) => {
    const [x, y] = [(u * width) / 2, (v * height) / 2];
    return [middle[0] + cos * x - sin * y, middle[1] + sin * x + cos * y];
  };
}

const percent = (share) => `${Math.round(1000 * share) / 10} %`;
const labelOf = ({ at: [x, y] }, name) =>
  `${name}: its middle is ${percent(x)} across and ${percent(y)} down. ` +
  "Arrow keys move it, plus and minus change its size.";

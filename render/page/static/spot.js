// One place of the look: how bright it is, and who lights it; exact, from the light frames.

import { luminance, stopsFromCard } from "./develop.js";
import { write } from "./make.js";
import { signed, spoken } from "./words.js";

const LEAST_SHARE = 0.005; // of the light of a place; less is not named
const STEP = 0.02; // of the picture, by an arrow key
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

// nodes: {canvas, cross, line}; picture: of `lookOn`. Gives a function that tells the place anew.
export function spotted({ canvas, cross, line }, picture, changed) {
  let at = null; // share of width and height
  const put = (x, y) => {
    at = [x, y].map((share) => Math.min(0.9999, Math.max(0, share)));
    changed();
  };
  canvas.addEventListener("click", (event) => {
    const box = canvas.getBoundingClientRect();
    put((event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
  });
  canvas.addEventListener("keydown", (event) => {
    const way = KEYS[event.key];
    if (!way) return;
    event.preventDefault();
    if (at) put(at[0] + STEP * way[0], at[1] + STEP * way[1]);
    else put(0.5, 0.5);
  });
  return (shown) => {
    cross.hidden = !at || !shown;
    if (cross.hidden) {
      write(
        line,
        shown ? "Click in the picture, or use its arrow keys, to ask who lights a place." : "",
      );
      return;
    }
    cross.style.left = `${canvas.offsetLeft + at[0] * canvas.offsetWidth}px`;
    cross.style.top = `${canvas.offsetTop + at[1] * canvas.offsetHeight}px`;
    write(
      line,
      told(picture.pixel(Math.floor(at[0] * canvas.width), Math.floor(at[1] * canvas.height))),
    );
  };
}

function told({ names, each, sum }) {
  const whole = luminance(sum);
  if (!(whole > 0)) return "There: no light.";
  const shares = names
    .map((name, i) => [name, luminance(each[i]) / whole])
    .filter(([, share]) => share >= LEAST_SHARE)
    .sort((a, b) => b[1] - a[1])
    .map(([name, share]) => `${spoken(name)} ${Math.round(100 * share)} %`);
  const white = Math.min(...sum) >= 1 ? " It is white in the picture." : "";
  const stops = signed(stopsFromCard(sum));
  return `There: ${stops} stops from an 18 % card; ${shares.join(", ")}.${white}`;
}

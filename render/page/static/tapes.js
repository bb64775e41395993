// Tape distances: of the chosen thing in the drawings, of everything in a table.

import { draw, make } from "./make.js";
import { path, place } from "./scale.js";
import { panelsOf } from "./things.js";
import { RAD, within } from "./vectors.js";
import { azimuth, length, spoken } from "./words.js";

const TICK = 4;
const SHARES = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8];
const tick = ([x, y], scale) =>
  `M${x - TICK * scale} ${y + TICK * scale}L${x + TICK * scale} ${y - TICK * scale}`;

// Length and width of the room along the sheet's left and lower edge.
export function dimension({ svg, set, view, scale, unit, frame, put }, low, high) {
  if (!set.room) return;
  const [left, top, right, bottom] = frame;
  const [x, y] = [left - 12 * scale, bottom + 12 * scale];
  const up = high[view.seen[1]] - low[view.seen[1]];
  svg.append(
    draw("path", {
      class: "tape",
      d: `M${x} ${top}V${bottom}${tick([x, top], scale)}${tick([x, bottom], scale)}`,
    }),
  );
  put.put(length(up, unit), 0, 0, {
    class: "size",
    "text-anchor": "middle",
    transform: `translate(${x - 4 * scale} ${(top + bottom) / 2}) rotate(-90)`,
  });
  if (view.name === "plan") return;
  svg.append(
    draw("path", {
      class: "tape",
      d: `M${left} ${y}H${right}${tick([left, y], scale)}${tick([right, y], scale)}`,
    }),
  );
  put.put(length(high[2] - low[2], unit), (left + right) / 2, y + 12 * scale, {
    class: "size",
    "text-anchor": "middle",
  });
}

// Distances of a thing from the nearer side wall and from the camera wall, and to the eyes.
export function tapes({ svg, set, view, scale, unit, frame, put }, light) {
  const at = place(light.centre, view.seen);
  if (set.room) {
    const [, top, right, bottom] = frame;
    const side = at[1] - top < bottom - at[1] ? [at[0], top] : [at[0], bottom];
    line(svg, put, scale, at, side, length(Math.abs(at[1] - side[1]) / 100, unit));
    line(svg, put, scale, at, [right, at[1]], length((right - at[0]) / 100, unit));
  }
  if (set.sitter) {
    const eyes = place(set.sitter.eyes, view.seen);
    svg.append(draw("path", { class: "reach", d: path([eyes, at], false) }));
    put.avoid([eyes, eyes.map((x) => x + 1)]);
  }
}

function line(svg, put, scale, from, to, words) {
  if (Math.hypot(from[0] - to[0], from[1] - to[1]) < 14 * scale) return;
  svg.append(draw("path", { class: "tape", d: `${path([from, to], false)}${tick(to, scale)}` }));
  const width = 0.55 * put.size * words.length;
  const roomy = Math.abs(to[0] - from[0]) > 3 * width;
  const half = 0.65 * put.size;
  const at = put.freest(places(from, to, roomy ? 0.78 : 0.5, width), width, 2 * half);
  svg.append(
    draw("rect", { class: "gap", x: at[0] - width / 2, y: at[1] - half, width, height: 2 * half }),
  );
  put.put(words, at[0], at[1] + 0.35 * put.size, { class: "size", "text-anchor": "middle" });
  put.avoid([from, to]);
  put.take([at[0] - width / 2, at[1] - half, at[0] + width / 2, at[1] + half]);
}

// Where the words of a tape may stand: on it, best at one share of its length, else beside it.
function places(from, to, best, width) {
  const on = [best, ...SHARES].map((share) => from.map((x, i) => x + share * (to[i] - x)));
  const upright = Math.abs(to[0] - from[0]) < Math.abs(to[1] - from[1]);
  if (!upright) return on;
  return [0, 0.65, -0.65].flatMap((aside) => on.map(([x, y]) => [x + aside * width, y]));
}

export function heightLine({ svg, view, scale, unit, put }, light) {
  const at = place(light.centre, view.seen);
  line(svg, put, scale, at, [at[0], 0], length(light.centre[1], unit));
}

// The table for a tape measure: two walls, the floor, the eyes.
export function showTape(table, set, unit) {
  const { room, sitter, camera } = set;
  const rows = [];
  const add = (mark, name, at, turn = "") => {
    const left = room && at[0] - room.left_m;
    const right = room && room.width_m - left;
    const across = !room
      ? length(at[0], unit)
      : left <= right
        ? `${length(left, unit)} camera left`
        : `${length(right, unit)} camera right`;
    const deep = room ? room.back_m + room.depth_m - at[2] : at[2];
    const away = sitter ? length(Math.hypot(...at.map((x, i) => x - sitter.eyes[i])), unit) : "";
    const far = sitter ? [away] : [];
    rows.push([mark, name, across, length(deep, unit), length(at[1], unit), ...far, turn]);
  };
  if (sitter) add("+", "eyes", sitter.eyes);
  if (camera) add("", "camera, lens", [camera.x, camera.y, camera.z]);
  set.lights.forEach(({ name, centre, axis }, i) =>
    add(`${i + 1}`, spoken(name), centre, facing(axis)),
  );
  for (const { mark, name, centre, axis } of panelsOf(set))
    add(mark, spoken(name), centre, facing(axis));
  for (const { name, middle } of set.elements) add("", `${name}, in the air`, middle);
  const mark = sitter ? "the eyes" : "the mark";
  const heads = [
    "",
    "middle of",
    room ? "from the nearer side wall" : `to camera right of ${mark}`,
    room ? "from the camera wall" : `in front of ${mark}`,
    "height",
    ...(sitter ? ["to the eyes"] : []),
    "faces",
  ];
  const head = (words) => (words ? make("th", { scope: "col" }, words) : make("td"));
  const marked = (mark) => (mark && mark !== "+" ? make("span", { class: "mark" }, mark) : mark);
  table.replaceChildren(
    make("thead", {}, make("tr", {}, ...heads.map(head))),
    make(
      "tbody",
      {},
      ...rows.map(([mark, name, ...cells]) =>
        make(
          "tr",
          {},
          make("td", {}, marked(mark)),
          make("th", { scope: "row" }, name),
          ...cells.map((cell) => make("td", {}, cell)),
        ),
      ),
    ),
  );
}

// "97° right, 28° down": the way that a front looks.
function facing([x, y, z]) {
  const level = Math.hypot(x, z) > 0.05;
  const turn = level ? azimuth(Math.round(Math.atan2(x, z) / RAD)) : "";
  const tilt = Math.round(Math.asin(within(y, -1, 1)) / RAD);
  return [turn, `${Math.abs(tilt)}° ${tilt < 0 ? "down" : "up"}`].filter(Boolean).join(", ");
}

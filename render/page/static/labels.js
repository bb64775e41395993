// Names in the drawings, each where it covers as little as possible of what is drawn.

import { draw } from "./make.js";

export const LETTER = 10.5; // size of type in drawing units
const WIDE = 0.5; // of a letter, over the size of type
const MARK_R = 7.5;
const RINGS = [20, 32, 46, 62];
const DIRECTIONS = 16;
const OUTSIDE = 15000; // what a name that leaves the room costs
const LEADER = 36; // a name farther off gets a line to what it names
const CROWDED = 3; // what covering a unit of area costs, over a unit of distance
const CLEAR = 3; // kept free around what is drawn

const overlap = (a, b) =>
  Math.max(0, Math.min(a[2], b[2]) - Math.max(a[0], b[0])) *
  Math.max(0, Math.min(a[3], b[3]) - Math.max(a[1], b[1]));

// frame: [left, top, right, bottom] of the room on the sheet
export function labels(svg, frame, scale) {
  const taken = [];
  const size = LETTER * scale;
  const put = (text, x, y, attributes = {}) =>
    svg.append(draw("text", { x, y, "font-size": size, ...attributes }, text));

  const cost = (box, away) => {
    const inside = overlap(box, frame) / ((box[2] - box[0]) * (box[3] - box[1]));
    return (
      taken.reduce((sum, other) => sum + CROWDED * overlap(box, other), 0) +
      OUTSIDE * (1 - inside) +
      away
    );
  };

  function best(at, width, height) {
    let found = null;
    for (const ring of RINGS) {
      for (let i = 0; i < DIRECTIONS; i += 1) {
        const angle = (2 * Math.PI * i) / DIRECTIONS;
        const way = [Math.cos(angle), Math.sin(angle)];
        const middle = [
          at[0] + way[0] * (ring * scale + width / 2),
          at[1] + way[1] * (ring * scale + height / 2),
        ];
        const box = [
          middle[0] - width / 2,
          middle[1] - height / 2,
          middle[0] + width / 2,
          middle[1] + height / 2,
        ];
        const price = cost(box, ring);
        if (!found || price < found.price) found = { box, price, ring };
      }
    }
    taken.push(found.box);
    if (found.ring > LEADER) leader(at, found.box);
    return found.box;
  }

  function leader([x, y], [left, top, right, bottom]) {
    const end = [Math.min(right, Math.max(left, x)), Math.min(bottom, Math.max(top, y))];
    svg.append(draw("path", { class: "tape", d: `M${x} ${y}L${end[0]} ${end[1]}` }));
  }

  return {
    put,
    size,
    take(box) {
      taken.push(box);
    },
    // The first of the places where words as wide and high as that cover least.
    freest(places, width, height) {
      const prices = places.map(([x, y]) =>
        cost([x - width / 2, y - height / 2, x + width / 2, y + height / 2], 0),
      );
      return places[prices.indexOf(Math.min(...prices))];
    },
    avoid(points) {
      if (points.length === 0) return;
      const [xs, ys] = [0, 1].map((axis) => points.map((point) => point[axis]));
      const clear = CLEAR * scale;
      taken.push([
        Math.min(...xs) - clear,
        Math.min(...ys) - clear,
        Math.max(...xs) + clear,
        Math.max(...ys) + clear,
      ]);
    },
    // note: a second line, of what is wrong with it
    name(at, text, { mark = "", strong = false, note = "" } = {}) {
      const lead = mark ? 2 * MARK_R * scale + 4 * scale : 0;
      const width = lead + WIDE * size * Math.max(text.length, note.length);
      const line = Math.max(mark ? 2 * MARK_R * scale : 0, 1.2 * size);
      const box = best(at, width, line + (note ? 1.2 * size : 0));
      const middle = box[1] + line / 2;
      if (note) put(note, box[0] + lead, middle + 1.55 * size, { class: "note" });
      if (mark) {
        const cx = box[0] + MARK_R * scale;
        svg.append(
          draw("circle", {
            class: strong ? "number strong" : "number",
            cx,
            cy: middle,
            r: MARK_R * scale,
          }),
        );
        put(mark, cx, middle + 0.35 * size, {
          "text-anchor": "middle",
          class: strong ? "numeral strong" : "numeral",
        });
      }
      put(text, box[0] + lead, middle + 0.35 * size, { class: strong ? "name strong" : "name" });
    },
  };
}

// The table of readings and the list of wishes under the look.

import { blank } from "./blanks.js";
import { make, match, write } from "./make.js";
import { readings, wishes } from "./meter.js";
import { fNumber, readDegrees, readStop, signed, spoken } from "./words.js";

const FAINTEST_STOPS = -8; // from the key; fainter light is beyond any print
const MOST_ABREAST = 3; // lights whose stops stand beside the f-numbers; of more, below them
const BOUNCE = {
  kept: "The room's bounce is being traced; until then it is that of before the move.",
  waiting: "The room's bounce is being traced and not in these readings yet.",
  none: "Without the room's bounce.",
};
const SPEAK_MS = 900;

// The f-number and under it the stops from the key alone.
function cell(row, i) {
  const at = row.children[i] ?? row.appendChild(make("td", {}, make("b"), " ", make("small")));
  return (f, stops) => {
    const faint = stops === null || stops < FAINTEST_STOPS;
    write(at.firstChild, faint ? "–" : fNumber(f));
    write(at.lastChild, faint ? "" : signed(stops));
  };
}

export function showReadings(table, legend, set) {
  const names = set.lights.map((light) => light.name);
  if (table.dataset.lights !== names.join("\n")) head(table, set, names);
  const rows = readings(set);
  const lines = match(
    table.tBodies[0],
    rows.map((row) => row.point.name),
    (name) => make("tr", {}, make("th", { scope: "row" }, spoken(name))),
  );
  rows.forEach((row, i) => {
    write(lines[i].firstChild, row.point.label || spoken(row.point.name));
    lines[i].classList.toggle("base", row.point.name === set.reference?.point);
    row.alone.forEach((each, j) => cell(lines[i], j + 1)(each.f, each.stops));
    cell(lines[i], names.length + 1)(row.together.f, row.together.stops);
  });
  write(legend, told(set, rows));
}

function head(table, set, names) {
  table.dataset.lights = names.join("\n");
  table.classList.toggle("many", names.length > MOST_ABREAST);
  const marks = set.lights.map((light, i) =>
    make(
      "th",
      { scope: "col" },
      make("span", { class: "mark" }, `${i + 1}`),
      ` ${spoken(light.name)}`,
    ),
  );
  table.replaceChildren(
    make(
      "thead",
      {},
      make(
        "tr",
        {},
        make("td", {}),
        make(
          "th",
          { scope: "colgroup", colspan: names.length },
          names.length > 1 ? "each alone" : "alone",
        ),
        make("td", {}),
      ),
      make(
        "tr",
        {},
        make("th", { scope: "col" }, "at"),
        ...marks,
        make("th", { scope: "col" }, "together"),
      ),
    ),
    make("tbody"),
  );
}

function told(set, rows) {
  if (rows.length === 0) return "No meter points in this set.";
  const base = set.points.find((point) => point.name === set.reference?.point);
  const alone = [...new Set(rows.map((row) => row.point.receptor_alone))].join(" or ");
  const all = [...new Set(rows.map((row) => row.point.receptor_together))].join(" or ");
  const where = base && (base.label || spoken(base.name));
  const from = `Small figures: stops from the ${spoken(set.key ?? "")} alone at the ${where}.`;
  const held = `Alone: ${alone} receptor at the light; together: ${all}.`;
  return [held, base && set.key ? from : "", BOUNCE[set.bounce]].filter(Boolean).join(" ");
}

// act: {change, remove, tell}
export function showWishes(list, set, act) {
  const rows = wishes(set);
  const lines = match(
    list,
    rows.map(({ wish }) => wish.name),
    (name) => wishRow(name, act),
  );
  rows.forEach((row, i) => lines[i].fill(row, set));
}

function wishRow(name, act) {
  const node = make("li");
  const sign = make("span", { class: "sign", "aria-hidden": "true" });
  const lead = make("span");
  const rest = make("span");
  const kind = () => (node.stops ? "stops" : "f_number");
  const field = blank(`${spoken(name)}, wanted`, {
    read: (text) => (node.stops ? readDegrees(text) : readStop(text)),
    accepted: "an f-number such as 8 or 5.6 +0.3, or stops such as -1",
    put: (value) => act.change({ [`wanted.${name}.${kind()}`]: { value } }, true),
    say: act.tell,
  });
  const away = make(
    "button",
    {
      type: "button",
      class: "small leave",
      "aria-label": `Leave out the wish ${spoken(name)}`,
      title: "Leave this wish out",
      onclick: () => act.remove("wish", name),
    },
    "×",
  );
  node.append(make("p", {}, sign, lead, field, rest), away);
  node.fill = ({ wish, f, off, met }, set) => {
    const point = set.points.find((each) => each.name === wish.point)?.label || spoken(wish.point);
    const light = wish.light === "all" ? "all together" : `${spoken(wish.light)} alone`;
    node.stops = wish.stops !== null;
    node.classList.toggle("met", met);
    write(sign, met ? "✓" : "✗");
    write(lead, `${spoken(wish.name)}: ${light} at the ${point}, wanted ${node.stops ? "" : "f/"}`);
    field.setAttribute(
      "aria-label",
      `${spoken(wish.name)}, wanted ${node.stops ? "stops" : "f-number"}`,
    );
    const asked = fNumber(wish.f_number).slice(2).replace(" +0.0", "");
    field.show(node.stops ? signed(wish.stops) : asked);
    const what = node.stops ? ` stops, ${fNumber(wish.f_number)}: ` : ": ";
    const now = off === null ? "no light arrives" : `now ${fNumber(f)}, ${amount(off)}`;
    const allowed = wish.range_stops.some(Boolean)
      ? `; allowed ${wish.range_stops.map((stop) => signed(stop)).join(" to ")}`
      : "";
    write(rest, `${what}${now}${allowed}.`);
  };
  return node;
}

function amount(off) {
  if (Math.abs(off) < 0.05) return "as wanted";
  return `${Math.abs(off).toFixed(1)} ${off > 0 ? "over" : "under"}`;
}

// Says the wishes aloud once the dials have come to rest.
export function speaker(node) {
  let timer = 0;
  return (set) => {
    clearTimeout(timer);
    timer = setTimeout(() => {
      const base = set.reference?.point;
      const row = readings(set).find(({ point }) => point.name === base);
      if (row) write(node, `${row.point.label}: ${fNumber(row.together.f)} together.`);
    }, SPEAK_MS);
  };
}

// The panels as rows in plain words, and what adds and takes away lights, panels and wishes.

import { blank, choice, sentence } from "./blanks.js";
import { placesOf } from "./choices.js";
import { beside } from "./findings.js";
import { make, match, write } from "./make.js";
import { say } from "./notices.js";
import { placeOf } from "./places.js";
import { panelId, panelsOf, thingOf } from "./things.js";
import { azimuth, readAzimuth, spoken } from "./words.js";

export function showPanels(list, set, act) {
  const panels = panelsOf(set);
  const rows = match(
    list,
    panels.map(({ name }) => name),
    (name) => row(name, act),
  );
  panels.forEach((panel, i) => rows[i].fill(panel, set));
}

// "60 x 90", "60 90 cm": two lengths in centimetres; null for anything else.
function readSides(text) {
  const found = /^(\d*\.?\d+)\s*(?:x|×|by|,|\s)\s*(\d*\.?\d+)\s*(?:cm)?$/i.exec(text.trim());
  return found ? [Number(found[1]), Number(found[2])] : null;
}

function row(name, act) {
  const id = panelId(name);
  const label = spoken(name);
  const node = make("li", { "data-row": id });
  const put = (key) => (value) => act.change({ [`${id}.${key}`]: { value } }, true);
  const wrong = (sentence) => say(node, sentence);
  const mark = make("button", {
    type: "button",
    class: "mark",
    "aria-pressed": "false",
    "aria-label": `Choose ${label} in the drawings`,
    onclick: () => act.choose(id),
  });
  const kind = choice(`${label}, kind`, put("kind"));
  const size = blank(`${label}, size`, {
    read: readSides,
    accepted: "width and height in centimetres, such as 60 x 90",
    put: put("size_cm"),
    say: wrong,
  });
  const leaves = make("span");
  const faces = choice(`${label}, faces`, put("facing"));
  const facing = make("span", {}, " faces ", make("span", { class: "kept" }, faces, ","));
  const mirrors = make("span");
  const roll = blank(`${label}, turned about its axis`, {
    read: readAzimuth,
    accepted: "degrees such as 90",
    put: put("roll_deg"),
    say: wrong,
  });
  const place = placeOf(node, id, label, act);
  const remarks = beside();
  const error = make("p", { class: "error", role: "alert", hidden: true });
  const away = make(
    "button",
    { type: "button", class: "small", onclick: () => act.remove("panel", name) },
    "Take away",
  );
  away.setAttribute("aria-label", `Take ${label} away`);
  const title = make("strong", {}, label);
  const words = sentence(
    {},
    title,
    " ",
    kind,
    ", ",
    size,
    ",",
    leaves,
    facing,
    mirrors,
    " turned ",
    roll,
    ".",
  );
  node.append(make("div", { class: "who" }, mark, words, away), place.node, remarks.node, error);
  node.error = error;
  node.fill = (panel, set) => {
    write(mark, panel.mark);
    kind.show(act.choices.of("panel", "kind"), panel.kind);
    size.show(panel.size_cm ? `${panel.size_cm.join(" × ")} cm` : "");
    write(leaves, panel.leaves.length > 1 ? ` two leaves at ${panel.opening_deg}°,` : "");
    facing.hidden = Boolean(panel.mirrors);
    faces.show(placesOf(set, "what it is measured from"), panel.facing);
    write(mirrors, panel.mirrors ? ` mirrors the ${spoken(panel.mirrors)},` : "");
    roll.show(azimuth(panel.roll_deg ?? 0));
    place.fill(thingOf(set, id));
    remarks.fill(id, set.findings);
  };
  return node;
}

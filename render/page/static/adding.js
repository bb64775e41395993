// What is put into the set: a light, a panel, a wish; the server chooses what is not said.

import { choice } from "./blanks.js";
import { byId, make } from "./make.js";
import { spoken } from "./words.js";

// Fills the three forms once; gives a function that offers what the set has.
export function adding(act) {
  const forms = [lightForm(act), panelForm(act), wishForm(act)];
  return (set) => {
    for (const fill of forms) fill(set);
  };
}

function form(id, words, fields, asked) {
  const button = make("button", { type: "submit", class: "small" }, words);
  byId(id).addEventListener("submit", (event) => {
    event.preventDefault();
    asked();
  });
  byId(id).append(...fields, " ", button);
}

// A choice that only remembers.
function kept(label, first) {
  let chosen = first;
  const field = choice(label, (value) => {
    chosen = value;
  });
  const show = field.show;
  field.show = (options) => {
    const there = options.some(([value]) => value === chosen);
    if (options.length) show(options, there ? chosen : options[0][0]);
  };
  return field;
}

function lightForm(act) {
  const modifier = kept("New light, modifier", "softbox-60x90");
  const fields = ["Another light with ", modifier];
  form("add-light", "Put it up", fields, () => act.add("light", said({ modifier })));
  return () => modifier.show(act.choices.of("light", "modifier"));
}

function panelForm(act) {
  const kind = kept("New panel, kind", "white");
  form("add-panel", "Put it up", ["Another panel, ", kind], () => act.add("panel", said({ kind })));
  return () => kind.show(act.choices.of("panel", "kind"));
}

function wishForm(act) {
  const point = kept("New wish, place", null);
  const light = kept("New wish, light", "all");
  const fields = ["A reading at the ", point, " of ", light];
  form("add-wish", "Want it", fields, () => act.add("wish", said({ point, light })));
  return (set) => {
    point.show(set.points.map(({ name, label }) => [name, label || spoken(name)]));
    const lights = set.lights.map(({ name }) => [name, `the ${spoken(name)} alone`]);
    light.show([["all", "all lights together"], ...lights]);
  };
}

// What stands in the fields, without those that have nothing to choose from.
const said = (fields) =>
  Object.fromEntries(
    Object.entries(fields)
      .filter(([, field]) => field.value)
      .map(([key, field]) => [key, JSON.parse(field.value)]),
  );

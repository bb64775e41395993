// What is put into the set: a light, a panel, a wish; the server chooses what is not said.

import { choice } from "./blanks.js";
import { byId, make } from "./make.js";
import { spoken } from "./words.js";

const PANELS = [
  ["white", "white"],
  ["silver", "silver"],
  ["black", "black"],
];

// Fills the three forms once; gives a function that offers what the set has.
export function adding(act) {
  const forms = [lightForm(act), panelForm(act), wishForm(act)];
  return (set) => {
    for (const fill of forms) fill(set);
  };
}

function form(node, words, fields, keys, act, what) {
  const button = make("button", { type: "submit", class: "small" }, words);
  node.addEventListener("submit", (event) => {
    event.preventDefault();
    act.add(what, keys());
  });
  node.append(...fields, " ", button);
}

// A choice that only remembers.
function kept(label, first) {
  const field = choice(label, (value) => {
    field.value_ = value;
  });
  field.value_ = first;
  const show = field.show;
  field.show = (options) =>
    show(options, options.some(([v]) => v === field.value_) ? field.value_ : options[0]?.[0]);
  return field;
}

function lightForm(act) {
  const modifier = kept("New light, modifier", null);
  form(
    byId("add-light"),
    "Add it",
    ["Another light with ", modifier],
    () => said({ modifier }),
    act,
    "light",
  );
  return () => modifier.show(act.choices.of("light", "modifier"));
}

function panelForm(act) {
  const kind = kept("New panel, kind", "white");
  form(byId("add-panel"), "Add it", ["Another panel, ", kind], () => said({ kind }), act, "panel");
  return () => kind.show(PANELS);
}

function wishForm(act) {
  const point = kept("New wish, place", null);
  const light = kept("New wish, light", "all");
  const fields = ["A reading at the ", point, " of ", light];
  form(byId("add-wish"), "Want it", fields, () => said({ point, light }), act, "wish");
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

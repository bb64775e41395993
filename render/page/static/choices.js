// What the kit and the program offer, fetched once: heads, modifiers, gels, paints, sitters.

import { ask } from "./state.js";
import { spoken } from "./words.js";

// Gives `of(group, name)`: [[value, words], ...], empty until it is known.
export function choicesFrom(arrived) {
  let known = {};
  ask("/api/choices")
    .then(({ ok, said }) => {
      if (!ok) return;
      known = said;
      arrived();
    })
    .catch(() => {});
  return {
    of: (group, name) => (known[group]?.[name] ?? []).map(({ value, words }) => [value, words]),
    one: (group, name, value) => known[group]?.[name]?.find((each) => each.value === value),
  };
}

// Places that a light may face or be measured from, with the words for leaving it out.
export const placesOf = (set, otherwise) => [
  [null, otherwise],
  ...(set.places ?? []).map(({ name, words }) => [name, words || spoken(name)]),
];

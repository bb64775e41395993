// What the kit and the program offer, fetched once: heads, modifiers, gels, paints, sitters.

import { ask } from "./state.js";
import { spoken } from "./words.js";

// Gives `of(group, name)`: [[value, words], ...], empty until it is known.
export function choicesFrom(arrived) {
  let known = null;
  let asked = false;
  async function load() {
    asked = true;
    const { ok, said } = await ask("/api/choices");
    asked = ok;
    if (!ok) return;
    known = said;
    arrived();
  }
  return {
    of(group, name) {
      if (!known && !asked) load().catch(() => {});
      return (known?.[group]?.[name] ?? []).map(({ value, words }) => [value, words]);
    },
  };
}

// Places that a light may face or be measured from, with the words for leaving it out.
export const placesOf = (set, otherwise) => [
  [null, otherwise],
  ...(set.places ?? []).map(({ name, words }) => [name, words || spoken(name)]),
];

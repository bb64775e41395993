// Pictures of the folder as the server reduced them: linear light, what they hide, their brightest.

import { HALVES } from "./develop.js";
import { ask, posted } from "./state.js";

const PLANES = 5; // of a place: red, green, blue, what the file hides, the brightest channel

// changed(): something arrived; gives `get`, null while it is on its way, {error} where it is none.
export function picturesFrom(changed) {
  const held = new Map();

  function once(key, fetched) {
    if (!held.has(key)) {
      held.set(key, null);
      fetched()
        .catch(() => ({ error: "The server does not answer." }))
        .then((found) => {
          held.set(key, found);
          changed();
        });
    }
    return held.get(key);
  }
  return {
    get({ file, plates = [] }, limit) {
      const said = new URLSearchParams({ name: file, limit });
      for (const plate of plates) said.append("plate", plate);
      return once(`${said}`, () => read(`${said}`));
    },
    // Where an element's regions let it show, in a look of a size; null too where it has none.
    region(region, [width, height]) {
      if (region.length === 0) return null;
      const body = { region, width, height };
      return once(JSON.stringify(body), async () => {
        const answer = await posted("/api/combine/region", body);
        if (!answer.ok) return { error: (await answer.json()).error };
        return { weight: new Float32Array(await answer.arrayBuffer()) };
      });
    },
    forget: () => held.clear(),
  };
}

async function read(said) {
  const told = await ask(`/api/combine/black?${said}`);
  if (!told.ok) return { error: told.said.error ?? "The server refused the picture." };
  const answer = await fetch(`/api/combine/picture?${said}`);
  if (!answer.ok) return { error: "The picture changed while it was read." };
  const size = ["X-Width", "X-Height"].map((name) => Number(answer.headers.get(name)));
  const halves = new Uint16Array(await answer.arrayBuffer());
  const planes = new Float32Array((halves.length / PLANES) * 4);
  const peaks = new Float32Array(halves.length / PLANES);
  for (let i = 0, from = 0, to = 0; i < peaks.length; i += 1, from += PLANES, to += 4) {
    for (let c = 0; c < 4; c += 1) planes[to + c] = HALVES[halves[from + c]];
    peaks[i] = HALVES[halves[from + 4]];
  }
  return { key: said, told: told.said, size, planes, peaks };
}

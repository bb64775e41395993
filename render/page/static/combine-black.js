// How black an element's black is, in words; counted by the server on the whole picture.

import { encode } from "./develop.js";
import { make } from "./make.js";

const FULL = 0.001; // share of pixels at the end of their range that is told

const code = (light) => 255 * encode(light);
const share = (part) => `${(100 * part).toFixed(1)} %`;

// Share of pixels over the limit with a gain, as told for gains in even steps.
export function overAt({ over }, gain) {
  const k = Math.round((gain - over.from) / over.step);
  return over.shares[Math.min(over.shares.length - 1, Math.max(0, k))];
}

// Codes of backdrop and rim with a gain, and how far the paler one is over the limit.
export function dirtOf(black, gain) {
  const lights = [black.backdrop_light, black.rim_light].map((light) => light * 2 ** gain);
  const [backdrop, rim] = lights.map(code);
  // What a clean plate leaves may be the element itself.
  const from = black.element_from_light;
  const element = from !== null && Math.max(...lights) > from * 2 ** gain;
  const clean = Math.round(Math.max(backdrop, rim)) <= black.limit_code || element;
  return { backdrop, rim, clean, stops: Math.log2(Math.max(...lights) / black.limit_light) };
}

export function blackOf(node, picture, { gain_stops, plates }) {
  if (!picture) {
    node.replaceChildren(make("em", {}, "The picture is being read …"));
    return;
  }
  node.classList.add("wrong");
  if (picture.error) {
    node.replaceChildren(make("b", {}, picture.error));
    return;
  }
  const { told } = picture;
  const dirt = dirtOf(told.black, gain_stops);
  const cure =
    plates.length > 0
      ? "a new plate under the same light, or a wider frame if the element reaches the rim"
      : "a clean plate tells whether its backdrop is lit or the element reaches the rim";
  const verdict = dirt.clean
    ? "clean"
    : make("b", {}, `not clean, ${dirt.stops.toFixed(1)} stops over (cure: ${cure})`);
  const words =
    `Its black: backdrop code ${dirt.backdrop.toFixed(1)}, rim ${dirt.rim.toFixed(1)}, against ` +
    `${told.black.limit_code}: `;
  const rest =
    `; ${share(overAt(told.black, gain_stops))} of its pixels are over that, grains among them.` +
    (told.full_share > FULL ? ` ${share(told.full_share)} are clipped in its file.` : "");
  node.replaceChildren(words, verdict, rest);
}

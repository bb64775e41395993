// The combine page: elements on black over a look, mixed here, made at full size by the server.

import { handles } from "./combine-handles.js";
import { layer } from "./combine-laying.js";
import { codesOf, decode, difference, mark, mixer } from "./combine-mixing.js";
import { picturesFrom } from "./combine-pictures.js";
import { resultOf, underOf } from "./combine-result.js";
import { rows } from "./combine-rows.js";
import { sheetOf } from "./combine-sheet.js";
import { choice, sentence } from "./blanks.js";
import { onShortcut } from "./listening.js";
import { byId, make, write } from "./make.js";
import { notices } from "./notices.js";
import { ask } from "./state.js";

const LIFT_STOPS = 3;
const REST_MS = 250; // without a change, before the ways are compared
const { tell, clear } = notices(byId("notice"));
const page = {
  chosen: 0,
  folder: { pictures: [], recipes: [], black_code: 3, fade: 0, fresh: {} },
};
let waiting = 0; // id of the next screen refresh, 0 for none
let resting = 0; // timer since the last change
let mixed = null; // what is shown: {size, bases: of one way or both, all layers, the chosen one}

const due = () => {
  waiting ||= window.requestAnimationFrame(() => {
    waiting = 0;
    show();
  });
};
const sheet = sheetOf(due);
const pictures = picturesFrom(due);
const layers = []; // of each element: {key, lay, made}
const mixers = { now: mixer(), added: mixer(), screened: mixer() };
const differences = new WeakMap(); // by layer: {base, found}
const shown = Object.fromEntries(
  ["lifted", "alone", "marked", "compared"].map((id) => [id, byId(id)]),
);
const canvas = byId("look");
const plate = canvas.getContext("2d");

const frameOn = handles(byId("grips"), {
  element: () => sheet.now().element[page.chosen],
  set: (keys, word) => sheet.set(page.chosen, keys, word),
  settle: () => sheet.settle(),
});
const act = {
  now: (k) => sheet.now().element[k],
  set(k, keys, word) {
    clear();
    sheet.set(k, keys, word);
  },
  settle: () => sheet.settle(),
  choose(k) {
    if (page.chosen === k) return;
    page.chosen = k;
    due();
  },
  order(k, by) {
    const element = [...sheet.now().element];
    [element[k], element[k + by]] = [element[k + by], element[k]];
    page.chosen = k + by;
    sheet.change({ element });
  },
  take(k) {
    sheet.change({ element: sheet.now().element.filter((_, i) => i !== k) });
    page.chosen = Math.max(0, Math.min(page.chosen, sheet.now().element.length - 1));
  },
  look: (look) => sheet.change({ look }),
  async open(name) {
    const { ok, said } = await ask(`/api/combine/recipe?${new URLSearchParams({ name })}`);
    if (!ok) return tell(said.error ?? "The server refused it.");
    clear();
    page.chosen = 0;
    return sheet.change({ look: said.look, black_code: said.black_code, element: said.element });
  },
  async present() {
    const { ok, said } = await ask("/api/combine/look", {});
    if (!ok) return tell(said.error ?? "The server refused it.");
    await read();
    return sheet.change({ look: said.saved });
  },
  again: () => read(),
  recipe: () => sheet.now(),
  saved: () => read(false),
};
const showRows = rows(byId("elements"), act);
const showUnder = underOf(act);
const result = resultOf(act);
const adding = choice("A picture to lay over the look", (file) => {
  if (!file) return;
  page.chosen = sheet.now().element.length;
  sheet.change({ element: [...sheet.now().element, { ...page.folder.fresh, file }] });
});
byId("adding").append(sentence({}, "Lay ", adding, " over it."));

// The layer of an element, made anew only where something of it changed; null while it is read.
function layerOf(element, k, look) {
  const { black_code } = sheet.now();
  const picture = pictures.get(element, black_code);
  const region = pictures.region(element.region, look.size);
  if (!picture || picture.error) return null;
  if (element.region.length > 0 && !region?.weight) return null;
  const { way, plates, ...lie } = element;
  const key = JSON.stringify([lie, plates, picture.key, look.size, page.folder.fade]);
  layers[k] ??= { lay: layer() };
  if (layers[k].key !== key) {
    const told = {
      size: look.size,
      weight: region?.weight ?? null,
      usual: page.folder.fade,
      opaque: decode(element.opaque_code / 255),
    };
    Object.assign(layers[k], { key, made: layers[k].lay(picture, element, told) });
  }
  return layers[k].made;
}

function show() {
  const now = sheet.now();
  if (!now) return;
  const look = now.look ? pictures.get({ file: now.look }, now.black_code) : null;
  const element = now.element[page.chosen];
  byId("mount").classList.toggle("empty", !look?.planes);
  byId("toggles").hidden = !look?.planes;
  showUnder(now, page.folder, look);
  adding.show(page.folder.pictures.map((name) => [name, name]), null, () => "a picture");
  byId("adding").hidden = !look?.planes;
  byId("handling").hidden = !element;
  byId("divide").hidden = byId("seam").hidden = !shown.compared.checked || !element;
  byId("legend").hidden = !shown.marked.checked;
  write(byId("limit"), `${now.black_code}`);
  for (const name of ["undo", "redo"]) byId(name).disabled = !sheet.can()[name];
  byId("laid").hidden = !look?.planes && now.element.length === 0;
  byId("ended").hidden = now.element.length === 0;
  result.show(Boolean(look?.planes) && now.element.length > 0);
  mixed = look?.planes ? mix(now, look) : null;
  tellState(now, look);
  if (mixed) drawn();
  showRows(now.element, {
    chosen: page.chosen,
    pictures: page.folder.pictures,
    of: (k) => ({
      picture: pictures.get(now.element[k], now.black_code),
      difference: differences.get(layers[k]?.made)?.found ?? null,
    }),
  });
  const held = element && pictures.get(element, now.black_code);
  const own = held?.told ? [held.told.width_px, held.told.height_px] : null;
  frameOn(mixed && own ? element : null, own, mixed?.size, element?.file);
  window.clearTimeout(resting);
  if (mixed) resting = window.setTimeout(compare, REST_MS);
}

// Everything on its own place, then the look with one element after the other over it.
function mix(now, look) {
  look.linear ??= Float32Array.from({ length: (look.planes.length / 4) * 3 }, (_, i) => {
    return look.planes[4 * Math.floor(i / 3) + (i % 3)];
  });
  look.black ??= new Float32Array(look.linear.length);
  const found = now.element.map((each, k) => [layerOf(each, k, look), k]);
  const there = found.filter(([each]) => each);
  const at = there.findIndex(([, k]) => k === page.chosen);
  const kept = shown.alone.checked ? there.filter((_, i) => i === at) : there;
  const under = shown.alone.checked ? look.black : look.linear;
  const all = kept.map(([each]) => each);
  const ways = kept.map(([, k]) => now.element[k].way);
  const chosen = shown.alone.checked ? 0 : at;
  const other = (way) => ways.map((each, i) => (i === chosen ? way : each));
  const bases = shown.compared.checked
    ? [mixers.added(under, all, other("add")), mixers.screened(under, all, other("screen"))]
    : [mixers.now(under, all, ways)];
  return { size: look.size, bases, all, chosen };
}

function drawn() {
  const [width, height] = mixed.size;
  if (canvas.width !== width || canvas.height !== height) {
    Object.assign(canvas, { width, height });
    byId("sheet").style.setProperty("--shape", width / height);
  }
  const image = plate.createImageData(width, height);
  const gain = shown.lifted.checked ? 2 ** LIFT_STOPS : 1;
  const [left, right] = mixed.bases.map((bases) => bases.at(-1));
  const seam = right ? Math.round((Number(byId("divider").value) / 100) * width) : width;
  codesOf(left, image.data, { gain, width, to: seam });
  if (right) codesOf(right, image.data, { gain, width, from: seam });
  byId("seam").style.left = `${(100 * seam) / width}%`;
  const chosen = mixed.all[mixed.chosen];
  if (shown.marked.checked && chosen) mark(chosen.marks, image.data, width);
  plate.putImageData(image, 0, 0);
}

function tellState(now, look) {
  const on = [look, ...now.element.map((each) => pictures.get(each, now.black_code))];
  const trouble = now.look && look?.error;
  const reading = now.look && on.some((each) => !each);
  write(byId("state"), trouble || (reading ? "Pictures are being read …" : ""));
}

// Screen against adding, when nothing has changed for a moment.
function compare() {
  if (!mixed || shown.alone.checked) return;
  const now = sheet.now();
  const limit = pictures.get({ file: now.look }, now.black_code)?.told.black.limit_light;
  const bases = mixed.bases[0];
  let fresh = false;
  mixed.all.forEach((each, i) => {
    if (differences.get(each)?.base === bases[i]) return;
    differences.set(each, { base: bases[i], found: difference(bases[i], each, limit) });
    fresh = true;
  });
  if (fresh) due();
}

async function read(forget = true) {
  if (forget) pictures.forget();
  const { ok, said } = await ask("/api/combine/folder");
  if (!ok) return tell(said.error ?? "The folder cannot be read; open the printed address again.");
  page.folder = said;
  if (sheet.now()) return due();
  return sheet.start({ look: "", black_code: said.black_code, element: [] });
}

for (const name of ["undo", "redo"]) byId(name).addEventListener("click", () => sheet[name]());
for (const box of Object.values(shown)) box.addEventListener("change", due);
byId("divider").addEventListener("input", due);
onShortcut((name) => (name === "save" ? result.save() : sheet[name]()));
new ResizeObserver(due).observe(canvas);
read();

// For tests: the recipe, and whether what is shown is that.
window.combine = {
  recipe: () => sheet.now(),
  set: (keys) => sheet.set(page.chosen, keys),
  ready: () => mixed?.all.length > 0 && !waiting && byId("state").textContent === "",
};

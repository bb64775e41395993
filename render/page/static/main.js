// The page: one set, its look, its readings and its drawings, kept in step with the scene file.

import { aloft } from "./aloft.js";
import { propose } from "./balance.js";
import { choicesFrom } from "./choices.js";
import { comparison } from "./compare.js";
import { framesOf } from "./frames.js";
import { diskNotice } from "./disk.js";
import { listen, onShortcut } from "./listening.js";
import { byId, write } from "./make.js";
import { lookOn } from "./mix.js";
import { mover } from "./moves.js";
import { notices, say } from "./notices.js";
import { seriesOf } from "./series.js";
import { showing } from "./showing.js";
import { spotted } from "./spot.js";
import { ask, keeper } from "./state.js";
import { UNHEARD, saved, taking } from "./taking.js";
import { lightId } from "./things.js";

const BUNDLED = "This scene came with the program; it is saved as a file of your own.";

const COARSE =
  "It is coarse, since light is still being traced; save it again once nothing is said under the picture.";

const how = new URLSearchParams(window.location.search).get("mix") ?? "";
const picture = lookOn(byId("look"), how);
const hold = comparison(
  {
    canvas: byId("held"),
    button: byId("hold"),
    divider: byId("divider"),
    seam: byId("seam"),
  },
  how,
);
const tellSpot = spotted(
  { canvas: byId("look"), cross: byId("cross"), line: byId("spot") },
  picture,
  () => due(),
);
const frames = framesOf(() => due());
const { tell, clear } = notices(byId("notice"));
const page = { chosen: null, unit: "m" };
let troubled = ""; // the last trouble that was told
let waiting = 0; // id of the next screen refresh, 0 for none

const rows = () => [...document.querySelectorAll("[data-row]")];

const set = keeper({
  changed(now) {
    page.chosen ??= now?.key ? lightId(now.key) : null;
    if (now?.trouble && now.trouble !== troubled) tell(now.trouble);
    troubled = now?.trouble ?? "";
    disk.show(now?.disk);
    due();
  },
  making: (sentence) => write(byId("about"), sentence),
  trouble: (sentence) => tell(sentence),
  conflict: (sentence, choice) =>
    tell(sentence ?? "The set was changed elsewhere meanwhile.", [
      ["Put my change on top", choice.keep],
      ["Leave my change out", choice.drop],
    ]),
  refused(keys, sentence, instead) {
    if (instead) {
      const go = () => change(instead, true);
      tell(sentence, [
        ["Take off what does not fit", go],
        ["Leave it as it was", () => {}],
      ]);
      return;
    }
    const row = rows().find((each) => keys.some((key) => key.startsWith(`${each.dataset.row}.`)));
    if (row) say(row, sentence);
    else tell(sentence);
  },
});

// One drawing of everything for the next screen refresh, however much changes until then.
function due() {
  waiting ||= window.requestAnimationFrame(() => {
    waiting = 0;
    const now = set.current();
    if (!now) return;
    view.show(now, moves.shown(now));
    series.show(now);
  });
}

function change(keys, now = false) {
  clear();
  for (const row of rows()) say(row, "");
  return set.change(keys, now);
}

function choose(id) {
  if (page.chosen === id) return;
  page.chosen = id;
  due();
}

const moves = mover(set, {
  changed: due,
  choose,
  change: (keys) => change(keys, true),
  refused: (sentence) => tell(sentence),
});
const act = {
  tell,
  change,
  choose,
  add: (what, keys) => command("add", { what, keys }),
  saveAs: (name) => command("save", { as: name }),
  remove: (what, name) => command("remove", { what, name }),
  unit: () => page.unit,
  // work(version): after what was changed here is with the server
  withVersion: async (work) => {
    await set.settle();
    return work(set.current().version);
  },
  choices: choicesFrom(() => due()),
  ...moves,
};
const disk = diskNotice(byId("disk"), { command: (name, body) => set.command(name, body) });
const view = showing({ picture, frames, tellSpot, act, page });

async function command(name, body) {
  clear();
  const answer = await set.command(name, body);
  if (answer?.ok && /^(light|panel)\./.test(answer.said.added)) choose(answer.said.added);
  if (!answer || answer.ok) return;
  const said = answer.said.error ?? "The server refused it.";
  if (name === "save" && set.current().disk?.state === "none") disk.rename(BUNDLED);
  else if (answer.said.disk) disk.refused(said);
  else tell(said);
}

for (const name of ["undo", "redo", "save"])
  byId(name).addEventListener("click", () => command(name));
byId("balance").addEventListener("click", () => propose(byId("proposal"), set, act, tell));
byId("lengths").addEventListener("change", (event) => {
  page.unit = event.target.value;
  window.localStorage.setItem("lengths", page.unit);
  due();
});
byId("hold").addEventListener("click", () => hold(view.parts()));
byId("download").addEventListener("click", async () => {
  const { name, error } = await saved("/api/export/look.png").catch(() => ({ error: UNHEARD }));
  if (error) tell(error);
  else if (/-coarse[.]png$/.test(name)) tell(`${name} is saved. ${COARSE}`);
});
taking(act);
aloft(byId("plate"), byId("mount"));
const series = seriesOf(byId("series"), act);
for (const name of ["series", "sitter", "room"])
  byId(name)
    .closest("details")
    .addEventListener("toggle", () => due());
onShortcut(command);

page.unit = window.localStorage.getItem("lengths") === "ft" ? "ft" : "m";
byId("lengths").value = page.unit;
listen(set, due, { tell, clear, series: series.hear });
set.heard();
new ResizeObserver(() => due()).observe(byId("views"));
// The way to combine pictures is shown where the folder holds one.
ask("/api/combine/folder")
  .then(({ ok, said }) => {
    byId("combining").hidden = !ok || said.pictures.length === 0;
  })
  .catch(() => {});

// For tests and measurements: the picture's codes, and the time that one mix takes.
window.tenthstop = {
  picture,
  set,
  parts: view.parts,
  mixed(times = 20) {
    const start = performance.now();
    for (let i = 0; i < times; i += 1) {
      picture.show(view.parts());
      if (picture.way === "webgl2") picture.codes(0, 0); // waits until it is drawn
    }
    return (performance.now() - start) / times;
  },
};

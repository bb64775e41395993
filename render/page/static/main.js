// The page: one set, its look, its readings and its drawings, kept in step with the scene file.

import { comparison, download } from "./compare.js";
import { gains } from "./develop.js";
import { drawViews, stands } from "./drawing.js";
import { exposureOf } from "./exposure.js";
import { showFindings } from "./findings.js";
import { framesOf } from "./frames.js";
import { showLights } from "./lights.js";
import { awaited, handling } from "./hints.js";
import { listen, onShortcut } from "./listening.js";
import { byId, write } from "./make.js";
import { lookOn } from "./mix.js";
import { follow, placing, stepped } from "./moving.js";
import { showReadings, showWishes, speaker } from "./readings.js";
import { CAMERA, asThing, carriedCamera, placingCamera, standpointOf } from "./standpoint.js";
import { keeper } from "./state.js";
import { showTape } from "./tapes.js";
import { spotted } from "./spot.js";
import { propose } from "./balance.js";
import { notices, say } from "./notices.js";

const KEY_PAUSE_MS = 350; // of the arrow keys, before a move is sent

const how = new URLSearchParams(window.location.search).get("mix") ?? "";
const picture = lookOn(byId("look"), how);
const hold = comparison(
  {
    canvas: byId("held"),
    button: byId("hold"),
    divider: byId("divider"),
    field: byId("mount"),
  },
  how,
);
const tellSpot = spotted(
  { canvas: byId("look"), cross: byId("cross"), line: byId("spot") },
  picture,
  () => due(),
);
const frames = framesOf(() => due());
const speak = speaker(byId("spoken"));
const { tell, clear } = notices(byId("notice"));
let chosen = null;
let unit = "m";
const drafts = {}; // lights on the move, by name, until the server has placed them
let troubled = ""; // the last trouble that was told
let waiting = 0; // id of the next screen refresh, 0 for none
const drawn = { look: null, drawings: "" };

const set = keeper({
  changed(now) {
    chosen ??= now?.key ?? null;
    if (now?.trouble && now.trouble !== troubled) tell(now.trouble);
    troubled = now?.trouble ?? "";
    due();
  },
  trouble: (sentence) => tell(sentence),
  conflict: (sentence, choice) =>
    tell(sentence ?? "The set was changed elsewhere meanwhile.", [
      ["Put my change on top", choice.keep],
      ["Leave my change out", choice.drop],
    ]),
  refused(keys, sentence) {
    const row = [...byId("rows").children].find((each) =>
      keys.some((key) => key.startsWith(`light.${each.dataset.name}.`)),
    );
    if (row) say(row, sentence);
    else tell(sentence);
  },
});

// One drawing of everything for the next screen refresh, however much changes until then.
function due() {
  waiting ||= window.requestAnimationFrame(() => {
    waiting = 0;
    const now = set.current();
    if (now) show(now);
  });
}

const act = {
  tell: (sentence) => tell(sentence),
  unit: () => unit,
  change(keys, now = false) {
    clear();
    for (const row of byId("rows").children) say(row, "");
    return set.change(keys, now);
  },
  // A light that was let go stays where it is shown until the server has placed it.
  async move(moved, before) {
    const keys = (moved.name === CAMERA ? placingCamera : placing)(moved, before);
    if (Object.keys(keys).length) await act.change(keys, true);
    if (drafts[moved.name] === moved) delete drafts[moved.name];
    due();
  },
  choose(name) {
    if (chosen === name) return;
    chosen = name;
    due();
  },
  grab(event, name, view, svg) {
    act.choose(name);
    const light = thingNow(name);
    follow(event, light, view, svg, {
      show: (moved) => {
        drafts[name] = moved;
        due();
      },
      drop: (moved) => act.move(moved, light),
      leave: () => {
        delete drafts[name];
        due();
      },
    });
  },
  key(event, name, view) {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const before = thing(name);
    const moved = stepped(thingNow(name), event.key, view);
    if (!moved) return;
    event.preventDefault();
    drafts[name] = moved;
    due();
    clearTimeout(act.pause);
    act.pause = setTimeout(() => act.move(moved, before), KEY_PAUSE_MS);
  },
};

// A light or the camera as the server has it, and as it is on the move.
const thing = (name) =>
  name === CAMERA
    ? asThing(set.current().camera)
    : set.current().lights.find((light) => light.name === name);
const thingNow = (name) => drafts[name] ?? thing(name);

const stale = (is) => {
  for (const id of ["readings", "wishes"]) {
    byId(id).classList.toggle("stale", is);
    byId(id).setAttribute("aria-busy", `${is}`);
  }
};

function show(now) {
  frames.want(now.lights);
  showLook(now);
  const camera = drafts[CAMERA] ? carriedCamera(now.camera, drafts[CAMERA]) : now.camera;
  const moved = { ...now, camera, lights: now.lights.map((light) => drafts[light.name] ?? light) };
  stale(Object.keys(drafts).length > 0);
  showReadings(byId("table"), byId("legend"), now);
  showWishes(byId("wanted"), now, (keys) => act.change(keys, true));
  byId("wishes").hidden = now.wanted.length === 0;
  showLights(byId("rows"), moved, act);
  for (const row of byId("rows").children)
    row.classList.toggle("chosen", row.dataset.name === chosen);
  for (const button of document.querySelectorAll("#rows .mark")) {
    button.setAttribute("aria-pressed", `${button.closest("li").dataset.name === chosen}`);
  }
  if (camera) standpointOf(byId("standpoint"), camera, unit, act);
  showDrawings(moved);
  showRest(now);
  speak(now);
}

function showLook(now) {
  const { camera } = now;
  byId("plate").hidden = !camera;
  if (!camera) return;
  const parts = now.lights.flatMap((light) => {
    const frame = frames.of(light.name);
    return frame ? [{ name: light.name, frame, gain: gains(light, camera) }] : [];
  });
  drawn.look = parts;
  picture.show(parts);
  exposureOf(byId("exposure"), camera, (keys) => act.change(keys));
  const coming = now.lights.filter(
    (light) => light.frame && (!light.frame.ready || frames.stale(light)),
  );
  write(byId("tracing"), awaited(coming, parts.length > 0));
  byId("mount").classList.toggle("empty", parts.length === 0);
  for (const id of ["hold", "download"]) byId(id).disabled = parts.length === 0;
  tellSpot(parts.length > 0);
}

function showDrawings(moved) {
  const standing = moved.lights.map(({ name, on, words, centre, corners, placed }) => [
    [name, on, words, placed],
    [centre, corners],
  ]);
  const key = JSON.stringify([
    moved.version,
    standing,
    moved.camera,
    chosen,
    unit,
    byId("views").clientWidth,
  ]);
  if (key === drawn.drawings) return;
  drawn.drawings = key;
  drawViews(byId("views"), moved, chosen, unit, act);
  showTape(byId("tape"), moved, unit);
  const light = moved.lights.find((each) => each.name === chosen);
  write(byId("handling"), handling(chosen, light));
  if (Object.keys(drafts).length && light) write(byId("spoken"), stands(light, unit));
}

function showRest(now) {
  document.title = `${now.saved ? "" : "• "}${now.title} – tenthstop`;
  write(byId("title"), now.title);
  write(byId("about"), `${now.file}${now.saved ? "" : ", changed and not saved"}`);
  byId("undo").disabled = !now.undo;
  byId("redo").disabled = !now.redo;
  byId("save").disabled = now.saved;
  showFindings(byId("remarks"), byId("findings"), now);
}

async function command(name) {
  clear();
  const answer = await set.command(name);
  if (!answer || answer.ok) return;
  const said = answer.said.error ?? "The server refused it.";
  if (answer.said.disk) {
    tell(
      `${said}. To edit the file as it is now, open it anew; what was changed here is then lost.`,
    );
  } else tell(said);
}

for (const name of ["undo", "redo", "save"])
  byId(name).addEventListener("click", () => command(name));
byId("balance").addEventListener("click", () => propose(byId("proposal"), set, act, tell));
byId("lengths").addEventListener("change", (event) => {
  unit = event.target.value;
  window.localStorage.setItem("lengths", unit);
  due();
});
byId("hold").addEventListener("click", () => hold(drawn.look));
byId("download").addEventListener("click", () => {
  picture.show(drawn.look);
  download(byId("look"), set.current().title);
});
onShortcut(command);

unit = window.localStorage.getItem("lengths") === "ft" ? "ft" : "m";
byId("lengths").value = unit;
listen(set, due, { tell, clear });
set.heard();
new ResizeObserver(() => due()).observe(byId("views"));

// For tests and measurements: the picture's codes, and the time that one mix takes.
window.tenthstop = {
  picture,
  set,
  mixed(times = 20) {
    const start = performance.now();
    for (let i = 0; i < times; i += 1) {
      picture.show(drawn.look);
      if (picture.way === "webgl2") picture.codes(0, 0); // waits until it is drawn
    }
    return (performance.now() - start) / times;
  },
};

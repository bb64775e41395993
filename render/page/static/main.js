// The page: one set, its look, its readings and its drawings, kept in step with the scene file.

import { comparison, download } from "./compare.js";
import { gains } from "./develop.js";
import { drawViews, stands } from "./drawing.js";
import { exposureOf } from "./exposure.js";
import { showFindings } from "./findings.js";
import { framesOf } from "./frames.js";
import { say, showLights } from "./lights.js";
import { byId, write } from "./make.js";
import { lookOn } from "./mix.js";
import { follow, placing, stepped } from "./moving.js";
import { showReadings, showWishes, speaker } from "./readings.js";
import { CAMERA, asThing, carriedCamera, placingCamera, standpointOf } from "./standpoint.js";
import { keeper } from "./state.js";
import { showTape } from "./tapes.js";
import { spotted } from "./spot.js";
import { spoken } from "./words.js";
import { propose } from "./balance.js";
import { notices } from "./notices.js";

const LOST_MS = 4000; // without the server, before it is told
const KEY_PAUSE_MS = 350; // of the arrow keys, before a move is sent

const how = new URLSearchParams(window.location.search).get("mix") ?? "";
const picture = lookOn(byId("look"), how);
const hold = comparison({
  canvas: byId("held"), button: byId("hold"), divider: byId("divider"), field: byId("mount"),
}, how);
const tellSpot = spotted({ canvas: byId("look"), cross: byId("cross"), line: byId("spot") }, picture, () => due());
const frames = framesOf(() => due());
const speak = speaker(byId("spoken"));
const { tell, clear } = notices(byId("notice"));
let chosen = null;
let unit = "m";
const drafts = {}; // lights on the move, by name, until the server has placed them
let troubled = ""; // the last trouble that was told
let lost = 0; // timer since the server was last heard, 0 while it is there
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
  conflict: (sentence, choice) => tell(sentence ?? "The set was changed elsewhere meanwhile.", [
    ["Put my change on top", choice.keep], ["Leave my change out", choice.drop]]),
  refused(keys, sentence) {
    const row = [...byId("rows").children].find((each) => keys.some((key) => key.startsWith(`light.${each.dataset.name}.`)));
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
      show: (moved) => { drafts[name] = moved; due(); },
      drop: (moved) => act.move(moved, light),
      leave: () => { delete drafts[name]; due(); },
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
const thing = (name) => (name === CAMERA ? asThing(set.current().camera)
  : set.current().lights.find((light) => light.name === name));
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
  for (const row of byId("rows").children) row.classList.toggle("chosen", row.dataset.name === chosen);
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
  const coming = now.lights.filter((light) => light.frame && (!light.frame.ready || frames.stale(light))).map((light) => spoken(light.name));
  write(byId("tracing"), coming.length === 0 ? ""
    : `${coming.join(" and ")}: the light is being traced; ${parts.length ? "the picture still shows it as it was" : "the picture follows"}.`);
  byId("mount").classList.toggle("empty", parts.length === 0);
  for (const id of ["hold", "download"]) byId(id).disabled = parts.length === 0;
  tellSpot(parts.length > 0);
}

function showDrawings(moved) {
  const standing = moved.lights.map(({ name, on, words, centre, corners, placed }) => [name, on, words, centre, corners, placed]);
  const key = JSON.stringify([moved.version, standing, moved.camera, chosen, unit, byId("views").clientWidth]);
  if (key === drawn.drawings) return;
  drawn.drawings = key;
  drawViews(byId("views"), moved, chosen, unit, act);
  showTape(byId("tape"), moved, unit);
  const light = moved.lights.find((each) => each.name === chosen);
  write(byId("handling"), chosen === CAMERA
    ? "Drag the camera, or press ← → for 5 cm nearer or farther and, seen from the side, ↑ ↓ for its height."
    : !light ? "" : light.placed
    ? "Drag a light, or choose it and press ↑ ↓ for 5 cm farther or nearer, ← → for 5° to camera left or right, Page Up and Page Down for 5° up or down."
    : light.position_m ? "Drag a light, or choose it and press the arrow keys: 5 cm a step."
      : "This light stays where its file puts it.");
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
    tell(`${said}. To edit the file as it is now, open it anew; what was changed here is then lost.`);
  } else tell(said);
}

for (const name of ["undo", "redo", "save"]) byId(name).addEventListener("click", () => command(name));
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
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.target.matches("input[type=text]")) return;
  const name = { z: event.shiftKey ? "redo" : "undo", y: "redo", s: "save" }[event.key.toLowerCase()];
  if (!name) return;
  event.preventDefault();
  command(name);
});

unit = window.localStorage.getItem("lengths") === "ft" ? "ft" : "m";
byId("lengths").value = unit;
const events = new EventSource("/api/events");
events.addEventListener("set", () => set.heard());
events.addEventListener("frame", (event) => {
  const { light, digest, samples, of } = JSON.parse(event.data);
  if (set.traced(light, { digest, samples, of })) due();
  else set.heard();
});
events.addEventListener("trouble", (event) => tell(JSON.parse(event.data)));
events.addEventListener("open", () => {
  if (lost) clear();
  window.clearTimeout(lost);
  lost = 0;
  set.heard();
});
events.addEventListener("error", () => {
  lost ||= window.setTimeout(() => tell("The program that serves this page cannot be reached. If it has ended, what was not saved is lost."), LOST_MS);
});
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

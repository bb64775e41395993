// What is on the move: shown at once, tried on the server for its readings, then one change.

import { follow } from "./hands.js";
import { ask } from "./state.js";
import { keysOf, laid, movable, steppedOn, thingOf } from "./things.js";

const KEY_PAUSE_MS = 350; // of the arrow keys, before a move is sent

// set: the keeper; tell: {changed(), choose(id), change(keys), refused(sentence)}
export function mover(set, tell) {
  const drafts = new Map(); // id -> {thing, before}, until the server has placed it
  let tried = null; // {text, version, set, error}: what the server last said of the drafts
  let trying = null; // text of the keys that are with the server
  let number = 0;
  let pause = 0;

  const keys = () =>
    Object.assign({}, ...[...drafts.values()].map(({ thing, before }) => keysOf(thing, before)));
  const textOf = (all) => JSON.stringify(all);

  // One question at a time; the next one is what stands there when the answer comes.
  async function question() {
    const all = keys();
    const text = textOf(all);
    if (trying !== null || !Object.keys(all).length || tried?.text === text) return;
    trying = text;
    const { version } = set.current();
    const plain = Object.fromEntries(Object.entries(all).map(([key, { value }]) => [key, value]));
    number += 1;
    try {
      const { ok, status, said } = await ask("/api/try", { version, keys: plain, number });
      if (ok && said.set) tried = { text, version, set: said.set };
      else if (status === 422) tried = { ...tried, text, version, error: said.error };
    } catch {
      // Readings stay as they are; the change itself tells when the server is gone.
    } finally {
      trying = null;
    }
    if (!drafts.size) return;
    tell.changed();
    if (text !== textOf(keys())) question();
  }

  function put(thing, before) {
    drafts.set(thing.id, { thing, before });
    tell.changed();
    question();
  }

  function drop(id) {
    drafts.delete(id);
    if (!drafts.size) tried = null;
    tell.changed();
  }

  // A thing that was let go stays where it is shown until the server has placed it.
  async function place(id) {
    const draft = drafts.get(id);
    if (!draft) return;
    const all = keysOf(draft.thing, draft.before);
    if (tried?.error && tried.text === textOf(all)) tell.refused(tried.error);
    else if (Object.keys(all).length) await tell.change(all);
    if (drafts.get(id) === draft) drop(id);
  }

  const now = (id) => drafts.get(id)?.thing ?? thingOf(set.current(), id);
  const origin = (id) => drafts.get(id)?.before ?? thingOf(set.current(), id);

  return {
    // The set with what is on the move; `heard` is false until the server knows of any of it.
    shown(current) {
      if (!drafts.size) return { set: current, moving: false, heard: true, error: "" };
      const known = tried?.version === current.version ? tried : null;
      const answered = known?.text === textOf(keys()) && !known.error;
      let seen = current;
      for (const { thing } of drafts.values()) seen = laid(seen, thing);
      if (answered) seen = { ...seen, ...placesOf(current, known.set) };
      if (known?.set) seen = { ...seen, ...readingsOf(known.set) };
      const error = known?.text === textOf(keys()) ? (known.error ?? "") : "";
      return { set: seen, moving: true, heard: Boolean(known?.set), error };
    },
    on: (id) => drafts.has(id),
    grab(event, id, part, view, svg) {
      tell.choose(id);
      const thing = now(id);
      if (!thing || !movable(thing)) return;
      const before = origin(id);
      follow(event, thing, part, view, svg, {
        show: (moved) => put(moved, before),
        drop: () => place(id),
        leave: () => drop(id),
      });
    },
    key(event, id, part, view) {
      if (event.altKey || event.ctrlKey || event.metaKey) return;
      const thing = now(id);
      const moved = thing && movable(thing) ? steppedOn(thing, part, event.key, view) : null;
      if (!moved) return;
      event.preventDefault();
      put(moved, origin(id));
      clearTimeout(pause);
      pause = setTimeout(() => place(id), KEY_PAUSE_MS);
    },
  };
}

// Places of a tried set; powers, exposure and pictures stay those of the present one.
function placesOf(current, { room, sitter, backdrop, panels, lights, camera }) {
  const stood = lights.map((light) => {
    const own = current.lights.find(({ name }) => name === light.name) ?? light;
    return { ...light, frame: own.frame, on: own.on, power_stops: own.power_stops };
  });
  const { iso_speed, f_number, shutter_s } = current.camera ?? {};
  const seen = camera && { ...camera, iso_speed, f_number, shutter_s };
  return { room, sitter, backdrop, panels, lights: stood, camera: seen };
}

const readingsOf = ({ points, wanted, findings, bounce, reference }) => ({
  points,
  wanted,
  findings,
  bounce,
  reference,
});

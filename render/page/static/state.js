// The set as the server has it, with what was changed here and is still on its way.

const TURN_MS = 1500; // between two turns of a dial that are one step of undo
const PAUSE_MS = 250; // after the last turn of a dial, before it is sent

const tab = crypto.randomUUID?.() ?? `${Math.random()}`.slice(2);

export const posted = (path, body) =>
  fetch(path, {
    credentials: "same-origin",
    method: "POST",
    headers: { "Content-Type": "application/json", "X-Tab": tab },
    body: JSON.stringify(body),
  });

// The server's answer to a question, or with a body to a wish.
export async function ask(path, body) {
  const answer = body === undefined ? await fetch(path) : await posted(path, body);
  const said = await answer.json().catch(() => ({}));
  return { ok: answer.ok, status: answer.status, said };
}

// A file that the server makes, and the name that it gives it.
export async function fetched(path, body) {
  const answer = body === undefined ? await fetch(path) : await posted(path, body);
  if (!answer.ok) {
    const { error } = await answer.json().catch(() => ({}));
    return { ok: false, error: error ?? "The server refused it." };
  }
  const named = /filename\*=UTF-8''([^;]+)/i.exec(answer.headers.get("Content-Disposition") ?? "");
  return {
    ok: true,
    blob: await answer.blob(),
    name: named ? decodeURIComponent(named[1]) : /[^/?]+(?=\?|$)/.exec(path)[0],
  };
}

// Lays changed keys over a set, where the browser can work out what follows.
function overlaid(set, keys) {
  if (!set || Object.keys(keys).length === 0) return set;
  const lights = set.lights.map((light) => {
    const at = `light.${light.name}.`;
    const mine = { ...light };
    if (`${at}power` in keys) mine.power_stops = keys[`${at}power`].stops;
    if (`${at}on` in keys) mine.on = keys[`${at}on`].value;
    return mine;
  });
  const camera = set.camera && { ...set.camera };
  for (const name of ["iso_speed", "f_number"]) {
    if (camera && `camera.${name}` in keys) camera[name] = keys[`camera.${name}`].exact;
  }
  return { ...set, lights, camera };
}

// keys: {"light.key.power": {value: "1/8", stops: -3}}; `value` is what the file gets.
export function keeper(tell) {
  let base = null; // as last heard from the server
  let waiting = {}; // changed here, not sent yet
  let sent = {}; // on its way
  let timer = 0;
  let busy = Promise.resolve();
  let whole = false; // whether what waits is a step of its own
  let turn = { names: "", at: 0, count: 0 }; // the last change that was sent
  let asked = false; // whether the set will be fetched

  const current = () => overlaid(base, { ...sent, ...waiting });
  // An answer that was on its way while a picture grew does not take the growth back.
  const grown = (light) => {
    const before = base?.lights.find((each) => each.name === light.name)?.frame;
    const older = light.frame && before?.digest === light.frame.digest;
    return older && before.samples > light.frame.samples ? { ...light, frame: before } : light;
  };
  const took = (set) => {
    if (base && set.version < base.version) return;
    base = { ...set, lights: set.lights.map(grown) };
    tell.changed(current());
  };
  const inTurn = (job) => {
    busy = busy
      .then(job)
      .catch(() => tell.trouble("The server does not answer; is it still running?"));
    return busy;
  };

  // The word that makes one step of undo of all turns of a dial that follow upon each other.
  function turning(names) {
    const at = performance.now();
    const same = !whole && names === turn.names && at - turn.at < TURN_MS;
    turn = { names, at, count: turn.count + (same ? 0 : 1) };
    whole = false;
    return `${tab.slice(0, 8)} ${turn.count}`;
  }

  async function sending() {
    clearTimeout(timer);
    if (Object.keys(waiting).length === 0) return;
    [sent, waiting] = [waiting, {}];
    const keys = Object.fromEntries(Object.entries(sent).map(([key, each]) => [key, each.value]));
    const names = Object.keys(keys);
    const merge = turning(names.join());
    const unsent = sent;
    try {
      const { ok, status, said } = await ask("/api/change", { version: base.version, keys, merge });
      sent = {};
      if (ok) took(said);
      else if (status === 409) conflict(unsent, said);
      else refused(names, said);
    } catch (problem) {
      sent = {};
      waiting = { ...unsent, ...waiting };
      throw problem;
    }
  }

  function conflict(mine, said) {
    if (said.set) base = said.set;
    tell.conflict(said.error, {
      keep: () => {
        waiting = { ...mine, ...waiting };
        tell.changed(current());
        inTurn(sending);
      },
      drop: () => {
        tell.changed(current());
      },
    });
    tell.changed(current());
  }

  // instead: the same change with what does not go with it taken off, to be offered
  function refused(names, { error, instead }) {
    tell.changed(current());
    const keys = instead && Object.entries(instead).map(([key, value]) => [key, { value }]);
    tell.refused(
      names,
      error ?? "The server refused the change.",
      keys && Object.fromEntries(keys),
    );
  }

  async function fetched() {
    const { ok, said } = await ask("/api/set");
    if (ok) took(said);
    else if (said.making) tell.making(said.error);
    else
      tell.trouble(
        said.error ?? "The set cannot be read; open the address that was printed again.",
      );
  }

  return {
    current,
    // now: send at once instead of after a pause
    change(keys, now = false) {
      Object.assign(waiting, keys);
      tell.changed(current(), true);
      clearTimeout(timer);
      whole ||= now;
      if (now) return inTurn(sending);
      timer = setTimeout(() => inTurn(sending), PAUSE_MS);
      return busy;
    },
    settle: () => inTurn(sending),
    // The set or what is known of it changed: it is fetched once, however often that is said.
    heard() {
      if (asked) return;
      asked = true;
      inTurn(async () => {
        asked = false;
        await fetched();
      });
    },
    traced(name, frame) {
      const light = base?.lights.find(
        (each) => each.name === name && each.frame?.digest === frame.digest,
      );
      if (light) light.frame = { ...light.frame, ...frame, ready: true };
      return Boolean(light);
    },
    // undo, redo, save, balance, add and the like: what waits goes first
    async command(name, body = {}) {
      let answer = null;
      await inTurn(sending);
      await inTurn(async () => {
        answer = await ask(`/api/${name}`, { version: base.version, ...body });
        if (answer.ok && answer.said.version) took(answer.said);
        else if (answer.status === 409 && answer.said.set) took(answer.said.set);
      });
      return answer;
    },
  };
}

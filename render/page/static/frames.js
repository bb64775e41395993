// Light frames from the server: fetched once each, kept until a newer one of the light is there.

const KEPT_OLD = 8; // frames of earlier places, so that undo shows them at once

export function framesOf(arrived) {
  const held = new Map(); // "light digest samples" -> frame
  const shown = new Map(); // light -> frame
  const asked = new Set();

  async function fetched(light) {
    const id = idOf(light);
    asked.add(id);
    try {
      const [name, digest] = [light.name, light.frame.digest].map(encodeURIComponent);
      const answer = await fetch(`/api/frame/${name}?digest=${digest}`);
      if (!answer.ok) return;
      const [width, height] = ["X-Width", "X-Height"].map((name) =>
        Number(answer.headers.get(name)),
      );
      const halves = new Uint16Array(await answer.arrayBuffer());
      if (halves.length !== 3 * width * height) return;
      held.set(id, { id, digest: light.frame.digest, width, height, halves });
      for (const old of [...held.keys()].slice(0, Math.max(0, held.size - KEPT_OLD - shown.size))) {
        if (![...shown.values()].some((frame) => frame.id === old)) held.delete(old);
      }
      arrived();
    } finally {
      asked.delete(id);
    }
  }

  return {
    of: (name) => shown.get(name),
    stale: (light) => shown.get(light.name)?.digest !== light.frame?.digest,
    want(lights) {
      for (const light of lights) {
        const frame = held.get(idOf(light));
        if (frame) shown.set(light.name, frame);
        else if (light.frame?.ready && !asked.has(idOf(light))) fetched(light).catch(() => {});
      }
      for (const name of shown.keys())
        if (!lights.some((light) => light.name === name)) shown.delete(name);
    },
  };
}

const idOf = ({ name, frame }) => `${name} ${frame?.digest} ${frame?.samples}`;

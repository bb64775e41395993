// Draws everything of the page that shows the set, from the set as it stands and as it is moved.

import { adding } from "./adding.js";
import { gains } from "./develop.js";
import { drawViews } from "./drawing.js";
import { exposureOf } from "./exposure.js";
import { showFindings } from "./findings.js";
import { awaited, handling, onTheMove } from "./hints.js";
import { showLights } from "./lights.js";
import { byId, write } from "./make.js";
import { written } from "./notices.js";
import { people } from "./people.js";
import { showReadings, showWishes, speaker } from "./readings.js";
import { showPanels } from "./rows.js";
import { standpointOf } from "./standpoint.js";
import { showTape } from "./tapes.js";
import { lightId, thingOf } from "./things.js";

// parts: {picture, frames, tellSpot, act, page}; page: {chosen, unit}, which may change.
// Gives `show(now, moved)`; now: the set as it stands; moved: of `mover.shown`.
export function showing({ picture, frames, tellSpot, act, page }) {
  const speak = speaker(byId("spoken"));
  const offer = adding(act);
  const tellPeople = people(byId("sitter"), byId("room"), act);
  const drawn = { look: null, drawings: "" };

  function look(now) {
    const { camera } = now;
    byId("plate").hidden = !camera;
    if (!camera) return;
    const parts = now.lights.flatMap((light) => {
      const frame = frames.of(light.name);
      return frame ? [{ name: light.name, frame, gain: gains(light, camera) }] : [];
    });
    drawn.look = parts;
    picture.show(parts);
    if (parts.length > 0) {
      const { width, height } = byId("look");
      byId("mount").style.setProperty("--ratio", `${width / height}`);
    }
    exposureOf(byId("exposure"), camera, (keys) => act.change(keys));
    const { making, lights } = now;
    const state = { making, lights, traced: lights.some(({ frame: each }) => each) };
    const coming = now.lights.filter(
      (light) => light.frame && (!light.frame.ready || frames.stale(light)),
    );
    write(byId("tracing"), awaited(state, coming, parts.length > 0));
    byId("mount").classList.toggle("empty", parts.length === 0);
    for (const id of ["hold", "download"]) byId(id).disabled = parts.length === 0;
    tellSpot(parts.length > 0);
  }

  function drawings(set, moving, error) {
    const { chosen, unit } = page;
    const { version, lights, panels, elements, camera, sitter, backdrop, room, findings } = set;
    const standing = lights.map(({ frame, gain, power_stops, ...rest }) => rest);
    const width = byId("views").clientWidth;
    const parts = [version, standing, panels, elements, camera, sitter, backdrop, room, findings];
    const key = JSON.stringify([...parts, chosen, unit, width, moving]);
    const thing = thingOf(set, chosen);
    const words = moving ? onTheMove(set, thing, unit) : handling(thing);
    write(byId("handling"), error ? written(error) : words);
    byId("handling").classList.toggle("refused", Boolean(error));
    if (key === drawn.drawings) return;
    drawn.drawings = key;
    drawViews(byId("views"), set, chosen, unit, act);
    showTape(byId("tape"), set, unit);
    if (moving) write(byId("spoken"), byId("handling").textContent);
  }

  function marks() {
    for (const row of document.querySelectorAll("[data-row]")) {
      const is = row.dataset.row === page.chosen;
      row.classList.toggle("chosen", is);
      row.querySelector(".mark")?.setAttribute("aria-pressed", `${is}`);
    }
  }

  function head(now) {
    document.title = `${now.saved ? "" : "• "}${now.title} – tenthstop`;
    write(byId("title"), now.title);
    write(byId("about"), `${now.file}${now.saved ? "" : ", changed and not saved"}`);
    byId("undo").disabled = !now.undo;
    byId("redo").disabled = !now.redo;
    byId("save").disabled = now.saved;
  }

  return {
    parts: () => drawn.look,
    show(now, { set, moving, heard, error }) {
      frames.want(now.lights);
      look(now);
      for (const id of ["readings", "wishes"]) {
        byId(id).classList.toggle("stale", moving && !heard);
        byId(id).setAttribute("aria-busy", `${moving}`);
      }
      showReadings(byId("table"), byId("legend"), set);
      showWishes(byId("wanted"), set, act);
      byId("balance").hidden = set.wanted.length === 0;
      showLights(byId("rows"), set, act);
      showPanels(byId("leaves"), set, act);
      offer(set);
      tellPeople(set);
      if (set.camera) standpointOf(byId("standpoint"), set.camera, page.unit, act);
      marks();
      drawings(set, moving, error);
      head(now);
      showFindings(byId("remarks"), byId("findings"), set);
      speak(set);
    },
  };
}

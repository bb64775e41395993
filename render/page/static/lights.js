// The lights as rows in plain words: power in the head's own steps, on or off, where it stands.

import { beside } from "./findings.js";
import { fill, make, match, write } from "./make.js";
import {
  azimuth, dial, elevation, length, readAzimuth, readDegrees, readDial, readLength, readSided, showSided,
  spoken,
} from "./words.js";

const STEPLESS_STOPS = 0.1; // a click, where the head has none

export const clickOf = (light) => light.step_stops || STEPLESS_STOPS;

// Nearest power below full that the dial has.
export function onDial(light, stops) {
  const click = clickOf(light);
  const least = Math.floor(-light.least_stops / click + 1e-6);
  const clicks = Math.min(least, Math.max(0, Math.round(-stops / click)));
  return clicks === 0 ? 0 : -clicks * click;
}

// act: {change(keys, now), choose(name), unit()}
export function showLights(list, set, act) {
  const rows = match(list, set.lights.map((light) => light.name), (name) => row(name, act));
  set.lights.forEach((light, i) => {
    rows[i].light = light;
    rows[i].fill(light, i, set);
  });
}

function row(name, act) {
  const node = make("li");
  const label = spoken(name);
  const mark = make("button", { type: "button", class: "mark", "aria-pressed": "false", onclick: () => act.choose(name) });
  const title = make("strong", {}, label);
  const words = make("span", { class: "gear" });
  const on = make("input", { type: "checkbox", id: `on-${name}`, onchange: () =>
    act.change({ [`light.${name}.on`]: { value: on.checked } }, true) });
  const error = make("p", { class: "error", role: "alert", hidden: true });
  const power = powerOf(node, name, label, act);
  const remarks = beside();
  const place = placeOf(node, name, label, act);
  node.append(
    make("div", { class: "who" }, mark, make("p", {}, title, " ", words),
      make("label", { class: "on", for: `on-${name}` }, on, make("span", {}, "fires"))),
    power.node, place.node, remarks.node, error);
  node.error = error;
  node.fill = (light, i, set) => {
    write(mark, `${i + 1}`);
    mark.setAttribute("aria-label", `Choose ${label} in the drawings`);
    const role = light.role && light.role !== light.name ? `${light.role}, ` : "";
    write(words, `${role}${light.words}${light.fixed && light.flash ? ", power fixed" : ""}`);
    on.checked = light.on;
    on.setAttribute("aria-label", `${label} fires`);
    node.classList.toggle("unfired", !light.on);
    power.fill(light);
    place.fill(light, set);
    remarks.fill(name, set.findings);
  };
  return node;
}

function powerOf(node, name, label, act) {
  const set = (stops) => {
    const at = onDial(node.light, stops);
    act.change({ [`light.${name}.power`]: { value: dial(at, clickOf(node.light)), stops: at } });
  };
  const turn = (clicks) => set(node.light.power_stops + clicks * clickOf(node.light));
  const less = make("button", { type: "button", class: "turn", "aria-label": `${label}: one step less`, onclick: () => turn(-1) }, "−");
  const more = make("button", { type: "button", class: "turn", "aria-label": `${label}: one step more`, onclick: () => turn(1) }, "+");
  const slide = make("input", { type: "range", max: 0, "aria-label": `${label}, power`, oninput: () => set(Number(slide.value)) });
  const typed = make("input", {
    type: "text", class: "blank power", size: 9, autocomplete: "off", spellcheck: "false", "aria-label": `${label}, power as on the dial`,
    onchange: () => {
      const stops = readDial(typed.value);
      typed.blur();
      if (stops === null) say(node, `Power: found “${typed.value}”; write it as on the dial, such as 1/8 +0.5.`);
      else set(stops);
    },
    onkeydown: (event) => {
      const clicks = { ArrowUp: 1, ArrowDown: -1 }[event.key];
      if (!clicks) return;
      event.preventDefault();
      turn(clicks);
      typed.value = dial(node.light.power_stops, clickOf(node.light));
    },
  });
  const box = make("div", { class: "dial" }, less, slide, more, typed);
  const none = make("p", { class: "quiet dial" }, "States its light; it has no dial.");
  return {
    node: make("div", {}, box, none),
    fill(light) {
      box.hidden = light.flash === null || !light.least_stops;
      none.hidden = !box.hidden;
      if (box.hidden) return;
      slide.min = onDial(light, light.least_stops);
      slide.step = clickOf(light);
      slide.value = light.power_stops;
      const words = dial(light.power_stops, clickOf(light));
      slide.setAttribute("aria-valuetext", words);
      slide.style.setProperty("--stops", -slide.min);
      if (document.activeElement !== typed) typed.value = words;
      less.disabled = light.power_stops <= Number(slide.min) + 1e-9;
      more.disabled = light.power_stops >= -1e-9;
    },
  };
}

const READ = {
  distance_m: { read: readLength, show: length, label: "distance", accepted: "a length such as 1.2 m or 3 ft 11 in" },
  azimuth_deg: { read: readAzimuth, show: azimuth, label: "angle from the camera", accepted: "degrees and a side, such as 45 left" },
  elevation_deg: { read: readDegrees, show: elevation, label: "angle up", accepted: "degrees, such as 30 or 10 down" },
};

const sided = (label, less, more) => ({
  label,
  read: (text, unit) => readSided(text, unit, less, more),
  show: (metres, unit) => showSided(metres, unit, less, more),
  accepted: `a length and a side, such as 0.5 m ${less}`,
});
const AXES = [
  sided("side of the camera line", "left", "right"),
  { ...READ.distance_m, label: "height" },
  sided("along the camera line, from the eyes", "behind", "before"),
];

function placeOf(node, name, label, act) {
  const field = (key, how, value) => {
    const input = make("input", {
      type: "text", class: "blank", size: 7, autocomplete: "off", spellcheck: "false", "aria-label": `${label}, ${how.label}`,
      oninput: () => fill(input, ""),
      onchange: () => {
        const found = how.read(input.value, act.unit());
        if (found === null) {
          say(node, `${how.label}: found “${input.value}”; write ${how.accepted}.`);
          input.setAttribute("aria-invalid", "true");
          return;
        }
        input.removeAttribute("aria-invalid");
        say(node, "");
        act.change({ [`light.${name}.${key}`]: { value: value(found) } }, true);
        input.blur();
      },
    });
    input.show = (number) => fill(input, how.show(number, act.unit()));
    return input;
  };
  const whole = (number) => Math.round(number * 1e4) / 1e4;
  const polar = Object.fromEntries(Object.entries(READ).map(([key, how]) => [key, field(key, how, whole)]));
  const axes = AXES.map((how, axis) => field("position_m", how, (found) => {
    const at = [...node.light.position_m];
    at[axis] = whole(found);
    return at;
  }));
  const from = make("span", {}, " away");
  const around = make("p", { class: "place" },
    "Stands ", polar.distance_m, from, ", ", polar.azimuth_deg, ", ", polar.elevation_deg, ".");
  const fixed = make("p", { class: "place" },
    "Stands ", axes[0], ", ", axes[2], " the eyes, ", axes[1], " high.");
  const still = make("p", { class: "place quiet" });
  return {
    node: make("div", {}, around, fixed, still),
    fill(light) {
      around.hidden = !light.placed;
      fixed.hidden = Boolean(light.placed) || !light.position_m;
      write(from, light.placed?.around ? ` from the ${spoken(light.placed.around)}` : " away");
      still.hidden = !around.hidden || !fixed.hidden;
      for (const [key, input] of Object.entries(polar)) if (light.placed) input.show(light.placed[key] ?? 0);
      axes.forEach((input, axis) => light.position_m && input.show(light.position_m[axis]));
      write(still, `Stands ${length(light.centre[1], act.unit())} high.`);
    },
  };
}

export function say(row, sentence) {
  row.error.hidden = !sentence;
  write(row.error, sentence);
}

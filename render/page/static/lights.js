// The lights as rows in plain words: power in the head's own steps, on or off, where it stands.

import { beside } from "./findings.js";
import { gearOf } from "./gear.js";
import { make, match, write } from "./make.js";
import { say } from "./notices.js";
import { placeOf } from "./places.js";
import { lightId } from "./things.js";
import { dial, readDial, spoken } from "./words.js";

const STEPLESS_STOPS = 0.1; // a click, where the head has none

const clickOf = (light) => light.step_stops || STEPLESS_STOPS;

// Nearest power below full that the dial has.
function onDial(light, stops) {
  const click = clickOf(light);
  const least = Math.floor(-light.least_stops / click + 1e-6);
  const clicks = Math.min(least, Math.max(0, Math.round(-stops / click)));
  return clicks === 0 ? 0 : -clicks * click;
}

// act: {change(keys, now), choose(name), unit()}
export function showLights(list, set, act) {
  const rows = match(
    list,
    set.lights.map((light) => light.name),
    (name) => row(name, act),
  );
  set.lights.forEach((light, i) => {
    rows[i].light = light;
    rows[i].fill(light, i, set);
  });
}

function row(name, act) {
  const node = make("li", { "data-row": lightId(name) });
  const label = spoken(name);
  const mark = make("button", {
    type: "button",
    class: "mark",
    "aria-pressed": "false",
    onclick: () => act.choose(lightId(name)),
  });
  const title = make("strong", {}, label);
  const words = make("span", { class: "gear" });
  const on = make("input", {
    type: "checkbox",
    id: `on-${name}`,
    onchange: () => act.change({ [`light.${name}.on`]: { value: on.checked } }, true),
  });
  const error = make("p", { class: "error", role: "alert", hidden: true });
  const power = powerOf(node, name, label, act);
  const remarks = beside();
  const place = placeOf(node, lightId(name), label, act);
  const gear = gearOf(node, name, act);
  node.append(
    make(
      "div",
      { class: "who" },
      mark,
      make("p", {}, title, " ", words),
      make("label", { class: "on", for: `on-${name}` }, on, make("span", {}, "fires")),
    ),
    power.node,
    place.node,
    gear.node,
    remarks.node,
    error,
  );
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
    place.fill(light);
    node.set = set;
    gear.fill(set);
    remarks.fill(lightId(name), set.findings);
  };
  return node;
}

function powerOf(node, name, label, act) {
  const set = (stops) => {
    const at = onDial(node.light, stops);
    act.change({ [`light.${name}.power`]: { value: dial(at, clickOf(node.light)), stops: at } });
  };
  const turn = (clicks) => set(node.light.power_stops + clicks * clickOf(node.light));
  const less = make(
    "button",
    {
      type: "button",
      class: "turn",
      tabindex: -1, // as the arrow keys of the slider
      "aria-label": `${label}: one step less`,
      onclick: () => turn(-1),
    },
    "−",
  );
  const more = make(
    "button",
    {
      type: "button",
      class: "turn",
      tabindex: -1,
      "aria-label": `${label}: one step more`,
      onclick: () => turn(1),
    },
    "+",
  );
  const slide = make("input", {
    type: "range",
    max: 0,
    "aria-label": `${label}, power`,
    oninput: () => set(Number(slide.value)),
  });
  const typed = make("input", {
    type: "text",
    class: "blank power",
    size: 9,
    autocomplete: "off",
    spellcheck: "false",
    "aria-label": `${label}, power as on the dial`,
    onchange: () => {
      const stops = readDial(typed.value);
      typed.blur();
      if (stops === null)
        say(node, `Power: found “${typed.value}”; write it as on the dial, such as 1/8 +0.5.`);
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

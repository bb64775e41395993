// Blanks in sentences: to write in, to choose from; each puts what it reads in its place.

import { fill, make } from "./make.js";

// read(text): the value, null for what it is not; put(value); say(sentence) of a wrong one.
// Gives the input; `show(text)` writes in it unless somebody else does.
export function blank(label, { read, accepted, put, say }) {
  const input = make("input", {
    type: "text",
    class: "blank",
    autocomplete: "off",
    spellcheck: "false",
    "aria-label": label,
  });
  input.addEventListener("input", () => fill(input, ""));
  input.addEventListener("change", () => {
    const found = read(input.value);
    if (found === null) {
      input.setAttribute("aria-invalid", "true");
      say(`${label}: found “${input.value}”; write ${accepted}.`);
      return;
    }
    input.removeAttribute("aria-invalid");
    input.blur();
    put(found);
  });
  input.show = (text) => fill(input, text);
  return input;
}

// A choice among [[value, words], ...]; values are any JSON, put(value).
// Gives the select; `show(options, value, words)` offers them, and the value itself where it is not
// one, in its own words.
export function choice(label, put) {
  const select = make("select", {
    class: "inline",
    "aria-label": label,
    onchange: () => put(JSON.parse(select.value)),
  });
  select.show = (options, value, words = wordsOf) => {
    const now = JSON.stringify(value ?? null);
    const all = options.map(([each, words]) => [JSON.stringify(each ?? null), words]);
    if (!all.some(([each]) => each === now)) all.push([now, words(value)]);
    const text = JSON.stringify(all);
    if (select.dataset.all !== text) {
      select.dataset.all = text;
      select.replaceChildren(...all.map(([each, words]) => make("option", { value: each }, words)));
    }
    if (select.value !== now) select.value = now;
  };
  return select;
}

// What the file says, where no list knows it.
function wordsOf(value) {
  if (Array.isArray(value)) return value.join(", ");
  return value === null || value === undefined ? "not said" : `${value}`;
}

// A sentence of words and blanks, no blank parted from the point or comma after it.
export function sentence(attributes, ...parts) {
  const found = [];
  for (const part of parts) {
    const point = typeof part === "string" ? /^[,.;:]+/.exec(part)?.[0] : "";
    if (point && found.at(-1) instanceof Element) {
      found.push(make("span", { class: "kept" }, found.pop(), point), part.slice(point.length));
    } else found.push(part);
  }
  return make("p", attributes, ...found);
}

export const number = (text) => {
  const said = text.trim().replace(",", ".").replaceAll("−", "-");
  return /^[+-]?\d*\.?\d+$/.test(said) ? Number(said) : null;
};

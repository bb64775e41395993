// Makes and keeps elements of the page without rebuilding what has not changed.

const SVG = "http://www.w3.org/2000/svg";

function filled(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined && child !== ""));
  return node;
}

export const make = (tag, attributes = {}, ...children) =>
  filled(document.createElement(tag), attributes, children);

export const draw = (tag, attributes = {}, ...children) =>
  filled(document.createElementNS(SVG, tag), attributes, children);

export const byId = (id) => document.getElementById(id);

// Text is written only where it differs, so that screen readers hear only what changed.
export function write(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

const LETTER_EM = 0.49; // usual width of a letter of these blanks, over the size of type

// A blank in a sentence is as wide as what stands in it.
export function fill(input, text) {
  if (document.activeElement !== input && input.value !== text) input.value = text;
  input.style.width = `${(LETTER_EM * (Math.max(input.value.length, 2) + 0.6)).toFixed(2)}em`;
}

// The list's children by name: makes the missing ones, drops the others, keeps the order.
export function match(list, names, made) {
  const held = new Map([...list.children].map((child) => [child.dataset.name, child]));
  const kept = names.map((name) => {
    const node = held.get(name) ?? made(name);
    node.dataset.name = name;
    return node;
  });
  if (kept.length !== list.children.length || kept.some((node, i) => list.children[i] !== node)) {
    list.replaceChildren(...kept);
  }
  return kept;
}

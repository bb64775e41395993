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

const ruler = document.createElement("canvas").getContext("2d");
const LEAST_PX = 24; // of a blank, so that it can be hit

// A blank in a sentence is as wide as what stands in it.
export function fill(input, text) {
  if (document.activeElement !== input && input.value !== text) input.value = text;
  // The shorthand is empty where figures are set apart, so the font is put together.
  const set = window.getComputedStyle(input.isConnected ? input : document.body);
  ruler.font = `${set.fontStyle} ${set.fontWeight} ${set.fontSize} ${set.fontFamily}`;
  input.style.width = `${Math.max(LEAST_PX, ruler.measureText(input.value).width + 6)}px`;
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

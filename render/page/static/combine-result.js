// The look that is under everything, recipes to go on with, and the result that is kept.

import { blank, choice, sentence } from "./blanks.js";
import { byId, make, write } from "./make.js";
import { written } from "./notices.js";
import { ask } from "./state.js";

const KINDS = [
  [".tif", "TIFF, 16 bits"],
  [".png", "PNG, 8 bits"],
  [".exr", "EXR, linear, unclipped"],
];
const readName = (text) => {
  const name = text.trim().replace(/\.(tiff?|png|exr|toml)$/i, "");
  return /^[\p{L}\p{N}_][\p{L}\p{N}_. -]*$/u.test(name) ? name : null;
};

// What lies under the elements: the folder's pictures, its recipes.
export function underOf(act) {
  const look = choice("Picture of the look", (name) => act.look(name));
  const recipe = choice("A recipe to go on with", (name) => name && act.open(name));
  const size = make("span");
  const again = make(
    "button",
    { type: "button", class: "small", onclick: () => act.again() },
    "Read the folder again",
  );
  const opening = make("p", {}, "Go on with the recipe ", recipe, ".");
  const nothing = make(
    "p",
    {},
    "The scene's folder holds no picture yet: put the look there, and what was shot on black.",
  );
  const present = make(
    "button",
    { type: "button", class: "small", onclick: () => act.present() },
    "Put the set's present look there",
  );
  byId("under").append(
    sentence({}, "It is ", look, " of the scene's folder", size, "."),
    nothing,
    opening,
    make("div", { class: "doings" }, again, present),
  );
  return (now, folder, picture) => {
    look.show(named(folder.pictures), now.look || null, () => "a picture");
    recipe.show(named(folder.recipes), null, () => "choose one");
    opening.hidden = folder.recipes.length === 0;
    nothing.hidden = folder.pictures.length > 0;
    const { told } = picture ?? {};
    write(size, told ? `, ${told.width_px} × ${told.height_px} pixels` : "");
  };
}
const named = (names) => names.map((name) => [name, name]);

// Makes and keeps the result; act: {recipe(), saved()}.
export function resultOf(act) {
  const line = byId("kept");
  let kind = ".tif";
  const name = blank("Name of the result", {
    read: readName,
    accepted: "a plain name such as portrait-with-shavings",
    put: () => {},
    say: (words) => write(line, words),
  });
  name.classList.add("name");
  name.placeholder = "name";
  const kinds = choice("Kind of file", (found) => {
    kind = found;
    kinds.show(KINDS, kind);
  });
  kinds.show(KINDS, kind);
  const button = make(
    "button",
    { type: "button", class: "main", onclick: () => save() },
    "Save result",
  );
  byId("result").append(
    sentence(
      {},
      "It is made at full size and kept in the scene's folder as ",
      name,
      ", ",
      kinds,
      ", with its recipe beside it; nothing is ever written over.",
    ),
    make("div", { class: "doings" }, button),
  );
  name.show("");

  async function save() {
    const found = readName(name.value);
    byId("report").replaceChildren();
    if (found === null) {
      write(line, "Write a name for it first: letters, numbers, - and _.");
      name.focus();
      return;
    }
    button.disabled = true;
    write(line, "The result is being made at full size …");
    try {
      const body = { recipe: act.recipe(), name: `${found}${kind}` };
      const { ok, said } = await ask("/api/combine/save", body);
      const refused = said.error ?? "The server refused it.";
      write(line, ok ? `${said.saved.join(" and ")} are kept.` : written(refused));
      if (ok) {
        byId("report").replaceChildren(...told(said.report));
        act.saved();
      }
    } catch {
      write(line, "The server does not answer.");
    } finally {
      button.disabled = act.recipe().element.length === 0;
    }
  }
  return { save, show: (ready) => (button.disabled = !ready) };
}

const share = (part) => `${(100 * part).toFixed(1)} %`;

// What was clipped, lifted or lost, one line each.
function told(report) {
  const over = report.over_white_stops;
  const up = over === null ? "" : `, up to ${over.toFixed(1)} stops`;
  const fate = report.keeps_all ? "kept" : "cut";
  const lines = [
    `Over white: ${share(report.clipped_share)} of the pixels${up} (before: ` +
      `${share(report.clipped_before_share)}); outside sRGB: ${share(report.outside_share)}; ` +
      `both are ${fate}.`,
  ];
  if (report.lifted_code !== null)
    lines.push(
      `Dark pixels of the look rise by ${report.lifted_code.toFixed(1)} codes (median); ` +
        `${share(report.lifted_share)} of them by more than one.`,
    );
  return [
    ...lines.map((words) => make("li", {}, words)),
    ...report.warnings.map((words) => make("li", {}, make("b", {}, "Mind: "), written(words))),
  ];
}

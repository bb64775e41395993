// What is taken along: the picture, the card for the studio floor, the scene under another name.

import { blank, choice } from "./blanks.js";
import { readName } from "./disk.js";
import { byId, make, write } from "./make.js";
import { fetched } from "./state.js";

export const UNHEARD = "The server does not answer.";

const PAPERS = [
  ["a4", "A4"],
  ["letter", "US letter"],
];

// Fills the section.
export function taking(act) {
  const line = byId("taken");
  let busy = false;

  async function card() {
    if (busy) return;
    busy = true;
    write(line, "The card is being made …");
    const path = `/api/export/card.pdf?paper=${JSON.parse(paper.value)}&look=1`;
    const { name, error } = await saved(path).catch(() => ({ error: UNHEARD }));
    write(line, error ?? `${name} is saved where the browser keeps what it loads.`);
    busy = false;
  }
  const paper = choice("Paper of the card", (value) => paper.show(PAPERS, value));
  paper.show(PAPERS, "a4");
  const button = make("button", { type: "button", class: "small", onclick: card }, "Save card");
  const copy = blank("Name of another scene file", {
    read: readName,
    accepted: "letters, numbers, - and _",
    put: (name) => act.saveAs(name),
    say: (sentence) => write(line, sentence),
  });
  copy.placeholder = "another-name";
  byId("taking").append(
    make("p", {}, "The card for the studio floor on ", paper, " ", button),
    make("p", {}, "The scene file as ", copy, ", to go on with under that name."),
  );
}

// The file that the server makes, put where the browser puts what is saved: {name} or {error}.
export async function saved(path, body) {
  const { ok, blob, name, error } = await fetched(path, body);
  if (!ok) return { error };
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  return { name };
}

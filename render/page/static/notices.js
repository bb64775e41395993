// One sentence at the head of the page when something is wrong, with what can be done about it.

import { make } from "./make.js";

export function notices(node) {
  const clear = () => { node.hidden = true; };
  return {
    clear,
    tell(sentence, choices = [["Close", () => {}]]) {
      node.hidden = false;
      node.replaceChildren(make("p", {}, sentence), make("div", { class: "doings" }, ...choices.map(([words, chosen]) =>
        make("button", { type: "button", onclick: () => { clear(); chosen(); } }, words))));
    },
  };
}

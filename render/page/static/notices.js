// One sentence at the head of the page when something is wrong, with what can be done about it.

import { make, write } from "./make.js";

// With a capital letter, but for names of files and keys, and a full stop.
export function written(words) {
  const said = /^[a-z]+[ ,]/.test(words) ? words[0].toUpperCase() + words.slice(1) : words;
  return /[.!?)]$/.test(said) ? said : `${said}.`;
}

export function notices(node) {
  const clear = () => {
    node.hidden = true;
  };
  return {
    clear,
    tell(sentence, choices = [["Close", () => {}]]) {
      node.hidden = false;
      node.replaceChildren(
        make("p", {}, written(sentence)),
        make(
          "div",
          { class: "doings" },
          ...choices.map(([words, chosen]) =>
            make(
              "button",
              {
                type: "button",
                onclick: () => {
                  clear();
                  chosen();
                },
              },
              words,
            ),
          ),
        ),
      );
    },
  };
}

// The same beside a light.
export function say(row, sentence) {
  row.error.hidden = !sentence;
  write(row.error, sentence && written(sentence));
}

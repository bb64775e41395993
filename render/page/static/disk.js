// The file was changed by somebody else: what can be done, said calmly and once.

import { blank } from "./blanks.js";
import { make } from "./make.js";
import { written } from "./notices.js";
import { spoken } from "./words.js";

// A name that a scene file can have; null for anything else.
export function readName(text) {
  const said = text.trim().replace(/\.toml$/i, "");
  return /^[\p{L}\p{N}_][\p{L}\p{N}_ -]*$/u.test(said) ? `${said}.toml` : null;
}

// node: the place of the notice; act: {command(name, body)}, which gives the server's answer
export function diskNotice(node, act) {
  let told = ""; // what of the file the notice is about

  function close() {
    node.hidden = true;
  }
  const button = (words, pressed) => make("button", { type: "button", onclick: pressed }, words);

  function fill(sentence, ...parts) {
    node.hidden = false;
    node.replaceChildren(make("p", {}, written(sentence)), ...parts);
  }

  async function done(name, body) {
    const answer = await act.command(name, body);
    if (!answer) return;
    if (answer.ok) close();
    else if (answer.said.both) which(answer.said);
    else fill(answer.said.error ?? "The server refused it.", doings());
  }

  const named = blank("Save under another name", {
    read: readName,
    accepted: "letters, numbers, - and _",
    put: (name) => done("save", { as: name }),
    say: (sentence) => fill(sentence, doings()),
  });
  named.placeholder = "another-name";

  function doings() {
    return make(
      "div",
      { class: "doings" },
      button("Take the file as it is now", () => done("reload")),
      button("Put my changes on top of it", () => done("merge")),
      make("span", {}, "Save mine as ", named),
      button("Later", close),
    );
  }

  // Both changed the same: one choice for each.
  function which({ error, both }) {
    const take = Object.fromEntries(both.map(({ key }) => [key, "mine"]));
    const line = ({ key, mine, theirs }) => {
      const field = make("select", { onchange: () => (take[key] = field.value) });
      field.append(
        make("option", { value: "mine" }, `mine: ${shown(mine)}`),
        make("option", { value: "theirs" }, `the file's: ${shown(theirs)}`),
      );
      return make("li", {}, make("label", {}, `${spoken(key.replaceAll(".", " "))} `, field));
    };
    fill(
      error,
      make("ul", {}, ...both.map(line)),
      make(
        "div",
        { class: "doings" },
        button("Merge like this", () => done("merge", { take })),
        button("Later", close),
      ),
    );
  }

  return {
    // disk: {state, words, keys, both} as the set tells it; said once for each state of the file
    show(disk) {
      const now = JSON.stringify(disk ?? null);
      if (now === told) return;
      told = now;
      if (disk?.state === "changed" || disk?.state === "gone") fill(disk.words, doings());
      else close();
    },
    // Saving was refused because of it.
    refused: (sentence) => fill(sentence, doings()),
    // A bundled scene, or a copy of one's own.
    rename(sentence) {
      fill(
        sentence,
        make(
          "div",
          { class: "doings" },
          make("span", {}, "Save it as ", named),
          button("Later", close),
        ),
      );
      named.focus();
    },
  };
}

const shown = (value) =>
  value === null || value === undefined
    ? "not said"
    : typeof value === "string"
      ? value
      : JSON.stringify(value);

// Balance: the powers that meet the wishes, shown before they are taken.

import { make } from "./make.js";
import { readDial, signed, spoken } from "./words.js";

export async function propose(box, set, act, tell) {
  box.hidden = false;
  box.replaceChildren(make("p", { class: "quiet" }, "Working out the powers …"));
  const answer = await set.command("balance");
  if (!answer?.ok) {
    box.hidden = true;
    if (answer) tell(answer.said.error ?? "The powers could not be worked out.");
    return;
  }
  const { keys, rows, met, sentences } = answer.said;
  const close = () => {
    box.hidden = true;
  };
  const take = () => {
    close();
    const all = Object.entries(keys).map(([key, value]) => {
      const stops = key.endsWith(".power") ? readDial(`${value}`) : null;
      return [key, stops === null ? { value } : { value, stops }];
    });
    act.change(Object.fromEntries(all), true);
  };
  const none = Object.keys(keys).length === 0;
  box.replaceChildren(
    make("h3", {}, met ? "These powers meet every wish" : "The nearest that the heads can do"),
    make(
      "ul",
      { class: "powers" },
      ...Object.entries(keys).map(([key, value]) =>
        make("li", {}, named(key), " ", make("b", {}, `${value}`)),
      ),
    ),
    none ? make("p", {}, "Nothing needs to change.") : "",
    make(
      "table",
      {},
      make(
        "thead",
        {},
        make(
          "tr",
          {},
          ...["wish", "wanted", "now", "then", "off"].map((head) =>
            make("th", { scope: "col" }, head),
          ),
        ),
      ),
      make(
        "tbody",
        {},
        ...rows.map((row) =>
          make(
            "tr",
            {},
            make("th", { scope: "row" }, spoken(row.name)),
            make("td", {}, row.wanted),
            make("td", {}, row.now),
            make("td", {}, row.after),
            make("td", {}, row.off_stops === null ? "–" : signed(row.off_stops)),
          ),
        ),
      ),
    ),
    ...(sentences ?? []).map((sentence) => make("p", {}, sentence)),
    make(
      "div",
      { class: "doings" },
      none
        ? ""
        : make("button", { type: "button", class: "main", onclick: take }, "Set these powers"),
      make("button", { type: "button", onclick: close }, none ? "Close" : "Leave them"),
    ),
  );
  box.focus();
}

function named(key) {
  const [kind, name, what] = key.split(".");
  return kind === "light"
    ? `${spoken(name)}${what === "power" ? "" : ` ${spoken(what)}`}`
    : spoken(key);
}

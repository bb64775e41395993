// The recipe as it is being edited: what undo and redo go to, kept while the tab is open.

const KEPT = "combine";
const MOST_STEPS = 200;

// changed(): it is another recipe now.
export function sheetOf(changed) {
  let now = null; // {look, black_code, element: [...]}
  let [before, after, last] = [[], [], ""];

  const took = () => {
    window.sessionStorage.setItem(KEPT, JSON.stringify(now));
    changed();
  };
  return {
    now: () => now,
    start(recipe) {
      const kept = JSON.parse(window.sessionStorage.getItem(KEPT) ?? "null");
      now = kept ?? recipe;
      changed();
    },
    // word: a change with the word of the change before it is the same step of undo
    change(part, word = "") {
      if (!word || word !== last) {
        before = [...before.slice(1 - MOST_STEPS), now];
        after = [];
      }
      last = word;
      now = { ...now, ...part };
      took();
    },
    // Keys of one element.
    set(k, keys, word = "") {
      const element = now.element.map((each, i) => (i === k ? { ...each, ...keys } : each));
      this.change({ element }, word && `${k} ${word}`);
    },
    // What is done next is a step of its own.
    settle() {
      last = "";
    },
    can: () => ({ undo: before.length > 0, redo: after.length > 0 }),
    undo() {
      if (before.length === 0) return;
      after = [now, ...after];
      now = before.at(-1);
      before = before.slice(0, -1);
      last = "";
      took();
    },
    redo() {
      if (after.length === 0) return;
      before = [...before, now];
      [now, ...after] = after;
      last = "";
      took();
    },
  };
}

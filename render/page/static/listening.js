// What the page listens to: the server's events, and the keys for undo, redo and save.

const LOST_MS = 4000; // without the server, before it is told
const LOST =
  "The program that serves this page cannot be reached. " +
  "If it has ended, what was not saved is lost.";

export function listen(set, due, { tell, clear, series }) {
  let lost = 0; // timer since the server was last heard, 0 while it is there
  const events = new EventSource("/api/events");
  events.addEventListener("set", () => set.heard());
  events.addEventListener("frame", (event) => {
    const { light, digest, samples, of } = JSON.parse(event.data);
    if (set.traced(light, { digest, samples, of })) due();
    else set.heard();
  });
  events.addEventListener("series", (event) => series(JSON.parse(event.data)));
  events.addEventListener("trouble", (event) => tell(JSON.parse(event.data)));
  events.addEventListener("open", () => {
    if (lost) clear();
    window.clearTimeout(lost);
    lost = 0;
    set.heard();
  });
  events.addEventListener("error", () => {
    lost ||= window.setTimeout(() => tell(LOST), LOST_MS);
  });
}

export function onShortcut(command) {
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input[type=text]")) return;
    const keys = { z: event.shiftKey ? "redo" : "undo", y: "redo", s: "save" };
    const name = keys[event.key.toLowerCase()];
    if (!name) return;
    event.preventDefault();
    command(name);
  });
}

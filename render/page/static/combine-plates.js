// The clean plates of an element: boxes for the folder's other pictures.

import { make, match, write } from "./make.js";

// put(keys): of the element.
export function plateChoice(put) {
  const boxes = make("div", { class: "plates" });
  const summary = make("summary");
  const node = make("details", {}, summary, boxes);
  return {
    node,
    show({ file, plates }, pictures) {
      const others = pictures.filter((name) => name !== file);
      node.hidden = others.length === 0;
      write(
        summary,
        plates.length > 0 ? `Clean plates: ${plates.join(", ")}` : "Take out a clean plate",
      );
      match(boxes, others, (name) => {
        const box = make("input", { type: "checkbox" });
        const label = make("label", {}, box, name);
        box.addEventListener("change", () => {
          const kept = label.plates.filter((each) => each !== name);
          put({ plates: box.checked ? [...kept, name] : kept });
        });
        return label;
      }).forEach((label) => {
        label.plates = plates;
        label.querySelector("input").checked = plates.includes(label.dataset.name);
      });
    },
  };
}

// A held look beside the present one, divided where the hand puts it; and the look as a file.

import { lookOn } from "./mix.js";

// The held look lies over the present one and ends at the divider.
export function comparison({ canvas, button, divider, field }, how) {
  let picture = null;
  let parts = null;
  const divide = () => {
    canvas.style.clipPath = `inset(0 ${100 - Number(divider.value)}% 0 0)`;
    field.style.setProperty("--at", `${divider.value}%`);
  };
  const show = () => {
    const on = parts !== null;
    for (const node of [canvas, divider.parentElement]) node.hidden = !on;
    field.classList.toggle("divided", on);
    button.textContent = on ? "Let it go" : "Hold this look";
    button.setAttribute("aria-pressed", `${on}`);
    if (!on) return;
    picture ??= lookOn(canvas, how);
    picture.show(parts);
    divide();
  };
  divider.addEventListener("input", divide);
  return (present) => {
    parts = parts || !present?.length ? null : present;
    show();
  };
}

export function download(canvas, title) {
  canvas.toBlob((blob) => {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(blob);
    link.download = `${title
      .toLowerCase()
      .replace(/[^\p{L}\p{N}]+/gu, "-")
      .replace(/^-|-$/g, "")}.png`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }, "image/png");
}

// A held look beside the present one, divided where the hand puts it.

import { lookOn } from "./mix.js";

// The held look lies over the present one and ends at the divider.
export function comparison({ canvas, button, divider, seam }, how) {
  let picture = null;
  let parts = null;
  const divide = () => {
    canvas.style.clipPath = `inset(0 ${100 - Number(divider.value)}% 0 0)`;
    seam.style.left = `${canvas.offsetLeft + (canvas.offsetWidth * divider.value) / 100}px`;
    seam.style.top = `${canvas.offsetTop}px`;
    seam.style.height = `${canvas.offsetHeight}px`;
  };
  const show = () => {
    const on = parts !== null;
    for (const node of [canvas, seam, divider.parentElement]) node.hidden = !on;
    button.textContent = on ? "Let it go" : "Hold this look";
    button.setAttribute("aria-pressed", `${on}`);
    if (!on) return;
    picture ??= lookOn(canvas, how);
    picture.show(parts);
    divide();
  };
  divider.addEventListener("input", divide);
  new ResizeObserver(divide).observe(canvas);
  return (present) => {
    parts = parts || !present?.length ? null : present;
    show();
  };
}

// What the checks found: beside the light that it is about, the rest in a list.

import { make, match, write } from "./make.js";

const LEAD = { wrong: "Wrong: ", look: "Look at: " };

const aboutLight = ({ about }, name) => about === `light.${name}` || about === name;

// "flare, 29 deg outside the frame"
function brief({ check, value, unit }) {
  if (!Number.isFinite(value)) return check;
  const size = Math.abs(value) < 10 ? Math.abs(value).toFixed(1) : Math.abs(value).toFixed(0);
  return `${check}, ${value < 0 ? "−" : ""}${size} ${unit}`;
}

function list(node, findings) {
  const rows = match(
    node,
    findings.map(({ what }) => what),
    () => make("li", {}, make("b"), make("span")),
  );
  findings.forEach(({ severity, what }, i) => {
    rows[i].className = severity;
    write(rows[i].firstChild, LEAD[severity] ?? "");
    write(rows[i].lastChild, what);
  });
}

// The remarks under a light's row: what is wrong at once, what is to be looked at on request.
export function beside() {
  const wrong = make("ul", { class: "found" });
  const looks = make("ul", { class: "found" });
  const summary = make("summary");
  const more = make("details", {}, summary, looks);
  return {
    node: make("div", { class: "remarks" }, wrong, more),
    fill(name, findings) {
      const own = findings.filter((each) => aboutLight(each, name));
      const [bad, other] = ["wrong", "look"].map((kind) =>
        own.filter(({ severity }) => severity === kind),
      );
      list(wrong, bad);
      list(looks, other);
      more.hidden = other.length === 0;
      write(summary, `To look at: ${other.map(brief).join("; ")}`);
    },
  };
}

export function showFindings(section, node, set) {
  const rest = set.findings.filter(
    (each) => !set.lights.some(({ name }) => aboutLight(each, name)),
  );
  section.hidden = rest.length === 0;
  section.setAttribute("aria-busy", `${set.findings_ready === false}`);
  list(node, rest);
}

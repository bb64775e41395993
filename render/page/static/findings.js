// What the checks found: beside the thing that it is about, the rest in a list.

import { make, match, write } from "./make.js";

const LEAD = { wrong: "Wrong: ", look: "Look at: " };

// What is wrong, in the few words that there is room for on a drawing.
const SHORT = {
  frame: "in the picture",
  "stand in frame": "stand in the picture",
  fit: "no room",
  reach: "out of reach",
  stand: "stand has no room",
};

const isAbout = ({ about }, id) => about === id || `light.${about}` === id;

function measure({ value, unit }) {
  const size = Math.abs(value) < 10 ? Math.abs(value).toFixed(1) : Math.abs(value).toFixed(0);
  return `${value < 0 ? "−" : ""}${size} ${unit}`;
}

// "✗ in the picture, 12 %": the worst of what is wrong with a thing; empty where nothing is.
export function noteOf(findings, id) {
  const wrong = findings.filter((each) => each.severity === "wrong" && isAbout(each, id));
  if (wrong.length === 0) return "";
  const [first] = wrong;
  const words = SHORT[first.check] ?? first.check;
  const much = Number.isFinite(first.value)
    ? `, ${measure(first).replace(/ of the (frame|lens|front seen)$/, "")}`
    : "";
  return `✗ ${words}${much}${wrong.length > 1 ? ` + ${wrong.length - 1} more` : ""}`;
}

// "flare, 29 deg outside the frame"
const brief = (finding) =>
  Number.isFinite(finding.value) ? `${finding.check}, ${measure(finding)}` : finding.check;

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

// The remarks under a row: what is wrong at once, what is to be looked at on request.
export function beside() {
  const wrong = make("ul", { class: "found" });
  const looks = make("ul", { class: "found" });
  const summary = make("summary");
  const more = make("details", {}, summary, looks);
  return {
    node: make("div", { class: "remarks" }, wrong, more),
    fill(id, findings) {
      const own = findings.filter((each) => isAbout(each, id));
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

// What is not said beside a light or a panel.
export function showFindings(section, node, set) {
  const rows = [
    ...set.lights.map(({ name }) => `light.${name}`),
    ...set.panels.map(({ name }) => `panel.${name}`),
  ];
  const rest = set.findings.filter((each) => !rows.some((id) => isAbout(each, id)));
  section.hidden = rest.length === 0;
  section.setAttribute("aria-busy", `${set.findings_ready === false}`);
  list(node, rest);
}

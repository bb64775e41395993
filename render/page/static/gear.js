// What a light is made of and where it is aimed, as a sentence that opens under its row.

import { blank, choice, number, sentence } from "./blanks.js";
import { placesOf } from "./choices.js";
import { make } from "./make.js";
import { say } from "./notices.js";
import { whole } from "./vectors.js";
import { azimuth, length, readAzimuth, spoken } from "./words.js";

const GRID_DEG = [20, 30, 40, 50, 60]; // fabric grids as sold; common practice, no source
const CLOTHS = [0, 1, 2, 3]; // as the scene file allows
const MOST_GELS = 3;

// node: the row, which tells what is wrong; act: {change, remove, choices}
export function gearOf(node, name, act) {
  const at = `light.${name}.`;
  const label = spoken(name);
  const put = (values) => {
    const keys = Object.entries(values).map(([key, value]) => [at + key, { value }]);
    act.change(Object.fromEntries(keys), true);
  };
  const pick = (words, values) => choice(`${label}, ${words}`, (value) => put(values(value)));
  const own = () => node.set.written?.light?.[name] ?? {};
  // What speaks of the same thing in another way is taken out of the file.
  const without = (...keys) =>
    Object.fromEntries(keys.filter((key) => key in own()).map((key) => [key, null]));

  const flash = pick("flash head", (value) => ({
    flash: value,
    ...without("luminous_energy_lm_s"),
  }));
  const modifier = pick("modifier", (value) => ({ modifier: value, ...without("size_cm") }));
  const cloths = pick("cloths", (value) => ({ diffusers: value }));
  const grid = pick("grid", (value) =>
    typeof value === "number"
      ? { grid_deg: value, ...without("grid") }
      : { grid: value, ...without("grid_deg") },
  );
  const gels = Array.from({ length: MOST_GELS }, (_, i) =>
    pick(`gel ${i + 1}`, (value) => {
      const all = [...gelsOf(own())];
      all.splice(i, 1, ...(value === null ? [] : [value]));
      return { gel: all.length ? all : null };
    }),
  );
  const nd = blank(`${label}, neutral sheet`, {
    read: number,
    accepted: "its optical density such as 0.3, one stop",
    put: (value) => put({ nd: value === 0 ? null : value }),
    say: (sentence) => say(node, sentence),
  });
  const aim = pick("aimed at", (value) => ({ aim: value }));
  const around = pick("measured from", (value) => ({ around: value }));
  const roll = blank(`${label}, turned about its axis`, {
    read: readAzimuth,
    accepted: "degrees such as 90",
    put: (value) => put({ roll_deg: value === 0 ? null : whole(value) }),
    say: (sentence) => say(node, sentence),
  });
  const role = pick("role", (value) => ({ role: value }));
  const measured = make("span", { class: "kept" }, " Measured from ", around, ".");
  const body = make(
    "div",
    { class: "sentence" },
    sentence({}, "Head ", flash, " with ", modifier, ", ", cloths, ", ", grid, "."),
    sentence({}, "Gel ", ...gels.flatMap((each) => [each, " "]), "and neutral sheet ", nd, "."),
    sentence({}, "Aimed at ", aim, ", turned ", roll, " about its axis.", measured),
    sentence({}, "Role: ", role, "."),
    make(
      "button",
      { type: "button", class: "small", onclick: () => act.remove("light", name) },
      `Take the ${label} light away`,
    ),
  );
  const summary = make("summary", {}, "Gear and aim");
  const more = make("details", { class: "gearing", ontoggle: () => fill(node.set) }, summary, body);

  function fill(set) {
    if (!set || !more.open || !set.written) return;
    const light = own();
    flash.show(act.choices.of("light", "flash"), light.flash, (said) => said ?? "its stated light");
    modifier.show(act.choices.of("light", "modifier"), light.modifier, (said) =>
      said === undefined ? "a plain front" : spoken(said),
    );
    cloths.show(
      [
        [null, "cloths as it comes"],
        ...CLOTHS.map((n) => [n, n === 1 ? "1 cloth" : `${n || "no"} cloths`]),
      ],
      light.diffusers,
    );
    grid.show(gridsOf(act), light.grid_deg ?? light.grid);
    const worn = gelsOf(light);
    gels.forEach((each, i) => {
      each.hidden = i > worn.length;
      each.show([[null, i ? "and no other" : "none"], ...act.choices.of("light", "gel")], worn[i]);
    });
    nd.show(`${light.nd ?? 0}`);
    aim.show(placesOf(set, "where it is measured from"), light.aim, (at) =>
      Array.isArray(at) ? `its own place, ${length(at[1], act.unit())} high` : spoken(at),
    );
    around.show(placesOf(set, "the eyes"), light.around);
    measured.hidden = light.azimuth_deg === undefined;
    roll.show(azimuth(light.roll_deg ?? 0));
    role.show([[null, "by its name"], ...act.choices.of("light", "role")], light.role);
  }
  return { node: more, fill };
}

const gelsOf = ({ gel }) => (Array.isArray(gel) ? gel : gel ? [gel] : []);

const gridsOf = (act) => [
  [null, "no grid"],
  ...GRID_DEG.map((deg) => [deg, `grid ${deg}°`]),
  ...act.choices.of("light", "grid"),
];

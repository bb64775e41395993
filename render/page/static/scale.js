// Plan and elevation to scale: room metres to drawing units, and the outlines of what stands there.

// Each view: the room axes that run right and up on the page. Back wall left, camera right, as on
// the printed card; in the plan camera right is up.
export const VIEWS = {
  plan: { name: "plan", title: "From above; camera right is up", seen: [2, 0] },
  side: { name: "side", title: "From the side, seen from camera left", seen: [2, 1] },
};
const UNITS_PER_M = 100;
const MARGIN_M = 0.3; // around a set without a room

export const place = (point, seen) => [UNITS_PER_M * point[seen[0]], -UNITS_PER_M * point[seen[1]]];
export const inRoom = (x, y) => [x / UNITS_PER_M, -y / UNITS_PER_M];

// Lowest and highest place of the room, or of all that stands in a set without one:
// [[x, y, z], [x, y, z]].
export function extent(set) {
  const { room } = set;
  if (room) {
    return [
      [room.left_m, 0, room.back_m],
      [room.left_m + room.width_m, room.height_m, room.back_m + room.depth_m],
    ];
  }
  const all = [
    [0, 0, 0],
    [0, 1, 0],
    ...set.lights.flatMap((light) => [...light.corners, light.centre]),
    ...set.panels.flatMap((panel) => panel.corners),
    ...(set.backdrop?.corners ?? []),
    ...set.elements.flatMap(({ plan, side }) => [
      ...plan.map(([x, z]) => [x, 1, z]),
      ...side.map(([z, y]) => [0, y, z]),
    ]),
  ];
  if (set.camera) all.push([set.camera.x, set.camera.y, set.camera.z + 0.2]);
  return [Math.min, Math.max].map((pick, end) =>
    [0, 1, 2].map((axis) => {
      const most = pick(...all.map((point) => point[axis]));
      return axis === 1 && end === 0 ? Math.min(0, most) : most + (end ? MARGIN_M : -MARGIN_M);
    }),
  );
}

// Convex outline of flat points, counter-clockwise (monotone chain).
export function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const turn = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const half = (list) => {
    const chain = [];
    for (const point of list) {
      while (chain.length > 1 && turn(chain.at(-2), chain.at(-1), point) <= 0) chain.pop();
      chain.push(point);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

export const path = (points, closed = true) =>
  points.length
    ? `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}${closed ? "Z" : ""}`
    : "";

const AIM_M = 0.5; // length of the axis where the place it is aimed at is not known
const STRAIGHT = 0.9998; // cosine: within about a degree

// The place (x, y, z) on a light's axis that it is aimed at.
export function aimOf(light) {
  if (light.aim_at) return light.aim_at;
  const around = light.placed?.around_at;
  if (around) {
    const way = around.map((x, i) => x - light.centre[i]);
    const size = Math.hypot(...way);
    if (way.reduce((sum, x, i) => sum + x * light.axis[i], 0) > STRAIGHT * size) return around;
  }
  return along(light.centre, light.axis, AIM_M);
}

const along = (point, way, much) => point.map((x, i) => x + much * way[i]);

// A light's housing behind its front: narrower at the back, as deep as a third of its size.
export function housing(light) {
  const back = along(light.centre, light.axis, -depth(light));
  const rear = light.corners.map((corner) =>
    corner.map((x, i) => back[i] + 0.28 * (x - light.centre[i])),
  );
  return [...light.corners, ...rear];
}

function depth(light) {
  const sizes = light.corners.map((corner) =>
    Math.hypot(...corner.map((x, i) => x - light.centre[i])),
  );
  return 0.12 + 0.45 * Math.max(...sizes);
}

// Whether one looks into the front: from above along -y, from camera left along +x.
export const lookedInto = (light, view) =>
  (view.name === "plan" ? light.axis[1] : -light.axis[0]) > 0.02;

// Camera body and lens as seen in a view; the lens ends at the entrance pupil.
export function camera(cam, view) {
  const at = [cam.x, cam.y, cam.z];
  const way = at.map((x, i) => x - cam.target[i]);
  const size = Math.hypot(...way);
  const back = way.map((x) => x / size);
  const [a, b] = view.seen;
  const side = [-back[b], back[a]];
  return [
    [0, 0.1, 0.07],
    [0.1, 0.24, 0.11],
  ].map(([from, to, width]) =>
    // [m], from memory
    [
      [from, 1],
      [from, -1],
      [to, -1],
      [to, 1],
    ].map(([reach, sign]) => {
      const on = along(at, back, reach);
      return [
        UNITS_PER_M * (on[a] + (sign * width * side[0]) / 2),
        -UNITS_PER_M * (on[b] + (sign * width * side[1]) / 2),
      ];
    }),
  );
}

// The two edges of the picture, from the lens past the frame at the sitter to a depth of the room.
export function edges(cam, view, untilZ) {
  const at = [cam.x, cam.y, cam.z];
  const reached = cam.frame.map((corner) => {
    const share = (untilZ - at[2]) / (corner[2] - at[2]);
    return place(
      at.map((x, i) => x + share * (corner[i] - x)),
      view.seen,
    );
  });
  const sorted = [...reached].sort((p, q) => p[1] - q[1]);
  const middle = (p, q) => [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const lens = place(at, view.seen);
  return [
    [lens, middle(sorted[0], sorted[1])],
    [lens, middle(sorted[2], sorted[3])],
  ];
}

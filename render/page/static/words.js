// How numbers are written: stops and tenths, dial marks, lengths in metres or in feet and inches.

const FIRST_MARK = -6;
const MARKS = [
  "0.125",
  "0.18",
  "0.25",
  "0.35",
  "0.5",
  "0.7",
  "1",
  "1.4",
  "2",
  "2.8",
  "4",
  "5.6",
  "8",
  "11",
  "16",
  "22",
  "32",
  "45",
  "64",
  "90",
  "128",
  "180",
  "256",
]; // ISO 517 marks of whole stops; mark k stands for 2^(k/2)
const INCH_M = 0.0254; // exact
const CLICK_TOLERANCE = 1e-6;

// Python rounds a half to the even neighbour; the same here, so that both write the same tenth.
function roundEven(x) {
  const low = Math.floor(x);
  if (x - low !== 0.5) return Math.round(x);
  return low % 2 === 0 ? low : low + 1;
}

function split(tenths) {
  const whole = Math.floor(tenths / 10);
  return [whole, tenths - 10 * whole];
}

export function fNumber(n) {
  if (!Number.isFinite(n) || n <= 0) return "–";
  const [mark, tenths] = split(roundEven(20 * Math.log2(n)));
  const index = mark - FIRST_MARK;
  const shown =
    index >= 0 && index < MARKS.length
      ? MARKS[index]
      : `${Number((2 ** (mark / 2)).toPrecision(2))}`;
  return `f/${shown} +0.${tenths}`;
}

// The camera's ring: the nearest third, as engraved.
export function ring(n) {
  return Number.isInteger(n) ? `${n}` : `${Number(n.toFixed(1))}`;
}

export function dial(below, step) {
  const tenths = 10 * below;
  const plain =
    step &&
    (Math.abs(10 * step - Math.round(10 * step)) < CLICK_TOLERANCE ||
      Math.abs(tenths - Math.round(tenths)) < CLICK_TOLERANCE);
  if (plain) {
    const [whole, part] = split(roundEven(tenths));
    return `1/${2 ** -whole}` + (part ? ` +0.${part}` : "");
  }
  const whole = Math.floor(below + 0.005);
  const part = Math.round(100 * (below - whole)) / 100;
  return `1/${2 ** -whole}` + (part > 0 ? ` +${part.toFixed(2)}` : "");
}

// "1/8 +0.5", "1/8 - 0.3", "1/8", "-3.5": stops below full; null for anything else.
export function readDial(text) {
  const said = text.replaceAll("−", "-").trim();
  const found = /^1\s*\/\s*(\d+)\s*(?:([+-])\s*(\d*\.?\d+))?$/.exec(said);
  if (found) {
    const share = Number(found[1]);
    const part = found[3] ? Number(found[3]) * (found[2] === "-" ? -1 : 1) : 0;
    return share > 0 ? part - Math.log2(share) : null;
  }
  return /^-?\d*\.?\d+$/.test(said) && Number(said) <= 0 ? Number(said) : null;
}

// "8", "5.6 +0.3", "f/8": what the scene file takes as an f-number; null for anything else.
export function readStop(text) {
  const said = text
    .trim()
    .replaceAll(",", ".")
    .replace(/^f\s*\//i, "")
    .trim();
  if (/^\d*\.?\d+$/.test(said) && Number(said) > 0)
    return MARKS.includes(said) ? said : Number(said);
  return /^\d*\.?\d+\s*\+\s*0?\.\d$/.test(said) ? said : null;
}

export function signed(stops, digits = 1) {
  const shown = Math.abs(stops).toFixed(digits);
  if (Number(shown) === 0) return shown;
  return (stops < 0 ? "−" : "+") + shown;
}

export function length(metres, unit) {
  if (unit !== "ft") return `${signedMinus(metres.toFixed(2))} m`;
  const inches = Math.round(Math.abs(metres) / INCH_M);
  const [feet, rest] = [Math.floor(inches / 12), inches % 12];
  return `${metres < 0 && inches ? "−" : ""}${feet}′ ${rest}″`;
}

const signedMinus = (text) => text.replace("-", "−");

// "1.2", "1.2 m", "120 cm", "4' 3", "4 ft 3 in", "51 in": metres; null for anything else.
export function readLength(text, unit) {
  const said = text
    .trim()
    .toLowerCase()
    .replaceAll("−", "-")
    .replaceAll(",", ".")
    .replaceAll("′", "'")
    .replaceAll("″", '"')
    .replace(/''/g, '"');
  const metric = /^(-?\d*\.?\d+)\s*(m|cm)?$/.exec(said);
  if (metric && (metric[2] || unit !== "ft"))
    return Number(metric[1]) * (metric[2] === "cm" ? 0.01 : 1);
  const feet = /^(-)?(?:(\d*\.?\d+)\s*(?:'|ft|feet)?)?\s*(?:(\d*\.?\d+)\s*(?:"|in|inches)?)?$/.exec(
    said,
  );
  if (!feet || (feet[2] === undefined && feet[3] === undefined)) return null;
  const inchesOnly = /^-?\d*\.?\d+\s*("|in|inches)$/.test(said);
  const inches = inchesOnly
    ? Number.parseFloat(said.replace("-", ""))
    : 12 * Number(feet[2] ?? 0) + Number(feet[3] ?? 0);
  return (feet[1] ? -1 : 1) * inches * INCH_M;
}

// A length to one of two sides, "0.95 m left"; the first side is negative.
export const showSided = (metres, unit, less, more) =>
  `${length(Math.abs(metres), unit)} ${metres < 0 ? less : more}`;

export function readSided(text, unit, less, more) {
  const said = text.trim().toLowerCase();
  const side = [less, more].find((word) => said.endsWith(word));
  const metres = readLength(side ? said.slice(0, -side.length) : said, unit);
  if (metres === null || !side) return metres;
  return side === less ? -Math.abs(metres) : Math.abs(metres);
}

export function azimuth(degrees) {
  const size = Math.abs(Math.round(degrees * 10) / 10);
  if (size === 0 || size === 180) return `${size}°`;
  return `${size}° ${degrees < 0 ? "left" : "right"}`;
}

// "45 left", "-45", "45° right": degrees, camera left negative; null for anything else.
export function readAzimuth(text) {
  const said = text.trim().toLowerCase().replaceAll("−", "-").replace("°", " ");
  const found = /^([+-]?\d*\.?\d+)\s*(?:camera)?\s*(left|right|l|r)?$/.exec(said);
  if (!found) return null;
  const value = Number(found[1]);
  return found[2]?.startsWith("l") ? -Math.abs(value) : value;
}

export function readDegrees(text) {
  const found = /^([+-]?\d*\.?\d+)\s*°?\s*(up|down)?$/.exec(
    text.trim().toLowerCase().replaceAll("−", "-"),
  );
  if (!found) return null;
  return found[2] === "down" ? -Math.abs(Number(found[1])) : Number(found[1]);
}

export const elevation = (degrees) =>
  `${Math.abs(Math.round(degrees * 10) / 10)}°${degrees < 0 ? " down" : " up"}`;

export const spoken = (name) => name.replaceAll("_", " ");

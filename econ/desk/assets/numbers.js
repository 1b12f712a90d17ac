// Numbers as people type and paste them, and values as they are shown in a field.
//
//   read("1,250")   {ask: [1250, 1.25]} where it can mean both, {value}, {} for nothing, {wrong}
//   240k and 1.2 million are read where the unit is money; of 1.2m it is asked
//
// A file is never touched by the separators of whoever reads it: only what is shown is.

const PARTS = new Intl.NumberFormat(navigator.languages).formatToParts(1234567.8);
const part = (type, otherwise) => PARTS.find((each) => each.type === type)?.value ?? otherwise;
export const DECIMAL = part("decimal", ".");
const GROUP = part("group", ",");

const shown = new Intl.NumberFormat(navigator.languages, { maximumSignificantDigits: 15 });

export function show(value) {
  if (typeof value !== "number") return "";
  const small = value !== 0 && Math.abs(value) < 1e-6;
  return small ? String(value) : shown.format(value);
}

// Sizes as every hand writes them: 8 1/2, 12-1/4, 9 and the sign of 5/8.
const SIZE = /^(?:(\d+)(?:\s+|\s*-\s*))?(\d{1,2})\s*\/\s*(2|4|8|16|32|64)$/;
function sizeOf(text, alone) {
  const [, whole, over, under] = SIZE.exec(text) ?? [];
  if (under === undefined || Number(over) >= Number(under) || (whole === undefined && !alone)) return null;
  return Number(whole ?? 0) + over / under;
}
const SIGNS = /[\u00bc-\u00be\u215b-\u215e]/g;
const spelt = (text) => String(text).replace(SIGNS, (sign) => ` ${sign.normalize("NFKD").replace("\u2044", "/")}`).trim();

// What stands before the unit of a field, or behind its money.
const UNITS = {
  in: ["inches", "inch", "in", "''", '"'], ft: ["feet", "foot", "ft", "'"], m: ["metres", "meters", "m"],
  h: ["hours", "hour", "hrs", "hr", "h"], d: ["days", "day", "d"], degrees: ["degrees", "degree", "deg", "\u00b0"],
  "lb/gal": ["lb/gal", "ppg"], lb: ["lbs", "lb"],
};
const MONEY = /^[A-Z]{3}(\/|$)/;
function withoutUnit(text, unit = "") {
  const [money, per] = unit.split("/");
  if (MONEY.test(unit)) {
    const signs = money.endsWith("D") ? `${money}|\\$` : money;
    return text.replace(per ? /\s*(\/|per |a )\s*(d|day)$/i : "", "").replace(new RegExp(`^(${signs})|(${signs})$`, "i"), "").trim();
  }
  const plain = text.replace(/\.$/, "").toLowerCase();
  const name = unit && (UNITS[unit] ?? [unit]).find((each) => plain.endsWith(each));
  return name ? text.slice(0, plain.length - name.length).trim() : text;
}

// comma: "decimal" or "thousands" where that is known, as for a column of a paste; inPercent: the
// number itself counts in percent, so that 10 % is 10; unit: of the field, which may be typed too;
// inRange: the text may be a range, so that 1/2 is none of these sizes.
export function read(text, { comma, inPercent, unit, inRange } = {}) {
  const alone = withoutUnit(spelt(text), unit);
  const [, some, word] = (MONEY.test(unit ?? "") && /^(.*\d)\s*(k|thousand|mm|mn|million|m)$/i.exec(alone)) || [];
  if (word) {
    const { value, ask = [value] } = read(some, { comma });
    if (ask[0] === undefined) return { wrong: true };
    const sizes = { k: [1e3], thousand: [1e3], m: [1e6, 1e3] }[word.toLowerCase()] ?? [1e6]; // M is a thousand to some
    const values = ask.flatMap((each) => sizes.map((times) => Number((each * times).toPrecision(12))));
    return values.length > 1 ? { ask: values } : { value: values[0] };
  }
  const size = sizeOf(alone, !inRange);
  if (size !== null) return { value: size };
  if (alone === "" && String(text).trim() !== "") return { wrong: true };
  let plain = alone.replace(/[\s\u00a0\u202f'\u2019_]/g, "").replace(/^\u2212/, "-");
  const percent = plain.endsWith("%");
  if (percent) plain = plain.slice(0, -1);
  if (plain === "") return {};
  const found = readPlain(plain, comma);
  if (percent && !inPercent && "value" in found) return { value: Number((found.value / 100).toPrecision(12)) };
  return found;
}

function readPlain(plain, comma) {
  const dots = plain.split(".").length - 1;
  const commas = plain.split(",").length - 1;
  const number = (words) => (/^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(words) ? { value: Number(words) } : { wrong: true });
  const grouped = (mark) => new RegExp(`^[+-]?\\d{1,3}(\\${mark}\\d{3})+$`).test(plain);
  if (dots && commas) {
    const decimal = plain.lastIndexOf(",") > plain.lastIndexOf(".") ? "," : ".";
    const other = decimal === "," ? "." : ",";
    return number(plain.split(other).join("").replace(decimal, "."));
  }
  if (commas) {
    if (commas > 1) return grouped(",") ? number(plain.split(",").join("")) : { wrong: true };
    const small = number(plain.replace(",", "."));
    if (comma === "decimal" || !grouped(",")) return small;
    const large = number(plain.replace(",", ""));
    if (comma === "thousands") return large;
    if (GROUP === "," && DECIMAL === "." && comma !== "ask") return large;
    return { ask: [large.value, small.value] };
  }
  if (dots > 1) return grouped(".") ? number(plain.split(".").join("")) : { wrong: true };
  if (dots === 1 && grouped(".") && DECIMAL === "," && comma !== "decimal-point") {
    return { ask: [number(plain.replace(".", "")).value, number(plain).value] };
  }
  return number(plain);
}

// A range in a cell: 20 / 24 / 34 is low, likely and high; 20 / 34 low and high.
export function readAmount(text, options) {
  const alone = withoutUnit(spelt(text), options?.unit);
  const pieces = alone.split("/");
  if (pieces.length === 1 || sizeOf(alone, false) !== null) return read(text, { ...options, inRange: true });
  if (pieces.length > 3) return { wrong: true };
  const found = pieces.map((piece) => read(piece, options));
  if (found.some((each) => !("value" in each))) return found.find((each) => each.ask) ?? { wrong: true };
  const values = found.map((each) => each.value);
  return { value: values.length === 2 ? { low: values[0], high: values[1] } : { low: values[0], likely: values[1], high: values[2] } };
}

export function showAmount(value) {
  if (typeof value === "number") return show(value);
  if (value === null || value === undefined) return "";
  const names = Object.keys(value).sort().join(" ");
  if (names === "high low") return [value.low, value.high].map(show).join(" / ");
  if (names === "high likely low") return [value.low, value.likely, value.high].map(show).join(" / ");
  return null; // a form that a cell does not show
}

// Rows of a spreadsheet: tabs between cells, a cell in quotes may hold line ends.
export function rowsOf(text) {
  const rows = [[]];
  let cell = "";
  let quoted = false;
  for (let at = 0; at < text.length; at += 1) {
    const sign = text[at];
    if (quoted) {
      if (sign === '"' && text[at + 1] === '"') {
        cell += '"';
        at += 1;
      } else if (sign === '"') quoted = false;
      else cell += sign;
    } else if (sign === '"' && cell === "") quoted = true;
    else if (sign === "\t" || sign === "\n") {
      rows[rows.length - 1].push(cell.trim());
      cell = "";
      if (sign === "\n") rows.push([]);
    } else if (sign !== "\r") cell += sign;
  }
  rows[rows.length - 1].push(cell.trim());
  return rows.filter((row) => row.some((each) => each !== ""));
}

// What a comma is in the cells of a paste: "decimal", "thousands", or "ask" where both can be.
export function commaOf(cells) {
  const commas = cells.filter((cell) => /^[+-]?[\d.\s]*,[\d,]*\d%?$/.test(cell));
  if (!commas.length) return "decimal";
  if (commas.some((cell) => cell.split(",").length > 2 || /,\d{3}\./.test(cell))) return "thousands";
  if (commas.some((cell) => !/^[+-]?\d{1,3},\d{3}$/.test(cell))) return "decimal";
  return "ask";
}

// Elements, numbers and amounts for every view. Text reaches the page as text only: nothing here,
// and nothing that uses it, ever makes an element out of a text.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, parts, children) {
  for (const [name, value] of Object.entries(parts ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") {
      for (const [event, act] of Object.entries(value)) node.addEventListener(event, act);
    } else {
      node.setAttribute(name, value === true ? "" : String(value));
    }
  }
  node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return node;
}

// An HTML element: attributes by name, `on` its listeners, then its children, texts among them.
export function el(tag, parts, ...children) {
  return fill(document.createElement(tag), parts, children);
}

// The same of a drawing.
export function drawn(tag, parts, ...children) {
  return fill(document.createElementNS(SVG, tag), parts, children);
}

export function button(words, act, parts) {
  return el("button", { type: "button", ...parts, on: { click: act } }, words);
}

let serial = 0;
export function newId(stem) {
  serial += 1;
  return `${stem}-${serial}`;
}

// A field with its name, what it means, and what is wrong with it.
export function field(words, control, hint) {
  const id = control.id || newId("field");
  control.id = id;
  const parts = [el("label", { for: id }, words), control];
  if (hint) {
    const told = newId("hint");
    control.setAttribute("aria-describedby", told);
    parts.push(el("p", { class: "hint", id: told }, hint));
  }
  return el("div", { class: "field" }, parts);
}

export function choice(options, chosen, parts) {
  return el("select", parts, options.map(([value, words]) =>
    el("option", { value, selected: String(value) === String(chosen) }, words)));
}

// ---- numbers in the separators of whoever reads ------------------------------------------------

const kept = new Map();
function format(options) {
  const key = JSON.stringify(options);
  if (!kept.has(key)) kept.set(key, new Intl.NumberFormat(navigator.languages, options));
  return kept.get(key);
}

export function number(value, decimals = 0) {
  if (value === null || value === undefined) return "-";
  return format({ minimumFractionDigits: decimals, maximumFractionDigits: decimals }).format(value);
}

// Three digits, the last of them with a word for its size, as in every report.
const SIZES = ["", "thousand", "million", "billion", "trillion"];
export function money(value) {
  if (value === null || value === undefined) return "-";
  let size = Math.abs(Number(value.toPrecision(3)));
  let power = 0;
  while (size >= 1000 && power < SIZES.length - 1) {
    size /= 1000;
    power += 1;
  }
  const decimals = power === 0 || size >= 100 ? 0 : size < 10 ? 2 : 1;
  return `${number(value / 1000 ** power, decimals)} ${SIZES[power]}`.trim();
}

export function percent(value) {
  if (value === null || value === undefined) return "-";
  const shown = 100 * value;
  if (value > 0 && shown < 0.5) return `${number(shown, 1)}\u00a0%`;
  return `${number(shown)}\u00a0%`;
}

export function moment(text) {
  const when = new Date(text);
  if (Number.isNaN(when.getTime())) return text;
  const options = { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" };
  // The hour stands as it is in the file, in whatever zone this machine is.
  return new Intl.DateTimeFormat(navigator.languages, { ...options, timeZone: "UTC" })
    .format(new Date(`${text.slice(0, 16)}Z`));
}

// A table from rows of cells; numbers: places of columns that hold numbers.
export function table(heads, rows, { caption, numbers = [] } = {}) {
  const kind = (place) => (numbers.includes(place) ? "number" : null);
  return el("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": caption },
    el("table", {},
      caption ? el("caption", {}, caption) : null,
      el("thead", {}, el("tr", {}, heads.map((head, place) =>
        el("th", { scope: "col", class: kind(place) }, head)))),
      el("tbody", {}, rows.map((row) => el("tr", {}, row.map((cell, place) =>
        place === 0
          ? el("th", { scope: "row", class: kind(place) }, cell)
          : el("td", { class: kind(place) }, cell)))))));
}

// What is wrong, beside what it is wrong with.
export function faultList(faults, head) {
  return el("div", { class: "faults", role: "alert" },
    el("p", {}, head),
    el("ul", {}, faults.map((fault) => el("li", {}, fault.text))));
}

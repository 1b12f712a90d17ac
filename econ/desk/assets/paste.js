// A paste from a spreadsheet into a list: what was read is shown before anything is put in, and what
// a comma is in it is asked where it can mean two things.
//
//   pasting({row, columns, count, put})   node; read(text, place, column); panel()
//   columns: fields of the layout; count(): rows that are there; put(place, rows) does it;
//   warn(columns): what to say of those that were given

import { hold, readTable } from "./fields.js";
import { button, el } from "./page.js";
import { commaOf, read, readAmount, rowsOf } from "./numbers.js";

const LETTERS = ["text", "choice"];
// Other names of a column. A forecast may be of what is to come or of the whole, and is none of these.
const ALSO = { "afe.line[].original": ["budget"], "afe.line[].spent": ["actual", "actuals"] };
const TOTAL = /^(grand |sub-?)?totals?:?$/i; // a row that counts others twice

// The key of a column inside its row, such as odds.recovered.
export const inRow = (meta) => meta.key.split("[].").slice(1).join(".").replace(/\.\*$/, "");

export function pasting({ row, columns, count, put, warn = () => "", atCell = true, again = "Take back, above, takes them out again." }) {
  const said = el("div", { class: "paste", role: "status" });
  // Rows that are read and not put in yet are held as what is typed and cannot be taken is.
  const holder = { node: said, name: "Rows that were pasted", words: "put them in, or leave them.", focus: () => said.querySelector("button")?.focus() };

  function show(...nodes) {
    said.replaceChildren(...nodes);
    hold(holder, false);
  }

  function ask(...nodes) {
    show(...nodes);
    hold(holder, true);
    holder.focus();
  }

  function panel(text = "") {
    const box = el("textarea", { rows: 6, "aria-label": "Rows from a spreadsheet, tabs between cells", spellcheck: "false" });
    box.value = text;
    show(el("p", {}, `Paste the rows here, with the names of the columns as their first row${atCell ? ", or in the order of this table" : `: ${columns.map((meta) => meta.label).join(", ")}`}.`), box,
      button("Read them", () => readPaste(box.value, count() + 1, 0), { class: "first" }), button("Leave it", () => show()));
    box.focus();
  }

  function readPaste(text, place, column) {
    const cells = rowsOf(text);
    if (!cells.length) {
      show(el("p", {}, "There are no rows in it."));
      return;
    }
    const named = byNames(cells[0]);
    const into = named ?? cells[0].map((_, n) => columns[column + n] ?? null);
    const heads = named || headed(cells, into) ? cells[0] : null;
    const rest = heads ? cells.slice(1) : cells;
    const numbers = rest.flatMap((cell) => cell.filter((_, n) => into[n] && !LETTERS.includes(into[n].kind))).map(bare);
    const comma = commaOf(numbers);
    if (comma !== "ask") {
      offer(rest, into, heads, place, comma);
      return;
    }
    const example = numbers.find((cell) => /^[+-]?\d{1,3},\d{3}$/.test(cell));
    const plain = example.replace(",", "");
    ask(el("p", {}, `What is ${example} in these rows?`),
      button(`${plain}: the comma parts thousands`, () => offer(rest, into, heads, place, "thousands")),
      button(`${example.replace(",", ".")}: it is a decimal comma`, () => offer(rest, into, heads, place, "decimal")),
      button("Leave it", () => show()));
  }

  // Columns by a first row of names; nothing where it is a row like the others.
  function byNames(cells) {
    const plain = (words) => words.toLowerCase().replace(/[^a-z0-9]+/g, "");
    const found = cells.map((cell) => columns.find((meta) => [meta.label, inRow(meta), ...(ALSO[meta.key] ?? [])].some((words) => plain(words) === plain(cell.replace(/\(.*\)|\[.*\]/g, "")))) ?? null);
    return found.filter(Boolean).length >= Math.max(1, Math.ceil(cells.filter(Boolean).length / 2)) ? found : null;
  }

  // Whether a first row of other names stands over rows of numbers: it is no row itself.
  function headed([first, ...rest], into) {
    const counts = into.flatMap((meta, n) => (["amount", "number"].includes(meta?.kind) ? [n] : []));
    const digit = (line) => counts.some((n) => /\d/.test(line[n] ?? ""));
    return counts.some((n) => first[n]) && !digit(first) && rest.some(digit);
  }

  function offer(given, into, heads, place, comma) {
    const wrong = [];
    const cells = given.filter((line) => !line.some((cell) => TOTAL.test(cell)));
    const totals = given.length - cells.length;
    const found = cells.map((line, n) => {
      const made = {};
      line.forEach((cell, at) => {
        const meta = into[at];
        if (!meta || cell === "") return;
        const told = readCell(meta, cell, { comma });
        if ("value" in told) keep(made, inRow(meta).split("."), told.value);
        else wrong.push(`row ${n + 1}, ${meta.label}: ${cell}`);
      });
      return made;
    });
    const over = Math.max(0, Math.min(found.length, count() - place + 1));
    const called = (meta, n) => (!heads?.[n] || heads[n] === meta.label ? meta.label : `${meta.label} (from ${heads[n]})`);
    const names = into.flatMap((meta, n) => (meta ? [called(meta, n)] : [])).join(", ");
    const left = into.flatMap((meta, n) => (meta ? [] : [heads?.[n] || `column ${n + 1}`]));
    const go = button("Put them in", async () => {
      go.disabled = true;
      hold(holder, false); // or a list would not take them
      const done = await put(place, found);
      const over = el("p", {}, done.done ? `${found.length} row${found.length === 1 ? " was" : "s were"} put in. ${again}` : "They were not put in.");
      show(over);
      const forget = () => over.remove(); // with whatever is done next
      for (const event of ["change", "click"]) document.addEventListener(event, forget, { once: true, capture: true });
    }, { class: "first" });
    ask(
      el("p", {}, `${found.length} row${found.length === 1 ? "" : "s"} of ${names}` +
        `${over ? `; ${over} of them over those from ${row.toLowerCase()} ${place} on` : ""}${left.length ? `; no place here for ${left.join(", ")}: give a column its name in this table to have it read` : ""}.`),
      el("p", {}, warn(into.filter(Boolean))),
      totals ? el("p", {}, `${totals === 1 ? "A row of totals is" : `${totals} rows of totals are`} left out, as the sum of others; add it by hand if it is none.`) : "",
      wrong.length ? el("p", { class: "wrong" }, `Not read: ${wrong.slice(0, 5).join("; ")}${wrong.length > 5 ? ` and ${wrong.length - 5} more` : ""}.`) : "",
      go, button("Leave it", () => show()));
  }

  return { node: said, read: readPaste, panel };
}

// A number without the sign of its money.
const bare = (cell) => cell.trim().replace(/^([+-]?)\s*[$\u20ac\u00a3]\s*/, "$1");

export function readCell(meta, given, options) {
  const text = LETTERS.includes(meta.kind) ? given : bare(given);
  if (text.trim() === "") return { value: undefined };
  if (meta.key.endsWith(".*")) {
    const value = readTable(meta, text);
    return value === null ? { wrong: true } : { value };
  }
  switch (meta.kind) {
    case "amount": return readAmount(text, options);
    case "number": {
      const found = read(text, options);
      // A share of partners: 37.5, 37.5 % and 0.375 are the same.
      return meta.key === "partner[].interest" && found.value > 1 ? { value: Number((found.value / 100).toPrecision(12)) } : found;
    }
    case "whole": {
      const found = read(text, options);
      return "value" in found ? { value: Math.round(found.value) } : found;
    }
    case "flag": {
      const word = text.trim().toLowerCase();
      if (["yes", "y", "true", "1", "x"].includes(word)) return { value: true };
      return ["no", "n", "false", "0", "-"].includes(word) ? { value: false } : { wrong: true };
    }
    case "numbers": {
      const words = text.split(/[\s,;]+/).filter(Boolean);
      return words.every((each) => /^\d+$/.test(each)) ? { value: words.map(Number) } : { wrong: true };
    }
    case "day": return { value: { date: text.trim() } };
    case "words": return { value: text.split(/[\s,;]+/).filter(Boolean) };
    default: return { value: text };
  }
}

function keep(row, steps, value) {
  let place = row;
  for (const step of steps.slice(0, -1)) place = place[step] ??= {};
  place[steps[steps.length - 1]] = value;
}

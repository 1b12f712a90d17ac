// A list as a table whose cells are fields, and that takes a paste from a spreadsheet.
//
// A range stands in a cell as low / likely / high, or low / high. A paste begins at the cell that
// has the focus, or by the names of its first row; before anything is put in, it is shown what was
// read, and what a comma is in it is asked where it can mean two things.

import { button, choice, el, newId } from "./page.js";
import { unitOf } from "./fields.js";
import { commaOf, read, readAmount, rowsOf, show, showAmount } from "./numbers.js";

const LETTERS = ["text", "choice"];

export function grid({ name, row, columns, change, paste, add, out, move }) {
  const heads = columns.map((meta) => ({ meta, unit: el("span", { class: "unit" }) }));
  const body = el("tbody", {});
  const said = el("div", { class: "paste", role: "status" });
  const table = el("table", { class: "grid" },
    el("caption", {}, name),
    el("thead", {}, el("tr", {}, el("th", { scope: "col" }, row), heads.map(({ meta, unit }) => el("th", { scope: "col" }, meta.label, " ", unit)), el("td", {}))), body);
  const ask = button("Paste rows", () => panel(""), { class: "add" });
  const node = el("div", {}, el("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": name }, table), said,
    el("div", { class: "adding" }, button(`Add a ${row.toLowerCase()}`, async () => {
      const done = await add();
      if (done.done) body.lastElementChild?.querySelector("input")?.focus();
    }, { class: "add" }), ask));
  let rows = [];
  let values = [];

  table.addEventListener("paste", (event) => {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (!/[\t\n]/.test(text.trim())) return; // one cell, as in any field
    event.preventDefault();
    const cell = event.target.closest("[data-place]");
    readPaste(text, cell ? Number(cell.dataset.place) : values.length + 1, cell ? Number(cell.dataset.column) : 0);
  });

  // ---- a paste ----------------------------------------------------------------------------------

  function panel(text) {
    const box = el("textarea", { rows: 6, "aria-label": "Rows from a spreadsheet, tabs between cells", spellcheck: "false" });
    box.value = text;
    said.replaceChildren(el("p", {}, "Paste the rows here, with the names of the columns as their first row, or in the order of this table."), box,
      button("Read them", () => readPaste(box.value, values.length + 1, 0), { class: "first" }), button("Leave it", () => said.replaceChildren()));
    box.focus();
  }

  function readPaste(text, place, column) {
    const cells = rowsOf(text);
    if (!cells.length) {
      said.replaceChildren(el("p", {}, "There are no rows in it."));
      return;
    }
    const named = byNames(cells[0]);
    const into = named ?? cells[0].map((_, n) => columns[column + n] ?? null);
    const rest = named ? cells.slice(1) : cells;
    const numbers = rest.flatMap((cell) => cell.filter((_, n) => into[n] && !LETTERS.includes(into[n].kind)));
    const comma = commaOf(numbers);
    if (comma !== "ask") {
      offer(rest, into, place, comma);
      return;
    }
    const example = numbers.find((cell) => /^[+-]?\d{1,3},\d{3}$/.test(cell));
    const plain = example.replace(",", "");
    said.replaceChildren(el("p", {}, `What is ${example} in these rows?`),
      button(`${plain}: the comma parts thousands`, () => offer(rest, into, place, "thousands")),
      button(`${example.replace(",", ".")}: it is a decimal comma`, () => offer(rest, into, place, "decimal")),
      button("Leave it", () => said.replaceChildren()));
    said.querySelector("button").focus();
  }

  // Columns by a first row of names; nothing where it is a row like the others.
  function byNames(cells) {
    const plain = (words) => words.toLowerCase().replace(/[^a-z0-9]+/g, "");
    const found = cells.map((cell) => columns.find((meta) => [meta.label, meta.key.split("[].")[1]].some((words) => plain(words) === plain(cell.replace(/\(.*\)|\[.*\]/g, "")))) ?? null);
    return found.filter(Boolean).length >= Math.max(1, Math.ceil(cells.filter(Boolean).length / 2)) ? found : null;
  }

  function offer(cells, into, place, comma) {
    const wrong = [];
    const found = cells.map((row_, n) => {
      const values_ = {};
      row_.forEach((cell, at) => {
        const meta = into[at];
        if (!meta || cell === "") return;
        const read_ = readCell(meta, cell, { comma });
        if ("value" in read_) values_[meta.key.split("[].")[1]] = read_.value;
        else wrong.push(`row ${n + 1}, ${meta.label}: ${cell}`);
      });
      return values_;
    });
    const over = Math.max(0, Math.min(found.length, values.length - place + 1));
    const names = into.filter(Boolean).map((meta) => meta.label).join(", ");
    const left = into.filter((meta) => !meta).length;
    const put = button("Put them in", async () => {
      put.disabled = true;
      const done = await paste(place, found);
      said.replaceChildren(el("p", {}, done.done ? `${found.length} rows were put in. Take back, above, takes them out again.` : "They were not put in."));
    }, { class: "first" });
    said.replaceChildren(
      el("p", {}, `${found.length} row${found.length === 1 ? "" : "s"} of ${names}` +
        `${over ? `; ${over} of them over those from ${row.toLowerCase()} ${place} on` : ""}${left ? `; ${left} column${left === 1 ? " has" : "s have"} no place here` : ""}.`),
      wrong.length ? el("p", { class: "wrong" }, `Not read: ${wrong.slice(0, 5).join("; ")}${wrong.length > 5 ? ` and ${wrong.length - 5} more` : ""}.`) : "",
      put, button("Leave it", () => said.replaceChildren()));
    put.focus();
  }

  // ---- cells --------------------------------------------------------------------------------------

  function readCell(meta, text, options) {
    if (text.trim() === "") return { value: undefined };
    switch (meta.kind) {
      case "amount": return readAmount(text, options);
      case "number": return read(text, options);
      case "whole": {
        const found = read(text, options);
        return "value" in found ? { value: Math.round(found.value) } : found;
      }
      case "flag": {
        const word = text.trim().toLowerCase();
        if (["yes", "y", "true", "1", "x"].includes(word)) return { value: true };
        return ["no", "n", "false", "0", "-"].includes(word) ? { value: false } : { wrong: true };
      }
      case "words": return { value: text.split(/[\s,;]+/).filter(Boolean) };
      default: return { value: text };
    }
  }

  function shown(meta, value) {
    if (value === undefined || value === null) return "";
    if (meta.kind === "amount") return showAmount(value) ?? JSON.stringify(value);
    if (meta.kind === "number" || meta.kind === "whole") return show(value);
    if (meta.kind === "flag") return value ? "yes" : "no";
    return Array.isArray(value) ? value.join(", ") : String(value);
  }

  function makeRow(place) {
    const cells = columns.map((meta, column) => {
      const wrong = el("p", { class: "wrong", id: newId("wrong") });
      const parts = { "data-place": place, "data-column": column, "aria-label": `${meta.label}, ${row.toLowerCase()} ${place}`, "aria-describedby": wrong.id, autocomplete: "off", spellcheck: "false" };
      const input = meta.kind === "flag"
        ? choice([["", ""], ["yes", "yes"], ["no", "no"]], "", parts)
        : el("input", { type: "text", inputmode: LETTERS.includes(meta.kind) ? null : "text", ...parts });
      const cell = { meta, input, wrong, dirty: false };
      input.addEventListener("input", () => { cell.dirty = true; });
      input.addEventListener("change", () => take(cell, place));
      input.addEventListener("keydown", (event) => step(event, place, column));
      cell.node = el("td", { class: `c-${meta.kind}`, "data-key": "" }, input, wrong);
      return cell;
    });
    const acts = el("td", {}, el("div", { class: "acts" },
      button("\u2191", () => place > 1 && move(place, place - 1), { class: "small", "aria-label": `${row} ${place} up` }),
      button("\u2193", () => place < values.length && move(place, place + 1), { class: "small", "aria-label": `${row} ${place} down` }),
      button("Take out", () => out(place), { class: "small", "aria-label": `Take ${row.toLowerCase()} ${place} out` })));
    return { cells, node: el("tr", {}, el("th", { scope: "row" }, String(place)), cells.map((cell) => cell.node), acts) };
  }

  function take(cell, place) {
    const found = readCell(cell.meta, cell.input.value, {});
    if (found.ask) {
      cell.wrong.replaceChildren(`Is it `, ...found.ask.flatMap((value, n) => [n ? " or " : "", button(String(value), () => { cell.dirty = false; change(place, cell.meta, value); }, { class: "small" })]), "?");
      return;
    }
    if (!("value" in found) && cell.input.value.trim() !== "") {
      cell.wrong.textContent = `"${cell.input.value}" cannot be read.`;
      cell.input.setAttribute("aria-invalid", "true");
      return;
    }
    cell.dirty = false;
    change(place, cell.meta, found.value);
  }

  function step(event, place, column) {
    const to = { ArrowUp: place - 1, ArrowDown: place + 1, Enter: place + 1 }[event.key];
    if (to === undefined || event.target.tagName === "SELECT") return;
    const next = body.querySelector(`[data-place="${to}"][data-column="${column}"]`);
    if (!next) return;
    event.preventDefault();
    next.focus();
  }

  return {
    node,
    show(fresh, state) {
      values = fresh;
      for (const { meta, unit } of heads) unit.textContent = unitOf(meta, state);
      while (rows.length > fresh.length) rows.pop().node.remove();
      while (rows.length < fresh.length) {
        rows.push(makeRow(rows.length + 1));
        body.append(rows[rows.length - 1].node);
      }
      rows.forEach(({ cells, node: line }, n) => {
        let planned = 0;
        for (const cell of cells) {
          const key = cell.meta.key.split("[].")[1];
          cell.node.dataset.key = `${cell.meta.key.split("[].")[0]}.${n + 1}.${key}`;
          const value = fresh[n][key];
          const written = cell.meta.kind === "amount" && value !== undefined && typeof value === "object" && showAmount(value) === null;
          cell.input.readOnly = written;
          if (!(cell.dirty && document.activeElement === cell.input)) {
            cell.input.value = shown(cell.meta, value);
            cell.dirty = false;
          }
          const faults = state.faults(n + 1, cell.meta);
          cell.wrong.textContent = faults.map((fault) => fault.text).join(" ");
          if (faults.length) cell.input.setAttribute("aria-invalid", "true");
          else cell.input.removeAttribute("aria-invalid");
          if (state.remark(n + 1, cell.meta).startsWith("REPLACE")) planned += 1;
        }
        line.classList.toggle("is-planned", planned > 0);
      });
    },
  };
}

// A list as a table whose cells are fields, and that takes a paste from a spreadsheet.
//
// A range stands in a cell as low / likely / high, or low / high. A paste begins at the cell that
// has the focus, or by the names of its first row; see paste.js.

import { button, choice, el, newId } from "./page.js";
import { held, heldBack, hold, leaveWords, showTable, unitOf } from "./fields.js";
import { show, showAmount } from "./numbers.js";
import { inRow, pasting, readCell } from "./paste.js";

// Shares that a table shows in percent, whatever the file has: a part of 1, or of 100.
const INTEREST = "partner[].interest";
const LETTERS = ["text", "choice"];

export function grid({ name, row, columns, change, paste, add, out, move, again }) {
  const heads = columns.map((meta) => ({ meta, unit: el("span", { class: "unit" }) }));
  const body = el("tbody", {});
  const pasted = pasting({ row, columns, count: () => values.length, put: paste, again });
  const table = el("table", { class: "grid" },
    el("caption", {}, name),
    el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "No."), heads.map(({ meta, unit }) => el("th", { scope: "col" }, meta.label, " ", unit)), el("td", {}))), body);
  const ask = button("Paste rows", () => pasted.panel(), { class: "add" });
  const node = el("div", {}, el("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": name }, table), pasted.node,
    el("div", { class: "adding" }, button(`Add a ${row.toLowerCase()}`, async () => {
      said.textContent = heldBack(pasted.node); // rows that wait to be put in have their places
      if (said.textContent) return;
      const done = await add();
      if (!done.done) return;
      body.lastElementChild?.querySelector("input")?.focus();
      body.lastElementChild?.querySelector("input")?.select();
    }, { class: "add" }), ask));
  const said = el("p", { class: "wrong", role: "status" });
  const whole = el("p", { class: "wrong", role: "status" }); // of the table, not of one cell
  node.append(said, whole);
  let rows = [];
  let values = [];
  let units = {};
  const inHundred = () => values.some((each) => each.interest > 1);

  table.addEventListener("paste", (event) => {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    if (!/[\t\n]/.test(text.trim())) return; // one cell, as in any field
    event.preventDefault();
    const cell = event.target.closest("[data-place]");
    pasted.read(text, cell ? Number(cell.dataset.place) : values.length + 1, cell ? Number(cell.dataset.column) : 0);
  });

  // ---- cells --------------------------------------------------------------------------------------

  function shown(meta, value) {
    if (value === undefined || value === null) return "";
    if (meta.key.endsWith(".*")) return showTable(value) ?? JSON.stringify(value);
    if (meta.kind === "day") return value.date ?? "";
    if (meta.key === INTEREST) return `${show(Number((inHundred() ? value : 100 * value).toPrecision(12)))} %`;
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
      cell.note = el("p", { class: "note" });
      cell.node = el("td", { class: `c-${meta.kind}`, "data-key": "" }, input, wrong, cell.note);
      cell.name = `${row} ${place}: ${meta.label}`;
      cell.focus = () => input.focus();
      return cell;
    });
    const acts = el("td", {}, el("div", { class: "acts" },
      button("\u2191", () => place > 1 && free() && move(place, place - 1), { class: "small", "aria-label": `${row} ${place} up` }),
      button("\u2193", () => place < values.length && free() && move(place, place + 1), { class: "small", "aria-label": `${row} ${place} down` }),
      button("Take out", () => free() && out(place), { class: "small", "aria-label": `Take ${row.toLowerCase()} ${place} out` })));
    return { cells, node: el("tr", {}, el("th", { scope: "row" }, String(place)), cells.map((cell) => cell.node), acts) };
  }

  // Rows stay where they are while something is typed in one that is not taken.
  function free() {
    said.textContent = heldBack(node);
    return said.textContent === "";
  }

  function take(cell, place) {
    const found = readCell(cell.meta, cell.input.value, { unit: unitOf(cell.meta, units) });
    if (found.ask) {
      say(cell, place, `${cell.input.value} can be read in two ways:`, ...found.ask.flatMap((value, n) => [n ? " or " : "", button(String(value), () => taken(cell, place, value), { class: "small" })]));
      return;
    }
    if (!("value" in found) && cell.input.value.trim() !== "") {
      const unit = unitOf(cell.meta, units);
      say(cell, place, `"${cell.input.value}" cannot be read.${["amount", "number"].includes(cell.meta.kind) ? ` Write the number alone${unit ? `, in ${unit}` : ""}.` : ""}${cell.meta.kind === "amount" ? " A range is low / likely / high." : ""}`);
      return;
    }
    taken(cell, place, found.value);
  }

  function taken(cell, place, value) {
    say(cell, place, "");
    const part = cell.meta.key === INTEREST && value !== undefined && inHundred();
    change(place, cell.meta, part ? Number((100 * value).toPrecision(12)) : value);
  }

  // What cannot be taken as it is typed is held until it can, or is left.
  function say(cell, place, words, ...more) {
    cell.words = words;
    cell.dirty = words !== "";
    cell.wrong.replaceChildren(...(words ? [words, " ", ...more, " ", button(leaveWords(values[place - 1]?.[inRow(cell.meta)]), () => {
      say(cell, place, "");
      cell.input.value = shown(cell.meta, values[place - 1]?.[inRow(cell.meta)]);
    }, { class: "small" })] : []));
    if (words) cell.input.setAttribute("aria-invalid", "true");
    else cell.input.removeAttribute("aria-invalid");
    hold(cell, words !== "");
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
      if (!held(node).length) said.textContent = ""; // what was to be finished first is
      values = fresh;
      units = state;
      for (const { meta, unit } of heads) unit.textContent = meta.key === INTEREST ? "%" : unitOf(meta, state);
      whole.textContent = (state.whole ?? []).map((fault) => fault.words).join(" ");
      while (rows.length > fresh.length) {
        const { cells, node: last } = rows.pop();
        last.remove();
        for (const cell of cells) hold(cell, false);
      }
      while (rows.length < fresh.length) {
        rows.push(makeRow(rows.length + 1));
        body.append(rows[rows.length - 1].node);
      }
      rows.forEach(({ cells, node: line }, n) => {
        let planned = 0;
        for (const cell of cells) {
          const key = inRow(cell.meta);
          cell.node.dataset.key = `${cell.meta.key.split("[].")[0]}.${n + 1}.${key}`;
          const value = fresh[n][key];
          const written = cell.meta.kind === "amount" && value !== undefined && typeof value === "object" && showAmount(value) === null;
          cell.input.readOnly = written;
          if (cell.words) continue;
          if (!(cell.dirty && document.activeElement === cell.input)) {
            cell.input.value = shown(cell.meta, value);
            cell.dirty = false;
          }
          const faults = state.faults(n + 1, cell.meta);
          cell.wrong.textContent = faults.map((fault) => fault.words).join(" ");
          cell.note.textContent = state.notes(n + 1, cell.meta).map((note) => note.text).join(" ");
          if (faults.length) cell.input.setAttribute("aria-invalid", "true");
          else cell.input.removeAttribute("aria-invalid");
          if (state.remark(n + 1, cell.meta).startsWith("REPLACE")) planned += 1;
        }
        line.classList.toggle("is-planned", planned > 0);
      });
    },
  };
}

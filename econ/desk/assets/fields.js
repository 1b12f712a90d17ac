// Fields of a form: one for every kind of key, each with its unit, its meaning on demand, what is
// wrong with it, and the mark of a planning value.
//
// A field is made with what it is about and `change(changes)`, and has
//   node            its element
//   show(state)     state: {value, faults, notes, remark, units, currency}; never over what is typed
//   key             its key path, items from 1, as `econ check` writes it
//
// What is typed and cannot go into the file as it stands, such as a range without its upper end, is
// held in the field until it is finished or left: see held.

import { button, choice, el, newId } from "./page.js";
import { read, readAmount, show, showAmount } from "./numbers.js";

export const MARK = "REPLACE";

// What is typed somewhere and is not in the file: {node, name, words, focus()} each.
const holders = new Set();
export const held = (root) => [...holders].filter((each) => root?.contains(each.node));
export function hold(holder, is) {
  if (holders.has(holder) === is && !is) return;
  if (is) holders.add(holder);
  else holders.delete(holder);
  document.dispatchEvent(new Event("held"));
}
// Out of a field that holds what cannot be taken: back to what the file has, if it has anything.
export const leaveWords = (value) => (value === undefined || value === null ? "Leave it empty" : "Leave it as it was");

// Why a row or a table cannot be changed as a whole now; empty where it can.
export function heldBack(root) {
  const [first] = held(root);
  if (first) first.focus();
  return first ? `Finish what is begun here first: ${first.name}.` : "";
}

const FORMS = [
  ["number", "One number", []],
  ["likely", "Low, likely, high", ["low", "likely", "high"]],
  ["even", "Low to high", ["low", "high"]],
  ["percentiles", "P10, P50, P90", ["p10", "p50", "p90"]],
  ["mean", "Mean and cases", ["mean", "weight"]],
  ["spread", "Mean and deviation", ["mean", "sd"]],
  ["factor", "Median and factor", ["median", "factor"]],
];
const NAMES = {
  low: "Low", likely: "Likely", high: "High", p10: "P10", p50: "P50", p90: "P90", mean: "Mean",
  weight: "Cases", sd: "Deviation", median: "Median", factor: "Factor",
};

function formOf(value) {
  if (value === null || value === undefined || typeof value === "number") return "number";
  if (typeof value !== "object") return null;
  const names = Object.keys(value).sort().join(" ");
  if (value.shape && value.shape !== "pert") return null;
  const found = FORMS.find(([, , parts]) => [...parts].sort().join(" ") === names);
  return found && parts(value) ? found[0] : null;
}
const parts = (value) => Object.values(value).every((each) => typeof each === "number");

export function unitOf(meta, state) {
  if (!meta.unit) return "";
  const unit = meta.unit[state.units === "metric" ? "metric" : "field"];
  return { fraction: "0 to 1", count: "", ratio: "", degrees: "degrees" }[unit] ??
    unit.replace("currency", state.currency || "money");
}

function defaultOf(meta, state) {
  const foreign = meta.dimension?.startsWith("money") && !["USD", "", undefined].includes(state.currency);
  if (meta.planned && foreign && !state.dollar) return null; // it is in dollars
  const planned = meta.planned?.[state.units === "metric" ? "metric" : "field"];
  if (planned !== undefined && planned !== null) {
    const middle = middleOf(planned) ?? planned;
    const factor = meta.dimension?.startsWith("money") ? (foreign ? state.dollar : 1) * (state.factor ?? 1) : 1;
    return Number((middle * factor).toPrecision(3));
  }
  const value = meta.default;
  if (value === null || value === undefined || value === "") return null;
  return typeof value === "object" ? value[state.units === "metric" ? "metric" : "field"] : value;
}

// Other units that a hand may write, and how many of the unit of the field one of them is.
const OTHERS = { mm: ["in", 25.4], in: ["mm", 1 / 25.4], m: ["ft", 0.3048], ft: ["m", 1 / 0.3048], "kg/m3": ["lb/gal", 119.826], "lb/gal": ["kg/m3", 1 / 119.826] };

// A key path as steps that a name with a dot in it survives.
const stepsOf = (key) => (Array.isArray(key) ? key : key.split("."));

export function makeField(meta, key, change) {
  const kinds = {
    amount: AmountField, number: NumberField, whole: NumberField, text: TextField, flag: FlagField,
    choice: ChoiceField, day: DateField, moment: DateField, words: WordsField, numbers: WordsField,
    days: WordsField, pairs: PairsField,
  };
  const kind = meta.key.endsWith(".*") && !Array.isArray(key) ? TableField : kinds[meta.kind] ?? TextField;
  return new kind(meta, key, change);
}

class Field {
  constructor(meta, key, change) {
    this.meta = meta;
    this.steps = stepsOf(key);
    this.key = this.steps.join(".");
    this.change = change;
    this.state = {};
    this.id = newId("f");
    this.unit = el("span", { class: "unit", id: `${this.id}-unit` });
    this.note = el("p", { class: "note", id: `${this.id}-note` });
    this.mark = el("p", { class: "planned", hidden: true });
    this.wrong = el("p", { class: "wrong", id: `${this.id}-wrong`, role: "status" });
    this.about = el("details", { class: "about" });
    this.label = el("label", { for: this.id }, meta.label, " ", this.unit, meta.needed ? el("span", { class: "needed" }, "needed") : null);
    this.control = this.build();
    this.node = el("div", { class: `field k-${meta.kind}`, "data-key": this.key }, this.label, this.control, this.wrong, this.note, this.mark, this.about);
  }

  get name() {
    const row = this.key.match(/\.(\d+)\./);
    return row ? `${this.meta.label}, ${row[1]}` : this.meta.label;
  }

  focus() {
    for (let outer = this.node.closest("details:not([open])"); outer; outer = outer.parentElement?.closest("details:not([open])")) outer.open = true;
    this.controls()[0]?.focus();
  }

  // What a screen reader says with a control: its unit, and what is wrong.
  told(more) {
    return { "aria-describedby": `${this.id}-unit ${this.id}-wrong ${this.id}-note`, autocomplete: "off", spellcheck: "false", ...more };
  }

  set(value) {
    this.complain("");
    const made = value === undefined ? { op: "unset", key: this.steps } : { op: "set", key: this.steps, value };
    return this.change([made]).then((done) => {
      if (!done.done) this.complain(`Not done: ${(done.error?.told?.faults ?? []).map((fault) => fault.words ?? fault.text).join(" ") || done.error?.message}`);
      return done;
    });
  }

  // Say why what is typed is not taken, and hold it; with no words it is taken.
  complain(words, ...more) {
    this.words = words;
    this.own = words !== "";
    this.wrong.replaceChildren(...(this.own ? [words, " ", ...more, " ",
      button(leaveWords(this.state.value), () => this.leave(), { class: "small", "aria-label": leaveWords(this.state.value).replace("it", this.meta.label) })] : []));
    this.invalid(this.own);
    hold(this, this.own);
  }

  leave() {
    this.dirty = false;
    this.complain("");
    this.show(this.state);
  }

  invalid(is) {
    for (const each of this.controls()) {
      if (is) each.setAttribute("aria-invalid", "true");
      else each.removeAttribute("aria-invalid");
    }
  }

  controls() {
    return this.node.querySelectorAll("input, select, textarea");
  }

  busy() {
    return this.own || (this.node.contains(document.activeElement) && this.dirty);
  }

  show(state) {
    this.state = state;
    this.unit.textContent = unitOf(this.meta, state);
    if (!this.busy()) this.fill(state.value, state);
    if (!this.own) {
      this.wrong.textContent = (state.faults ?? []).map((fault) => fault.words).join(" ");
      this.invalid(Boolean(state.faults?.length));
    }
    this.note.textContent = [this.taken?.value === state.value && this.taken?.words, (this.meta.kind !== "moment" || state.value === undefined) && this.meta.beside, ...(state.notes ?? []).map((note) => note.text)].filter(Boolean).join(" ");
    const planned = (state.remark ?? "").startsWith(MARK);
    this.node.classList.toggle("is-planned", planned);
    this.mark.hidden = !planned;
    if (planned && !this.mark.firstChild) {
      this.mark.replaceChildren("Planning value, not looked at. ",
        button("Keep it", () => this.change([{ op: "keep", key: this.steps }]), { class: "small", "aria-label": `Keep the planning value of ${this.meta.label}` }));
    }
    if (!planned) this.mark.replaceChildren();
    this.explain(state);
  }

  explain(state) {
    const told = [this.meta.meaning];
    if (this.meta.range) told.push(`Allowed: ${this.meta.range}${state.units === "metric" && this.meta.unit.field !== this.meta.unit.metric ? " (in field units)" : ""}.`);
    const planned = defaultOf(this.meta, state);
    if (this.meta.required) told.push("It must be given.");
    else if (this.meta.planned) told.push(`Left out, it is planned with${typeof planned === "number" ? ` ${show(planned)}` : ""}: judgement, no source.`);
    else if (planned !== null) told.push(`Left out, ${typeof planned === "boolean" ? (planned ? "yes" : "no") : typeof planned === "number" ? show(planned) : planned}.`);
    const remark = (state.remark ?? "").replace(new RegExp(`^${MARK}:? ?`), "");
    if (remark) told.push(`In the file: ${remark}`);
    else if (state.value !== undefined) told.push("The file says nothing of where it is from.");
    const key = `${told.join("|")}${this.key}`;
    if (this.explained === key) return;
    this.explained = key;
    this.about.replaceChildren(el("summary", { "aria-label": `About ${this.meta.label}` }, "about"),
      ...told.map((words) => el("p", {}, words)), el("p", { class: "key" }, this.key));
  }

  get reading() {
    return { unit: unitOf(this.meta, this.state), inPercent: this.meta.key === "afe.trigger_percent" };
  }

  noNumber(text) {
    const { unit } = this.reading;
    const such = this.meta.dimension?.startsWith("money") ? "26000 or 26,000" : this.meta.dimension === "fraction" ? "0.25 or 25 %" : "1250, 8.5 or 8 1/2";
    this.complain(`"${text}" cannot be read. Write the number alone${unit && unit !== "0 to 1" ? `, in ${unit}` : ""}, such as ${such}.`);
  }

  // What was made of what was typed, where it is written in another way.
  say(text, value) {
    this.taken = value !== undefined && /[/\u00bc-\u00be\u215b-\u215ea-z"$]/i.test(text) ? { value, words: `"${text}" is read as ${show(value)}.` } : null;
  }

  // A typed number, or a question where it can mean two.
  number(text, took) {
    const found = read(text, this.reading);
    this.say(text, found.value);
    const { unit } = this.reading;
    const [other, times] = OTHERS[unit] ?? [];
    const foreign = found.wrong && other ? read(text, { unit: other }).value : undefined;
    if (foreign !== undefined) {
      const here = Number((foreign * times).toPrecision(5));
      this.complain(`"${text}" is in ${other}, and this file counts in ${unit}:`, button(`${show(here)} ${unit}`, () => took(here), { class: "small" }));
    } else if (found.wrong) this.noNumber(text);
    else if (found.ask) this.question(text, found.ask, took);
    else took(this.meta.kind === "whole" && found.value !== undefined ? Math.round(found.value) : found.value);
  }

  question(text, values, took) {
    this.complain(`${text} can be read in two ways:`, ...values.flatMap((value, n) => [
      n ? " or " : "", button(String(value), () => took(value), { class: "small" }),
    ]));
  }
}

class NumberField extends Field {
  build() {
    this.input = el("input", this.told({ id: this.id, type: "text", inputmode: "decimal" }));
    this.input.addEventListener("input", () => { this.dirty = true; });
    this.input.addEventListener("change", () => this.take());
    return this.input;
  }

  take() {
    this.dirty = false;
    this.number(this.input.value, (value) => {
      this.input.value = value === undefined ? "" : show(value);
      this.set(value);
    });
  }

  fill(value, state) {
    this.input.value = show(value);
    const planned = defaultOf(this.meta, state);
    this.input.placeholder = planned === null || value !== undefined ? "" : show(planned);
  }
}

class AmountField extends Field {
  build() {
    this.form = choice(FORMS.map(([id, words]) => [id, words]), "number", { class: "form-of", "aria-label": `${this.meta.label}: a number or a range` });
    this.form.addEventListener("change", () => this.reform());
    this.slots = el("span", { class: "slots" });
    this.layOut("number");
    return el("div", { class: "amount", role: "group", "aria-label": this.meta.label }, this.slots, this.form);
  }

  layOut(form) {
    if (this.formNow === form) return;
    this.formNow = form;
    const names = FORMS.find(([id]) => id === form)?.[2] ?? [];
    const slot = (name, n) => {
      const input = el("input", this.told({
        id: n === 0 ? this.id : null, type: "text", inputmode: "decimal", "data-part": name,
        "aria-label": name ? `${this.meta.label}, ${NAMES[name]}` : null, placeholder: name ? NAMES[name] : "",
      }));
      input.addEventListener("input", () => { this.dirty = true; });
      input.addEventListener("change", () => this.take());
      return input;
    };
    this.slots.replaceChildren(...(form === null
      ? [el("code", { class: "written", tabindex: "0", id: this.id })]
      : names.length ? names.map(slot) : [slot("", 0)]));
    this.slots.className = `slots n${Math.max(1, names.length)}`;
  }

  inputs() {
    return [...this.slots.querySelectorAll("input")];
  }

  // Another form keeps what the two have in common; what is new in it is for the user to write.
  reform() {
    const form = this.form.value;
    const { value } = this.state;
    if (form === formOf(value)) return this.leave();
    this.layOut(form);
    const known = typeof value === "number" ? { "": value, likely: value, p50: value, median: value, mean: value }
      : { ...value, "": value?.likely ?? value?.p50 ?? value?.median ?? value?.mean };
    for (const input of this.inputs()) input.value = show(known[input.dataset.part]);
    this.dirty = true;
    this.take();
  }

  take() {
    const found = this.inputs().map((input) => [input.dataset.part, read(input.value, this.reading), input]);
    const bad = found.find(([, each]) => each.wrong || each.ask);
    if (bad?.[1].wrong) return this.noNumber(bad[2].value);
    if (found.length === 1) this.say(found[0][2].value, found[0][1].value);
    if (bad) return this.question(bad[2].value, bad[1].ask, (value) => { bad[2].value = String(value).replace(".", show(0.5)[1]); this.take(); });
    const missing = found.filter(([, each]) => each.value === undefined).map(([name]) => NAMES[name]?.toLowerCase());
    const cleared = missing.length === found.length && this.formNow === formOf(this.state.value);
    if (missing.length && !cleared) {
      const until = this.state.value === undefined ? "" : ` Until then it is ${inWords(this.state.value)} as before.`;
      return this.complain(found.length === 1 ? `Not finished: write the number.${until}` : `A range that is begun: write ${missing.join(" and ")}.${until}`);
    }
    this.dirty = false;
    if (missing.length) return this.set(undefined);
    if (found.length === 1) return this.set(found[0][1].value);
    const value = Object.fromEntries(found.map(([name, each]) => [name, each.value]));
    if (this.formNow === "likely" && this.state.value?.shape) value.shape = this.state.value.shape;
    return this.set(value);
  }

  fill(value, state) {
    const form = formOf(value);
    this.layOut(form);
    this.form.value = form ?? "";
    if (form === null) {
      this.slots.firstChild.textContent = JSON.stringify(value);
      return;
    }
    const planned = defaultOf(this.meta, state);
    for (const input of this.inputs()) {
      input.value = input.dataset.part ? show(value[input.dataset.part]) : show(value);
      if (!input.dataset.part) input.placeholder = planned === null || value !== undefined ? "" : show(planned);
    }
  }
}

function inWords(value) {
  if (typeof value !== "object") return show(value);
  return Object.entries(value).filter(([, each]) => typeof each === "number").map(([name, each]) => `${NAMES[name]?.toLowerCase() ?? name} ${show(each)}`).join(", ");
}

export function middleOf(value) {
  if (typeof value === "number") return value;
  if (!value || typeof value !== "object") return null;
  const found = value.likely ?? value.p50 ?? value.median ?? value.mean;
  if (typeof found === "number") return found;
  return typeof value.low === "number" && typeof value.high === "number" ? (value.low + value.high) / 2 : null;
}

class TextField extends Field {
  build() {
    this.input = el("input", this.told({ id: this.id, type: "text", maxlength: this.meta.longest ?? null }));
    this.input.addEventListener("input", () => { this.dirty = true; });
    this.input.addEventListener("change", () => {
      this.dirty = false;
      this.set(this.input.value === "" ? undefined : this.input.value);
    });
    return this.input;
  }

  fill(value) {
    this.input.value = value ?? "";
    this.input.placeholder = value === undefined && this.meta.default ? String(this.meta.default) : "";
  }
}

class FlagField extends Field {
  build() {
    // What may be in the fish and nobody has told is shown as such: the program takes it for a no.
    this.untold = this.meta.key.startsWith("fish.") && this.meta.default === false;
    const open = this.untold || this.meta.default === null || this.meta.default === undefined;
    const words = this.untold ? "Not told, counted as no" : "Not told";
    this.select = choice([...(open ? [["", words]] : []), ["true", "Yes"], ["false", "No"]], "", this.told({ id: this.id }));
    this.select.addEventListener("change", () => this.set(this.select.value === "" ? undefined : this.select.value === "true"));
    return this.select;
  }

  fill(value) {
    this.select.value = String(value ?? (this.untold ? "" : this.meta.default) ?? "");
  }
}

class ChoiceField extends Field {
  build() {
    const otherwise = this.meta.choices.find(([word]) => word === this.meta.default)?.[1];
    const first = this.meta.required ? [] : [["", otherwise ? `${otherwise}, if not told` : "Not told"]];
    this.select = choice([...first, ...this.meta.choices], "", this.told({ id: this.id }));
    this.select.addEventListener("change", () => this.set(this.select.value === "" ? undefined : this.select.value));
    return this.select;
  }

  fill(value) {
    if (value !== undefined && ![...this.select.options].some((each) => each.value === value)) {
      this.select.append(el("option", { value }, `${value} (in the file)`));
    }
    this.select.value = value ?? "";
  }
}

class DateField extends Field {
  build() {
    this.input = el("input", this.told({ id: this.id, type: this.meta.kind === "day" ? "date" : "datetime-local" }));
    // A browser says "change" at every digit of a year, so what is typed is taken when it is done.
    this.input.addEventListener("input", () => { this.dirty = true; });
    this.input.addEventListener("blur", () => this.take());
    this.input.addEventListener("keydown", (event) => event.key === "Enter" && this.take());
    if (this.meta.key !== "job.decided_at") return this.input;
    const now = () => {
      const here = new Date(Date.now() - 60000 * new Date().getTimezoneOffset());
      this.input.value = here.toISOString().slice(0, 16);
      this.dirty = true;
      this.take();
    };
    return el("div", { class: "amount now" }, this.input, button("Now", now, { class: "small", "aria-label": `${this.meta.label}: now` }));
  }

  take() {
    if (!this.dirty) return;
    this.dirty = false;
    this.set(this.input.value === "" ? undefined : { date: this.input.value });
  }

  fill(value) {
    const text = value?.date ?? "";
    const plain = this.meta.kind === "day" ? /^\d{4}-\d\d-\d\d$/ : /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?$/;
    const day = /^\d{4}-\d\d-\d\d$/.test(text) && this.input.type === "datetime-local";
    if (text && !plain.test(text) && !day) this.input.type = "text"; // with a zone, as it is written
    this.input.value = day ? `${text}T00:00` : text;
  }
}

class WordsField extends TextField {
  build() {
    const input = super.build();
    if (this.meta.choices) input.placeholder = this.meta.choices.map(([word]) => word).slice(0, 3).join(", ");
    return input;
  }

  set(value) {
    if (value === undefined) return super.set(undefined);
    const words = value.split(/[\s,;]+/).filter(Boolean);
    if (this.meta.kind === "days") return super.set(words.map((date) => ({ date })));
    if (this.meta.kind !== "numbers") return super.set(words);
    if (words.some((each) => !/^\d+$/.test(each))) return this.complain("Numbers of runs, such as 1 2.");
    return super.set(words.map(Number));
  }

  fill(value) {
    this.input.value = Array.isArray(value) ? value.map((each) => each?.date ?? each).join(", ") : "";
    if (this.meta.kind === "days") this.input.placeholder = "2026-12-25, 2026-12-26";
  }
}

class PairsField extends TextField {
  set(value) {
    if (value === undefined) return super.set(undefined);
    const pairs = value.split(";").map((each) => each.split("/").map((end) => read(end)));
    if (pairs.some((pair) => pair.length !== 2 || pair.some((end) => !("value" in end)))) {
      return this.complain("Top / bottom; top / bottom, such as 5200 / 6900; 7400 / 9200.");
    }
    return super.set(pairs.map((pair) => pair.map((end) => end.value)));
  }

  fill(value) {
    this.input.value = Array.isArray(value) ? value.map((pair) => pair.map(show).join(" / ")).join("; ") : "";
    this.input.placeholder = "top / bottom; top / bottom";
  }
}

// Amounts by name in one line: washed = 4; made_1 = 0.5
class TableField extends TextField {
  set(value) {
    if (value === undefined) return super.set(undefined);
    const found = readTable(this.meta, value);
    return found === null ? this.complain(`Name = ${this.meta.kind === "text" ? "words" : "number"}; name = ..., such as ${this.meta.kind === "text" ? "rates.rig = contract 12" : "washed = 4"}.`) : super.set(found);
  }

  fill(value) {
    const shown = showTable(value);
    this.input.readOnly = shown === null;
    this.input.value = shown ?? JSON.stringify(value);
  }
}

export function readTable(meta, text) {
  const found = {};
  for (const each of text.split(";").filter((words) => words.trim())) {
    const at = each.indexOf("=");
    const name = each.slice(0, Math.max(0, at)).trim();
    const words = each.slice(at + 1).trim();
    const read = meta.kind === "text" ? { value: words } : readAmount(words);
    if (!name || !("value" in read) || read.value === undefined || words === "") return null;
    found[name] = read.value;
  }
  return found;
}

export function showTable(value) {
  const rows = Object.entries(value ?? {});
  const words = (each) => (typeof each === "string" ? each : showAmount(each));
  if (rows.some(([, each]) => words(each) === null || String(words(each)).includes(";"))) return null;
  return rows.map(([name, each]) => `${name} = ${words(each)}`).join("; ");
}

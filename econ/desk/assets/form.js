// The whole scenario as a form, in the order of the trade.
//
// The layout comes from the desk; a field is made when its section is opened, and is filled anew
// after every change, except where somebody is typing. Rows of a list have fields of their own, and
// lists that are tables take a paste from a spreadsheet.

import { button, choice, el, money, percent, table } from "./page.js";
import { MARK, held, heldBack, makeField, middleOf, showTable, unitOf } from "./fields.js";
import { grid } from "./grid.js";
import { show, showAmount } from "./numbers.js";
import { inRow, pasting } from "./paste.js";

let desk = null;
const at = { sections: [], layout: null };

export async function mount(root, given) {
  desk = given;
  at.root = root;
  at.head = el("div", { class: "form-head" });
  at.body = el("div", { class: "form" });
  root.replaceChildren(el("h2", {}, "The job"), at.head, at.body);
  try {
    at.layout = await desk.ask("GET", "/api/layout");
  } catch (error) {
    at.body.replaceChildren(el("p", { class: "refusal", role: "alert" }, `The form could not be laid out: ${error.message}.`));
    return;
  }
  at.sections = at.layout.sections.map((layout) => new Section(layout));
  at.body.replaceChildren(...at.sections.map((section) => section.node));
  const open = (sessionStorage.getItem("desk-form") ?? "job").split(" ");
  for (const section of at.sections) section.node.open = open.includes(section.layout.id);
  update(desk);
}

const change = (changes) => desk.change(changes);

export function update(given) {
  desk = given;
  if (!at.layout || !desk.job) return;
  const key = `${desk.job.hash} ${desk.job.faults.length} ${held(at.root).map((each) => each.words)}`;
  if (at.shown === key) return;
  at.shown = key;
  at.values = desk.job.values ?? {};
  at.none = desk.job.values === null;
  at.body.hidden = at.none;
  at.faults = [...desk.job.faults];
  for (const section of at.sections) section.update();
  head();
}

// ---- what is to be put right, and what was never looked at ---------------------------------------

function head() {
  const planned = plannedIn(() => true);
  const begun = held(at.root);
  const count = at.faults.length + begun.length;
  const parts = [];
  if (at.none) {
    parts.push(el("p", { class: "refusal" }, "The text of the file cannot be read as it stands; put it right in a text editor: "), ...at.faults.map(faultLine));
  } else if (count) {
    parts.push(el("section", { class: "faults", "aria-label": "To put right" },
      el("p", {}, `${count} thing${count === 1 ? "" : "s"} to put right:`),
      el("ul", {}, at.faults.map(faultLine), begun.map((each) => el("li", {}, button(`${each.key ? wordsOf(each.key) : each.name}: ${each.words}`, () => each.focus(), { class: "link" }))))));
  }
  if (planned.length) parts.push(planning(planned));
  const open = [["afe.line", "Lines of the AFE"], ["partner", "Partners"]].filter(([list]) => !at.none && !valueAt(list.split("."))?.length);
  if (open.length) {
    parts.push(el("p", { class: "hint" }, "A supplement needs besides: ", open.map(([list, words], n) => [n ? " and " : "", button(words, () => goTo(list), { class: "link" })]), ". The memo needs neither. Memo and supplement are made under Papers, once the job is saved."));
  }
  at.head.replaceChildren(...parts);
}

// What was planned, by what each moves the expected cost; ranked when it is unfolded, and on demand.
function planning(keys) {
  const was = at.planning?.open ?? false;
  const ranked = at.swings;
  const entries = grouped(keys).map(([key, words]) => ({ key, words, swing: ranked ? swingOf(key, ranked.swings) : 0 }));
  entries.sort((one, other) => other.swing - one.swing);
  const now = ranked?.input === desk.job.input;
  const said = at.ranking ? "Ranking them by what each moves." : !desk.sound && !now ? "They are ranked by what each moves once the job can be answered."
    : !ranked ? ""
    : `The first move the expected cost most: each is turned by itself, a range between its P10 and P90, a number by a quarter, a chance by 0.15 to each side, by few draws. Those without an amount move less than few draws can tell, or are no amounts.${now ? "" : " Ranked before your last changes."}`;
  at.planning = el("details", { class: "planning", open: was },
    el("summary", {}, `${entries.length} planning value${entries.length === 1 ? "" : "s"} that nobody has looked at`),
    el("p", { class: "hint" }, "Judgement, no source: of a simple job, on land or offshore as the head of the file says. Go to one to replace it, or keep it there."),
    el("p", { class: "hint", role: "status" }, said, ranked && !now && !at.ranking && desk.sound ? [" ", button("Rank them again", rank, { class: "small" })] : ""),
    listed(keys, entries.slice(0, FIRST)),
    entries.length > FIRST ? el("details", {}, el("summary", {}, `The other ${entries.length - FIRST}`), listed(keys, entries.slice(FIRST))) : null);
  at.planning.addEventListener("toggle", () => at.planning.open && !at.swings && rank());
  return at.planning;
}

const FIRST = 12;
const listed = (keys, entries) => table(["Planning value", "Now", "Moves", ""], entries.map(({ key, words, swing }) => [
  button(words, () => goTo(key), { class: "link" }), valueShown(key), swing ? money(swing) : "",
  button("Keep it", () => change(keys.filter((each) => each === key || each.startsWith(`${key}.`)).map((each) => ({ op: "keep", key: each }))), { class: "small", "aria-label": `Keep ${words}` }),
]), { numbers: [2] });

const swingOf = (key, swings) => Math.max(0, ...Object.entries(swings).filter(([each]) => each === key || each.startsWith(`${key}.`)).map(([, swing]) => swing));

function valueShown(key) {
  const value = valueAt(key.split("."));
  const told = value === null || typeof value === "object" ? showAmount(value) ?? showTable(value) ?? "" : typeof value === "number" ? show(value) : String(value ?? "");
  const { meta } = metaOf(key) ?? {};
  const unit = told && meta?.unit && meta.unit.field !== "fraction" ? unitOf(meta, at.values) : "";
  return `${told} ${unit}`.trim();
}

async function rank() {
  if (at.ranking || !desk.sound) return;
  at.ranking = true;
  head();
  try {
    at.swings = await desk.ask("POST", "/api/weights");
  } catch {
    // said by what is then missing; the list is there, unranked
  }
  at.ranking = false;
  head();
}

// Keys that bear the mark, of those asked for.
const plannedIn = (has) => Object.entries(desk.job.remarks ?? {}).filter(([key, words]) => words.startsWith(MARK) && has(key)).map(([key]) => key);

// The odds of a run are one entry.
function grouped(keys) {
  const found = new Map();
  for (const key of keys) {
    const odds = key.match(/^run\.(\d+)\.odds/);
    found.set(odds ? odds[0] : key, odds ? `Run ${odds[1]}: how it may end` : wordsOf(key));
  }
  return [...found];
}

function faultLine(fault) {
  const words = fault.text;
  return el("li", {}, fault.key && !at.none ? button(words, () => goTo(fault.key), { class: "link" }) : words);
}

// What is known of a key, and of the section that it is in.
function metaOf(key) {
  const free = key.replace(/\.\d+(?=\.)/g, "[]");
  for (const { layout } of at.sections) {
    for (const meta of [...layout.fields, ...layout.more]) {
      if (meta.key === free || meta.key.startsWith(`${free}.`) || (meta.key.endsWith(".*") && free.startsWith(meta.key.slice(0, -1)))) return { meta, layout };
    }
  }
  return null;
}

// The label of a key, with its row; of a table all that is in it.
function wordsOf(key) {
  const found = metaOf(key);
  if (!found) return key;
  const { meta, layout } = found;
  const row = key.match(/\.(\d+)\./);
  const free = key.replace(/\.\d+(?=\.)/g, "[]");
  const inside = [...layout.fields, ...layout.more].filter((each) => each.key.startsWith(`${free}.`));
  const name = meta.key.endsWith(".*") ? key.slice(meta.key.length - 1) : inside.length ? inside.map((each) => each.label).join("; ") : meta.label;
  return `${layout.row && row ? `${layout.row} ${row[1]}` : layout.title}: ${name}`;
}

export function goTo(key) {
  const section = at.sections.find((each) => each.has(key));
  if (!section) return;
  section.node.open = true;
  section.build();
  section.update();
  section.rows?.open?.(key);
  const found = [...section.node.querySelectorAll("[data-key]")];
  const near = found.find((node) => node.dataset.key === key) ?? found.find((node) => node.dataset.key.startsWith(`${key}.`)) ??
    found.filter((node) => key.startsWith(`${node.dataset.key}.`)).pop();
  if (!near) return section.node.scrollIntoView();
  for (let outer = near.closest("details:not([open])"); outer; outer = outer.parentElement?.closest("details:not([open])")) outer.open = true;
  near.scrollIntoView({ block: "center" });
  near.querySelector("input, select, textarea")?.focus({ preventScroll: true });
}


// ---- values by key path ---------------------------------------------------------------------------

function valueAt(steps) {
  let place = at.values;
  for (const step of steps) {
    if (place === null || place === undefined) return undefined;
    place = Array.isArray(place) ? place[Number(step) - 1] : place[step];
  }
  return place;
}

function remarkAt(steps) {
  for (let count = steps.length; count > 0; count -= 1) {
    const found = desk.job.remarks?.[steps.slice(0, count).join(".")];
    if (found !== undefined) return found;
  }
  return "";
}

function stateOf(field) {
  const faults = at.faults.filter((fault) => fault.key === field.key || fault.key.startsWith(`${field.key}.`));
  return {
    value: valueAt(field.steps),
    faults,
    notes: notesOf(field.key),
    remark: remarkAt(field.steps),
    units: at.values.units,
    currency: at.values.currency,
  };
}

const notesOf = (key) => (desk.job.beside ?? []).filter((note) => note.key === key || note.key.startsWith(`${key}.`));

const keyOf = (meta, place) => {
  let key = meta.key.endsWith(".*") ? meta.key.slice(0, -2) : meta.key;
  for (const each of place) key = key.replace("[]", `.${each}`);
  return key;
};

// ---- sections ---------------------------------------------------------------------------------------

class Section {
  constructor(layout) {
    this.layout = layout;
    this.count = el("span", { class: "count" });
    this.inside = el("div", { class: "inside" });
    this.node = el("details", { class: "section", id: `section-${layout.id}` },
      el("summary", {}, el("span", { class: "title" }, layout.title), " ", this.count), this.inside);
    this.node.addEventListener("toggle", () => {
      if (this.node.open) {
        this.build();
        this.update();
      }
      sessionStorage.setItem("desk-form", at.sections.filter((each) => each.node.open).map((each) => each.layout.id).join(" "));
    });
  }

  has(key) {
    const { list, names } = this.layout;
    if (list && (key === list || key.startsWith(`${list}.`))) return true;
    if (names && (key === names || key.startsWith(`${names}.`))) return true;
    return this.plain().some((meta) => {
      const own = keyOf(meta, []);
      return own === key || own.startsWith(`${key}.`) || key.startsWith(`${own}.`);
    });
  }

  plain() {
    return [...this.layout.fields, ...this.layout.more].filter((meta) => this.isPlain(meta));
  }

  isPlain(meta) {
    return !meta.key.includes("[]") && meta.key !== `${this.layout.names}.*`;
  }

  build() {
    if (this.built) return;
    this.built = true;
    const { layout } = this;
    const made = (metas) => metas.filter((meta) => this.isPlain(meta)).map((meta) => makeField(meta, keyOf(meta, []), change));
    this.fields = made(layout.fields);
    this.folded = made(layout.more);
    const parts = [layout.say ? el("p", { class: "hint" }, layout.say) : null];
    if (layout.names) this.rows = new Names(layout);
    else if (layout.list) this.rows = layout.table ? new Table(layout) : new Rows(layout);
    parts.push(el("div", { class: "fields" }, this.fields.map((field) => field.node)));
    if (this.rows) parts.push(this.rows.node);
    if (this.folded.length) {
      parts.push(el("details", { class: "more" }, el("summary", {}, "More"), el("div", { class: "fields" }, this.folded.map((field) => field.node))));
    }
    this.inside.replaceChildren(...parts.filter(Boolean));
  }

  update() {
    const faults = at.faults.filter((fault) => fault.key && this.has(fault.key));
    const planned = grouped(plannedIn((key) => this.has(key)));
    const rows = this.layout.list ? valueAt(this.layout.list.split(".")) : null;
    const told = [];
    if (Array.isArray(rows) && rows.length) told.push(`${rows.length}`);
    if (planned.length) told.push(`${planned.length} planned`);
    if (faults.length) told.push(`${faults.length} to put right`);
    this.count.textContent = told.join(", ");
    this.node.classList.toggle("has-faults", faults.length > 0);
    if (!this.node.open || !this.built) return;
    for (const field of [...this.fields, ...this.folded]) field.show(stateOf(field));
    this.rows?.update();
  }
}

// Amounts under names of one's own.
class Names {
  constructor(layout) {
    this.layout = layout;
    this.meta = layout.fields.find((meta) => meta.key.endsWith(".*"));
    this.list = el("div", { class: "names" });
    this.name = el("input", { type: "text", "aria-label": "Name of one more", placeholder: "Name of one more", autocomplete: "off" });
    this.name.addEventListener("keydown", (event) => event.key === "Enter" && this.add());
    this.said = el("p", { class: "wrong", role: "status" });
    this.pasted = pasting({
      row: "Name",
      columns: [{ key: "[].name", kind: "text", label: "Name" }, { key: "[].value", kind: "amount", label: this.meta.label }],
      count: () => 0,
      put: (_, rows) => change(rows.filter((row) => row.name && row.value !== undefined).map((row) => ({ op: "set", key: this.steps(row.name), value: row.value }))),
    });
    this.node = el("div", {}, this.list, this.pasted.node,
      el("div", { class: "adding" }, this.name, button("Add it", () => this.add()), button("Paste rows", () => this.pasted.panel())), this.said);
    this.node.addEventListener("paste", (event) => {
      const text = event.clipboardData?.getData("text/plain") ?? "";
      if (!/[\t\n]/.test(text.trim())) return;
      event.preventDefault();
      this.pasted.read(text, 1, 0);
    });
    this.fields = new Map();
  }

  steps(name) {
    return [...this.layout.names.split("."), name];
  }

  async add() {
    const name = this.name.value.trim();
    if (!name) return this.name.focus();
    if (name in (valueAt(this.layout.names.split(".")) ?? {})) {
      this.said.textContent = `${name} is there already.`;
      return;
    }
    this.said.textContent = "";
    const done = await change([{ op: "set", key: this.steps(name), value: 0 }]);
    if (!done.done) return;
    this.name.value = "";
    this.fields.get(name)?.input?.node.querySelector("input")?.focus();
  }

  update() {
    const names = Object.keys(valueAt(this.layout.names.split(".")) ?? {});
    if (names.join("\n") !== this.known) {
      this.known = names.join("\n");
      const old = this.fields;
      this.fields = new Map(names.map((name) => [name, old.get(name) ?? this.row(name)]));
      this.list.replaceChildren(...[...this.fields.values()].map((row) => row.node));
    }
    for (const { input } of this.fields.values()) input.show(stateOf(input));
  }

  row(name) {
    const input = makeField({ ...this.meta, label: name }, this.steps(name), change);
    const rename = button("Rename", () => {
      const to = window.prompt(`Another name for ${name}`, name);
      this.said.textContent = to ? heldBack(input.node) : "";
      if (to && to !== name && !this.said.textContent) change([{ op: "rename", key: this.steps(name), to }]);
    }, { class: "small", "aria-label": `Rename ${name}` });
    const out = button("Take out", () => change([{ op: "unset", key: this.steps(name) }]), { class: "small", "aria-label": `Take ${name} out` });
    return { input, node: el("div", { class: "name-row" }, input.node, el("span", { class: "acts" }, rename, out)) };
  }
}

// A column of odds in a paste says of which kind of fish it is; its field stands in a table that does.
function ofItsFish(meta) {
  const kind = /\.odds\.(workable|stubborn)\./.exec(meta.key)?.[1];
  return kind ? { ...meta, label: `${meta.label}, ${kind === "workable" ? "good" : "stubborn"} fish` } : meta;
}

// A list whose rows are folded, each with its own fields.
class Rows {
  constructor(layout) {
    this.layout = layout;
    this.path = layout.list.split(".");
    this.list = el("div", { class: "rows" });
    const adding = [button(`Add a ${layout.row.toLowerCase()}`, () => this.add(), { class: "add" })];
    if (layout.id === "run") {
      this.pasted = pasting({
        row: "Run",
        columns: layout.fields.filter((meta) => !/trips\[\]/.test(meta.key)).map(ofItsFish),
        warn: (metas) => (metas.some((meta) => /odds\.[a-z_]+$/.test(meta.key))
          ? "These odds are of no kind of fish, so that a failure of these runs teaches nothing. To let it, name the columns as Fish out, good fish and Fish out, stubborn fish." : ""),
        count: () => this.rows.length,
        put: (place, rows) => change([{ op: "paste", list: "run", at: place, rows, planned: layout.add }]),
        atCell: false,
      });
      adding.push(button("Paste rows", () => this.pasted.panel(), { class: "add" }));
    }
    this.whole = el("p", { class: "wrong", role: "status" }); // of the list, not of one row
    this.node = el("div", {}, ...[this.list, this.pasted?.node, el("div", { class: "adding" }, adding), this.whole].filter(Boolean));
    this.rows = [];
  }

  async add() {
    const done = await change([{ op: "add", list: this.layout.list, values: this.layout.add, planned: true }]);
    if (!done.done) return;
    const row = this.rows[this.rows.length - 1];
    row.node.open = true;
    row.update();
    row.node.querySelector("input")?.focus();
  }

  // Unfold the row that a key is of.
  open(key) {
    const row = this.rows[Number(key.slice(this.layout.list.length + 1).split(".")[0]) - 1];
    if (!row) return;
    row.node.open = true;
    row.update();
  }

  update() {
    const values = valueAt(this.path) ?? [];
    while (this.rows.length > values.length) this.rows.pop().node.remove();
    while (this.rows.length < values.length) {
      const row = new Row(this, this.rows.length + 1);
      this.rows.push(row);
      this.list.append(row.node);
    }
    this.whole.textContent = at.faults.filter((fault) => fault.key === this.layout.list).map((fault) => fault.words).join(" ");
    for (const row of this.rows) row.update();
  }
}

class Row {
  constructor(list, number) {
    this.list = list;
    this.number = number;
    this.title = el("span", { class: "title" });
    this.count = el("span", { class: "count" });
    this.inside = el("div", { class: "inside" });
    this.node = el("details", { class: "row", "data-key": `${list.layout.list}.${number}` }, el("summary", {}, this.title, " ", this.count), this.inside);
    this.node.addEventListener("toggle", () => this.node.open && this.update());
  }

  get value() {
    return valueAt([...this.list.path, this.number]) ?? {};
  }

  move(to) {
    const count = this.list.rows.length;
    if (to < 1 || to > count || !this.free()) return null;
    return change([{ op: "move", list: this.list.layout.list, at: this.number, to }]);
  }

  // Rows stay where they are while something is typed in one that is not taken.
  free() {
    this.wrong.textContent = heldBack(this.list.node);
    return this.wrong.textContent === "";
  }

  update() {
    const { layout } = this.list;
    const { value } = this;
    const name = value[layout.name];
    this.title.textContent = `${layout.row} ${this.number}. ${name ?? "no name"}`;
    const told = layout.id === "run" ? runInWords(value) : "";
    const start = `${layout.list}.${this.number}`;
    const mine = (key) => key === start || key.startsWith(`${start}.`);
    const faults = at.faults.filter((fault) => mine(fault.key));
    const planned = grouped(plannedIn(mine));
    this.count.textContent = [told, planned.length ? `${planned.length} planned` : "", faults.length ? `${faults.length} to put right` : ""].filter(Boolean).join(", ");
    this.node.classList.toggle("has-faults", faults.length > 0);
    if (!this.node.open) return;
    const shape = shapeOf(layout, value);
    if (this.shape !== shape) {
      const focus = document.activeElement?.closest?.("[data-key]")?.dataset.key;
      this.shape = shape;
      this.build(value);
      if (focus) [...this.node.querySelectorAll("[data-key]")].find((node) => node.dataset.key === focus)?.querySelector("input, select")?.focus();
    }
    for (const field of this.fields) field.show(stateOf(field));
    const here = faults.filter((fault) => fault.key === start);
    this.wrong.textContent = here.map((fault) => fault.words).join(" ");
    for (const extra of this.extras) extra.update(value);
  }

  build(value) {
    const { layout } = this.list;
    const old = new Map((this.fields ?? []).map((field) => [field.key, field])); // with what is typed in them
    this.fields = [];
    this.extras = [];
    this.wrong = el("p", { class: "wrong" });
    const make = (meta, place) => {
      const field = old.get(keyOf(meta, place)) ?? makeField(meta, keyOf(meta, place), change);
      this.fields.push(field);
      return field.node;
    };
    const shown = (meta) => meta.key.includes("[]") && fits(layout, meta, value);
    const plain = (metas) => metas.filter((meta) => shown(meta) && !/trips\[\]|\.odds\./.test(meta.key)).map((meta) => make(meta, [this.number]));
    const parts = [
      el("p", { class: "acts" },
        button("Earlier", () => this.move(this.number - 1), { class: "small", "aria-label": `${layout.row} ${this.number} earlier` }),
        button("Later", () => this.move(this.number + 1), { class: "small", "aria-label": `${layout.row} ${this.number} later` }),
        button("Take out", () => this.free() && change([{ op: "delete", list: layout.list, at: this.number }]), { class: "small", "aria-label": `Take ${layout.row} ${this.number} out` })),
      this.wrong,
    ];
    if (layout.id === "run") {
      // What it is comes first, then its hours and how it may end, then what it costs.
      const first = layout.fields.slice(0, 3);
      parts.push(el("div", { class: "fields" }, plain(first)), ...this.runParts(value, make));
      parts.push(el("div", { class: "fields" }, plain(layout.fields.slice(3))));
    } else parts.push(el("div", { class: "fields" }, plain(layout.fields)));
    if (layout.id === "fallback") parts.unshift(this.kindOfFallback(value));
    const more = plain(layout.more);
    if (more.length) parts.push(el("details", { class: "more" }, el("summary", {}, "More"), el("div", { class: "fields" }, more)));
    this.inside.replaceChildren(...parts);
  }

  // Trips or plain hours, and the odds as a table.
  runParts(value, make) {
    const { layout } = this.list;
    const key = `run.${this.number}`;
    const clock = choice([["trips", "Built up from trips"], ["hours", "All hours at once"]], value.trips ? "trips" : "hours", { "aria-label": `Hours of run ${this.number}` });
    clock.addEventListener("change", () => change(clock.value === "hours"
      ? [{ op: "unset", key: `${key}.trips` }, { op: "set", key: `${key}.hours`, value: { low: 20, likely: 26, high: 40 } }]
      : [{ op: "unset", key: `${key}.hours` }, { op: "set", key: `${key}.trips`, value: [{ make_up: 2.5, circulate: 1.5, work: { low: 2, likely: 3, high: 6 }, lay_down: 1.5 }] }]));
    const parts = [el("div", { class: "field" }, el("label", {}, "Its hours ", clock))];
    (value.trips ?? []).forEach((trip, n) => {
      const metas = layout.fields.filter((meta) => meta.key.includes("trips[]"));
      const out = value.trips.length > 1 ? button("Take the trip out", () => change([{ op: "delete", list: `${key}.trips`, at: n + 1 }]), { class: "small" }) : null;
      parts.push(el("fieldset", {}, el("legend", {}, `Trip ${n + 1}`), el("div", { class: "fields" }, metas.map((meta) => make(meta, [this.number, n + 1]))), out));
    });
    if (value.trips) parts.push(button("Add a trip", () => change([{ op: "add", list: `${key}.trips`, values: { make_up: 2.5, circulate: 1.5, work: 3, lay_down: 1.5 } }]), { class: "small" }));
    parts.push(this.odds(value, make));
    return parts;
  }

  odds(value, make) {
    const { layout } = this.list;
    const key = `run.${this.number}.odds`;
    const byKind = Boolean(value.odds?.workable || value.odds?.stubborn);
    const kinds = byKind ? ["workable.", "stubborn."] : [""];
    const of = (kind) => layout.fields.filter((meta) => meta.key.startsWith(`run[].odds.${kind}`) && meta.key.split(".").length === (kind ? 4 : 3));
    const how = choice([["kinds", "For a good and for a stubborn fish"], ["one", "One table"]], byKind ? "kinds" : "one", { "aria-label": `Odds of run ${this.number}` });
    how.addEventListener("change", () => {
      const now = value.odds ?? {};
      change([{ op: "set", key, value: how.value === "one" ? { ...now.workable } : { workable: { ...now }, stubborn: { ...now } } }]);
    });
    const rows = of(kinds[0]).map((meta, n) => el("tr", {}, el("th", { scope: "row" }, meta.label),
      kinds.map((kind) => el("td", {}, make(ofItsFish(of(kind)[n]), [this.number])))));
    const sums = kinds.map(() => el("td", { class: "sum" }));
    this.extras.push({
      update: (fresh) => kinds.forEach((kind, n) => {
        const table = kind ? fresh.odds?.[kind.slice(0, -1)] : fresh.odds;
        const sum = Object.entries(table ?? {}).filter(([name]) => name !== "weight").reduce((all, [, chance]) => all + (typeof chance === "number" ? chance : 0), 0);
        sums[n].textContent = Math.abs(sum - 1) < 1e-6 ? "1" : `${Number(sum.toFixed(6))}, not 1`;
      }),
    });
    const kept = el("p", { class: "planned" });
    this.extras.push({
      update: () => {
        const marked = plannedIn((each) => each.startsWith(key));
        kept.replaceChildren(...(marked.length ? ["Planning odds, not looked at. ", button("Keep them", () => change(marked.map((each) => ({ op: "keep", key: each }))), { class: "small", "aria-label": `Keep the planning odds of run ${this.number}` })] : []));
      },
    });
    const heads = byKind ? [el("th", { scope: "col" }, "If it can be fished"), el("th", { scope: "col" }, "If it is stubborn")] : [el("th", { scope: "col" }, "Chance")];
    return el("fieldset", { class: "odds", "data-key": key }, el("legend", {}, "How it may end"), how,
      el("table", { "aria-label": `How run ${this.number} may end` }, el("thead", {}, el("tr", {}, el("td", {}), heads)), el("tbody", {}, rows, el("tr", {}, el("th", { scope: "row" }, "Sum, without the last"), sums))), kept);
  }

  kindOfFallback(value) {
    const lump = "hours" in value;
    const kind = choice([["sidetrack", "Open-hole sidetrack, built up"], ["lump", "Its hours and cost as given"]], lump ? "lump" : "sidetrack", { "aria-label": `Kind of fallback ${this.number}` });
    kind.addEventListener("change", () => {
      const start = `fallback.${this.number}`;
      const keep = new Set(this.list.layout.fields.concat(this.list.layout.more).filter((meta) => (meta.variants ?? []).includes(kind.value)).map((meta) => meta.key.split(".")[1]));
      const gone = Object.keys(value).filter((name) => name !== "name" && !keep.has(name));
      change([...gone.map((name) => ({ op: "unset", key: `${start}.${name}` })), ...(kind.value === "lump" ? [{ op: "set", key: `${start}.hours`, value: 60 }] : [])]);
    });
    return el("div", { class: "field" }, el("label", {}, "Is ", kind));
  }
}

function runInWords(value) {
  const odds = value.odds?.workable ?? value.odds;
  const hours = middleOf(value.hours);
  return [hours === null ? "" : `${show(hours)} h`, typeof odds?.recovered === "number" ? `fish out ${percent(odds.recovered)}${value.odds.workable ? " if it can be fished" : ""}` : ""].filter(Boolean).join(", ");
}

// What decides which fields a row has.
function shapeOf(layout, value) {
  if (layout.id === "run") return `${(value.trips ?? []).length} ${"hours" in value} ${Boolean(value.odds?.workable || value.odds?.stubborn)}`;
  if (layout.id === "fallback") return String("hours" in value);
  return "";
}

function fits(layout, meta, value) {
  if (layout.id === "run") return meta.key !== "run[].hours" || !value.trips;
  if (layout.id === "fallback") return !meta.variants || meta.variants.includes("hours" in value ? "lump" : "sidetrack");
  return true;
}

// A list that is a table.
class Table {
  constructor(layout) {
    this.layout = layout;
    this.path = layout.list.split(".");
    this.grid = grid({
      name: layout.title,
      row: layout.row,
      columns: layout.fields,
      change: (place, meta, value) => {
        const key = [...this.path, String(place), inRow(meta)];
        return change([value === undefined ? { op: "unset", key } : { op: "set", key, value }]);
      },
      paste: (place, rows) => change([{ op: "paste", list: this.layout.list, at: place, rows, planned: this.layout.add }]),
      add: () => change([{ op: "add", list: this.layout.list, values: this.layout.add }]),
      out: (place) => change([{ op: "delete", list: this.layout.list, at: place }]),
      move: (place, to) => change([{ op: "move", list: this.layout.list, at: place, to }]),
    });
    this.node = this.grid.node;
  }

  update() {
    const rows = valueAt(this.path) ?? [];
    this.grid.show(rows, {
      units: at.values.units,
      currency: at.values.currency,
      whole: at.faults.filter((fault) => fault.key === this.layout.list),
      faults: (place, meta) => {
        const name = inRow(meta);
        const start = `${this.layout.list}.${place}`;
        return at.faults.filter((fault) => fault.key === `${start}.${name}` || fault.key.startsWith(`${start}.${name}.`) || (name === this.layout.name && fault.key === start));
      },
      notes: (place, meta) => notesOf(`${this.layout.list}.${place}.${inRow(meta)}`),
      remark: (place, meta) => remarkAt([...this.path, String(place), inRow(meta)]),
    });
  }
}


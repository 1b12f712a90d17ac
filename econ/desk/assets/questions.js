// Ten questions to a first answer, on one page. What is not answered is planned with, and marked.
//
// The runs that suit are asked of the desk once fish and hole are told; those ticked go into the
// file in the order in which they were ticked. Nothing is written before "Make the file".

import { button, el, money, number, percent } from "./page.js";
import { held, makeField } from "./fields.js";
import { grid } from "./grid.js";

const KEPT = "desk-answers";
const at = { answers: {}, ticked: [], fields: [], wrong: [], needed: new Set() };
let desk = null;

export async function mount(root, given) {
  desk = given;
  at.root = root;
  try {
    at.answers = JSON.parse(sessionStorage.getItem(KEPT) ?? "{}");
  } catch {
    at.answers = {};
  }
  at.said = el("div", { role: "status" });
  at.list = el("div", { class: "questions" });
  root.replaceChildren(el("h2", {}, "First questions"),
    el("p", { class: "hint" }, "Ten questions make a first file, which answers as it stands. What you leave empty is a planning value for a simple land job, judgement without a source; it is listed as such under The job, one click from being replaced."),
    at.list, at.said);
  try {
    at.asked = (await desk.ask("GET", "/api/questions")).questions;
  } catch (error) {
    at.said.replaceChildren(el("p", { class: "refusal" }, `The questions could not be had: ${error.message}.`));
    return;
  }
  at.needed = new Set(at.asked.flatMap((asked) => asked.fields).filter((meta) => meta.needed).map((meta) => meta.key));
  at.list.replaceChildren(...at.asked.map(question));
  at.make = button("Make the file", make, { class: "first" });
  at.over = el("p", { class: "hint" });
  at.list.append(el("div", { class: "question" }, at.over, at.make));
  show();
  update(desk);
}

export function update(given) {
  desk = given;
  if (!at.make) return;
  at.make.disabled = !desk.connected || Boolean(at.making);
  at.over.textContent = desk.job?.text
    ? "There is a job already: the answers take its place. Take back, above, brings it again."
    : "The file is written when you save it.";
}

function question(asked, place) {
  return el("section", { class: "question", "aria-label": asked.title },
    el("h3", {}, `${place + 1}. ${asked.title}`),
    asked.say ? el("p", { class: "hint" }, asked.say) : null,
    el("div", { class: "fields" }, asked.fields.filter((meta) => !["rows", "names", "runs"].includes(meta.kind)).map(single)),
    asked.fields.filter((meta) => ["rows", "names", "runs"].includes(meta.kind)).map((meta) => ({ rows: pieces, names, runs })[meta.kind](meta)));
}

// ---- answers ---------------------------------------------------------------------------------------

function answer(key, value) {
  if (value === undefined || value === "") delete at.answers[key];
  else at.answers[key] = value;
  sessionStorage.setItem(KEPT, JSON.stringify(at.answers));
  // What else was wrong may be right by this; what is missing is missing until it is answered.
  at.wrong = at.wrong.filter((fault) => at.needed.has(fault.key) && !(fault.key in at.answers));
  if (at.said.firstChild && !at.making) said(at.wrong);
  show();
  look();
  return Promise.resolve({ done: true });
}

// Values that are rarely met, asked about as `econ check` does.
let looks = Promise.resolve();
function look() {
  const mine = JSON.stringify(at.answers);
  looks = looks.then(async () => {
    if (mine !== JSON.stringify(at.answers)) return; // a newer one follows
    at.notes = (await desk.ask("POST", "/api/questions", { answers: at.answers, look: true })).notes;
    show();
  }).catch(() => {});
}

function single(meta) {
  // What is not told is not taken for a no: it stays a planning value that nobody has looked at.
  const told = meta.kind === "flag" && meta.key.startsWith("fish.") ? null : meta.default;
  const usual = { units: "field", currency: "USD" }[meta.key];
  const field = makeField({ ...meta, required: false, default: usual ?? told }, meta.key, ([each]) =>
    answer(meta.key, each.op === "unset" ? undefined : each.value));
  at.fields.push(field);
  return field.node;
}

function state(key) {
  return {
    value: at.answers[key],
    faults: wrongOf(key),
    notes: notesOf(key),
    remark: "",
    units: at.answers.units ?? "field",
    currency: at.answers.currency || "USD",
    dollar: at.answers.dollar,
  };
}

const wrongOf = (key) => at.wrong.filter((fault) => fault.key === key || fault.key.startsWith(`${key}.`));
const notesOf = (key) => (at.notes ?? []).filter((note) => note.key === key);

function show() {
  const lump = (at.answers.instead ?? "sidetrack") !== "sidetrack";
  for (const field of at.fields) {
    field.show(state(field.key));
    if (field.key === "dollar") field.node.hidden = ["USD", ""].includes(at.answers.currency ?? "USD");
    if (field.meta.variants) field.node.hidden = !field.meta.variants.includes(lump ? "lump" : "sidetrack");
  }
  for (const each of at.lists ?? []) each();
}

// Pieces from the top down, as a table that takes a paste.
function pieces(meta) {
  const rows = () => at.answers[meta.key] ?? [];
  const put = (fresh) => answer(meta.key, fresh.length ? fresh : undefined);
  const table = grid({
    name: meta.label,
    row: "Piece",
    columns: meta.columns,
    again: "", // answers are not taken back
    change: (place, column, value) => put(rows().map((row, n) => (n === place - 1 ? { ...row, [column.key.split("[].")[1]]: value } : row))),
    paste: (place, fresh) => put([...rows().slice(0, place - 1), ...fresh, ...rows().slice(place - 1 + fresh.length)]),
    add: () => put([...rows(), { name: "Piece", length: 0, value: 0 }]),
    out: (place) => put(rows().filter((_, n) => n !== place - 1)),
    move: (place, to) => {
      const fresh = [...rows()];
      fresh.splice(to - 1, 0, ...fresh.splice(place - 1, 1));
      return put(fresh);
    },
  });
  (at.lists ??= []).push(() => table.show(rows(), {
      ...state(meta.key), remark: () => "",
      faults: (place, column) => wrongOf(`${meta.key}.${place}.${column.key.split("[].")[1]}`),
      notes: (place, column) => notesOf(`${meta.key}.${place}.${column.key.split("[].")[1]}`),
    }));
  const wrong = el("p", { class: "wrong" });
  at.lists.push(() => { wrong.textContent = at.wrong.filter((fault) => fault.key === meta.key).map((fault) => fault.words).join(" "); });
  return el("div", { "data-key": meta.key }, table.node, wrong);
}

// Amounts by name: a row for each, and an empty one.
function names(meta) {
  const said = el("p", { class: "wrong" });
  const asked = el("p", { class: "note" });
  const list = el("div", { class: "names" });
  const node = el("fieldset", { "data-key": meta.key }, el("legend", {}, meta.label), list, said, asked);
  const known = new Map();
  const rows = () => {
    const found = Object.keys(at.answers[meta.key] ?? {});
    return [...found, ...meta.default.filter((name) => !found.includes(name) && !(at.dropped ?? new Set()).has(`${meta.key} ${name}`))];
  };
  const put = (name, value) => {
    const fresh = { ...(at.answers[meta.key] ?? {}) };
    if (value === undefined) delete fresh[name];
    else fresh[name] = value;
    return answer(meta.key, Object.keys(fresh).length ? fresh : undefined);
  };
  const more = el("input", { type: "text", placeholder: "Name of one more", "aria-label": `${meta.label}: name of one more`, autocomplete: "off" });
  const add = () => {
    const name = more.value.trim();
    if (!name || rows().includes(name)) return more.focus();
    more.value = "";
    return put(name, 0);
  };
  more.addEventListener("keydown", (event) => event.key === "Enter" && add());
  node.append(el("div", { class: "adding" }, more, button("Add it", add)));
  (at.lists ??= []).push(() => {
    const wanted = rows();
    if (wanted.join("\n") !== list.dataset.known) {
      list.dataset.known = wanted.join("\n");
      for (const name of wanted) {
        if (known.has(name)) continue;
        const field = makeField({ ...meta.of, label: name.replaceAll("_", " "), required: false }, [meta.key, name], ([each]) => put(name, each.op === "unset" ? undefined : each.value));
        const out = button("Take out", () => {
          (at.dropped ??= new Set()).add(`${meta.key} ${name}`);
          put(name, undefined);
        }, { class: "small", "aria-label": `Take ${name} out` });
        known.set(name, { field, node: el("div", { class: "name-row" }, field.node, el("span", { class: "acts" }, out)) });
      }
      list.replaceChildren(...wanted.map((name) => known.get(name).node));
    }
    for (const name of wanted) known.get(name).field.show({ ...state(`${meta.key}.${name}`), value: at.answers[meta.key]?.[name] });
    said.textContent = at.wrong.filter((fault) => fault.key === meta.key).map((fault) => fault.words).join(" ");
    asked.textContent = notesOf(meta.key).map((note) => note.text).join(" ");
  });
  return node;
}

// ---- runs ------------------------------------------------------------------------------------------

function runs() {
  at.offered = el("ul", { class: "offered" });
  at.runsSaid = el("p", { class: "hint", role: "status" }, "They depend on the answers above. Come here last.");
  at.askRuns = button("Which runs suit?", suited);
  return el("div", {}, at.askRuns, at.runsSaid, at.offered);
}

async function suited() {
  at.askRuns.disabled = true;
  at.runsSaid.textContent = "Looking at fish and hole.";
  try {
    const found = await desk.ask("POST", "/api/questions", { answers: at.answers });
    tell([]);
    at.kinds = found.kinds;
    // First what tries for the fish, then what only prepares for it.
    const suits = found.kinds.filter((each) => each.verdict !== "no");
    const kinds = [...suits.filter(tries), ...suits.filter((each) => !tries(each))];
    const barred = found.kinds.filter((each) => each.verdict === "no");
    at.ticked = at.ticked.filter((kind) => kinds.some((each) => each.kind === kind));
    at.runsSaid.textContent = kinds.length
      ? "What tries for the fish comes first, the best in money ahead; then what only prepares for it. Hours and odds are planning ranges for a first attempt: judgement, no source. The money is that of the one kind against stopping now, or of it and the best catch after it, at the middle of all ranges and without losing string or hole. The answer counts all runs that you tick together, and what each failure teaches, so its money is another. Tick in the order in which you would run them."
      : "No kind of run suits this fish and hole as told. The reasons are below.";
    at.offered.replaceChildren(...(found.safety ?? []).map((words) => el("li", { class: "danger" }, words)), ...kinds.map((each) => offer(each)),
      barred.length ? el("li", {}, el("details", {}, el("summary", {}, `${barred.length} that do not suit`), el("ul", {}, barred.map((each) => el("li", {}, `${each.name}: ${each.reasons[0]}.`))))) : null);
    order();
  } catch (error) {
    at.runsSaid.textContent = "";
    tell(error.told?.faults ?? [], error.message);
  } finally {
    at.askRuns.disabled = false;
  }
}

const tries = (each) => each.whole[1] > 0;
const sentence = (words) => `${words[0].toUpperCase()}${words.slice(1)}.`;

function offer(each) {
  const box = el("input", { type: "checkbox", "data-run": each.kind, id: `run-${each.kind}` });
  box.checked = at.ticked.includes(each.kind);
  box.addEventListener("change", () => {
    at.ticked = at.ticked.filter((kind) => kind !== each.kind);
    if (box.checked) at.ticked.push(each.kind);
    order();
  });
  const { worth, hours } = each;
  const chance = (span) => `${percent(span[0])} to ${percent(span[1])}`;
  const told = [tries(each) ? `fish out ${chance(each.whole)}` : "brings no fish by itself"];
  if (hours) told.push(`${number(hours.low)} to ${number(hours.high)} h, likely ${number(hours.likely)}`);
  const next = at.kinds.find((other) => other.kind === worth?.then)?.name;
  if (worth?.gain !== null && worth?.gain !== undefined) {
    const counted = next ? `with "${next}" after it, fish out ${percent(worth.chance)} in all, it` : "alone it";
    told.push(`${counted} ${worth.gain >= 0 ? `saves ${money(worth.gain)} against stopping now` : `costs ${money(-worth.gain)} more than stopping now`}`);
  }
  return el("li", {}, box,
    el("label", { for: box.id }, el("strong", {}, each.name), ` (${each.verdict}) `, el("span", { class: "order" })),
    el("p", {}, sentence(told.join("; "))),
    el("p", { class: "hint" }, sentence(each.reasons[0])));
}

function order() {
  for (const box of at.offered.querySelectorAll("input")) {
    const place = at.ticked.indexOf(box.dataset.run);
    box.parentElement.querySelector(".order").textContent = place < 0 ? "" : `run ${place + 1}`;
  }
}

async function make() {
  const [unread] = held(at.root);
  if (unread) {  // what could not be read is not left out unseen
    at.wrong = [];
    at.said.replaceChildren(el("p", { class: "refusal", role: "alert" },
      `Nothing was made. ${unread.name}: ${unread.words}`));
    unread.focus();
    return;
  }
  at.making = true;
  update(desk);
  at.said.replaceChildren(el("p", {}, "Making the file."));
  const done = await desk.put("/api/questions", { answers: at.answers, runs: at.ticked });
  at.making = false;
  update(desk);
  const faults = done.done ? [] : done.error.told?.faults ?? [];
  if (faults.length) desk.say(""); // they are said here, beside their questions
  tell(faults, done.done ? "" : done.error.message);
  if (!done.done) return;
  sessionStorage.removeItem(KEPT);
  at.said.replaceChildren(el("p", {}, "The file is made, and not saved yet. Its answer is beside it."));
  desk.show("form");
}

// What is missing or cannot be used: all of it in a list, and each beside its question.
function tell(faults, words) {
  at.wrong = faults.map((fault) => ({ ...fault, key: fault.key.replace(/^fallback\.1\./, "fallback[].") }));
  show();
  said(at.wrong, words);
  at.list.querySelector('[aria-invalid="true"]')?.focus();
}

function said(faults, words = "") {
  const count = `${faults.length} answer${faults.length === 1 ? " is" : "s are"} missing or cannot be used:`;
  at.said.replaceChildren(...(words || faults.length ? [el("div", { class: "faults", role: "alert" },
    el("p", {}, faults.length ? count : words),
    el("ul", {}, faults.map((fault) => el("li", {}, button(fault.text, () => goTo(fault.key), { class: "link" })))))] : []));
}

function goTo(key) {
  const found = at.list.querySelector(`[data-key="${CSS.escape(key)}"]`);
  found?.scrollIntoView({ block: "center" });
  found?.querySelector("input, select, textarea")?.focus({ preventScroll: true });
}

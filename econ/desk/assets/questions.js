// Ten questions to a first answer, on one page. What is not answered is planned with, and marked.
//
// The runs that suit are asked of the desk once fish and hole are told; those ticked go into the
// file in the order in which they were ticked. Nothing is written before "Make the file", but the desk
// keeps what is answered, and a later start goes on from it. A job that is begun answers the questions itself: what is answered otherwise changes it, and all else stays.

import { button, el, money, number, percent } from "./page.js";
import { held, makeField } from "./fields.js";
import { grid } from "./grid.js";

const KEPT = "desk-answers";
const at = { answers: {}, told: {}, ticked: [], runs: [], fields: [], wrong: [], live: [], needed: new Set() };
let desk = null;

export async function mount(root, given) {
  desk = given;
  at.root = root;
  try {
    take(JSON.parse(sessionStorage.getItem(KEPT) ?? "{}"));
  } catch {
    // what was kept cannot be read: it is asked anew
  }
  at.said = el("div", { role: "status" });
  at.list = el("div", { class: "questions" });
  root.replaceChildren(el("h2", {}, "First questions"),
    el("p", { class: "hint" }, "Ten questions make a first file, which answers as it stands. What you leave empty is a planning value for a simple job on land, or offshore if you say so: judgement without a source, and listed as such under The job, one click from being replaced."),
    at.list);
  try {
    const found = await desk.ask("GET", "/api/questions");
    at.asked = found.questions;
    if (sessionStorage.getItem(KEPT) === null && found.kept.answers) {
      take(found.kept);
      earlier(Boolean(desk.job?.text));
    }
  } catch (error) {
    at.said.replaceChildren(el("p", { class: "refusal" }, `The questions could not be had: ${error.message}.`));
    return;
  }
  at.needed = new Set(at.asked.flatMap((asked) => asked.fields).filter((meta) => meta.needed).map((meta) => meta.key));
  at.list.replaceChildren(...at.asked.map(question));
  at.make = button("Make the file", () => make(), { class: "first" });
  at.over = el("p", { class: "hint" });
  at.unkept = el("p", { class: "wrong", role: "alert" });
  at.list.append(el("div", { class: "question" }, at.over, at.unkept, at.make, at.said));
  show();
  update(desk);
  look();
}

function take({ answers, told, ticked }) {
  [at.answers, at.told, at.ticked] = [answers ?? {}, told ?? {}, ticked ?? []];
}

// Answers of an earlier start, which are in no file.
function earlier(begun) {
  const said = el("section", { class: "offer", "aria-label": "Earlier answers" },
    el("p", {}, `These are answers of an earlier start, which are not in the ${begun ? "job" : "file"} yet.${at.ticked.length ? " Runs were ticked too: ask which suit, in question 10." : ""}`),
    button("Go on with them", () => said.remove(), { class: "first" }), " ",
    button("Forget them", () => {
      if (!window.confirm("They are then gone for good.")) return;
      take({ answers: at.begun ? { ...at.told } : {}, told: at.told });
      said.remove();
      keep();
      show();
      look();
    }));
  at.list.before(said);
}

export function update(given) {
  desk = given;
  if (!at.make) return;
  const begun = Boolean(desk.job?.text);
  at.make.disabled = !desk.connected || Boolean(at.making);
  at.make.textContent = begun ? "Put the answers into the job" : "Make the file";
  at.over.textContent = begun
    ? "The job is begun, and these are its answers: a change here changes it, and all else in it stays. Take back, above, undoes it."
    : "The file is written when you save it. Until it is made, your answers are kept beside it, and the next start offers them.";
  follow();
}

// What was changed in the job since is answered so here; what was answered here and is not in it stays.
async function follow() {
  const { hash, text } = desk.job;
  if (at.making || at.followed === hash) return;
  at.followed = hash;
  const found = await desk.ask("GET", "/api/questions").catch(() => null);
  if (!found || at.followed !== hash) return;
  at.begun = found.begun;
  const { runs, ...told } = found.told;
  at.runs = runs;
  for (const key of text ? new Set([...Object.keys(at.told), ...Object.keys(told)]) : []) {
    if (JSON.stringify(told[key]) === JSON.stringify(at.told[key])) continue;
    if (key in told) at.answers[key] = told[key];
    else delete at.answers[key];
  }
  at.told = text ? told : {};
  keep();
  show();
  look();
}

const keep = () => sessionStorage.setItem(KEPT, JSON.stringify({ answers: at.answers, told: at.told, ticked: at.ticked }));

// To question 10, from wherever it is missed that no run is chosen.
export function toRuns() {
  at.askRuns?.scrollIntoView({ block: "center" });
  at.askRuns?.focus({ preventScroll: true });
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
  keep();
  // What else was wrong may be right by this; what is missing is missing until it is answered.
  at.wrong = at.wrong.filter((fault) => at.needed.has(fault.key) && !(fault.key in at.answers));
  if (at.said.firstChild && !at.making) said(at.wrong);
  show();
  look();
  return Promise.resolve({ done: true });
}

// Values that are rarely met, asked about as `econ check` does; what is looked at is kept.
let looks = Promise.resolve();
function look() {
  const all = () => JSON.stringify([at.answers, at.ticked]);
  const mine = all();
  looks = looks.then(async () => {
    if (mine !== all()) return; // a newer one follows
    const found = await desk.ask("POST", "/api/questions", { answers: at.answers, told: at.told, ticked: at.ticked, look: true });
    at.unkept.textContent = found.kept ? "" : "The disk does not take your answers: they are lost if this window is closed before the file is made.";
    at.notes = found.notes;
    at.live = found.faults.map(placed);
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
    factor: at.answers.setting === "offshore" ? 2 : 1,
  };
}

// Of what was refused, and of what is wrong as it stands, each thing once.
const wrongOf = (key) => {
  const found = [...at.wrong, ...at.live].filter((fault) => fault.key === key || fault.key.startsWith(`${key}.`));
  return found.filter((fault, n) => found.findIndex((each) => each.text === fault.text) === n);
};
const wordsOf = (key) => wrongOf(key).filter((fault) => fault.key === key).map((fault) => fault.words).join(" ");
const notesOf = (key) => [
  ...(at.notes ?? []).filter((note) => note.key === key),
  ...(at.begun && AT_FIRST.includes(key) ? [{ text: "As at the start; later it is changed under The job." }] : []),
];

function show() {
  const lump = (at.answers.instead ?? "sidetrack") !== "sidetrack";
  for (const field of at.fields) {
    field.show(state(field.key));
    if (field.key === "dollar") field.node.hidden = ["USD", ""].includes(at.answers.currency ?? "USD");
    if (field.key === CONSENT) field.node.hidden = at.answers[CONSENT] === undefined && !OWNED.some((key) => at.answers[key] === true);
    if (field.meta.variants) field.node.hidden = !field.meta.variants.includes(lump ? "lump" : "sidetrack");
    if (AT_FIRST.includes(field.key)) for (const each of field.controls()) each.disabled = Boolean(at.begun);
  }
  for (const each of at.lists ?? []) each();
  offered();
}

const AT_FIRST = ["units", "currency", "instead"]; // later they are changed under The job

// Whose owners are asked what may touch them.
const CONSENT = "fish.written_consent";
const OWNED = ["fish.sealed_source", "fish.explosives", "fish.lithium_batteries"];

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
    add: () => put([...rows(), { name: "Piece" }]),
    out: (place) => put(rows().filter((_, n) => n !== place - 1)),
    move: (place, to) => {
      const fresh = [...rows()];
      fresh.splice(to - 1, 0, ...fresh.splice(place - 1, 1));
      return put(fresh);
    },
  });
  (at.lists ??= []).push(() => table.show(rows(), {
      ...state(meta.key), remark: () => "", whole: wrongOf(meta.key).filter((fault) => fault.key === meta.key),
      faults: (place, column) => wrongOf(`${meta.key}.${place}.${column.key.split("[].")[1]}`),
      notes: (place, column) => notesOf(`${meta.key}.${place}.${column.key.split("[].")[1]}`),
    }));
  return el("div", { "data-key": meta.key }, table.node);
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
    const usual = meta.default.filter((name) => found.includes(name) || !((at.begun && found.length) || at.dropped?.has(`${meta.key} ${name}`)));
    return [...usual, ...found.filter((name) => !usual.includes(name))];
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
    said.textContent = wordsOf(meta.key);
    asked.textContent = notesOf(meta.key).map((note) => note.text).join(" ");
  });
  return node;
}

// ---- runs ------------------------------------------------------------------------------------------

function runs() {
  at.offered = el("ul", { class: "offered" });
  at.runsSaid = el("p", { class: "hint", role: "status" });
  at.askRuns = button("Which runs suit?", suited);
  at.lastSaid = el("p", { class: "wrong", role: "status" });
  return el("div", {}, at.askRuns, at.runsSaid, at.offered, at.lastSaid);
}

// The answers that runs depend on; a list of runs is of these.
const fishAndHole = () => JSON.stringify({ ...at.answers, "job.well": 0, "job.event": 0, "job.decided_at": 0, "limits.authority": 0 });
const isOld = () => Boolean(at.kinds) && (Boolean(at.looking) || at.kindsOf !== fishAndHole());

async function suited() {
  const [unread] = held(at.root);
  if (unread) { // what could not be read is not left out unseen
    at.runsSaid.textContent = `Not asked. ${unread.name}: ${unread.words}`;
    unread.focus();
    return false;
  }
  at.looking = true;
  offered();
  const mine = fishAndHole();
  try {
    const found = await desk.ask("POST", "/api/questions", { answers: at.answers });
    at.kinds = found.kinds;
    at.safety = found.safety ?? [];
    at.kindsOf = mine;
    at.ticked = at.ticked.filter((kind) => at.kinds.some((each) => each.kind === kind && each.verdict !== "no"));
    at.listed = null;
    tell([]);
    return true;
  } catch (error) {
    tell(error.told?.faults ?? [], error.message);
    return false;
  } finally {
    at.looking = false;
    offered();
  }
}

// The list as it stands: one that is being worked out anew, or is of other answers, cannot be ticked.
function offered() {
  if (!at.offered) return;
  const old = isOld();
  at.askRuns.disabled = Boolean(at.looking);
  at.askRuns.textContent = at.kinds ? "Which runs suit now?" : "Which runs suit?";
  at.runsSaid.textContent = at.looking ? `Looking at fish and hole.${at.kinds ? " The list below is of your answers before." : ""}`
    : !at.kinds ? "They depend on the answers above. Come here last."
    : old ? "Your answers have changed: this list is of those before. Press Which runs suit now?"
    : at.kinds.every((each) => each.verdict === "no") ? "No kind of run suits this fish and hole as told. The reasons are below."
    : "Tick in the order in which you would make them. The money is that of one kind, with the best catch after it where it brings no fish itself, against stopping now; the answer counts all ticked together. Hours and odds are planning ranges: judgement, no source.";
  const key = JSON.stringify([at.kindsOf, at.runs]);
  if (at.listed !== key && at.kinds) {
    at.listed = key;
    const groups = [
      ["They suit this fish", (each) => each.verdict === "suits" && tries(each)],
      ["Doubtful on this fish: read why first", (each) => each.verdict === "doubtful" && tries(each)],
      ["They bring no fish by themselves, and prepare for a catch", (each) => each.verdict !== "no" && !tries(each)],
    ];
    const barred = at.kinds.filter((each) => each.verdict === "no");
    at.offered.replaceChildren(...at.safety.map((words) => el("li", { class: "danger" }, words)),
      ...groups.flatMap(([head, has]) => {
        const kinds = at.kinds.filter(has);
        return kinds.length ? [el("li", { class: "group" }, head), ...kinds.map(offer)] : [];
      }),
      ...(barred.length ? [el("li", {}, el("details", {}, el("summary", {}, `${barred.length} that do not suit`), el("ul", {}, barred.map((each) => el("li", {}, `${each.name}: ${each.reasons[0]}.`)))))] : []));
  }
  at.offered.classList.toggle("body", true);
  at.offered.classList.toggle("old", old);
  for (const box of at.offered.querySelectorAll("input")) {
    const place = at.ticked.indexOf(box.dataset.run);
    const there = at.runs.indexOf(box.dataset.run);
    box.disabled = old || there >= 0;
    box.checked = there >= 0 || place >= 0;
    box.parentElement.querySelector(".order").textContent = there >= 0 ? `run ${there + 1} of the job`
      : place >= 0 ? `run ${at.runs.length + place + 1}` : "";
    box.parentElement.querySelector(".acts").replaceChildren(...(there < 0 ? [] : [
      button("Take it out of the job", () => desk.change([{ op: "delete", list: "run", at: there + 1 }]), { class: "small", "aria-label": `Take run ${there + 1} out of the job` })]));
  }
  const last = at.kinds?.find((each) => each.kind === [...at.runs, ...at.ticked].at(-1));
  at.lastSaid.textContent = last && !tries(last) ? `The last run, "${last.name}", brings no fish by itself: it costs more than stopping now unless a catch follows. Tick one behind it.` : "";
}

const tries = (each) => each.whole[1] > 0;
const sentence = (words) => `${words[0].toUpperCase()}${words.slice(1)}.`;

function offer(each) {
  const box = el("input", { type: "checkbox", "data-run": each.kind, id: `run-${each.kind}` });
  box.addEventListener("change", () => {
    at.ticked = at.ticked.filter((kind) => kind !== each.kind);
    if (box.checked) at.ticked.push(each.kind);
    keep();
    look();
    offered();
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
  const doubtful = each.verdict === "doubtful";
  return el("li", {}, box,
    el("label", { for: box.id }, el("strong", {}, each.name), doubtful ? " (doubtful) " : " ", el("span", { class: "order" })),
    el("span", { class: "acts" }),
    el("p", {}, sentence(told.join("; "))),
    (doubtful ? each.reasons : each.reasons.slice(0, 1)).map((words) => el("p", { class: doubtful ? "doubt" : "hint" }, sentence(words))));
}

// sure: without a run as well.
async function make(sure = false) {
  const stop = (...words) => {
    at.wrong = [];
    at.said.replaceChildren(el("div", { class: "refusal", role: "alert" }, ...words));
  };
  const [unread] = held(at.root);
  if (unread) {  // what could not be read is not left out unseen
    stop(`Nothing was made. ${unread.name}: ${unread.words}`);
    return unread.focus();
  }
  if (at.ticked.length && (!at.kinds || isOld())) { // runs that are judged otherwise by now are for the user to see
    const judged = () => at.ticked.map((kind) => `${kind} ${at.kinds?.find((each) => each.kind === kind)?.verdict}`).join();
    const before = judged();
    if (!(await suited())) return null;
    if (judged() !== before) return stop("Nothing was made. By your last answers the ticked runs are judged otherwise: look at question 10, and press again.");
  }
  if (!sure && !at.ticked.length && !at.runs.length) {
    return stop(el("p", {}, "No run is ticked in question 10. Without one there is nothing to decide: the answer can only say what stopping costs."),
      button("Choose runs first", () => { at.said.replaceChildren(); toRuns(); }, { class: "first" }), " ", button("Make it without a run", () => make(true)));
  }
  at.making = true;
  update(desk);
  at.said.replaceChildren(el("p", {}, "Making the file."));
  const done = await desk.put("/api/questions", { answers: at.answers, runs: at.ticked });
  at.making = false;
  const faults = done.done ? [] : done.error.told?.faults ?? [];
  if (faults.length) desk.say(""); // they are said here, beside their questions
  tell(faults, done.done ? "" : done.error.message);
  if (!done.done) return update(desk);
  // The job tells them from now on, but for what it does not keep.
  at.answers = Object.fromEntries(["dollar", "setting"].filter((key) => key in at.answers).map((key) => [key, at.answers[key]]));
  at.told = {};
  at.ticked = [];
  keep();
  at.kinds = null;
  at.offered.replaceChildren();
  update(desk);
  desk.show("form");
}

const placed = (fault) => ({ ...fault, key: fault.key.replace(/^fallback\.1\./, "fallback[].") });

// What is missing or cannot be used: all of it in a list, and each beside its question.
function tell(faults, words) {
  at.wrong = faults.map(placed);
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
  if (!found) return desk.show("form", key); // of what no question asks
  found.scrollIntoView({ block: "center" });
  found.querySelector("input, select, textarea")?.focus({ preventScroll: true });
}

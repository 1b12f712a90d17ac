// Mornings: last night's run into the log, what it changed, tonight's orders to copy or print.

import { firstScreen, noRun } from "./call.js";
import { button, choice, el, faultList, field, moment, number, percent, table } from "./page.js";
import { read } from "./numbers.js";

let desk = null;
const at = {};

export function mount(into, given) {
  desk = given;
  at.wrong = el("div", {});
  at.form = el("form", { class: "entry", novalidate: true, "aria-label": "Last night's run" });
  at.told = el("div", { role: "status" });
  at.made = el("div", {});
  at.left = el("div", {});
  at.orders = el("section", { class: "orders", id: "tonight" });
  into.replaceChildren(
    el("h2", {}, "Mornings"),
    el("section", {}, el("h3", {}, "Last night's run"), at.wrong, at.form, at.told),
    el("section", {}, el("h3", {}, "Runs made"), at.made, at.left),
    at.orders,
  );
  for (const event of ["input", "change"]) at.form.addEventListener(event, () => { at.touched = true; });
  at.form.addEventListener("submit", (event) => { event.preventDefault(); enter(); });
  update();
}

const plain = (word) => word.replaceAll("_", " ");
const markWords = (mark) => `${mark.startsWith("-") ? "no longer " : "now "}${plain(mark.slice(1))}`;
const HINTS = {
  nothing: "The fish is as it was.",
  part: "A part of it is out: give the new fish top if it was measured.",
  prepared: "The run did its own job, and the fish is still there.",
  unfinished: "Stopped half way: time and money count, nothing was learned, the run is still to be made.",
};

function inputs(log) {
  const last = log.rows[log.rows.length - 1];
  const zone = last ? /(Z|[+-]\d\d:\d\d)$/.exec(last.start)?.[0] ?? "" : "";
  const begun = last ? last.end.slice(0, 16) : decided();
  const made_already = new Set(log.rows.filter((row) => row.outcome !== "unfinished").map((row) => row.run));
  const first = log.runs.findIndex((_, n) => !made_already.has(n + 1));
  const next = first + 1;
  const runs = log.runs.map((name, n) => [String(n + 1), `${n + 1}. ${name}`]);
  const readings = log.readings.map((name) => [name, `Reading: ${name}`]);
  return { zone, begun, next, made: [...runs, ...readings] };
}

function decided() {
  const given = desk.job.values?.job?.decided_at?.date;
  if (!given) return "";
  return given.length > 10 ? given.slice(0, 16).replace(" ", "T") : `${given}T00:00`;
}

function draw(log) {
  const { zone, begun, next, made } = inputs(log);
  const control = {
    run: choice(made, next, { name: "run" }),
    start: el("input", { type: "datetime-local", name: "start", value: begun, required: true }),
    end: el("input", { type: "datetime-local", name: "end", required: true }),
    outcome: el("select", { name: "outcome", required: true }),
    fish_top: el("input", { name: "fish_top", inputmode: "decimal", autocomplete: "off" }),
    top_condition: choice([["", "not seen"], ...log.top_conditions.map((word) => [word, plain(word)])], "", { name: "top_condition" }),
    cost: el("input", { name: "cost", inputmode: "decimal", autocomplete: "off" }),
    marks: el("input", { name: "marks", autocomplete: "off" }),
    remark: el("input", { name: "remark", autocomplete: "off", maxlength: "300" }),
  };
  const unit = desk.job.values?.units === "metric" ? "m" : "ft";
  const currency = desk.job.values?.currency ?? "";
  const hint = el("p", { class: "hint", "aria-live": "polite" });
  control.outcome.addEventListener("change", () => { hint.textContent = HINTS[control.outcome.value] ?? ""; });
  const late = el("p", { class: "wrong", role: "status" });
  control.end.addEventListener("change", () => {
    late.textContent = new Date(control.end.value) > Date.now() ? "By the clock of this machine that is still to come. Enter a run once it has ended." : "";
  });
  control.run.addEventListener("change", () => offerOutcomes(log));
  at.control = control;
  offerOutcomes(log);
  at.zone = zone;
  at.form.replaceChildren(
    field("What was run", control.run),
    field("It began", control.start, zone ? `By the clock of the log (${zone}).` : null),
    field("It ended", control.end),
    late,
    field("What came of it", control.outcome),
    hint,
    field(`What it cost (${currency})`, control.cost, "Leave it empty where it is not known yet."),
    el("details", {}, el("summary", {}, "What was seen of the fish"),
      field(`Fish top after it (${unit})`, control.fish_top, "Only where it was measured."),
      field("Condition of the top", control.top_condition),
      field("Marks", control.marks, "Words that hold of the fish now, a + before each, or no longer, a -: +washed is washed over, -attached no longer attached. They overrule what the outcome says.")),
    field("Remark", control.remark, "Kept in the log for whoever reads it; it changes no figure."),
    el("div", { class: "doing" },
      el("button", { type: "submit", class: "first" }, "Enter it"),
      button("Take the last one back", takeBack, { disabled: log.rows.length === 0 })),
  );
}

// A run ends in other ways than a reading does.
function offerOutcomes(log) {
  const { run, outcome } = at.control;
  const words = log.readings.includes(run.value) ? ["reads_workable", "reads_stubborn"] : log.outcomes;
  const chosen = words.includes(outcome.value) ? outcome.value : "";
  outcome.replaceChildren(...[["", "choose"], ...words.map((word) => [word, log.words[word]])].map(([value, said]) =>
    el("option", { value, selected: value === chosen }, said)));
}

// A number as it is typed, in the separators of whoever types, for the file. What can mean two numbers
// is left as it is: the refusal says so.
function plainNumber(text, unit) {
  const found = read(text, { unit });
  return "value" in found ? String(found.value) : text;
}

function cells() {
  const given = Object.fromEntries(Object.entries(at.control).map(([name, each]) => [name, each.value.trim()]));
  given.fish_top = plainNumber(given.fish_top, desk.job.values?.units === "metric" ? "m" : "ft");
  given.cost = plainNumber(given.cost, desk.job.values?.currency);
  for (const name of ["start", "end"]) if (given[name]) given[name] += at.zone;
  return given;
}

async function enter() {
  await send({ op: "add", cells: cells() }, "The log");
}

async function takeBack() {
  const last = desk.job.log.rows[desk.job.log.rows.length - 1];
  if (last && window.confirm(`Take back ${last.name}, ${moment(last.end)}? It goes to the end of a file beside the log.`)) {
    await send({ op: "undo" }, "The log");
  }
}

async function send(body, words) {
  if (!(await desk.needSaved(words))) return;
  at.wrong.replaceChildren();
  at.told.replaceChildren(el("p", {}, "Being entered."));
  for (const each of at.form.querySelectorAll("button")) each.disabled = true;
  try {
    const { told, job } = await desk.ask("POST", "/api/log", body);
    at.drawn = null;
    at.told.replaceChildren(el("h4", {}, "What it changed"), el("pre", { class: "told", tabindex: "0" }, told));
    desk.take(job);
  } catch (error) {
    at.told.replaceChildren();
    const faults = error.told?.faults ?? [{ text: error.message }];
    at.wrong.replaceChildren(faultList(faults, "The log was left as it is:"));
    for (const [name, each] of Object.entries(at.control)) {
      each.setAttribute("aria-invalid", String(faults.some((fault) => new RegExp(`\\b${name}\\b`).test(fault.key ?? ""))));
    }
    at.wrong.scrollIntoView({ block: "nearest" });
  } finally {
    for (const each of at.form.querySelectorAll("button")) each.disabled = false;
  }
}

export function update() {
  const { job } = desk;
  const { log } = job;
  const able = job.faults.length === 0 && job.text !== "";
  const key = JSON.stringify([log, able, job.values?.units, job.values?.currency]);
  if (at.drawn !== key) {
    at.drawn = key;
    at.touched = false;
    if (desk.runless) at.form.replaceChildren(el("p", {}, "A run can be entered as soon as the job has one."));
    else if (able) draw(log);
    else at.form.replaceChildren(el("p", {}, "The job has to be whole before a run of it can be entered."));
    made(log);
  }
  if (able && desk.fresh && !at.touched && !desk.runless) {
    // The next run by the orders, once the job is answered; what a person has begun to fill in stays.
    const next = String(desk.answer.document.tonight.do);
    if (next !== at.control.run.value && [...at.control.run.options].some((each) => each.value === next)) {
      at.control.run.value = next;
      offerOutcomes(log);
    }
  }
  moneyLeft();
  orders();
}

function made(log) {
  if (log.faults.length) {
    at.made.replaceChildren(faultList(log.faults, `${log.file} cannot be used as it stands:`));
    return;
  }
  if (!log.rows.length) {
    at.made.replaceChildren(el("p", {}, `None yet. The first one begins ${log.file}.`));
    return;
  }
  at.made.replaceChildren(table(["Run", "Began", "Ended", "Outcome", "Cost"], log.rows.map((row) => [
    row.name, moment(row.start), moment(row.end), [log.words[row.outcome], ...row.marks.map(markWords)].join("; "), row.cost === null ? "not known" : number(row.cost),
  ]), { caption: `Rows of ${log.file}`, numbers: [4] }),
  ...log.rows.filter((row) => row.warning).map((row) => el("p", { class: "refusal" }, row.warning)));
}

function moneyLeft() {
  if (!desk.fresh) {
    at.left.replaceChildren();
    return;
  }
  const { log, authority, currency } = desk.answer.document;
  const said = [];
  if (log) said.push(`Spent by the log: ${number(log.spent)} ${currency}.`);
  if (authority.given !== null && authority.given !== undefined) {
    said.push(log?.authority_overspent
      ? `The authority is overspent by ${number(log.authority_overspent)}.`
      : `Authority left: ${number(authority.given)}; it suffices for the whole with ${percent(authority.suffices)} chance, runs in the order listed.`);
  }
  at.left.replaceChildren(...said.map((words) => el("p", {}, words)));
}

function orders() {
  const { fresh, answer } = desk;
  const key = desk.runless ? "no run" : fresh ? answer.input : "none";
  if (at.ordered === key) return;
  at.ordered = key;
  if (desk.runless) {
    at.orders.replaceChildren(el("h3", {}, "Tonight's orders"), noRun(desk));
    return;
  }
  if (!fresh) {
    at.orders.replaceChildren(el("h3", {}, "Tonight's orders"), el("p", {}, "They are shown as soon as the job as it stands is answered."));
    return;
  }
  const text = el("pre", { class: "sheet", tabindex: "0", "aria-label": "Tonight's orders as text" }, answer.text);
  const said = el("span", { class: "said", role: "status" });
  at.orders.replaceChildren(
    el("h3", {}, "Tonight's orders"),
    el("div", { class: "doing" },
      button("Copy as text", async () => {
        try {
          await navigator.clipboard.writeText(answer.text);
          said.textContent = "Copied.";
        } catch {
          const range = document.createRange();
          range.selectNodeContents(text);
          getSelection().removeAllRanges();
          getSelection().addRange(range);
          said.textContent = "Marked: press Ctrl+C to copy it.";
        }
      }),
      button("Print", () => {
        document.body.dataset.print = "orders";
        window.print();
        delete document.body.dataset.print;
      }),
      said),
    text,
    el("div", { class: "narrow" }, firstScreen(answer.screen)),
  );
}

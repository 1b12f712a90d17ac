// The answer beside the work: the first screen, the curve, the next run, the belief.
//
// An old answer is never shown as a new one: what is not of the job as it stands is marked in words
// and set back, until the first figures of the new job are there, and then its answer.

import { button, drawn, el, money, number, percent, table } from "./page.js";
import { curve } from "./curve.js";

let root = null;
const place = {};

export function mount(into, desk) {
  root = into;
  place.state = el("p", { class: "state", role: "status" });
  place.body = el("div", { class: "body" });
  root.replaceChildren(el("h2", {}, "The answer"), place.state, place.body);
  update(desk);
}

function state(desk) {
  if (!desk.job) return "";
  if (!desk.connected) return "The desk does not answer now, and what is below may be old.";
  if (desk.job.text === "") return "There is no job yet. Answer the first questions.";
  const old = desk.answer ? " Below is the answer to an earlier state of it." : "";
  if (desk.job.faults.length) return `The file cannot be answered as it stands.${old}`;
  if (desk.job.log.faults.length) return `The log cannot be used as it stands.${old}`;
  if (desk.runless) return "The job can be answered as soon as it has a run.";
  if (desk.fresh) return desk.unsaved ? "Worked out from what is shown, saved or not." : "Worked out from the file.";
  if (desk.refused) return `Not answered: ${desk.refused.error ?? "see what is wrong"}.${old}`;
  if (desk.quickFresh) return "First figures from few draws, runs in the order listed. The full answer follows.";
  return `${desk.doing === "starting" ? "The program is being loaded" : "Working it out"}.${old}`;
}

export function update(desk) {
  const words = state(desk);
  if (place.state.textContent !== words) place.state.textContent = words;
  const faults = desk.refused?.faults ?? [];
  const showsQuick = !desk.fresh && desk.quickFresh;
  const shown = desk.job?.text === "" ? null : showsQuick ? desk.quick : desk.answer;
  const key = [shown?.input, showsQuick, desk.fresh, desk.runless, desk.connected, faults.length].join(" ");
  if (place.key === key) return;
  place.key = key;
  root.setAttribute("aria-busy", String(!desk.fresh && desk.sound));
  place.body.classList.toggle("old", !desk.connected || (!desk.fresh && !showsQuick && !desk.runless));
  const parts = faults.map((fault) => el("p", { class: "refusal" }, fault.text));
  if (desk.runless) parts.push(noRun(desk), desk.fresh ? facts([["Stop now", `${money(desk.answer.document.by_runs[0].expected_cost)} on average`]]) : null);
  else if (shown) parts.push(...(showsQuick ? quickly(shown) : wholly(shown)));
  place.body.replaceChildren(...parts.flat().filter(Boolean));
}

// Where no run is chosen, a stop would be no decision.
export function noRun(desk) {
  return el("div", {}, el("p", { class: "headline" }, "No run is chosen yet."),
    el("p", {}, "So there is nothing to decide, and no verdict. Choose runs in question 10 of the first questions, or add one under The job, Runs."),
    button("Choose runs in question 10", () => desk.chooseRuns(), { class: "first" }));
}

function quickly(view) {
  const { answer } = view;
  return [
    el("p", { class: "verdict" }, view.headline),
    facts([
      ["From now on", `${money(answer.expected_cost)} on average, give or take ${money(2 * answer.standard_error)}`],
      ["Stop now", money(answer.fallback_now)],
      ["Fish out", `${percent(answer.probability_recovered)} chance`],
    ]),
    curve(view.by_runs, answer, view.currency),
    ...next(view.next_run),
    ...belief(view.belief, view.has_kinds),
  ];
}

// Said wherever orders stand that need not be those of the list.
export const SAVED = "What the orders save is counted against the best limit in the order listed: the better the list is by itself, the less is left for them to save.";
export const SKIPPED = "A run that they pass over is skipped there because what it needs has not come about, or because it costs more than it adds to the runs after it.";

function wholly(view) {
  const { screen, document: told } = view;
  const plan = told.answer.by === "plan" ? told.plan.expected_cost : null;
  return [
    ...firstScreen(screen, curve(told.by_runs, told.answer, told.currency, plan)),
    plan !== null ? el("p", { class: "hint" }, `${SAVED} ${SKIPPED}`) : null,
    ...next(told.next_run, plan !== null),
    ...belief(told.belief, view.has_kinds),
    ...notes(view.notes),
  ];
}

// What `econ answer` says first, laid out to the width that there is; between: behind its first block.
export function firstScreen(screen, between = null) {
  return [
    el("div", { class: "verdict" }, screen.verdict.map((words, n) =>
      el("p", { class: n === 0 ? "headline" : null }, words))),
    screen.safety.length
      ? el("div", { class: "danger" }, screen.safety.map((words) => el("p", {}, words)))
      : null,
    ...screen.blocks.slice(0, 1).map(titled),
    between,
    ...screen.blocks.slice(1).map(titled),
    el("p", { class: "caution" }, screen.caution),
    screen.duties.length ? el("p", {}, screen.duties[0]) : null,
    screen.duties.length ? el("ul", { class: "duties" }, screen.duties.slice(1).map((words) => el("li", {}, words))) : null,
  ].flat().filter(Boolean);
}

function titled(block) {
  return [
    block.title ? el("h3", {}, block.title) : null,
    facts(block.rows.map((row) => [row.label, row.words])),
  ];
}

function facts(rows) {
  return el("dl", { class: "facts" }, rows.map(([label, words]) =>
    el("div", {}, el("dt", {}, label || "Job"), el("dd", {}, words))));
}

function next(run, byPlan = false) {
  if (!run) return [];
  const need = run.break_even_odds;
  const known = need !== null && need !== undefined;
  return [
    el("h3", {}, byPlan ? "Odds of the next run in the order listed" : "The next run's odds"),
    el("p", {}, `${run.name}: ${number(24 * run.days)} h, ${money(run.cost)}.`),
    gauge(run.odds, known ? need : null),
  ];
}

// A bar of the odds with a mark where it pays.
function gauge(odds, need) {
  const words = need === null
    ? `Its odds are ${percent(odds)}; by itself it would pay at no odds.`
    : `Its odds are ${percent(odds)}; by itself it pays above ${percent(Math.max(0, need))}.`;
  const wide = 300;
  const x = (chance) => 1 + (wide - 2) * Math.min(1, Math.max(0, chance));
  return el("div", { class: "gauge" },
    drawn("svg", { viewBox: `0 0 ${wide} 22`, role: "img", "aria-label": words },
      drawn("rect", { x: 1, y: 6, width: wide - 2, height: 10, class: "ground" }),
      drawn("rect", { x: 1, y: 6, width: x(odds) - 1, height: 10, class: "odds" }),
      need === null ? null : drawn("path", { d: `M${x(need)} 1V21`, class: "need" })),
    el("p", { class: "hint" }, words));
}

function belief(rows, hasKinds) {
  // A run that brings no fish by itself, such as dressing the top, is no row.
  const tries = rows.filter((row) => row.next_odds > 0);
  if (!hasKinds || tries.length < 2) return [];
  return [
    el("h3", {}, "What a failure teaches, in the order listed"),
    table(["Runs failed", "Fish workable", "Odds of the next"],
      tries.slice(0, 8).map((row) => [number(row.failed_runs), percent(row.workable), percent(row.next_odds)]),
      { caption: "Belief before each run that tries for the fish", numbers: [0, 1, 2] }),
  ];
}

function notes(rows) {
  if (!rows.length) return [];
  return [el("details", {}, el("summary", {}, `${rows.length} note${rows.length === 1 ? "" : "s"} on the input`),
    el("ul", {}, rows.map((words) => el("li", {}, words))))];
}

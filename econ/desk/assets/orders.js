// Orders: the plan as a tree. What to do now, and after each outcome, with its chance.

import { noRun, SAVED, SKIPPED } from "./call.js";
import { button, el, money, number, percent } from "./page.js";

let desk = null;
const at = {};

export function mount(into, given) {
  desk = given;
  at.said = el("p", { role: "status" });
  at.body = el("div", {});
  at.none = el("div", {});
  at.ask = button("Work the plan out", ask, { class: "first" });
  into.replaceChildren(
    el("h2", {}, "Orders"),
    el("p", {}, "The runs in any order: what to do in every state that is likely enough to be read."),
    at.none,
    el("div", { class: "doing" }, at.ask, at.said),
    at.body,
  );
  update();
}

async function ask() {
  at.said.textContent = "Being worked out.";
  at.ask.disabled = true;
  at.running = true;
  try {
    at.plan = await desk.ask("POST", "/api/plan");
    at.said.textContent = "";
    draw();
  } catch (error) {
    at.said.textContent = error.told?.newer ? "" : `Not worked out: ${error.message}.`;
  } finally {
    at.running = false;
    update();
  }
}

function draw() {
  const { plan } = at;
  const gain = plan.gain > 2 * plan.gain_error
    ? `It saves ${money(plan.gain)} more than the best limit in the listed order.`
    : "It saves nothing more than the best limit in the listed order, as far as can be told.";
  at.body.replaceChildren(
    ...(plan.safety.length ? [el("div", { class: "danger" }, plan.safety.map((words) => el("p", {}, words)))] : []),
    el("p", {}, `On average ${money(plan.expected_cost)} ${plan.currency} from now on; ` +
      `the fish comes out with ${percent(plan.probability_recovered)} chance. ${gain}`),
    el("p", { class: "hint" }, SAVED),
    el("ul", { class: "tree" }, branch(plan.order, plan, true)),
    el("p", { class: "hint" }, passedOver(plan)),
    el("p", { class: "hint" }, "More states are looked at here than in the answer, so that this plan may cost a little less."),
    ...(plan.left_out ? [el("p", { class: "hint" }, `${number(plan.left_out)} less likely branches are left out.`)] : []),
  );
}

// Runs of the list that no order here makes, and why a run is passed over.
function passedOver(plan) {
  const made = new Set();
  const walk = (order) => { made.add(order.do); order.then.forEach(walk); };
  walk(plan.order);
  for (const row of desk.job.log.rows) made.add(row.run);
  const names = plan.runs.map((name, n) => [n + 1, name]).filter(([n]) => !made.has(n)).map(([n, name]) => `run ${n}, ${name}`);
  return `${names.length ? `In no order above: ${names.join("; ")}. ` : ""}${SKIPPED}`;
}

const plain = (word) => word.replaceAll("_", " ");

function branch(order, plan, first) {
  const stops = order.do === "stop";
  const ended = order.do === "recovered";
  const does = stops ? plan.stop[0].toUpperCase() + plan.stop.slice(1).replace(/\.$/, "")
    : ended ? "Out: drill ahead"
    : typeof order.do === "number" ? `Run ${order.do}: ${order.name}` : `Reading: ${order.do}`;
  const facts = [first ? null : `${percent(order.chance)} chance`];
  if (order.odds !== null && !stops) facts.push(`odds ${percent(order.odds)}`);
  facts.push(`${money(order.cost_from_here)} from here`);
  const beliefs = Object.entries(order.belief);
  if (beliefs.length === 1) facts.push(`fish workable ${percent(beliefs[0][1])}`);
  else for (const [doubt, chance] of beliefs) facts.push(`${plain(doubt)} ${percent(chance)}`);
  if (order.next_best) {
    const other = order.next_best.do === "stop" ? "stopping" : typeof order.next_best.do === "number" ? `run ${order.next_best.do}` : order.next_best.do;
    facts.push(order.next_best.resolved ? `${other} costs ${money(order.next_best.costs_more)} more` : `${other} about equal`);
  }
  const line = el("span", {},
    first ? null : el("span", { class: "after" }, `${order.after.join(", or: ")}: `),
    el("span", { class: stops ? "does stop" : "does" }, does),
    el("span", { class: "hint" }, ` ${facts.filter(Boolean).join("; ")}.`));
  if (!order.then.length) return el("li", {}, line);
  return el("li", {}, el("details", { open: true }, el("summary", {}, line),
    el("ul", {}, order.then.map((each) => branch(each, plan, false)))));
}

export function update() {
  at.ask.disabled = !desk.sound || desk.runless || !desk.connected || at.running;
  at.none.replaceChildren(...(desk.runless ? [noRun(desk)] : []));
  const old = at.plan && at.plan.input !== desk.job.input;
  at.body.classList.toggle("body", true);
  at.body.classList.toggle("old", Boolean(old));
  if (old && !at.running) at.said.textContent = "This plan is of an earlier state of the job.";
  at.ask.textContent = at.plan ? "Work it out again" : "Work the plan out";
}

// The cost of every limit as a drawing, and the same as a table.
//
//   up: expected cost; across: most runs made before stopping; a line through it from P10 to P90
//   the dashed line is the cost of stopping now, the ring the cheapest limit, the shade limits
//   within 2 % of it; dotted: the plan, which takes the runs in any order, where the verdict is by it

import { drawn, el, money, number, percent, table } from "./page.js";

const WIDE = 420;
const HIGH = 250;
const EDGE = { left: 44, right: 10, top: 12, bottom: 44 };
const MOST_LABELS = 9;

// plan: expected cost of the plan that the verdict is by, null where it is by a limit.
export function curve(rows, answer, currency, plan = null) {
  const best = answer.runs;
  const flat = answer.flat_limits ?? [best];
  const words = told(rows, answer, currency, plan);
  return el("figure", { class: "curve" },
    el("figcaption", {}, `Cost by limit, runs in the order listed, ${[scaleOf(Math.max(...ends(rows, plan))).words, currency].filter(Boolean).join(" ")}`),
    drawn("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": words }, picture(rows, best, flat, plan)),
    el("p", { class: "hint" }, words),
    el("details", {}, el("summary", {}, "The same as a table"), asTable(rows, best)));
}

function told(rows, answer, currency, plan) {
  const now = rows[0].expected_cost;
  const least = rows.find((row) => row.runs === answer.runs) ?? rows[0];
  const stop = answer.runs === 0
    ? "In the order listed stopping now is the cheapest"
    : `In the order listed the cheapest limit is ${answer.runs} run${answer.runs === 1 ? "" : "s"}`;
  const listed = `${stop}, ${money(least.expected_cost)} ${currency} on average; stopping now costs ${money(now)}, the dashed line, ` +
    `making every run ${money(rows[rows.length - 1].expected_cost)}.`;
  return plan === null ? listed
    : `${listed} The verdict is by the plan, which takes the runs in any order: ${money(plan)}, the dotted line.`;
}

function ends(rows, plan) {
  return [...rows.flatMap((row) => [row.expected_cost, row.p10, row.p90]), plan].filter((each) => each !== null && each !== undefined);
}

function picture(rows, best, flat, plan) {
  const ticks = steps(Math.min(...ends(rows, plan)), Math.max(...ends(rows, plan)));
  const low = ticks[0];
  const high = ticks[ticks.length - 1];
  const last = Math.max(1, rows.length - 1);
  const x = (runs) => EDGE.left + 10 + ((WIDE - EDGE.left - EDGE.right - 20) * runs) / last;
  const y = (cost) => HIGH - EDGE.bottom - ((HIGH - EDGE.top - EDGE.bottom) * (cost - low)) / (high - low || 1);
  const half = (x(1) - x(0)) / 2;
  const every = Math.ceil(rows.length / MOST_LABELS);
  const scale = scaleOf(Math.max(...ends(rows, plan)));
  const line = rows.map((row, n) => `${n ? "L" : "M"}${x(row.runs).toFixed(1)} ${y(row.expected_cost).toFixed(1)}`).join("");
  const top = EDGE.top;
  const base = HIGH - EDGE.bottom;
  return [
    ...flat.map((runs) => {
      const from = Math.max(EDGE.left, x(runs) - half);
      const to = Math.min(WIDE - EDGE.right, x(runs) + half);
      return drawn("rect", { class: "flat", x: from, y: top, width: to - from, height: base - top });
    }),
    ...ticks.map((tick) => [
      drawn("path", { class: "grid", d: `M${EDGE.left} ${y(tick)}H${WIDE - EDGE.right}` }),
      drawn("text", { class: "up", x: EDGE.left - 6, y: y(tick) + 4 }, number(tick / scale.size, scale.decimals(ticks))),
    ]).flat(),
    ...rows.filter((row) => row.p10 !== null && row.p10 !== undefined).map((row) =>
      drawn("path", { class: "band", d: `M${x(row.runs)} ${y(row.p10)}V${y(row.p90)}` })),
    drawn("path", { class: "now", d: `M${EDGE.left} ${y(rows[0].expected_cost)}H${WIDE - EDGE.right}` }),
    plan === null ? null : drawn("path", { class: "plan", d: `M${EDGE.left} ${y(plan)}H${WIDE - EDGE.right}` }),
    drawn("path", { class: "line", d: line }),
    ...rows.map((row) => drawn("circle", { class: "dot", cx: x(row.runs), cy: y(row.expected_cost), r: 3.2 })),
    drawn("circle", { class: "best", cx: x(best), cy: y((rows.find((row) => row.runs === best) ?? rows[0]).expected_cost), r: 7 }),
    ...rows.filter((row, n) => n % every === 0).map((row) => [
      drawn("text", { class: "across", x: x(row.runs), y: base + 16 }, number(row.runs)),
      drawn("text", { class: "across small", x: x(row.runs), y: base + 28 }, `${number(row.days, 1)} d`),
    ]).flat(),
    drawn("text", { class: "across name", x: (EDGE.left + WIDE - EDGE.right) / 2, y: HIGH - 4 }, "most runs; days if all fail"),
  ];
}

// Round steps of an axis that hold both ends.
function steps(low, high) {
  const span = high - low || Math.abs(high) || 1;
  const raw = span / 4;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((each) => each * power).find((each) => each >= raw);
  const from = Math.floor(low / step);
  const to = Math.ceil(high / step);
  return Array.from({ length: Math.max(1, to - from) + 1 }, (_, n) => (from + n) * step);
}

function scaleOf(largest) {
  const [size, words] = [[1e9, "billion"], [1e6, "million"], [1e3, "thousand"], [1, ""]].find(([each]) => largest >= each) ?? [1, ""];
  return {
    size,
    words,
    decimals: (ticks) => {
      const step = ticks.length > 1 ? (ticks[1] - ticks[0]) / size : 1;
      return Math.max(0, Math.min(3, Math.ceil(-Math.log10(step) - 1e-9)));
    },
  };
}

function asTable(rows, best) {
  const whole = rows[0].p10 !== undefined;
  const heads = ["Runs", "Days", "On average", "Fish out", ...(whole ? ["P10", "P90"] : [])];
  return table(heads, rows.map((row) => [
    row.runs === best ? `${number(row.runs)}, cheapest` : number(row.runs),
    number(row.days, 1),
    money(row.expected_cost),
    percent(row.probability_recovered),
    ...(whole ? [money(row.p10), money(row.p90)] : []),
  ]), { caption: "Cost by limit", numbers: [0, 1, 2, 3, 4, 5] });
}

// Two cases side by side: what each comes to, and what of the change is told apart from its error.

import { el, money, number, percent, table } from "./page.js";

const NAMES = {
  expected_cost: "On average, at the best limit",
  fallback_now: "Stopping now",
  saving: "Saved against stopping now",
  probability_recovered: "Fish out",
  days: "Days, if all runs fail",
  p90: "P90, not exceeded 9 times in 10",
  next_odds: "Odds of the next run",
  next_break_even: "Odds that it needs",
  stage_1_planned: "Authority to fish",
  stage_2_p90: "Authority for the fallback (P90)",
};

// As `econ whatif` has them.
export function sideBySide(found, { before = "The file", after = "As set" } = {}) {
  const value = (figure, side) => {
    const each = figure[side];
    if (each === null || each === undefined) return "-";
    if (figure.unit === "fraction") return percent(each);
    return figure.unit === "d" ? number(each, 1) : money(each);
  };
  const change = (figure) => {
    if (figure.change === null) return "-";
    if (!figure.resolved) return "not told apart";
    const size = Math.abs(figure.change);
    const [shown, least] = figure.unit === "fraction" ? [percent(size), 0.0005]
      : figure.unit === "d" ? [number(size, 1), 0.05] : [money(size), 0.5];
    return size < least ? "as good as none" : `${figure.change > 0 ? "+" : "-"}${shown}`;
  };
  const rows = found.figures.filter((figure) => NAMES[figure.name]).map((figure) => [
    NAMES[figure.name], value(figure, "before"), value(figure, "after"),
    change(figure),
  ]);
  return [
    el("h3", {}, "Side by side"),
    table(["", before, after, "Change"], [
      ["Verdict", ...found.headlines, ""],
      ...rows,
    ], { caption: `Amounts in ${found.currency}, runs in the order listed`, numbers: [] }),
  ];
}

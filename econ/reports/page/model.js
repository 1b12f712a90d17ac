"use strict";
/* The model of econ.decision.page_model, evaluated in the page: the same symbols, the same sums. */

const NEVER = 1e-9;
/* Columns of a limit, after the three of the fish out on the next run; PER_FALLBACK of a state. */
const RECOVERED = 3, STILL = 4, PLANNED = 5, DAYS = 8, PLAIN = 9, PER_LIMIT = 10, PER_FALLBACK = 3;

function makeModel(data) {
  const M = data.model, limits = M.limits, ratios = M.log_ratios, end = ratios[ratios.length - 1];
  const base = Object.assign({ spread: 1, fishing_day: 1, fallback: 1, trip_speed: 1 }, M.base);

  /* Weights of nodes; each second one ends a parabola. */
  function parabola(nodes, at) {
    const weights = nodes.map(() => 0);
    if (nodes.length === 1) return [1];
    let i = 0;
    while (i < nodes.length - 3 && at > nodes[i + 2]) i += 2;
    const [a, b, c] = nodes.slice(i, i + 3);
    weights[i] = (at - b) * (at - c) / ((a - b) * (a - c));
    weights[i + 1] = (at - a) * (at - c) / ((b - a) * (b - c));
    weights[i + 2] = (at - a) * (at - b) / ((c - a) * (c - b));
    return weights;
  }

  /* Chance that the next run recovers each kind of fish, at a log odds ratio. */
  function chances(ratio) {
    const at = parabola(ratios, ratio);
    return M.belief.map((_, k) => {
      const logit = at.reduce((sum, w, j) => sum + w * Math.log(M.odds[j][k] / (1 - M.odds[j][k])), 0);
      return 1 / (1 + Math.exp(-logit));
    });
  }
  function logRatio(nextOdds) {
    if (limits === 1 || nextOdds === base.next_odds) return 0;
    let low = -end, high = end;
    for (let i = 0; i < 60; i++) {
      const middle = 0.5 * (low + high);
      const chance = chances(middle).reduce((sum, p, k) => sum + M.belief[k] * p, 0);
      if (chance < nextOdds) low = middle; else high = middle;
    }
    return 0.5 * (low + high);
  }

  /* What depends on the odds of the next run and on the speeds: chances and columns by kind. */
  function bent(position) {
    const ratio = logRatio(position.next_odds), ends = parabola([-end, 0, end], ratio);
    const along = parabola(M.slowness, 1 / position.trip_speed).concat(ends[0], ends[2]);
    const rows = M.belief.map((_, k) => M.table[0][k].map((_, c) =>
      along.reduce((sum, w, i) => w === 0 ? sum : sum + w * M.table[i][k][c], 0)));
    return { rows, chances: chances(ratio) };
  }

  /* Every limit at a position; known: what `bent` gives there. */
  function at(position, known) {
    const { rows, chances: odds } = known || bent(position);
    const weight = rows.length === 2 ? [position.workable, 1 - position.workable] : M.belief;
    const after = weight.map((w, k) => w * (1 - odds[k]));
    const s = position.spread, f = position.fishing_day, more = (position.fallback - 1) * M.fallback_now;
    const mix = (w, c) => w.reduce((sum, each, k) => sum + each * rows[k][c], 0);
    const three = (w, c) => mix(w, c) + s * mix(w, c + 1) + f * mix(w, c + 2);
    const back = weight.map((w, k) => w * odds[k]), chance = back.reduce((a, b) => a + b);
    const add = (name, n) => M.more[name][n], found = { taken: 0, bills: [], givenUp: [] };
    for (const name of ["cost", "recovered", "days", "planned", "fishing", "fallback"]) found[name] = [];
    for (let n = 0; n < limits; n++) {
      const w = n ? after : weight, c = 3 + PER_LIMIT * n, still = mix(w, c + STILL);
      found.recovered.push(mix(w, c + RECOVERED) + (n ? chance : 0));
      found.fishing.push(three(w, c) + (n ? three(back, 0) : 0));
      found.days.push((still > NEVER ? mix(w, c + DAYS) / still : mix(weight, c + PLAIN)) + add("days", n));
      found.planned.push((still > NEVER ? three(w, c + PLANNED) / still : found.fishing[n]) + add("planned", n));
      found.bills.push(more * (1 - found.recovered[n]));
      found.givenUp.push(add("given_up", n));
    }
    for (const { first, last, fallbacks, column } of M.states) {
      const w = first ? after : weight;
      const costs = fallbacks.map((_, j) => mix(w, column + PER_FALLBACK * j) + s * mix(w, column + PER_FALLBACK * j + 1));
      const least = costs.indexOf(Math.min(...costs)), value = mix(w, column + PER_FALLBACK * least + 2);
      if (first === 0) found.taken = fallbacks[least];
      for (let n = first; n <= last; n++) {
        found.bills[n] += costs[least];
        found.givenUp[n] += value;
      }
    }
    const plain = found.bills.map((bill, n) => bill + found.fishing[n]);  // cost before the answer is met
    for (let n = 0; n < limits; n++) {
      found.cost.push(plain[n] + add("cost", n));
      found.fishing[n] += add("fishing", n);
      found.recovered[n] += add("recovered", n);
      const need = 1 - found.recovered[n];
      found.fallback.push(need > NEVER ? (found.cost[n] - found.fishing[n] - found.givenUp[n]) / need : 0);
    }
    found.nextOdds = found.breakEven = null;
    if (limits > 1) {
      const saved = found.bills[0] - M.recovery[0] - s * M.recovery[1] - f * M.recovery[2];
      const need = plain[1] - plain[0] - M.mobilization + chance * saved;
      found.nextOdds = chance + M.more.next_odds;
      found.breakEven = saved > 0 ? need / saved + M.more.break_even : null;
    }
    return found;
  }

  /* The best limit, all that cost at most 2 % more, and those not told apart from it. */
  function verdict(found, position) {
    const cost = found.cost, every = cost.map((_, n) => n).filter(n => n >= data.minimum);
    const best = every.reduce((a, n) => cost[n] < cost[a] - 1e-9 * Math.abs(cost[a]) ? n : a);
    const near = share => n => cost[n] - cost[best] <= share * Math.abs(cost[best]);
    const bends = ["trip_speed", "next_odds"].some(name => position[name] !== base[name]);
    const close = near(data.doubt + (bends ? data.bend : 0));
    return { best, flat: every.filter(near(data.flat)), same: [], close: every.filter(n => n !== best && close(n)) };
  }

  /* Where the verdict flips as one slider is turned and the others stay: the nearest place below
     and above. Fishing pays if some limit of at least one run costs less than stopping now. */
  function flips(position, name, least, most) {
    if (limits === 1) return [];
    const known = bent(position), now = position[name], steps = 48, found = [];
    const pays = value => {
      const cost = at(Object.assign({}, position, { [name]: value }), known).cost;
      return Math.min(...cost.slice(1)) < cost[0];
    };
    for (const end of [least, most]) {
      const step = i => name === "workable" ? now + (end - now) * i / steps : now * Math.pow(end / now, i / steps);
      for (let i = 1; i <= steps; i++) {
        let a = step(i - 1), b = step(i);
        const before = pays(a);
        if (before === pays(b)) continue;
        for (let j = 0; j < 60; j++) {
          const middle = 0.5 * (a + b);
          if (pays(middle) === before) a = middle; else b = middle;
        }
        found.push({ value: 0.5 * (a + b), below: end > now ? before : !before });
        break;
      }
    }
    return found;
  }

  return { base, at, verdict, flips };
}

"use strict";
/* The surface of econ.decision.surface, evaluated in the page: the same symbols, the same sums.
   What a limit costs is linear in spread, fishing day and fallback, and is mixed over the kinds
   of fish; odds of the next run and slowness of the trips lie on small grids. */

const COLUMNS = 9, BILL = 3, HEAD = 10, WIDEST = 3, RECOVERED = 3, STILL = 4, PLANNED = 5, DAYS = 8;
const NEVER = 1e-6;
const SAVED = 3, RECOVERY = 6, MOBILIZATION = 9;

function makeModel(data) {
  const S = data.surface;
  const kinds = S.belief.length, limits = S.limits;
  const values = unpack(S.values), bills = unpack(S.bills);
  const base = { spread: 1, fishing_day: 1, workable: S.workable, next_odds: S.next_odds, fallback: 1, trip_speed: 1 };

  function unpack(text) {
    const raw = atob(text), bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    const view = new DataView(bytes.buffer), out = new Float64Array(raw.length / 4);
    for (let i = 0; i < out.length; i++) out[i] = view.getFloat32(4 * i, true);
    return out;
  }

  /* Weights of Chebyshev nodes on [-WIDEST, WIDEST] whose sum is the polynomial at x. */
  function polynomial(x, count) {
    if (count === 1) return [1];
    const weights = [];
    let total = 0;
    for (let j = 0; j < count; j++) {
      const gap = x + WIDEST * Math.cos(Math.PI * j / (count - 1));
      if (Math.abs(gap) < 1e-12) return Array.from({ length: count }, (_, i) => i === j ? 1 : 0);
      const sign = (j % 2 ? -1 : 1) * (j === 0 || j === count - 1 ? 0.5 : 1);
      weights.push(sign / gap);
      total += sign / gap;
    }
    return weights.map(w => w / total);
  }

  /* Weights of the nodes of slowness; each second one ends a parabola. */
  function parabola(u) {
    const nodes = S.slowness, weights = nodes.map(() => 0);
    if (nodes.length === 1) return [1];
    let i = 0;
    while (i < nodes.length - 3 && u > nodes[i + 2]) i += 2;
    const [a, b, c] = nodes.slice(i, i + 3);
    weights[i] = (u - b) * (u - c) / ((a - b) * (a - c));
    weights[i + 1] = (u - a) * (u - c) / ((b - a) * (b - c));
    weights[i + 2] = (u - a) * (u - b) / ((c - a) * (c - b));
    return weights;
  }

  /* Chance that the next run recovers each kind of fish, at a log odds ratio. */
  function chances(ratio) {
    if (limits === 1) return S.belief.map(() => 0);
    const nodes = S.odds.length, at = polynomial(ratio, nodes);
    return S.belief.map((_, k) => {
      let sum = 0;
      for (let j = 0; j < nodes; j++) sum += at[j] * Math.log(S.odds[j][k] / (1 - S.odds[j][k]));
      return 1 / (1 + Math.exp(-sum));
    });
  }

  function logRatio(nextOdds) {
    if (limits === 1 || nextOdds === base.next_odds) return 0;
    let low = -WIDEST, high = WIDEST;
    for (let i = 0; i < 60; i++) {
      const middle = 0.5 * (low + high), odds = chances(middle);
      let mean = 0;
      for (let k = 0; k < kinds; k++) mean += S.belief[k] * odds[k];
      if (mean < nextOdds) low = middle; else high = middle;
    }
    return 0.5 * (low + high);
  }

  /* What depends on speed and odds: coefficients by kind, those of the pools, the chances. */
  function table(position) {
    const ratio = logRatio(position.next_odds), along = parabola(1 / position.trip_speed);
    const mixed = (numbers, nodes, columns) => {
      const across = polynomial(ratio, nodes), rows = [];
      for (let k = 0; k < kinds; k++) rows.push(new Float64Array(columns));
      along.forEach((u, i) => across.forEach((x, j) => {
        const share = u * x;
        if (share === 0) return;
        for (let k = 0; k < kinds; k++) {
          const start = ((i * nodes + j) * kinds + k) * columns, row = rows[k];
          for (let c = 0; c < columns; c++) row[c] += share * numbers[start + c];
        }
      }));
      return rows;
    };
    return {
      coefficients: mixed(values, S.ratios, S.columns),
      pooled: mixed(bills, S.pool_ratios, S.pool_columns),
      chances: chances(ratio),
    };
  }

  /* Every limit at a position. */
  function at(position, known) {
    const { coefficients, pooled, chances: odds } = known || table(position);
    const weight = kinds > 1 ? [position.workable, 1 - position.workable] : [1];
    const after = weight.map((w, k) => w * (1 - odds[k]));
    const s = position.spread, f = position.fishing_day;
    const more = (position.fallback - 1) * S.fallback_now;
    const three = (row, c) => row[c] + s * row[c + 1] + f * row[c + 2];
    const two = (row, c) => row[c] + s * row[c + 1];
    const sum = rows => (w, of) => w.reduce((total, each, k) => total + each * of(rows[k], k), 0);
    const mix = sum(coefficients), mixPools = sum(pooled);
    const out = mix(weight, (row, k) => odds[k]);
    const first = mix(weight, (row, k) => odds[k] * three(row, 0));
    const sure = HEAD + COLUMNS * limits;
    const found = { cost: [], recovered: [], days: [], planned: [], fishing: [], fallback: [], bills: [], givenUp: [] };
    for (let n = 0; n < limits; n++) {
      const w = n ? after : weight, c = HEAD + COLUMNS * n;
      found.recovered.push(mix(w, row => row[c + RECOVERED]) + (n ? out : 0));
      found.fishing.push(mix(w, row => three(row, c)) + (n ? first : 0));
      found.bills.push(mix(w, row => two(row, sure + BILL * n)) + more * (1 - found.recovered[n]));
      found.givenUp.push(mix(w, row => row[sure + BILL * n + 2]));
      const still = mix(w, row => row[c + STILL]);
      found.days.push(still > NEVER ? mix(w, row => row[c + DAYS]) / still : null);
      found.planned.push(still > NEVER ? mix(w, row => three(row, c + PLANNED)) / still : found.fishing[n]);
    }
    let now = 0;
    found.taken = 0;
    S.pools.forEach((pool, number) => {
      const w = pool.first ? after : weight;
      const judged = pool.columns.map(c => mixPools(weight, row => two(row, c + BILL)));
      const least = judged.indexOf(Math.min(...judged)), c = pool.columns[least];
      const cost = mixPools(w, row => two(row, c)), value = mixPools(w, row => row[c + 2]);
      if (number === 0) [now, found.taken] = [least, pool.fallbacks[least]];
      for (let n = pool.first; n <= pool.last; n++) {
        found.bills[n] += cost;
        found.givenUp[n] += value;
      }
    });
    for (let n = 0; n < limits; n++) {
      const need = 1 - found.recovered[n];
      found.cost.push(found.fishing[n] + found.bills[n] + S.more_cost[n]);
      found.fallback.push(need > NEVER ? (found.cost[n] - found.fishing[n] - found.givenUp[n]) / need : 0);
    }
    found.nextOdds = found.breakEven = null;
    if (limits > 1) {
      const here = S.here + BILL * now;
      const spared = mix(weight, (row, k) => odds[k] * (two(row, here) + more - three(row, SAVED)));
      const saved = found.bills[0] - mix(weight, row => three(row, RECOVERY));
      const need = found.cost[1] - found.cost[0] - mix(weight, row => row[MOBILIZATION]) + spared;
      found.nextOdds = out + S.more_next_odds;
      found.breakEven = saved > 0 ? need / saved + S.more_break_even : null;
    }
    return found;
  }

  /* The best limit as the program takes it, and what goes with it. */
  function verdict(found) {
    const cost = found.cost, least = data.minimum;
    let best = least;
    for (let n = least + 1; n < limits; n++) if (cost[n] < cost[best] - 1e-6 * Math.abs(cost[best])) best = n;
    const within = n => cost[n] <= cost[best] + 0.02 * Math.abs(cost[best]);
    let low = best, high = best;
    while (low > least && within(low - 1)) low--;
    while (high < limits - 1 && within(high + 1)) high++;
    const near = n => n !== best && n >= least && Math.abs(cost[n] - cost[best]) <= data.doubt * Math.abs(cost[best]);
    return { best, low, high, same: [], close: cost.map((_, n) => n).filter(near) };
  }

  /* Where the verdict flips as one knob is turned and the others stay: the nearest place below
     and above. Fishing pays if some limit of at least one run costs less than stopping now. */
  function flips(position, name, least, most) {
    if (limits === 1) return [];
    const known = table(position);
    const gap = value => {
      const cost = at(Object.assign({}, position, { [name]: value }), known).cost;
      return Math.min(...cost.slice(1)) - cost[0];
    };
    const found = [], now = position[name], steps = 48, factor = name !== "workable";
    for (const end of [least, most]) {
      let here = now, before = gap(now);
      for (let i = 1; i <= steps; i++) {
        const next = factor ? now * Math.pow(end / now, i / steps) : now + (end - now) * i / steps;
        const after = gap(next);
        if ((before < 0) !== (after < 0)) {
          let a = here, b = next;
          for (let j = 0; j < 60; j++) {
            const middle = 0.5 * (a + b);
            if ((gap(middle) < 0) === (before < 0)) a = middle; else b = middle;
          }
          const value = 0.5 * (a + b);
          found.push({ value, below: end > now ? before < 0 : after < 0 });
          break;
        }
        here = next;
        before = after;
      }
    }
    return found;
  }

  return { base, at, verdict, flips };
}

/* The page: sliders, curve and words on the model. Names from the scenario are set as text. */

const data = JSON.parse(document.getElementById("data").textContent);
const model = makeModel(data);
const el = id => document.getElementById(id);
const state = Object.assign({}, model.base);
const FLIPS = [["workable", 0, 1], ["spread", 0.1, 10], ["fallback", 0.1, 10]];

// ---- words ------------------------------------------------------------------------------------

function grouped(text) {
  const [whole, part] = text.split(".");
  return whole.replace(/\B(?=(\d{3})+(?!\d))/g, ",") + (part ? "." + part : "");
}
function fixed(value, decimals) {
  const text = value.toFixed(decimals);
  return grouped(Number(text) === 0 ? text.replace("-", "") : text);
}
/* Names in another script, or in none, keep their direction to themselves. */
const apart = words => /^[ -~]*$/.test(words) ? words : "\u2068" + words + "\u2069";
const listed = parts => parts.join(", ").replace(/, (?=[^,]*$)/, " and ");
const currency = apart(data.currency);
const short = value => fixed(value / data.scale, data.decimals);
const unit = [data.unit, currency].filter(Boolean).join(" ");
const full = value => short(value) + " " + unit;
const perDay = value => fixed(value, 0) + " " + currency + "/d";
const edge = value => value > 1e-6 && value < 0.005 || value > 0.995 && value < 1 - 1e-6;
const percent = value => fixed(100 * value, edge(value) ? 1 : 0) + " %";
const days = value => value === null ? "-" : fixed(value, 1);
const runs = count => count === 1 ? "1 run" : count + " runs";
const moreRuns = count => count === 1 ? "1 more run" : count + " more runs";
/* Whether an amount is more than half of the last digit shown, as the text of the answer asks. */
const shows = value => value > 0.5 * data.scale * Math.pow(10, -data.decimals);
const times = value => "\u00d7 " + fixed(value, 2);

/* The sentences are those of econ.reports.sentences, and so are the rules that choose them. */
const templates = data.templates;
const fill = (name, places) => templates[name].replace(/\{(\w+)\}/g, (_, place) => places[place]);

/* A sentence whose places are nodes or words. */
function compose(parent, name, places) {
  for (const [i, part] of templates[name].split(/\{(\w+)\}/).entries()) parent.append(i % 2 ? places[part] : part);
}

function flatWords(limits) {
  if (limits.length === 1) return runs(limits[0]);
  const rows = [];
  for (const n of limits) {
    if (rows.length && rows[rows.length - 1][1] === n - 1) rows[rows.length - 1][1] = n; else rows.push([n, n]);
  }
  const parts = rows.map(([low, high]) => low === high ? String(low) : `${low} to ${high}`);
  return (rows.every(([low, high]) => low === high) ? listed(parts) : parts.join(", ")) + " runs";
}

function put(node, words, value) {
  node.textContent = words;
  if (value !== undefined) node.dataset.value = value === null ? "" : String(value);
  return node;
}
function add(parent, tag, words, value) {
  return put(parent.appendChild(document.createElement(tag)), words, value);
}

// ---- knobs ------------------------------------------------------------------------------------

/* The values a slider stops at: the file's, even steps of one hundredth, and both ends. A factor
   has as many steps below 1 as above it. */
function stops(knob) {
  const chance = knob.name === "workable" || knob.name === "next_odds";
  const values = [knob.least, knob.now, knob.most];
  for (let i = Math.ceil(100 * knob.least); i <= 100 * knob.most; i++) {
    if (chance || i <= 100 || i % 2 === 0) values.push(i / 100);
  }
  const told = values.filter(v => v === knob.now || Math.abs(v - knob.now) > 0.002);
  return [...new Set(told)].sort((a, b) => a - b);
}
const knobs = data.knobs.map(knob => Object.assign({ stops: stops(knob) }, knob));

function nearest(values, value) {
  let place = 0;
  values.forEach((each, i) => { if (Math.abs(each - value) < Math.abs(values[place] - value)) place = i; });
  return place;
}

function knobWords(knob, found) {
  const value = state[knob.name];
  if (knob.name === "spread" || knob.name === "fishing_day") return perDay(value * knob.amount) + (moved(knob) ? " (" + times(value) + ")" : "");
  if (knob.name === "trip_speed") return times(value);
  if (knob.name === "workable") return percent(value) + (moved(knob) ? ` (file ${percent(knob.now)})` : "");
  if (knob.name === "next_odds") return percent(found.nextOdds) + (moved(knob) ? ` (file ${percent(fileFound.nextOdds)})` : "");
  const more = (value - 1) * knob.amount;
  return full(found.bills[0]) + (moved(knob) ? ` (${short(Math.abs(more))} ${more < 0 ? "less" : "more"})` : "");
}
/* The odds are set at the file's belief in the fish; with another belief the chance is another. */
function alsoWords(knob) {
  if (knob.name !== "next_odds" || state.workable === model.base.workable) return "";
  return `Set to ${percent(state.next_odds + data.model.more.next_odds)} at the file's workable chance.`;
}
const moved = knob => state[knob.name] !== model.base[knob.name];

// ---- the address ------------------------------------------------------------------------------

function readAddress() {
  Object.assign(state, model.base);
  const given = new URLSearchParams(location.hash.slice(1));
  for (const knob of knobs) {
    const words = given.get(knob.name), value = Number(words);
    if (words === null || words.trim() === "" || !Number.isFinite(value)) continue;
    state[knob.name] = Math.min(knob.most, Math.max(knob.least, value));
  }
}
function address() {
  return knobs.filter(moved).map(knob => knob.name + "=" + state[knob.name]).join("&");
}
function writeAddress() {
  const hash = address();
  if (location.hash.slice(1) === hash) return;
  try {
    history.replaceState(null, "", location.href.split("#")[0] + (hash ? "#" + hash : ""));
  } catch (error) {
    location.hash = hash;
  }
}

/* A browser stops listening to an address written at every step of a slider, and a reader aloud
   falls behind: both get the case once it has settled. */
let settling = 0;
function settle() {
  clearTimeout(settling);
  settling = setTimeout(settled, 400);
}
function settled() {
  clearTimeout(settling);
  writeAddress();
  const words = el("sentence").textContent;
  if (el("said").textContent !== words) el("said").textContent = words;
}

// ---- the picture ------------------------------------------------------------------------------

const SVG = "http://www.w3.org/2000/svg";
function draw(parent, tag, attributes, words) {
  const node = parent.appendChild(document.createElementNS(SVG, tag));
  for (const name in attributes) node.setAttribute(name, attributes[name]);
  if (words !== undefined) node.textContent = words;
  return node;
}

function ticks(low, high, most) {
  const rough = (high - low) / most, power = Math.pow(10, Math.floor(Math.log10(rough)));
  const step = [1, 2, 2.5, 5, 10].map(m => m * power).find(s => s >= rough);
  const found = [];
  for (let i = Math.ceil(low / step); i * step <= high; i++) found.push(i * step);
  return { found, decimals: Math.max(0, -Math.floor(Math.log10(step / data.scale) + 1e-9) + (step / power === 2.5 ? 1 : 0)) };
}

/* Put words where they meet no other words and no mark of the curve; else at the first place. */
function place(svg, node, places) {
  const others = [...svg.querySelectorAll("text, circle")].filter(each => each !== node).map(each => each.getBBox());
  const put = ([anchor, x, y]) => { node.setAttribute("text-anchor", anchor); node.setAttribute("x", x); node.setAttribute("y", y); };
  for (const each of places) {
    put(each);
    const a = node.getBBox(), frame = svg.viewBox.baseVal;
    const inside = a.x >= 0 && a.x + a.width <= frame.width && a.y >= 0;
    if (inside && !others.some(b => a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height)) return;
  }
  put(places[0]);
}

/* Rising numbers as [first, last] of each stretch without a gap. */
function stretches(numbers) {
  const all = [];
  for (const n of numbers) {
    if (all.length && all[all.length - 1][1] === n - 1) all[all.length - 1][1] = n; else all.push([n, n]);
  }
  return all;
}

function picture(found, verdict, file) {
  const svg = el("curve"), narrow = svg.parentNode.clientWidth < 520;
  const width = narrow ? 400 : 760, height = narrow ? 330 : 380, size = narrow ? 13 : 14;
  const left = narrow ? 52 : 62, right = 14, top = 30, bottom = 62, count = found.cost.length;
  const all = found.cost.concat(file ? file : []);
  let low = Math.min(...all), high = Math.max(...all);
  const room = Math.max(high - low, 1e-3 * Math.abs(high), 1e-9);
  low -= 0.2 * room;
  high += 0.12 * room;
  const x = n => left + (width - left - right) * (n + 0.5) / count;
  const y = cost => top + (height - top - bottom) * (high - cost) / (high - low);
  svg.textContent = "";
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("font-size", size);
  const half = (width - left - right) / count / 2;
  for (const [low, high] of verdict.flat.length > 1 ? stretches(verdict.flat) : []) {
    draw(svg, "rect", { class: "flat", x: x(low) - half, y: top, width: x(high) - x(low) + 2 * half, height: height - top - bottom });
  }
  const scale = ticks(low, high, narrow ? 4 : 6);
  for (const value of scale.found) {
    draw(svg, "line", { class: "grid", x1: left, x2: width - right, y1: y(value), y2: y(value) });
    draw(svg, "text", { class: "small", x: left - 6, y: y(value) + 0.35 * size, "text-anchor": "end" }, fixed(value / data.scale, scale.decimals));
  }
  draw(svg, "text", { class: "small", x: 0, y: size }, unit.length < 30 ? unit : data.unit);
  draw(svg, "line", { class: "now", x1: left, x2: width - right, y1: y(found.cost[0]), y2: y(found.cost[0]) });
  const path = cost => cost.map((each, n) => (n ? "L" : "M") + x(n).toFixed(1) + " " + y(each).toFixed(1)).join("");
  if (file) draw(svg, "path", { class: "file", d: path(file) });
  draw(svg, "path", { class: "line", d: path(found.cost) });
  const every = Math.ceil(count / (narrow ? 8 : 16));
  found.cost.forEach((cost, n) => {
    const best = n === verdict.best;
    draw(svg, "circle", { class: best ? "best" : "dot", cx: x(n), cy: y(cost), r: best ? 7 : every > 1 ? 3 : 4.5 });
    if (!best && (n % every || Math.abs(n - verdict.best) < every)) return;
    draw(svg, "text", { x: x(n), y: height - bottom + 1.4 * size, "text-anchor": "middle", "font-weight": best ? "bold" : "normal" }, String(n));
    draw(svg, "text", { class: "out", x: x(n), y: height - bottom + 2.7 * size, "text-anchor": "middle" }, percent(found.recovered[n]));
  });
  draw(svg, "text", { class: "small", x: left, y: height - 4 }, "runs at most, chance that the fish is out");
  const best = verdict.best, under = y(found.cost[best]) + 1.9 * size;
  const mark = draw(svg, "text", { "font-weight": "bold" }, short(found.cost[best]));
  place(svg, mark, [["middle", x(best), under], ["start", x(best) - 4, under], ["end", x(best) + 4, under], ["middle", x(best), y(found.cost[best]) - size]]);
  if (count > 1 && best > 0) {
    const now = draw(svg, "text", { class: "now-words" }, "stop now " + short(found.cost[0]));
    const above = y(found.cost[0]) - 0.5 * size, below = y(found.cost[0]) + 1.2 * size, end = width - right;
    place(svg, now, [["end", end, above], ["end", end, below], ["start", x(0) + 10, above], ["start", x(0) + 10, below], ["middle", (left + end) / 2, above], ["middle", (left + end) / 2, below]]);
  }
  if (file) {
    draw(svg, "line", { class: "file", x1: width - right - 96, x2: width - right - 66, y1: size - 4, y2: size - 4 });
    draw(svg, "text", { class: "small", x: width - right, y: size, "text-anchor": "end" }, "the file");
  }
  svg.setAttribute("aria-label", `Expected cost in ${unit} by limit: ` + found.cost.map((c, n) => `${runs(n)} ${short(c)}`).join(", ") + `. Lowest at ${runs(verdict.best)}.`);
}

// ---- the words of a case ----------------------------------------------------------------------

function caseOf(limits, best, forced, same) {
  if (data.ended) return data.ended;
  if (limits === 1) return "no_run";
  if (best > 0) return forced > 0 ? "fish_required" : "fish";
  return same ? data.file.case : "stop";
}

/* Whether the fewest runs allowed and the best limit with more cost nearly the same. */
function closeCall(kind, cost, same) {
  if (same) return data.file.close_call;
  const fewest = cost[data.minimum], more = Math.min(...cost.slice(data.minimum + 1));
  const near = Math.max(data.flat, data.doubt) * Math.min(Math.abs(fewest), Math.abs(more));
  return data.minimum === 0 && data.may_be_close.includes(kind) && Math.abs(fewest - more) <= near;
}

function sentence(found, verdict, same) {
  const { cost } = found, { best } = verdict, gain = data.file.rule_gain, forced = forcedCost(cost, best);
  const kind = caseOf(cost.length, best, forced, same), fishes = kind.startsWith("fish"), name = apart(data.fallbacks[found.taken]);
  const fallback = fishes && data.others ? fill("or_another", { fallback: name }) : name;
  const saving = cost[0] - cost[best], limits = verdict.flat;
  const places = {
    fallback, more_runs: moreRuns(best), days: days(daysOf(found, best)), rule_gain: full(gain),
    then: 1 - found.recovered[best] > NEVER ? fill("then", { fallback }) : "", go_to: fill("go_to", { fallback }),
    by: fill("by", { rule_gain: full(gain) }), expected_cost: full(cost[best]), stopping_now: short(cost[0]), saving: short(saving),
    best_with_a_run: short(Math.min(...cost.slice(1))), least_runs: runs(data.minimum), cost_of_minimum: full(forced),
    flat: flatWords(limits), same: listed([best, ...verdict.same]) + " runs", close: listed([best, ...verdict.close]) + " runs",
    plan_gain: full(data.file.plan_gain), plan_first: apart(data.file.plan_first), show_plan: "", raise_n: "",
  };
  const chosen = [];
  if (kind === "recovered") chosen.push("cost_recovered");
  else if (data.ended) chosen.push("cost_fallback");
  else if (kind === "no_run") chosen.push("cost");
  else {
    if (kind === "fish_required") chosen.push("minimum");
    if (fishes) chosen.push(shows(saving) ? "cost_saving" : "cost");
    else chosen.push("cost_stopping");
    if (gain > 0 && !same) chosen.push("rule_of_file");
    else if (gain > 0 && fishes) chosen.push("rule");
    const plans = data.file.plan_gain > 0;
    if (plans && !same) chosen.push("plan_of_file");
    else if (plans && fishes) chosen.push(data.file.plan_first ? "plan" : "plan_stops");
    if (fishes && best === cost.length - 1 && !plans) chosen.push("list_more");
  }
  const why = chosen.map(each => fill(each, places));
  if (same) for (const { reading, worth, price } of data.file.readings) {
    why.push(fill("reading", { reading: apart(reading), worth: fill("worth", { worth: short(worth), price: short(price) }) }));
  }
  if (!data.ended && limits.length > 1) why.push(fill("flat", places));
  if (verdict.same.length) why.push(fill("tie", places));
  if (verdict.close.length) why.push(fill("unresolved", places));
  let headline = fill(kind, places);
  if (closeCall(kind, cost, same)) headline = fill("close_call", { headline: headline[0].toLowerCase() + headline.slice(1) });
  return { kind, words: [headline, why.join(" ")] };
}

/* Days of a limit; those of the file where no path comes to the end of it, for its own speed. */
const daysOf = (found, n) => found.days[n] === null && state.trip_speed === 1 ? data.file.days[n] : found.days[n];

/* What the runs that must be made cost more than the best limit without them. */
function forcedCost(cost, best) {
  const more = data.minimum > 0 ? cost[best] - Math.min(...cost.slice(0, data.minimum)) : 0;
  return more > 1e-6 * Math.abs(cost[best]) ? more : 0;
}

function compared(found, verdict) {
  if (!knobs.some(moved)) return "";
  const was = data.file, more = found.cost[verdict.best] - was.expected_cost;
  return ` The file's case: ${runs(was.runs)}, ${short(was.expected_cost)}; this one costs ${short(Math.abs(more))} ${more < 0 ? "less" : "more"}.`;
}

function limitRows(found, verdict) {
  const body = document.querySelector("#limits tbody");
  body.textContent = "";
  found.cost.forEach((cost, n) => {
    const row = add(body, "tr", "");
    row.className = (n === verdict.best ? "best " : "") + (verdict.flat.includes(n) ? "flat" : "");
    add(row, "th", n === 0 ? "now" : runs(n), n).scope = "row";
    add(row, "td", days(daysOf(found, n)), daysOf(found, n));
    add(row, "td", percent(found.recovered[n]), found.recovered[n]);
    add(row, "td", short(cost), cost);
    add(row, "td", n === 0 ? "" : short(found.cost[0] - cost), found.cost[0] - cost);
  });
}

function flipRows(found, same) {
  const body = el("flip-rows");
  if (!body) return;
  body.textContent = "";
  const line = (name, label, set, at, value, reading) => {
    const row = add(body, "tr", "");
    row.dataset.flip = name;
    const head = add(row, "th", label);
    head.scope = "row";
    add(head, "small", set);
    add(row, "td", at, value);
    add(row, "td", reading);
  };
  const need = found.breakEven;
  const pays = need !== null && found.nextOdds >= need;
  const never = need === null || need > 1;
  line("next_odds", "Odds of the next run", percent(found.nextOdds), never ? "never" : percent(Math.max(need, 0)), need,
    never ? "it does not pay by itself at any odds" : pays ? "pays by itself down to there" : "does not pay by itself below that");
  for (const [name, least, most] of FLIPS) {
    const knob = knobs.find(each => each.name === name);
    if (!knob) continue;
    const words = value => name === "workable" ? percent(value) : name === "spread" ? perDay(value * knob.amount) + (value === 1 ? "" : " (" + times(value) + ")")
      : value === 1 ? "as in the file" : full(Math.abs((value - 1) * knob.amount)) + (value < 1 ? " less" : " more");
    const set = knobWords(knob, found), places = same ? data.file.flips[name] || [] : model.flips(state, name, least, most);
    if (!places.length) {
      const pay = Math.min(...found.cost.slice(1)) < found.cost[0];
      line(name, knob.label, set, "nowhere", null,
        `${pay ? "fishing pays" : "stopping is cheaper"} from ${name === "workable" ? "0 to 100 %" : name === "spread" ? "a tenth to ten times the file" : "a tenth to ten times its cost now"}`);
    }
    for (const place of places) {
      line(name, knob.label, set, words(place.value), place.value,
        place.below ? "fishing pays below that, stopping is cheaper above" : "stopping is cheaper below that, fishing pays above");
    }
  }
}

function authority(found, verdict, same) {
  const best = verdict.best, need = 1 - found.recovered[best], [p90Fishing, p90Fallback] = data.file.p90;
  const one = el("stage-1"), two = el("stage-2"), more = [], mean = found.fishing[best];
  const node = (tag, id, words, value) => {
    const made = put(document.createElement(tag), words, value);
    made.id = id;
    return made;
  };
  const p90 = value => same ? fill("and_p90", { p90: short(value) }) : "";
  one.textContent = two.textContent = "";
  if (best > 0) {
    one.append(`Up to ${runs(best)} or ${days(daysOf(found, best))} days: `);
    compose(one, "stage_1", {
      planned: node("b", "planned", full(found.planned[best]), found.planned[best]),
      mean: node("span", "mean", short(mean), mean), p90: p90(p90Fishing),
    });
  } else {
    const name = data.ended === "recovered" ? "stage_1_after" : shows(mean) ? "stage_1_owed" : "stage_1_none";
    if (name === "stage_1_none") one.append(node("span", "mean", templates[name], mean));
    else compose(one, name, { mean: node("b", "mean", full(mean), mean) });
  }
  one.append(".");
  const value = found.givenUp[best], spent = found.cost[best] - value;
  const rest = shows(value) ? `the expected cost above but for ${short(value)} of the well's value that a fallback gives up` : "the expected cost above";
  more.push(`Together, on average: ${full(spent)}, ${rest}.`);
  if (data.ended === "recovered" || need <= NEVER) two.append(templates.stage_2_none);
  else {
    compose(two, "stage_2", {
      chance: node("span", "need", percent(need), need),
      mean: node("b", "fallback-mean", full(found.fallback[best]), found.fallback[best]), p90: p90(p90Fallback),
    });
  }
  if (data.ended !== "recovered") {
    more.push(same ? `${templates.p90} Means add up, percentiles do not.` : "The P90 of each stage is known for the file's case only.");
    const { given, overspent, suffices, stage_1_suffices: fishing } = data.file;
    if (same && overspent) more.push(`Authority left: ${fill("overspent", { overspent: full(overspent) })}.`);
    else if (same && suffices !== null) {
      const alone = best > 0 ? fill("alone", { alone: percent(fishing) }) : "";
      more.push(`Authority: ${fill("suffices", { given: full(given), suffices: percent(suffices), alone })}.`);
    }
    const { hours, days, cost } = data.waiting;
    if (hours > 0) put(el("waiting"), fill("waiting", { hours, days, cost: full(cost * state.spread) }), cost * state.spread);
  }
  two.append(".");
  put(el("call"), more.join(" "), spent);
}

// ---- all of it --------------------------------------------------------------------------------

const fileFound = model.at(model.base);

function show() {
  const same = !knobs.some(moved);
  const found = model.at(state), verdict = model.verdict(found, state);
  if (same) {
    const { runs: best, flat_limits: flat, same: tied, close } = data.file;
    Object.assign(verdict, { best, flat, same: tied, close });
  }
  const { kind, words: [what, why] } = sentence(found, verdict, same);
  const box = el("verdict");
  box.className = verdict.best > 0 || (same && data.file.fish) ? "fish" : "stop";
  Object.assign(box.dataset, { kind, best: verdict.best, flat: verdict.flat.join(), cost: found.cost[verdict.best], saving: found.cost[0] - found.cost[verdict.best] });
  el("sentence").textContent = what;
  el("because").textContent = why + compared(found, verdict);
  for (const knob of knobs) {
    const input = el(knob.name), output = el(knob.name + "-value"), words = knobWords(knob, found);
    input.value = nearest(knob.stops, state[knob.name]);
    input.setAttribute("aria-valuetext", words);
    put(output, words, knob.name === "next_odds" ? found.nextOdds : state[knob.name]);
    const also = put(el(knob.name + "-also"), alsoWords(knob));
    also.hidden = !also.textContent;
    el("knob-" + knob.name).classList.toggle("moved", moved(knob));
  }
  if (el("reset")) el("reset").disabled = same;
  if (el("curve")) {
    picture(found, verdict, same ? null : fileFound.cost);
    const legend = [verdict.flat.length > 1 ? "Shaded: limits within 2 % of the best." : "", same ? "" : "Dotted: the file's case."];
    put(el("legend"), legend.filter(Boolean).concat("The scale does not start at zero.").join(" "));
  }
  limitRows(found, verdict);
  flipRows(found, same);
  authority(found, verdict, same);
  el("case").textContent = same ? "The case shown is that of the file." : "The case shown: #" + address();
  document.documentElement.style.setProperty("--verdict", box.offsetHeight + "px");
}

for (const knob of knobs) {
  const input = el(knob.name), last = knob.stops.length - 1;
  input.min = 0;
  input.max = last;
  input.step = 1;
  input.parentNode.querySelector(".notch").style.left = `calc(.5rem + (100% - 1rem) * ${nearest(knob.stops, knob.now) / last})`;
  input.addEventListener("input", () => {
    state[knob.name] = knob.stops[Number(input.value)];
    show();
    settle();
  });
}
if (el("reset")) el("reset").addEventListener("click", () => {
  Object.assign(state, model.base);
  show();
  settled();
});
addEventListener("hashchange", () => { readAddress(); show(); settle(); });
for (const leaving of ["pagehide", "beforeprint"]) addEventListener(leaving, settled);
addEventListener("resize", show);
readAddress();
show();

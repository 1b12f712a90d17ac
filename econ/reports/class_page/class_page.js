/* The page of the game: what is typed, what is shown. Every name is set as text, never as markup. */

const data = JSON.parse(document.getElementById("data").textContent);
const rules = makeGame(data);
const el = id => document.getElementById(id);
const STOP = rules.STOP;
const MOST_TEAMS = 8;
const blank = () => ({
  // A log tells one order of runs; with it, going on means the next run that it tells.
  phase: "setup", any: !data.logs.length, envelope: { log: data.logs.length ? 0 : null, number: 1, own: {} }, kind: data.logs.length ? "log 0" : "number",
  teams: [team("Team 1"), team("Team 2")], opened: 0, faults: {}, drafts: {}, showing: 0,
});
const team = name => ({ name, paper: "", decisions: [], seen: [], changed: 0, out: false });
let game = blank();
let focus = null;

// ---- words ------------------------------------------------------------------------------------

const apart = words => /^[ -~]*$/.test(words) ? words : "\u2068" + words + "\u2069";
const currency = apart(data.currency);
const whole = value => Math.round(value).toString().replace(/\B(?=(\d{3})+(?!\d))/g, ",");
const money = value => `${whole(value)} ${currency}`;
const percent = value => {
  const edge = value > 0 && value < 0.005 || value < 1 && value > 0.995;
  return `${(100 * value).toFixed(edge ? 1 : 0)} %`;
};
const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
function when(day) {
  if (data.begun === null) return `Day ${day.toFixed(1)}`;
  const moment = new Date((data.begun + day) * 86400000 + 30000);
  const two = number => String(number).padStart(2, "0");
  return `${DAYS[moment.getUTCDay()]} ${moment.getUTCDate()} ${MONTHS[moment.getUTCMonth()]} ${two(moment.getUTCHours())}:${two(moment.getUTCMinutes())}`;
}
// The words of a log end as a sentence does.
const ended = words => /[.!?]$/.test(words) ? words : `${words}.`;
const runName = run => `Run ${run}, ${apart(data.runs[run - 1])}`;
const doing = does => does === STOP ? "Stop fishing" : runName(does);
const endWords = {
  stop: "stopped", recovered: "fish out", string_lost: "string lost", hole_lost: "hole lost", "no run left": "no run left, stopped",
};
function beliefWords(kinds) {
  return data.doubts.map((doubt, d) => {
    const favour = kinds.reduce((sum, kind, k) => sum + ((k >> d) & 1 ? 0 : kind), 0);
    return `${apart(doubt)} ${percent(favour)}`;
  }).join(", ");
}
function kindWords(kind) {
  if (!data.doubts.length || data.renewing || game.envelope.log !== null) return "";
  const parts = data.doubts.map((doubt, d) => `${apart(doubt)}: ${(kind >> d) & 1 ? "no" : "yes"}`);
  return `The fish of this envelope: ${parts.join(", ")}.`;
}

// ---- building ---------------------------------------------------------------------------------

function h(tag, set, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(set || {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "value") node.value = value;
    else if (name === "checked") node.checked = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  for (const child of children.flat()) if (child !== null && child !== undefined && child !== false) node.append(child);
  return node;
}
const p = (words, set) => h("p", set, words);
const button = (id, words, does, set) => h("button", Object.assign({ type: "button", id, onclick: does }, set), words);
const cell = (words, value) => h("td", { "data-value": value === null || value === undefined ? null : String(value) }, words);
function field(id, label, control, help, fault) {
  const told = [help && h("span", { class: "help", id: `${id}-help` }, help), fault && h("span", { class: "fault", id: `${id}-fault`, role: "alert" }, fault)];
  const by = [help && `${id}-help`, fault && `${id}-fault`].filter(Boolean).join(" ");
  if (by) control.setAttribute("aria-describedby", by);
  if (fault) control.setAttribute("aria-invalid", "true");
  return h("div", { class: "field" }, h("label", { for: id }, label), control, told);
}
const say = words => { el("said").textContent = words; };

// ---- the state is in the address ----------------------------------------------------------------

let lastHash = null;
function keep() {
  const text = "#" + encodeURIComponent(JSON.stringify({ id: data.id, game: Object.assign({}, game, { faults: {} }) }));
  lastHash = text;
  try {
    history.replaceState(null, "", text);
  } catch {
    location.hash = text;
  }
}
function recall() {
  if (location.hash.length < 2) return false;
  let raw;
  try {
    raw = JSON.parse(decodeURIComponent(location.hash.slice(1)));
  } catch {
    return "The address of this page is cut: a new game.";
  }
  if (!raw || raw.id !== data.id || !raw.game) return "The address of this page belongs to another case: a new game.";
  const teams = Array.isArray(raw.game.teams) ? raw.game.teams.slice(0, MOST_TEAMS).map(rules.checkedTeam) : [];
  const envelope = rules.checkedEnvelope(raw.game.envelope);
  if (!teams.length || teams.includes(null) || !envelope || !["setup", "play"].includes(raw.game.phase)) {
    return "The address of this page is cut: a new game.";
  }
  const opened = Number.isInteger(raw.game.opened) ? Math.max(0, raw.game.opened) : 0;
  const any = raw.game.any === true;
  if (opened > Math.max(...teams.map(each => each.decisions.length)) || teams.some(each => rules.walk(each.decisions.slice(0, opened), envelope, any).faults)) {
    return "The address of this page is cut: a new game.";
  }
  const kinds = ["number", "own", ...data.logs.map((log, i) => `log ${i}`)];
  game = Object.assign(blank(), {
    phase: raw.game.phase, any, envelope, teams, opened,
    kind: kinds.includes(raw.game.kind) ? raw.game.kind : "number", drafts: raw.game.drafts && typeof raw.game.drafts === "object" ? raw.game.drafts : {},
  });
  return true;
}

// ---- the beginning ------------------------------------------------------------------------------

function setup() {
  const faults = game.faults;
  const rows = game.teams.map((each, i) => h("div", { class: "row" },
    field(`name-${i}`, `Team ${i + 1}`, h("input", {
      id: `name-${i}`, type: "text", maxlength: 40, autocomplete: "off", value: each.name, dir: "auto",
      oninput: event => { each.name = event.target.value; keep(); },
    }), null, faults[`name-${i}`]),
    game.teams.length > 1 && button(`away-${i}`, "Take away", () => { game.teams.splice(i, 1); game.faults = {}; render("add"); }, { "aria-label": `Take team ${i + 1} away` }),
  ));
  const kinds = [...data.logs.map((log, i) => [`log ${i}`, `The facilitator's ${log[0]}`]), ["number", "Drawn by its number"], ["own", "My own, run by run"]];
  const pick = h("select", { id: "envelope", onchange: event => { game.kind = event.target.value; render("envelope"); } },
    kinds.map(([value, words]) => h("option", { value, selected: value === game.kind }, words)));
  const numbers = asked() && field("number", "Number of the envelope", h("input", {
    id: "number", type: "text", inputmode: "numeric", autocomplete: "off", value: game.drafts.number ?? String(game.envelope.number),
    oninput: event => { game.drafts.number = event.target.value; keep(); },
  }), game.kind === "number" ? `From 1 to ${data.envelopes.length}. The same number is the same fish and the same luck on every laptop.`
    : "What the envelope does not tell is drawn with this number: leave it, or type the same on every laptop.", faults.number);
  const own = game.kind !== "own" ? null : h("fieldset", { class: "own" }, h("legend", {}, "Only the facilitator looks at this"),
    p("How does each run end, whenever it is made? An outcome that cannot come in some state is drawn there.", { class: "help" }),
    data.runs.map((name, i) => field(`own-${i + 1}`, runName(i + 1), h("select", {
      id: `own-${i + 1}`, onchange: event => { if (event.target.value) game.envelope.own[i + 1] = event.target.value; else delete game.envelope.own[i + 1]; keep(); },
    }, [["", "drawn"], ...data.outcomes.map((word, o) => [word, data.words[o]])].map(([value, words]) =>
      h("option", { value, selected: value === (game.envelope.own[i + 1] || "") }, words))))));
  return h("section", { id: "setup" },
    h("h2", {}, "Before the class"),
    p("Several teams on one laptop decide one after the other; or one team sits at each laptop, all with the same envelope and the same choices."),
    rows,
    h("div", { class: "buttons" }, button("add", "Add a team", () => {
      if (game.teams.length >= MOST_TEAMS) { say(`No more than ${MOST_TEAMS} teams.`); return; }
      game.teams.push(team(`Team ${game.teams.length + 1}`));
      render(`name-${game.teams.length - 1}`);
    }, { disabled: game.teams.length >= MOST_TEAMS })),
    h("div", { class: "row" }, field("envelope", "The envelope", pick, "What the runs come to. Nobody reads it before the morning is decided."), 
      game.kind === "number" && button("draw", "Draw a number", () => {
        game.drafts.number = String(1 + Math.floor(Math.random() * data.envelopes.length));
        render("draw");
      })),
    own,
    field("any", "Choices of a morning", h("select", { id: "any", onchange: event => { game.any = event.target.value === "any"; render("any"); } },
      h("option", { value: "any", selected: game.any }, "Stop, the next run of the list, or another run"),
      h("option", { value: "list", selected: !game.any }, "Go or stop: the next run only"))),
    numbers,
    next("Name the teams, choose the envelope and the choices, then:", button("begin", "Begin", begin, { class: "main" })));
}
/* A log tells every run of the list; a number is asked for where something may have to be drawn. */
const asked = () => game.any || !game.kind.startsWith("log ");
/* What to do next, always in sight. */
const next = (words, ...buttons) => h("div", { class: "next" }, h("p", { id: "next" }, words), h("div", { class: "buttons" }, buttons));
function begin() {
  const { names, faults } = rules.readNames(game.teams.map(each => each.name));
  game.faults = {};
  faults.forEach((fault, i) => { if (fault) game.faults[`name-${i}`] = fault; });
  const number = asked() ? rules.readNumber(game.drafts.number ?? String(game.envelope.number)) : { value: 1 };
  if (number.fault) game.faults.number = number.fault;
  const wrong = Object.keys(game.faults);
  if (wrong.length) { render(wrong[0]); return; }
  game.teams.forEach((each, i) => { each.name = names[i]; });
  const log = game.kind.startsWith("log ") ? Number(game.kind.slice(4)) : null;
  game.envelope = { log, number: number.value, own: game.kind === "own" ? game.envelope.own : {} };
  game.drafts = {};
  game.phase = "play";
  game.opened = 0;
  render("morning");
}

// ---- a morning ----------------------------------------------------------------------------------

/* The walk of a team: what is open, and with what it has decided for this morning. */
const walkOf = each => rules.walk(each.decisions.slice(0, game.opened), game.envelope, game.any);
const over = each => each.out || walkOf(each).ended !== null;
const decided = each => each.decisions.length > game.opened;
const everyOver = () => game.teams.every(over);

function play() {
  if (everyOver()) return [history_(), results(), next("All jobs are over. Read the first regret aloud before the second, then the papers.", button("back", "Back one morning", back))];
  const waiting = game.teams.filter(each => !over(each) && !decided(each));
  const current = h("section", { id: "now" },
    h("h2", { id: "morning", tabindex: -1 }, `Morning ${game.opened + 1}`),
    game.opened === 0 && p("First write down, each team for itself: what would make you stop? A number of runs, of days, or of money. It is unfolded at the end."),
    game.teams.map((each, i) => desk(each, i)),
    next(waiting.length ? `Morning ${game.opened + 1}. Still to decide: ${waiting.map(each => apart(each.name)).join(", ")}.` : `Morning ${game.opened + 1}. All have decided.`,
      button("open", "Open the envelope", open, { class: "main", disabled: waiting.length > 0 }),
      game.opened > 0 && button("back", "Back one morning", back)));
  return [history_(), current];
}
function desk(each, i) {
  const walked = walkOf(each);
  if (each.out) return h("section", { class: "team", id: `team-${i}` }, h("h3", { dir: "auto" }, each.name), p("Left out: its job is not finished and has no score.", { id: `left-${i}` }),
    // Only in the morning in which it left: it cannot catch up with what is open.
    each.decisions.length >= game.opened && h("div", { class: "buttons" }, button(`in-${i}`, "Take in again", () => { each.out = false; render(`out-${i}`); })));
  if (walked.ended !== null) return h("section", { class: "team", id: `team-${i}` }, h("h3", { dir: "auto" }, each.name), p(`Its job is over: ${endWords[walked.ended]}. Look on, and watch what you feel.`));
  const here = walked.here;
  const offered = rules.choices(here, game.envelope, game.any);
  const go = rules.goOf(here, game.envelope);
  const head = [h("h3", { dir: "auto" }, each.name),
    p(`${when(here.day)}. Fish top ${whole(here.top)} ${data.length}${here.marks.length ? `; ${here.marks.map(mark => mark.replace(/_/g, " ")).join(", ")}` : ""}. Spent so far: ${money(walked.spent)}.`, { class: "state" })];
  if (decided(each)) {
    return h("section", { class: "team done", id: `team-${i}` }, head, p("Decided. Hidden until the envelope is opened.", { id: `hidden-${i}` }),
      h("div", { class: "buttons" }, button(`change-${i}`, "Change it", () => {
        const said = each.decisions.pop();
        game.drafts[i] = { does: String(said.does), guess: said.guess === null ? "" : String(Number((100 * said.guess).toFixed(4))), why: said.why };
        render(`guess-${i}`);
      }), game.teams.length > 1 && leave(each, i)));
  }
  const draft = game.drafts[i] || (game.drafts[i] = { does: "", guess: "", why: "" });
  const faults = game.faults;
  return h("form", { class: "team", id: `team-${i}`, novalidate: true, onsubmit: event => { event.preventDefault(); decide(each, i, offered); } }, head,
    game.opened === 0 && field(`paper-${i}`, "What would make you stop? (hidden afterwards)", h("input", {
      id: `paper-${i}`, type: "text", maxlength: 300, autocomplete: "off", dir: "auto", value: each.paper, oninput: event => { each.paper = event.target.value; keep(); },
    })),
    h("fieldset", { id: `choices-${i}` }, h("legend", {}, "Your decision"),
      offered.map(({ does, option }) => h("label", { class: "choice" }, h("input", {
        type: "radio", name: `does-${i}`, value: String(does), checked: draft.does === String(does), id: `does-${i}-${does}`,
        onchange: event => { draft.does = event.target.value; keep(); },
      }), h("span", {}, does === STOP ? `Stop: the fallback, ${money(here.stop)} from here on`
        : `${does === go ? "Go: " : ""}${runName(does)}, ${whole(option.hours)} h, ${money(option.cost)}`))),
      faults[`does-${i}`] && h("span", { class: "fault", id: `does-${i}-fault`, role: "alert" }, faults[`does-${i}`])),
    field(`guess-${i}`, `Your guess: in how many of 100 does ${game.any ? "the run that you make" : "this run"} bring the whole fish out?`, h("input", {
      id: `guess-${i}`, type: "text", inputmode: "decimal", autocomplete: "off", value: draft.guess, oninput: event => { draft.guess = event.target.value; keep(); },
    }), "In percent; may be left empty.", faults[`guess-${i}`]),
    field(`why-${i}`, "In one sentence: why?", h("input", {
      id: `why-${i}`, type: "text", maxlength: 300, autocomplete: "off", dir: "auto", value: draft.why, oninput: event => { draft.why = event.target.value; keep(); },
    })),
    h("div", { class: "buttons" }, h("button", { type: "submit", id: `decide-${i}`, class: "main" }, "Decide"), game.teams.length > 1 && leave(each, i)));
}
const leave = (each, i) => button(`out-${i}`, "Leave this team out", () => { each.out = true; render(el("open") ? "open" : null); }, { "aria-label": `Leave team ${each.name} out` });
function decide(each, i, offered) {
  const draft = game.drafts[i];
  delete game.faults[`does-${i}`];
  delete game.faults[`guess-${i}`];
  const guess = rules.readGuess(draft.guess);
  if (guess.fault) game.faults[`guess-${i}`] = guess.fault;
  const choice = offered.find(one => String(one.does) === draft.does);
  if (!choice) game.faults[`does-${i}`] = "Choose one: a morning without a decision is not taken.";
  if (!choice) { render(`does-${i}-${offered[0].does}`); return; }
  if (guess.fault) { render(`guess-${i}`); return; }
  each.decisions.push({ does: choice.does, guess: choice.does === STOP ? null : guess.value, why: draft.why.trim() });
  delete game.drafts[i];
  const next = game.teams.findIndex(one => !over(one) && !decided(one));
  say(`${each.name} has decided.`);
  render(next < 0 ? "open" : next > i ? `does-${next}-first` : `team-${next}`);
}
function open() {
  game.teams.forEach(each => {
    if (over(each) || !decided(each)) return;
    const said = each.decisions[game.opened];
    const before = each.seen[game.opened];
    const now = JSON.stringify([said.does, said.guess]);
    if (before === undefined || before === null) each.seen[game.opened] = now;
    else if (before !== now) { each.changed += 1; each.seen[game.opened] = now; }
  });
  game.opened += 1;
  game.drafts = {};
  game.faults = {};
  render(`opened-${game.opened}`);
}
function back() {
  if (game.opened === 0) return;
  game.opened -= 1;
  game.drafts = {};
  game.faults = {};
  game.teams.forEach((each, i) => {
    const said = each.decisions[game.opened];
    each.decisions.length = Math.min(each.decisions.length, game.opened);
    if (said) game.drafts[i] = { does: String(said.does), guess: said.guess === null ? "" : String(Number((100 * said.guess).toFixed(4))), why: said.why };
  });
  render("morning");
}

// ---- what is open -------------------------------------------------------------------------------

function history_() {
  if (game.opened === 0) return null;
  const blocks = [];
  for (let m = game.opened - 1; m >= 0; m--) {
    const rows = game.teams.map(each => [each, walkOf(each).mornings[m]]).filter(([, morning]) => morning);
    if (!rows.length) continue;
    const groups = new Map();  // teams whose jobs stand alike are told together
    for (const row of rows) groups.set(row[1].here.id, [...(groups.get(row[1].here.id) || []), row]);
    blocks.push(h("details", { open: m === game.opened - 1, class: "opened" },
      h("summary", { id: `opened-${m + 1}` }, `Morning ${m + 1}, opened`), [...groups.values()].map(group => reveal(group, m, groups.size > 1))));
  }
  return h("section", { id: "history" }, h("h2", {}, "What is open"), blocks);
}
/* A morning of teams that stood alike: what could be known, what came, and what each of them said. */
function reveal(group, m, apartFrom) {
  const { here, offered, advised } = group[0][1];
  const did = new Map(offered.map(one => [one.does, group.filter(([, morning]) => morning.said.does === one.does)]));
  const rows = offered.map(one => h("tr", { class: [did.get(one.does).length ? "said" : "", one === advised ? "best" : ""].join(" ").trim() || null },
    h("th", { scope: "row" }, doing(one.does), one === advised ? h("small", {}, " (the program)") : null),
    h("td", { class: "words" }, did.get(one.does).map(([each]) => apart(each.name)).join(", ") || "-"),
    cell(one.option ? percent(rules.oddsOf(here, one.option)) : "-", one.option ? rules.oddsOf(here, one.option) : null), cell(whole(one.cost), one.cost),
    cell(one === advised ? "-" : whole(one.cost - advised.cost), one.cost - advised.cost)));
  const came = offered.filter(one => did.get(one.does).length).map(one => {
    const found = did.get(one.does)[0][1].came;
    if (!found) return p(`Stopped: the fallback, ${money(here.stop)}.`, { class: "came", "data-outcome": "stop" });
    return p([`${runName(one.does)}: `, h("strong", {}, `${wordsOf(found.outcome)}.`), found.words.length ? ` The log: \u201c${found.words.map(ended).join(" Then: ")}\u201d` : "",
      ` It took ${money(found.run)}${found.paid - found.run > 0.5 ? `, and what follows ${money(found.paid - found.run)}` : ""}.${found.drawn && game.envelope.log !== null ? " (The log does not tell this run; it was drawn.)" : ""}`], { class: "came", "data-outcome": found.outcome });
  });
  const told = group.filter(([, { said }]) => said.guess !== null || said.why);
  return h("section", { class: "reveal", "data-morning": m + 1 },
    apartFrom && h("h3", { dir: "auto" }, group.map(([each]) => each.name).join(", ")),
    h("div", { class: "scroll" }, h("table", {}, h("caption", {}, `What could be known, in ${data.currency}`),
      h("thead", {}, h("tr", {}, ["Choice", "Teams", "Fish out on it", "Expected from here on", "More than the best"].map((words, i) => h("th", { scope: "col", class: i === 1 && "words" }, words)))), h("tbody", {}, rows))),
    data.doubts.length ? p(`Belief that morning: ${beliefWords(here.kinds)}.`, { class: "belief" }) : null,
    came,
    told.length ? h("ul", { class: "told" }, told.map(([each, { said, odds }]) => h("li", { dir: "auto" }, h("strong", {}, each.name), ": ",
      said.guess === null ? null : `guessed ${Number((100 * said.guess).toFixed(4))} %, the program ${percent(odds)}. `, said.why && h("em", {}, `\u201c${said.why}\u201d`)))) : null);
}
const wordsOf = outcome => data.words[data.outcomes.indexOf(outcome)];

// ---- the end ------------------------------------------------------------------------------------

function results() {
  const lines = game.teams.map(each => ({ name: each.name, team: each, walked: walkOf(each) }));
  const others = rules.policies.map(([name, make]) => ({ name, team: null, walked: rules.policy(make(game.envelope), game.envelope, game.any) }));
  const row = ({ name, team: own, walked }) => {
    const out = own && own.out;
    const found = rules.scores(walked, game.envelope, game.any);
    const all = out ? Object.fromEntries(Object.keys(found).map(key => [key, null])) : found;
    const amount = value => value === null ? "-" : whole(value);
    const score = value => value === null ? "-" : value.toFixed(2);
    const made = h("tr", { class: own ? null : "policy", "data-name": name },
      h("th", { scope: "row", dir: "auto" }, name, own && own.changed ? h("small", {}, ` (changed ${own.changed} after opening)`) : null, out ? h("small", {}, " (left out)") : null),
      cell(all.runs === null ? "-" : String(all.runs), all.runs), cell(all.ended === null ? "-" : endWords[all.ended]), cell(amount(all.total), all.total), cell(amount(all.regret), all.regret),
      cell(amount(all.hindsight), all.hindsight), cell(amount(all.luck), all.luck),
      cell(own ? score(all.brier) : "", own ? all.brier : null), cell(score(all.stated), all.stated));
    [...made.children].forEach((each, i) => each.setAttribute("data-head", heads[i]));  // for a narrow screen
    return made;
  };
  const heads = ["", "Runs", "End", "Total", "Regret, as known", "Regret in hindsight", "Luck", "Brier, own guesses", "Brier, program's odds"];
  const table = h("div", { class: "scroll" }, h("table", { id: "scores" }, h("caption", {}, `Scores, money in ${data.currency}`),
    h("thead", {}, h("tr", {}, heads.map(words => h("th", { scope: "col" }, words)))), h("tbody", {}, [...lines, ...others].map(row))));
  const papers = game.teams.filter(each => each.paper).map(each => h("li", { dir: "auto" }, `${each.name}: \u201c${each.paper}\u201d`));
  const kind = kindWords(rules.kindOf(game.envelope));
  return h("section", { id: "results" }, h("h2", { id: "end", tabindex: -1 }, "The two regrets"),
    kind && p(kind, { id: "kind" }), table,
    h("dl", { id: "means" }, [
      ["Regret, as known", "of decisions: how much more the choices cost on average than the best ones, by what could be known each morning."],
      ["Regret in hindsight", "of decisions and luck: the total, less the cheapest way for somebody who had read this envelope."],
      ["Luck", "the total, less what the best was expected to cost on the first morning, less the first regret. Below zero: good luck."],
      ["Brier", "of guesses as fractions: the mean of 2 (guess - 1)\u00b2 where the fish came out and of 2 guess\u00b2 where it did not. 0 is the best, 2 the worst; a guess of 50 % always has 0.5."],
    ].flatMap(([name, means]) => [h("dt", {}, name), h("dd", {}, means)])),
    p("A stopped job pays the expected cost of its fallback: the luck of the fallback is not played.", { class: "help" }),
    papers.length ? [h("h3", {}, "The papers, unfolded"), h("ul", { id: "papers" }, papers)] : null,
    carry(),
    h("div", { class: "buttons" }, button("again", "A new game with these teams", () => {
      game.teams = game.teams.map(each => team(each.name));
      game.phase = "setup";
      game.opened = 0;
      render("envelope");
    }), button("print", "Print", () => window.print())));
}
function carry() {
  const rows = game.teams.filter(each => !each.out).map((each, i) => field(`line-${i}`, `Result line of ${each.name}`, h("input", {
    id: `line-${i}`, type: "text", readonly: true, value: rules.lineOf(each, game), onfocus: event => event.target.select(),
  })));
  const control = h("textarea", { id: "paste", rows: 2, autocomplete: "off", spellcheck: "false", oninput: event => { game.drafts.paste = event.target.value; } });
  control.value = game.drafts.paste || "";
  return h("details", { id: "carry", open: Boolean(game.faults.paste) || game.showing > 0 }, h("summary", {}, "Teams on several laptops"), p("Copy the line of a team, and enter it at the laptop where all are to be compared."), rows,
    field("paste", "A line from another laptop", control, null, game.faults.paste),
    h("div", { class: "buttons" }, button("take", "Add this team", () => {
      const found = rules.readLine(game.drafts.paste || "", game);
      game.faults = {};
      game.showing = 1;
      if (found.fault) game.faults.paste = found.fault;
      else if (game.teams.length >= MOST_TEAMS) game.faults.paste = `No more than ${MOST_TEAMS} teams.`;
      else if (game.teams.some(each => each.name.toLowerCase() === found.team.name.toLowerCase())) game.faults.paste = "A team of this name is there already.";
      else {
        game.teams.push(found.team);
        game.opened = Math.max(game.opened, found.team.decisions.length);
        game.drafts = {};
      }
      render("paste");
    })));
}

// ---- all of it ----------------------------------------------------------------------------------

function render(focusOn) {
  const root = el("game");
  root.replaceChildren(...[game.phase === "setup" ? setup() : play()].flat(3).filter(Boolean));
  document.body.dataset.phase = game.phase === "setup" ? "setup" : everyOver() ? "end" : "play";
  el("leave").hidden = game.phase === "setup";
  el("leave").textContent = "Begin anew";
  delete el("leave").dataset.sure;
  keep();
  let target = focusOn;
  if (target && target.endsWith("-first")) {
    const first = root.querySelector(`input[name="${target.slice(0, -6)}"]`);
    target = first ? first.id : null;
  }
  if (target === "morning" && !el("morning")) target = "end";
  if (target && target.startsWith("opened-") && everyOver()) target = "end";
  const node = target && el(target);
  if (node) {
    if (!node.matches("input, select, textarea, button, summary, [tabindex]")) node.setAttribute("tabindex", "-1");
    node.focus();
  }
}
el("print-sheet").addEventListener("click", () => {
  document.body.dataset.print = "sheet";
  window.print();
});
window.addEventListener("afterprint", () => { delete document.body.dataset.print; });
el("leave").addEventListener("click", () => {
  if (!el("leave").dataset.sure) {
    el("leave").dataset.sure = "asked";
    el("leave").textContent = "Again, to give this game up";
    return;
  }
  game.phase = "setup";
  game.teams = game.teams.map(each => team(each.name));
  game.opened = 0;
  game.drafts = {};
  game.faults = {};
  render("begin");
});
window.addEventListener("hashchange", () => {
  if (location.hash === lastHash) return;
  const found = recall();
  if (found !== true) game = blank();
  render(null);
  if (typeof found === "string") say(found);
});
const found = recall();
render(null);
if (typeof found === "string") say(found);

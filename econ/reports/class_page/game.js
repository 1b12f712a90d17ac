/* The game without the page: states, envelopes, walks and scores. Every number is the program's;
   here they are only looked up, compared and added. Symbols as in econ/decision/class_model.py. */

function makeGame(data) {
  const STOP = "stop";
  const named = new Map();

  /* A state by its number, with names for what stands at each place. */
  function state(id) {
    if (!named.has(id)) {
      const [stop, may, plan, list, kinds, top, day, marks, listed, options] = data.states[id];
      named.set(id, {
        id, stop, mayStop: may === 1, plan, list, kinds, top, day, listed,
        marks: marks.map(mark => data.marks[mark]),
        options: options.map(([run, hours, cost, byPlan, byList, branches]) => ({
          run, hours, cost, byPlan, byList,
          branches: branches.map(([outcome, chances, paid, after]) => ({
            outcome: data.outcomes[outcome], words: data.words[outcome], chances, paid, after,
          })),
        })),
      });
    }
    return named.get(id);
  }
  const logs = data.logs.map(([name, start, spent, steps, kinds]) => ({
    name, start, spent, kinds,
    steps: steps.map(([run, outcome, paid, words, before, after]) => ({
      run, outcome: data.outcomes[outcome], paid, words, before, after,
    })),
  }));

  /* Chance of an outcome in a state: over the kinds of fish by the belief in each. */
  const chance = (here, branch) => here.kinds.reduce((sum, kind, k) => sum + kind * branch.chances[k], 0);
  const oddsOf = (here, option) =>
    option.branches.reduce((sum, branch) => sum + (branch.outcome === "recovered" ? chance(here, branch) : 0), 0);

  /* The first place at which the sum of some chances is above u; the last that can be, if none is. */
  function picked(chances, u) {
    let upto = 0;
    let last = -1;
    for (const [place, each] of chances.entries()) {
      upto += each;
      if (each > 0) last = place;
      if (u < upto) return place;
    }
    return last;
  }

  const startOf = envelope => envelope.log === null ? data.start : logs[envelope.log].start;
  const spentBefore = envelope => envelope.log === null ? 0 : logs[envelope.log].spent;
  /* The kind of fish that the envelope holds. */
  function kindOf(envelope) {
    const kinds = envelope.log === null ? state(data.start).kinds : logs[envelope.log].kinds;
    return picked(kinds, data.envelopes[envelope.number - 1][0]);
  }

  /* What a run comes to in a state: the outcome, what is paid, the state after it, and words. */
  function outcome(envelope, here, option) {
    if (envelope.log !== null) {
      const step = logs[envelope.log].steps.find(each => each.before === here.id && each.run === option.run);
      if (step) {
        const after = ["recovered", "string_lost", "hole_lost"].includes(step.outcome) ? null : step.after;
        // Where the log ends the job, what is owed then is the value of the state after it.
        const owed = after === null ? state(step.after).stop : 0;
        return { outcome: step.outcome, paid: step.paid + owed, run: step.paid, after, words: step.words, drawn: false };
      }
    }
    const told = toldOf(envelope, option.run);
    let branch = option.branches.find(each => each.outcome === told && chance(here, each) > 0);
    const drawn = branch === undefined;
    if (drawn) {
      const u = data.envelopes[envelope.number - 1][option.run];
      const kind = kindOf(envelope);
      let chances = option.branches.map(each => data.renewing ? chance(here, each) : each.chances[kind]);
      if (!chances.some(each => each > 0)) chances = option.branches.map(each => chance(here, each));
      branch = option.branches[picked(chances, u)];
    }
    return {
      outcome: branch.outcome, paid: branch.paid, run: Math.min(option.cost, branch.paid),
      after: branch.after, words: [], drawn,
    };
  }
  /* What an envelope says of a run wherever it is made; undefined where it says nothing. */
  function toldOf(envelope, run) {
    if (envelope.own[run]) return envelope.own[run];
    const step = envelope.log === null ? undefined : logs[envelope.log].steps.find(each => each.run === run);
    return step && step.outcome;
  }

  /* What can be done in a state: runs, then whether stopping is allowed. */
  function goOf(here, envelope) {
    const step = envelope.log === null ? undefined : logs[envelope.log].steps.find(each => each.before === here.id);
    return step ? step.run : here.listed;
  }
  function choices(here, envelope, any) {
    const go = goOf(here, envelope);
    const runs = here.options.filter(option => any || option.run === go);
    const priced = runs.map(option => ({ does: option.run, cost: any ? option.byPlan : option.byList, option }));
    if (here.mayStop || !runs.length) priced.push({ does: STOP, cost: here.stop, option: null });
    return priced;
  }
  const best = offered => offered.reduce((least, each) => each.cost < least.cost ? each : least);

  /* The walk of a team's decisions through an envelope, each { does, guess }. It ends where they
     end, or where the job does. */
  function walk(decisions, envelope, any) {
    let here = state(startOf(envelope));
    const walked = { mornings: [], spent: spentBefore(envelope), first: spentBefore(envelope), ended: null, total: null, here, faults: 0 };
    walked.first += best(choices(here, envelope, any)).cost;
    for (const said of decisions) {
      if (walked.ended !== null) break;
      const offered = choices(here, envelope, any);
      const done = offered.find(each => each.does === said.does);
      if (!done) { walked.faults += 1; break; }
      const advised = best(offered);
      const morning = {
        here, offered, said, done, advised, spentBefore: walked.spent,
        regret: done.cost - advised.cost, odds: done.option ? oddsOf(here, done.option) : null, came: null,
      };
      walked.mornings.push(morning);
      if (done.does === STOP) {
        walked.ended = STOP;
        walked.total = walked.spent + here.stop;
        break;
      }
      morning.came = outcome(envelope, here, done.option);
      walked.spent += morning.came.after === null ? morning.came.run : morning.came.paid;
      if (morning.came.after === null) {
        walked.ended = morning.came.outcome;
        walked.total = morning.spentBefore + morning.came.paid;
        break;
      }
      here = walked.here = state(morning.came.after);
    }
    if (walked.ended === null && walked.faults === 0 && !choices(here, envelope, any).some(each => each.does !== STOP)) {
      walked.ended = "no run left";
      walked.total = walked.spent + here.stop;
    }
    return walked;
  }

  /* The cheapest walk through an envelope from a state on, for whoever has read it. */
  function cheapest(here, envelope, any) {
    let least = Infinity;
    for (const each of choices(here, envelope, any)) {
      if (each.does === STOP) {
        least = Math.min(least, here.stop);
      } else {
        const came = outcome(envelope, here, each.option);
        const later = came.after === null ? 0 : cheapest(state(came.after), envelope, any);
        least = Math.min(least, came.paid + later);
      }
    }
    return least;
  }

  /* Brier score with two outcomes, the fish out or not: 2 (p - y)^2, 0 the best and 2 the worst. */
  const brier = (p, came) => 2 * (p - (came === "recovered" ? 1 : 0)) ** 2;

  function scores(walked, envelope, any) {
    const regret = walked.mornings.reduce((sum, each) => sum + each.regret, 0);
    const made = walked.mornings.filter(each => each.came !== null);
    const guessed = made.filter(each => each.said.guess !== null);
    const mean = (rows, of) => rows.length ? rows.reduce((sum, each) => sum + of(each), 0) / rows.length : null;
    const start = state(startOf(envelope));
    return {
      runs: made.length, total: walked.total, regret, ended: walked.ended,
      luck: walked.total === null ? null : walked.total - walked.first - regret,
      hindsight: walked.total === null ? null : walked.total - spentBefore(envelope) - cheapest(start, envelope, any),
      brier: mean(guessed, each => brier(each.said.guess, each.came.outcome)), guesses: guessed.length,
      stated: mean(made, each => brier(each.odds, each.came.outcome)),
    };
  }

  /* What a policy would have done with the same envelope. */
  function policy(decide, envelope, any) {
    const decisions = [];
    for (;;) {
      const walked = walk(decisions, envelope, any);
      if (walked.ended !== null) return walked;
      const offered = choices(walked.here, envelope, any);
      decisions.push({ does: decide(offered, walked.here).does, guess: null });
    }
  }
  const stopped = offered => offered.find(each => each.does === STOP);
  const go = envelope => (offered, here) =>
    offered.find(each => each.does === goOf(here, envelope)) || offered.find(each => each.option) || offered[0];
  const policies = [
    ["The program, every morning", () => best],
    ["Stop at once", envelope => (offered, here) => stopped(offered) || go(envelope)(offered, here)],
    ["Never stop: just one more", go],
  ];

  // ---- what is typed ---------------------------------------------------------------------------

  /* A guess in percent: { value } from 0 to 1, null for an empty field, or { fault } in words. */
  function readGuess(text) {
    const typed = text.trim();
    if (typed === "") return { value: null };
    const found = /^(\d{1,3}(?:[.,]\d{1,6})?|[.,]\d{1,6})\s*(%|percent)?$/i.exec(typed);
    if (!found) return { fault: `"${cut(typed)}" is no number. Type a number from 0 to 100, or leave the field empty.` };
    const value = Number(found[1].replace(",", "."));
    if (value > 100) return { fault: `${cut(typed)} is more than 100 %. Type a number from 0 to 100.` };
    if (value > 0 && value < 1 && !found[2]) {
      const percent = Number((100 * value).toFixed(4));
      return { fault: `${cut(typed)} may mean ${percent} % or less than one. Type ${percent}, or ${cut(typed)} %.` };
    }
    return { value: value / 100 };
  }
  function readNumber(text) {
    const typed = text.trim();
    const most = data.envelopes.length;
    if (!/^\d{1,6}$/.test(typed) || Number(typed) < 1 || Number(typed) > most) {
      return { fault: `Type a whole number from 1 to ${most}${typed === "" ? "" : `; "${cut(typed)}" is none`}.` };
    }
    return { value: Number(typed) };
  }
  /* Names of teams: as many as there are, none empty and no two alike. */
  function readNames(texts) {
    const names = texts.map(each => each.replace(/\s+/g, " ").trim());
    const faults = names.map((name, i) => {
      if (name === "") return "Give the team a name, or take the row away.";
      if (names.findIndex(each => each.toLowerCase() === name.toLowerCase()) < i) return "Another team has this name.";
      return null;
    });
    return { names, faults };
  }
  const cut = text => text.length > 24 ? text.slice(0, 24) + "\u2026" : text;

  // ---- a line to carry a result to another laptop -----------------------------------------------

  const HEAD = "ECON-CLASS-1";
  function lineOf(team, game) {
    const content = JSON.stringify([game.any ? 1 : 0, game.envelope, team.name, team.paper, team.decisions, team.changed]);
    const bytes = new TextEncoder().encode(content);
    return `${HEAD} ${data.id} ${btoa(Array.from(bytes, each => String.fromCharCode(each)).join(""))}`;
  }
  /* A team from a line, or { fault }. */
  function readLine(text, game) {
    const parts = text.trim().split(/\s+/);
    if (parts[0] !== HEAD || parts.length !== 3) return { fault: `This is no result line: it begins with ${HEAD} and has three parts.` };
    if (parts[1] !== data.id) return { fault: "This line is from a page of another case." };
    let content;
    try {
      const bytes = Uint8Array.from(atob(parts[2]), each => each.charCodeAt(0));
      content = JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(bytes));
    } catch {
      return { fault: "This line is cut or changed: copy it again, whole." };
    }
    if (!Array.isArray(content) || content.length !== 6) return { fault: "This line is cut or changed: copy it again, whole." };
    const [any, envelope, name, paper, decisions, changed] = content;
    if (JSON.stringify(envelope) !== JSON.stringify(game.envelope) || any !== (game.any ? 1 : 0)) {
      return { fault: "This line is from another envelope, or from other choices: both laptops must begin alike." };
    }
    const team = checkedTeam({ name, paper, decisions, changed });
    if (!team) return { fault: "This line is cut or changed: copy it again, whole." };
    const walked = walk(team.decisions, game.envelope, game.any);
    if (walked.faults || walked.ended === null) return { fault: "The job of this line is not finished." };
    return { team };
  }
  /* A team with nothing in it but what a team has; null where it is none. */
  function checkedTeam(raw) {
    if (!raw || typeof raw.name !== "string" || raw.name.trim() === "" || !Array.isArray(raw.decisions)) return null;
    const decisions = raw.decisions.slice(0, 100).map(each => ({
      does: each && (each.does === STOP || Number.isInteger(each.does)) ? each.does : null,
      guess: each && typeof each.guess === "number" && each.guess >= 0 && each.guess <= 1 ? each.guess : null,
      why: each && typeof each.why === "string" ? each.why.slice(0, 300) : "",
    }));
    if (decisions.some(each => each.does === null)) return null;
    return {
      name: raw.name.slice(0, 40), paper: typeof raw.paper === "string" ? raw.paper.slice(0, 300) : "",
      decisions, changed: Number.isInteger(raw.changed) ? raw.changed : 0, out: raw.out === true,
      seen: Array.isArray(raw.seen) ? raw.seen.slice(0, 100) : [],
    };
  }
  function checkedEnvelope(raw) {
    if (!raw || !Number.isInteger(raw.number) || raw.number < 1 || raw.number > data.envelopes.length) return null;
    const log = raw.log === null || (Number.isInteger(raw.log) && raw.log >= 0 && raw.log < logs.length) ? raw.log : undefined;
    if (log === undefined) return null;
    const own = {};
    for (const [run, word] of Object.entries(raw.own || {})) {
      if (/^\d{1,3}$/.test(run) && Number(run) <= data.runs.length && data.outcomes.includes(word)) own[Number(run)] = word;
    }
    return { log, number: raw.number, own };
  }

  return {
    STOP, state, logs, chance, oddsOf, choices, best, goOf, walk, scores, policy, policies, startOf, kindOf, cheapest,
    spentBefore, readGuess, readNumber, readNames, lineOf, readLine, checkedTeam, checkedEnvelope,
  };
}

// The shell: one job, the parts of the desk, and the answer beside them.
//
// A part is a module that has mount(root, desk) and update(desk). It asks the desk:
//   desk.job, desk.answer, desk.quick   what stands; an answer is of desk.job if `desk.fresh`
//   desk.change(changes)                keys of the file, one change after the other
//   desk.ask(method, path, body)        anything else
//   desk.subscribe(fn)                  fn(desk) after everything that happens
//   desk.needSaved(words)               whether the file is saved, or was on being asked
//   desk.show(part, key)                another part, and there the field of a key
//   desk.runless, desk.chooseRuns()     whether no run is chosen yet; to where runs are chosen

import { button, el, faultList, table } from "./page.js";
import { asked, letIn, listen, Refused } from "./link.js";
import { held } from "./fields.js";
import * as call from "./call.js";

const PARTS = [
  ["questions", "First questions"],
  ["form", "The job"],
  ["mornings", "Mornings"],
  ["orders", "Orders"],
  ["scales", "Scales"],
  ["past", "Past jobs"],
  ["papers", "Papers"],
];

const at = (id) => document.getElementById(id);

const desk = {
  job: null,
  answer: null, // the newest full answer, with the input it is of
  quick: null, // the newest first figures
  refused: null, // why the newest job has no answer
  doing: "starting",
  connected: false,
  told: "", // what was last refused
  subscribers: new Set(),

  // Whether the full answer is of the job as it stands.
  get fresh() {
    return this.job !== null && this.answer !== null && this.answer.input === this.job.input;
  },
  get quickFresh() {
    return this.job !== null && this.quick !== null && this.quick.input === this.job.input;
  },
  // Whether the job as it stands can be answered at all.
  get sound() {
    return this.job !== null && this.job.faults.length === 0 && this.job.log.faults.length === 0;
  },
  // Whether the job can be answered and has no run yet, so that there is nothing to decide.
  get runless() {
    return this.sound && this.job.text !== "" && !this.job.values.run?.length;
  },
  get unsaved() {
    return this.job !== null && this.job.draft.unsaved;
  },

  subscribe(fn) {
    this.subscribers.add(fn);
    return () => this.subscribers.delete(fn);
  },
  ask: asked,

  // One change after the other, each on the text that the one before it left.
  change(changes) {
    return this.write("/api/changes", () => ({ base: this.job.hash, changes }));
  },
  undo() {
    return this.write("/api/undo", () => ({ base: this.job.hash }));
  },
  save() {
    return this.write("/api/save", () => ({ base: this.job.hash }));
  },
  put(path, body) {
    return this.write(path, () => ({ base: this.job.hash, ...body }));
  },
  write(path, body) {
    const next = writing.then(async () => {
      try {
        this.take(await untilHeard(path, body));
        this.say("");
        return { done: true };
      } catch (error) {
        if (error.told?.job) this.take(error.told.job);
        this.say(error.message, error.told?.faults);
        return { done: false, error };
      }
    });
    writing = next.catch(() => {});
    return next;
  },
  async needSaved(words) {
    if (!this.unsaved) return true;
    if (!window.confirm(`${words} goes by the file, and the file is not saved. Save it now?`)) return false;
    return (await this.save()).done;
  },
  take(job) {
    if (this.told && job.hash !== this.job?.hash) this.say("");
    this.job = job;
    this.happened();
  },
  say(words, faults) {
    this.told = words;
    at("news").replaceChildren(...(words ? [news(words, faults)] : []));
    head();
  },
  happened() {
    for (const fn of this.subscribers) fn(this);
  },
};

let writing = Promise.resolve();
let over = false; // this window is let in no longer
let open = null; // the part that is shown
const mounted = new Map();

function news(words, faults) {
  const told = faults?.length ? faultList(faults, "This was not done:")
    : el("p", { class: "refusal", role: "alert" }, `Not done: ${words}.`);
  told.append(button("Seen", () => desk.say(""), { class: "small" }));
  return told;
}

// ---- a desk that does not answer ---------------------------------------------------------------

const GRACE = 1500; // ms in which a stream may come back before anything is said
let unsent = null; // a write that waits for the desk
let cut = null; // when the stream was lost

// A write that is asked for again until somebody hears it, so that nothing typed is lost. Each tells
// the text that it was meant for: one that was heard before, and its reply lost, is refused.
async function untilHeard(path, body) {
  for (;;) {
    try {
      const job = await asked("POST", path, body());
      unsent = null;
      gone();
      return job;
    } catch (error) {
      if (error instanceof Refused) {
        unsent = null;
        gone();
        throw error;
      }
      unsent = path === "/api/changes" ? body().changes : [];
      gone();
      await new Promise((wake) => setTimeout(wake, 1000));
    }
  }
}

// Nothing can be typed while nobody is there to take it.
function gone() {
  const notice = at("gone");
  const missing = desk.job !== null && (unsent !== null || (cut !== null && Date.now() - cut >= GRACE));
  if (!missing) {
    notice.close();
    return;
  }
  const given = (unsent ?? []).map((each) => `${[each.key ?? each.list].flat().join(".")} ${JSON.stringify(each.value ?? each.op)}`);
  at("held").textContent = given.length ? `Not kept yet, and sent again once the desk answers: ${given.join(", ")}.` : "";
  if (!notice.open) notice.showModal();
}

// ---- a draft of an earlier start, and a file that another program has changed -------------------

let compared = null;
let offered = ""; // what is shown of it, so that a choice half made is not drawn anew

function offers() {
  const draft = desk.job?.draft;
  if (!draft) return [];
  const shown = [];
  if (draft.offer) {
    const count = draft.offer.changes;
    const when = new Date(1000 * draft.offer.at).toLocaleString(navigator.languages);
    shown.push(el("section", { class: "offer", "aria-label": "An earlier draft" },
      el("p", {}, `A draft of an earlier start is here, which was not saved: ${count} ` +
        `change${count === 1 ? "" : "s"}, the last one of ${when}.` +
        (draft.offer.elsewhere ? " The file was changed since." : "") +
        (draft.offer.lost ? " Its end could not be read." : "")),
      button("Go on with it", () => desk.put("/api/offer", { op: "take" }), { class: "first" }),
      button("Forget it", () => {
        if (window.confirm("The draft is then gone for good.")) desk.put("/api/offer", { op: "drop" });
      })));
  }
  if (draft.elsewhere) {
    shown.push(el("section", { class: "offer", "aria-label": "Two versions of the file" },
      el("p", {}, "Another program has changed the file, and there are changes here that are not " +
        "saved. Nothing is written over: look at both, key by key, and choose."),
      button("Compare", compare, { class: "first" }),
      compared ? versions(compared) : null));
  } else {
    compared = null;
  }
  if (!draft.kept) {
    shown.push(el("p", { class: "refusal", role: "alert" },
      "The disk does not take the draft: changes are lost if the desk ends before you save."));
  }
  return shown;
}

async function compare() {
  try {
    compared = (await asked("GET", "/api/versions")).versions;
    desk.say("");
  } catch (error) {
    desk.say(error.message, error.told?.faults);
  }
}

function versions(rows) {
  const boxes = new Map();
  const shown = (value) => (value === null || value === undefined ? "none" : JSON.stringify(value));
  const body = rows.map((row) => {
    const box = el("input", { type: "checkbox", "aria-label": `Keep ${row.key} as it is here` });
    box.checked = row.changed !== "elsewhere" && row.changed !== "alike";
    box.disabled = row.changed === "alike";
    boxes.set(row.key, box);
    return [row.key, shown(row.before), shown(row.mine), shown(row.theirs), box];
  });
  return el("div", {},
    table(["Key", "Before", "Here", "In the file", "As here"], body, { caption: "Where they differ" }),
    button("Go on from the file, with what is ticked", () => {
      const mine = [...boxes].filter(([, box]) => box.checked).map(([key]) => key);
      compared = null;
      desk.put("/api/settle", { mine });
    }));
}

// ---- the head of the page ----------------------------------------------------------------------

function standing() {
  if (!desk.job) return "";
  if (!desk.connected) return "The desk does not answer.";
  if (desk.job.text === "") return "A new job: nothing is written yet.";
  const draft = desk.job.draft;
  if (draft.elsewhere) return "Not saved. Another program has changed the file: compare, above.";
  const words = draft.unsaved ? "Not saved yet" : "Saved";
  const count = toPutRight();
  if (count) return `${words}. ${count} thing${count === 1 ? "" : "s"} to put right${desk.job.faults.length ? " before it can be answered" : ""}.`;
  return `${words}.`;
}

// The faults of the file, and what is typed on the form and is not in it.
const toPutRight = () => desk.job.faults.length + held(at("part-form")).length;

function head() {
  const job = desk.job;
  if (!job) return;
  at("file").textContent = job.file;
  document.title = `${desk.unsaved ? "* " : ""}${job.file} - the desk`;
  if (at("standing").textContent !== standing()) at("standing").textContent = standing();
  at("save").disabled = !desk.unsaved || !desk.connected || job.draft.elsewhere;
  at("undo").disabled = !job.undo || !desk.connected;
  const key = JSON.stringify([job.draft, compared]);
  if (offered !== key) at("offers").replaceChildren(...offers());
  offered = key;
}

// On a narrow window the answer stands below the work; its first sentence stands above it.
function brief() {
  const words = !desk.sound ? (desk.job?.text && desk.job.faults.length ? `Not answered: ${toPutRight()} to put right` : "")
    : desk.runless ? "No run is chosen yet"
    : desk.fresh ? desk.answer.screen.verdict[0]
    : desk.quickFresh ? `${desk.quick.headline} (first figures)` : "Working the answer out";
  at("brief").hidden = !words;
  if (at("brief").textContent !== words) at("brief").textContent = words;
}

function parts() {
  const list = at("parts");
  list.replaceChildren(...PARTS.filter(([name]) => mounted.has(name)).map(([name, words]) =>
    el("li", {}, button(words, () => show(name), {
      "aria-current": name === open ? "page" : null,
      "data-part": name,
    }))));
  list.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest", inline: "nearest" });
}

// Each view that is shown is a step of the browser's Back.
function show(name, { focus = true, step = true } = {}) {
  if (step && history.state?.part !== name) history[open ? "pushState" : "replaceState"]({ part: name }, "");
  open = name;
  sessionStorage.setItem("desk-part", name);
  parts();
  for (const [each, part] of mounted) part.root.hidden = each !== name;
  mounted.get(name).module.update?.(desk);
  if (!focus) return;
  window.scrollTo(0, 0);
  at("work").focus({ preventScroll: true });
}

desk.show = (name, key) => {
  if (!mounted.has(name)) return;
  show(name);
  if (key) mounted.get(name).module.goTo(key);
};
desk.chooseRuns = () => {
  desk.show("questions");
  mounted.get("questions")?.module.toRuns();
};

// ---- the beginning -------------------------------------------------------------------------------

function shutOut(words) {
  at("work").replaceChildren(el("h2", {}, "This window is not let in"), el("p", {}, words));
  at("call").replaceChildren();
  at("call").hidden = true;
  at("parts").replaceChildren();
  at("offers").replaceChildren();
  at("news").replaceChildren();
  for (const id of ["save", "undo", "more", "brief"]) at(id).hidden = true;
  at("standing").textContent = "";
  unsent = cut = null;
  over = true;
  gone();
}

function heard(event) {
  if (event.event === "answer") {
    if (event.answer && event.stage === "full") desk.answer = { input: event.input, ...event.answer };
    else if (event.answer) desk.quick = { input: event.input, ...event.answer };
    desk.refused = event.answer ? null : event;
    desk.happened();
  } else if (event.event === "worker") {
    desk.doing = event.doing;
    desk.happened();
  } else if (event.event === "job" && event.version > (desk.job?.version ?? 0)) {
    // Another window, or another program, has changed the job. Ours come with their own reply.
    writing = writing.then(async () => {
      if (event.version > (desk.job?.version ?? 0)) {
        desk.take(await asked("GET", "/api/job"));
      }
    }).catch(() => {});
  }
}

async function begin() {
  if (!(await letIn())) {
    shutOut("The way in works once. Start the desk again with econ desk, or press Another window in one that is open.");
    return;
  }
  try {
    desk.job = await asked("GET", "/api/job");
  } catch (error) {
    shutOut(error.status === 401
      ? "It belongs to a desk that has ended. Start the desk again with econ desk."
      : `The desk does not answer: ${error.message}.`);
    return;
  }
  desk.connected = true;
  at("work").replaceChildren();
  const loaded = await Promise.all(PARTS.map(([name]) => import(`./${name}.js`).catch(() => null)));
  PARTS.forEach(([name], place) => {
    const module = loaded[place];
    if (!module) return;
    const root = el("section", { id: `part-${name}` });
    at("work").append(root);
    module.mount(root, desk);
    mounted.set(name, { module, root });
  });
  call.mount(at("call"), desk);
  desk.subscribe(() => {
    head();
    brief();
    call.update(desk);
    mounted.get(open)?.module.update?.(desk);
  });
  at("save").addEventListener("click", () => desk.save());
  at("undo").addEventListener("click", () => desk.undo());
  at("window").addEventListener("click", async () => {
    const { token } = await asked("POST", "/api/window");
    window.open(`/#${token}`, "_blank", "noopener");
  });
  at("close").addEventListener("click", async () => {
    try {
      await asked("POST", "/api/close");
      shutOut("The desk is closed, and so can be this window. The file is as you saved it.");
    } catch (error) {
      desk.say(error.message);
    }
  });
  // What was refused is said until something else is tried: it says nothing of what stands then.
  const forget = () => desk.told && desk.say("");
  document.addEventListener("change", forget, true);
  at("parts").addEventListener("click", forget, true);
  document.addEventListener("held", () => desk.happened());
  window.addEventListener("beforeunload", (event) => held(at("work")).length && event.preventDefault());
  at("gone").addEventListener("close", gone); // it goes when the desk is back, not by a key
  document.addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && !event.altKey && event.key.toLowerCase() === "s") {
      event.preventDefault();
      document.activeElement?.blur?.(); // a field gives what was typed
      desk.save();
    }
  });
  const empty = desk.job.text === "";
  const last = sessionStorage.getItem("desk-part");
  const first = [empty ? "questions" : last, "form", ...mounted.keys()].find((name) => mounted.has(name));
  if (first) show(first, { focus: false });
  window.addEventListener("popstate", (event) => {
    if (!over && mounted.has(event.state?.part)) show(event.state.part, { step: false });
  });
  desk.happened();
  listen(heard, (state) => {
    if (state === "shut out") {
      shutOut("The desk was started anew since. Use the window that it opened.");
      return;
    }
    if (over) return;
    const was = desk.connected;
    desk.connected = state === "open";
    if (desk.connected) cut = null;
    else if (cut === null) {
      cut = Date.now();
      setTimeout(gone, GRACE);
    }
    gone();
    if (desk.connected && !was) asked("GET", "/api/job").then((job) => desk.take(job)).catch(() => {});
    desk.happened();
  });
}

begin();

export { desk };

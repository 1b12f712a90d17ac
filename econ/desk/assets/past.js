// Past jobs: a table of them, or daily reports, dropped here. What was read, what was refused, what it
// would change; and only then into the job.

import { sideBySide } from "./beside.js";
import { button, choice, el, faultList, field, newId } from "./page.js";

const LARGEST = 2800000; // bytes of all files together; the desk takes no more in one request

let desk = null;
const at = {};

export function mount(into, given) {
  desk = given;
  const id = newId("files");
  at.files = el("input", { type: "file", id, multiple: true, accept: ".csv,.xml,.zip", on: { change: () => read([...at.files.files]) } });
  at.units = choice([["field", "ft, in"], ["metric", "m, mm"]], "field", {});
  at.drop = el("div", { class: "drop" },
    field("A table of past jobs (.csv), or daily reports (.xml, .zip)", at.files, "Or drop the files anywhere in this box. They are read on this machine, and go nowhere."),
    field("Depths and sizes in", at.units));
  at.said = el("p", { role: "status" });
  at.body = el("div", {});
  into.replaceChildren(
    el("h2", {}, "Past jobs"),
    el("p", {}, "Your own past jobs give odds and beliefs; daily reports give trip speeds and hours. See first what was read, what was refused, and what it would change."),
    at.drop, at.said, at.body);
  for (const event of ["dragover", "drop"]) {
    at.drop.addEventListener(event, (moved) => {
      moved.preventDefault();
      if (event === "drop") read([...moved.dataTransfer.files]);
    });
  }
}

async function inBase64(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let letters = "";
  for (let place = 0; place < bytes.length; place += 32768) letters += String.fromCharCode(...bytes.subarray(place, place + 32768));
  return btoa(letters);
}

async function read(files) {
  if (!files.length) return;
  at.body.replaceChildren();
  const table = files.some((file) => file.name.toLowerCase().endsWith(".csv"));
  if (table && files.length > 1) {
    at.said.textContent = "One table of past jobs at a time, and no daily reports with it.";
    return;
  }
  if (files.reduce((sum, file) => sum + file.size, 0) > LARGEST) {
    at.said.textContent = "These are too large for the desk. econ odds and econ daily take files of any size.";
    return;
  }
  at.said.textContent = "Being read.";
  try {
    const given = await Promise.all(files.map(async (file) => ({ name: file.name, data: await inBase64(file) })));
    const found = await desk.ask("POST", "/api/past", { kind: table ? "table" : "reports", units: at.units.value, files: given });
    at.said.textContent = "Read. Nothing of the job has changed yet.";
    show(found);
  } catch (error) {
    at.said.textContent = "";
    at.body.replaceChildren(faultList(error.told?.faults ?? [{ text: error.message }], "Nothing could be read:"));
  } finally {
    at.files.value = "";
  }
}

function show(found) {
  const changes = found.beside
    ? sideBySide(found.beside, { before: "The job now", after: "With them" })
    : [faultList((found.refused ?? []).map((text) => ({ text })), "It cannot be held against the job as it stands:")];
  at.body.replaceChildren(
    ...changes,
    el("div", { class: "doing" },
      button("Include them in the job", () => include(found.ticket), { class: "first" }),
      button("Leave them out", () => { at.body.replaceChildren(); at.said.textContent = "Left out."; })),
    el("h3", {}, "What was read, and what was refused"),
    el("pre", { class: "told", tabindex: "0" }, found.told));
}

async function include(ticket) {
  const done = await desk.put("/api/include", { ticket });
  if (!done.done) return;
  at.body.replaceChildren();
  at.said.textContent = "They are a file beside the job, which the draft names. Save to keep it.";
}

export function update() {
  if (!at.chosen && desk.job.values?.units) {
    at.chosen = true;
    at.units.value = desk.job.values.units;
  }
  at.files.disabled = !desk.connected || desk.job.text === "";
}

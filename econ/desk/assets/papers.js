// Papers: reports of the saved file, each the same bytes that the command of its name writes.

import { button, el } from "./page.js";

const PAPERS = [
  ["For the morning call", [
    ["memo.pdf", "Memo, to print"],
    ["memo.html", "Memo, as a page", true],
  ]],
  ["For the partners", [
    ["supplement.xlsx", "Supplement to the authority, as a workbook"],
    ["supplement.html", "Supplement, as a page", true],
    ["supplement.csv", "Its costs, as a table"],
  ]],
  ["To turn the amounts", [["what_if.html", "A page with sliders, that needs no program", true]]],
  ["Drawings", [
    ["plan.pdf", "The plan as a tree"],
    ["figures.zip", "Every figure with its table"],
  ]],
  ["All of it", [["report.zip", "Every report, packed"]]],
  ["The files themselves", [
    ["scenario", "The job"],
    ["log", "The log of runs"],
  ]],
];

const note = el("div", { role: "status" });
let root = null;
let desk = null;
const rows = [];

export function mount(into, given) {
  root = into;
  desk = given;
  root.replaceChildren(
    el("h2", {}, "Papers"),
    el("p", {}, "Each is made from the saved file and its log, and holds what the command line would write."),
    note,
    ...PAPERS.map(([head, papers]) => el("section", { class: "papers" },
      el("h3", {}, head),
      el("ul", {}, papers.map(([what, words, page]) => row(what, words, page))))),
  );
}

function row(what, words, page) {
  const said = el("span", { class: "said", role: "status" });
  const place = el("span", {});
  const keep = button("Download", () => make(what, words, false, { said, place }), { "aria-label": `Download: ${words}` });
  const open = page ? button("Open", () => make(what, words, true, { said, place }), { "aria-label": `Open: ${words}` }) : null;
  rows.push({ what, buttons: [keep, open].filter(Boolean) });
  return el("li", {}, el("span", { class: "what" }, words), open, keep, place, said);
}

async function make(what, words, open, { said, place }) {
  if (!(await desk.needSaved(words))) return;
  said.textContent = "Being made.";
  if (place.firstChild) URL.revokeObjectURL(place.firstChild.href);
  place.replaceChildren();
  try {
    const { address, name } = await desk.ask("POST", "/api/out", { what, open });
    if (open) {
      const link = el("a", { href: address, target: "_blank", rel: "noopener noreferrer" }, `Open ${name}`);
      link.addEventListener("click", () => { place.replaceChildren(); said.textContent = ""; });
      place.replaceChildren(link);
      link.focus();
      said.textContent = "Ready; the link works once.";
    } else {
      const reply = await fetch(address);
      if (!reply.ok) throw new Error("the desk had it no longer; ask again");
      // Kept in this window, so that the link goes on working where the browser holds a download back.
      const link = el("a", { href: URL.createObjectURL(await reply.blob()), download: name }, name);
      place.replaceChildren(link);
      link.click();
      said.textContent = "Made and handed to the browser. If it does not come, allow it there, or press its name.";
    }
  } catch (error) {
    said.textContent = error.told?.faults ? error.told.faults.map((each) => each.text).join(" ") : `Not made: ${error.message}.`;
  }
}

export function update() {
  const said = !desk.sound ? []
    : [desk.runless ? ["No run is chosen yet: every paper is of stopping now. ", button("Choose runs in question 10", () => desk.chooseRuns(), { class: "small" })] : null,
      desk.job.values.afe?.line?.length ? null : ["No line of the AFE is entered, so that a supplement can add to none: it then asks for the whole as new money. ", button("Enter lines of the AFE", () => desk.show("form", "afe.line"), { class: "small" })]];
  note.replaceChildren(...said.filter(Boolean).map((parts) => el("p", { class: "note" }, ...parts)));
  const able = desk.sound && desk.connected;
  for (const { what, buttons } of rows) {
    const there = what === "scenario" ? desk.job.text !== "" : what === "log" ? desk.job.log.there : able;
    for (const each of buttons) each.disabled = !there;
  }
}

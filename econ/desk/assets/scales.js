// Scales: sliders for the amounts that move the answer most, and the case that they make beside the
// one of the file. Nothing of the file changes until it is asked to.

import { sideBySide } from "./beside.js";
import { button, el, money, newId, number } from "./page.js";

let desk = null;
const at = { moved: new Map() };
const STEPS = 40;

export function mount(into, given) {
  desk = given;
  at.said = el("p", { role: "status" });
  at.ask = button("Weigh the amounts", weigh, { class: "first" });
  at.list = el("div", {});
  at.beside = el("div", { class: "body" });
  at.live = el("p", { class: "live", role: "status" });
  into.replaceChildren(
    el("h2", {}, "Scales"),
    el("p", {}, "Which amounts of the job weigh most, what happens where they turn out otherwise, and both cases side by side."),
    el("div", { class: "doing" }, at.ask, at.said),
    at.list,
    at.beside,
    at.live,
  );
  update();
}

async function weigh() {
  at.said.textContent = "Every amount is being turned.";
  at.running = true;
  update();
  try {
    at.weights = await desk.ask("POST", "/api/weights");
    at.said.textContent = "";
    sliders();
  } catch (error) {
    at.said.textContent = `Not worked out: ${error.message}.`;
  } finally {
    at.running = false;
    update();
  }
}

// The sliders, all where the file has them.
function sliders() {
  at.moved.clear();
  at.compared = null;
  at.live.textContent = "";
  at.beside.replaceChildren();
  const rows = at.weights.sliders;
  at.list.replaceChildren(...(rows.length ? rows.map(slider) : [el("p", {}, "No amount of this file moves the answer.")]),
    el("div", { class: "doing" },
      button("All as in the file", () => { sliders(); }),
      button("Write what is moved into the file", keep)));
}

function slider(row) {
  const id = newId("scale");
  const { key, words, low, high, now } = row;
  const unit = ["fraction", "ratio", "count"].includes(row.unit) ? "" : row.unit;
  const step = (high - low) / STEPS;
  const start = at.moved.get(key) ?? now;
  const output = el("output", { for: id }, shown(start, row));
  const range = el("input", { type: "range", id, min: low, max: high, step: step || 1, value: start });
  const box = el("div", { class: "scale" },
    el("label", { for: id }, words), " ", output, unit ? ` ${unit}` : "",
    range,
    el("div", { class: "ends" }, el("span", {}, shown(low, row)), el("span", {}, `swing ${money(row.swing)}`), el("span", {}, shown(high, row))));
  const mark = () => box.classList.toggle("moved", at.moved.has(key));
  range.addEventListener("input", () => {
    const value = Number(range.value);
    at.moved.set(key, value);
    output.textContent = shown(value, row);
    range.setAttribute("aria-valuetext", `${shown(value, row)} ${unit}`);
    mark();
    compare();
  });
  mark();
  return box;
}

function shown(value, row) {
  if (row.unit === "fraction") return `${number(100 * value, 1)} %`;
  const span = row.high - row.low;
  const decimals = span >= 50 ? 0 : span >= 5 ? 1 : 3;
  return number(value, decimals);
}

const changes = () => [...at.moved].map(([key, value]) => `${key}=${Number(value.toPrecision(6))}`);

async function compare() {
  at.wanted = changes().join(" ");
  if (at.asking) return;
  at.asking = true;
  try {
    while (at.wanted !== at.compared) {
      const wanted = at.wanted;
      const given = changes();
      if (!given.length) break;
      at.beside.classList.add("old");
      try {
        const found = await desk.ask("POST", "/api/beside", { changes: given });
        at.beside.replaceChildren(...sideBySide(found));
        const mean = found.figures.find((figure) => figure.name === "expected_cost");
        at.live.textContent = `As set: ${found.headlines[1]} ${money(mean.after)} on average, ${money(mean.before)} by the file.`;
        at.said.textContent = "";
      } catch (error) {
        if (!error.told?.newer) at.said.textContent = (error.told?.faults ?? [{ text: error.message }]).map((each) => each.text).join(" ");
      }
      at.compared = wanted;
      at.beside.classList.toggle("old", at.wanted !== wanted);
    }
  } finally {
    at.asking = false;
  }
}

async function keep() {
  if (!at.moved.size) {
    at.said.textContent = "Nothing is moved.";
    return;
  }
  const done = await desk.change([...at.moved].map(([key, value]) => ({ op: "set", key, value: Number(value.toPrecision(6)) })));
  if (done.done) {
    at.moved.clear();
    at.said.textContent = "It is in the draft of the file. Weigh the amounts again for what it weighs now.";
    at.live.textContent = "";
    at.beside.replaceChildren();
    at.list.replaceChildren();
    at.weights = null;
    update();
  }
}

export function update() {
  at.ask.disabled = !desk.sound || !desk.connected || Boolean(at.running);
  at.ask.textContent = at.weights ? "Weigh them again" : "Weigh the amounts";
  const old = at.weights && at.weights.input !== desk.job.input;
  if (old && !at.running && at.stale !== desk.job.input) {
    at.stale = desk.job.input;
    at.said.textContent = "The job has changed since these were weighed.";
  }
}

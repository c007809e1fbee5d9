// The live page: sends values as they are turned, one request in flight and the latest wins, and draws
// what comes back. All words and figures come from the program; nothing is computed here.
"use strict";

const byId = (id) => document.getElementById(id);
const COLOURS = ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00"]; // the output's first
const OWN = "#6b6b6b";
const HEIGHTS = { output: 280 };
const OTHER_HEIGHT = 110;
const TYPING_MS = 350; // a text that is still being typed is not wrong yet
const SAYING_MS = 900; // a screen reader is told where things came to rest, not every frame
const BRIEF = 14; // characters of a cell that stays on one line
const STEPS = Number(document.querySelector("[type=range]")?.max ?? 0);

// ---------------------------------------------------------------- values

/** One value that can be turned: what is wanted, and the last that could be read. */
class Knob {
  constructor(root) {
    const { path, low, high, log, own } = root.dataset;
    Object.assign(this, { root, path, own, log: log === "true", low: Number(low), high: Number(high) });
    this.text = root.querySelector("[type=text]");
    this.slide = root.querySelector("[type=range]");
    this.told = root.querySelector(".told");
    this.ranged = low !== "";
    this.wanted = this.good = this.text.value;
    this.slide.addEventListener("input", () => this.want(this.at(this.slide.valueAsNumber / STEPS)));
    this.text.addEventListener("input", () => this.type(TYPING_MS));
    this.text.addEventListener("change", () => this.type(0));
  }
  at(share) {
    if (this.log) return this.low * (this.high / this.low) ** share;
    return this.low + share * (this.high - this.low);
  }
  share(value) {
    const whole = this.log ? Math.log(this.high / this.low) : this.high - this.low;
    const part = this.log ? Math.log(value / this.low) : value - this.low;
    return Math.min(1, Math.max(0, part / whole)) || 0;
  }
  type(wait) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      const text = this.text.value.trim() || this.own;
      if (text !== this.tried) this.want(text); // what was told of it stays told
    }, wait);
  }
  want(wanted) {
    this.blame("");
    this.wanted = this.tried = wanted;
    turn();
  }
  blame(words) {
    this.told.textContent = words;
    this.root.classList.toggle("wrong", words !== "");
    this.text.setAttribute("aria-invalid", String(words !== ""));
  }
  /** Takes over what the program made of it. */
  show({ text, value, comes_to, pinned }) {
    this.good = text;
    if (typeof this.wanted === "number" || document.activeElement !== this.text) this.text.value = text;
    if (this.ranged && value !== null && document.activeElement !== this.slide) {
      this.slide.value = Math.round(this.share(value) * STEPS);
    }
    this.slide.setAttribute("aria-valuetext", text);
    this.text.disabled = this.slide.disabled = pinned !== null;
    this.root.classList.toggle("turned", text !== this.own);
    this.blame("");
    if (pinned !== null) this.told.textContent = `this test sets it itself: ${pinned}`;
    else if (comes_to) this.told.textContent = `comes to ${comes_to}`;
  }
}

const knobs = [...document.querySelectorAll(".knob")].map((root) => new Knob(root));

/** What is asked of the program: every value that is not the file's own. */
const changed = () => Object.fromEntries(
  knobs.filter((knob) => knob.wanted !== knob.own).map((knob) => [knob.path, knob.wanted]));

// ---------------------------------------------------------------- requests

const state = { answer: null, busy: false, again: false, since: 0 };
const own = new Map(); // test → the answer with the file's own values

async function post(route, body) {
  const answer = await fetch(route, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });
  if (!answer.ok) throw new Error(`the program refused: ${await answer.text()}`);
  return answer.json();
}

/** Asks for a picture of the present values; while one is on its way only the latest wish is kept. */
async function turn() {
  state.since = performance.now();
  state.again = true;
  if (state.busy) return;
  state.busy = true;
  byId("panels").setAttribute("aria-busy", "true");
  while (state.again) {
    state.again = false;
    const { since } = state;
    try {
      await once(Number(byId("test").value));
      await new Promise(requestAnimationFrame);
      pace(performance.now() - since);
    } catch (problem) {
      tell(problem.message.startsWith("the program") ? problem.message
        : "the program does not answer; is it still running?");
    }
  }
  state.busy = false;
  byId("panels").setAttribute("aria-busy", "false");
}

async function once(test) {
  if (!own.has(test)) {
    const mine = await post("turn", { test, set: {}, own: true });
    own.set(test, mine.mistakes ? null : mine); // a file may need what the command line sets
  }
  const asked = knobs.map((knob) => knob.wanted);
  const answer = await post("turn", { test, set: changed() });
  if (answer.mistakes) {
    blame(answer.mistakes, asked);
    return;
  }
  tell("");
  knobs.forEach((knob, k) => {
    const same = knob.wanted === asked[k];
    if (same) knob.show(answer.values[k]);
    if (same) knob.wanted = knob.good;
  });
  const other = state.answer?.test !== answer.test;
  state.answer = answer;
  draw(answer, own.get(test) ?? answer, other);
}

/** Shows each mistake beside its value, which goes back to the last that could be read. */
function blame(mistakes, asked) {
  const general = mistakes.filter(({ path }) => !knobs.some((knob) => knob.path === path));
  tell(general.map(({ words }) => words).join("; "));
  let others = false;
  knobs.forEach((knob, k) => {
    const mistake = mistakes.find(({ path }) => path === knob.path);
    if (mistake && knob.wanted === asked[k]) {
      knob.wanted = knob.good;
      knob.blame(mistake.words);
    } else {
      others ||= knob.wanted !== knob.good;
    }
  });
  byId("verdict").classList.add("old");
  byId("panels").classList.add("old");
  if (others && general.length === 0) state.again = true;
}

function tell(words) {
  byId("mistake").textContent = words;
}

function pace(ms) {
  performance.measure("turn", { start: performance.now() - ms, duration: ms });
  byId("pace").textContent = `solved and drawn in ${ms.toFixed(0)} ms`;
}

// ---------------------------------------------------------------- words and tables

let saying = 0;

function draw(answer, mine, other) {
  const verdict = byId("verdict");
  verdict.textContent = answer.words;
  verdict.dataset.verdict = answer.verdict;
  verdict.classList.remove("old");
  byId("panels").classList.remove("old");
  clearTimeout(saying);
  saying = setTimeout(() => { byId("said").textContent = answer.words; }, SAYING_MS);
  byId("condition").textContent = answer.condition;
  byId("command").value = answer.command;
  const before = new Map([...mine.rows, ...mine.further].map((row) => [row.name, row.value]));
  const was = (row) => before.get(row.name) ?? "–";
  fill("rows", answer.rows.map((row) => [
    row.name, found(row), row.at, was(row), row.limit, row.margin, row.verdict]), answer.rows.map((row) => row.verdict));
  fill("further", answer.further.map((row) => [row.name, found(row), row.at, was(row)]));
  fill("loops", answer.loops.map((at, k) => [
    at.condition, at.phase_margin, mine.loops[k]?.phase_margin ?? "–", at.crossover,
    mine.loops[k]?.crossover ?? "–"]));
  byId("notes").replaceChildren(...answer.notes.map((note) => element("li", note)));
  const unseen = !byId("zooms").hasChildNodes() && answer.panels.length > 0;
  if (other || unseen) zooms(mine.panels.length ? mine : answer);
  const unsolved = answer.verdict === "error" && answer.panels.length === 0;
  if (unsolved && !other) byId("panels").classList.add("old");
  else pictures(answer, mine);
}

const found = ({ value, reason }) => value === "–" && reason ? reason : value;

function element(name, text) {
  const made = document.createElement(name);
  made.textContent = text;
  return made;
}

/** Rows of a table, the first cell of each its head; a table without rows is not shown. */
function fill(id, rows, verdicts = []) {
  const table = byId(id);
  const extra = [...table.querySelectorAll("thead th")].map((head) => head.classList.contains("extra"));
  table.parentElement.hidden = rows.length === 0;
  table.tBodies[0].replaceChildren(...rows.map((cells, r) => {
    const row = document.createElement("tr");
    if (verdicts[r]) row.dataset.verdict = verdicts[r];
    row.append(...cells.map((cell, c) => {
      const made = element(c ? "td" : "th", cell);
      if (c === 0) made.scope = "row";
      if (extra[c]) made.className = "extra";
      made.classList.toggle("brief", c > 0 && cell.length < BRIEF);
      if (verdicts[r] && c === cells.length - 1) made.classList.add("verdict-cell");
      return made;
    }));
    return row;
  }));
}

// ---------------------------------------------------------------- pictures

const view = { from: 0, to: 1, plots: [], shape: "" };

/** Buttons for the whole record and its edges, as they lie with the file's own values: an axis that
 * moves along with what is turned would hide what moves. */
function zooms(mine) {
  const [from, to] = extent(mine.panels.flatMap(({ curves }) => curves.flatMap(({ t }) => [t[0], t.at(-1)])));
  const whole = { from, to, label: "whole record" };
  const all = mine.panels.length ? [whole, ...mine.zooms] : [];
  const buttons = all.map((zoom, k) => {
    const button = element("button", zoom.label);
    button.type = "button";
    button.addEventListener("click", () => look(zoom.from, zoom.to, button));
    return button;
  });
  byId("zooms").replaceChildren(...buttons);
  view.plots.forEach((plot) => plot.destroy());
  Object.assign(view, { plots: [], shape: "" });
  const first = all[1] ?? all[0];
  if (first) look(first.from, first.to, buttons[all.indexOf(first)]);
}

function look(from, to, button) {
  Object.assign(view, { from, to });
  for (const each of byId("zooms").children) each.setAttribute("aria-pressed", String(each === button));
  view.plots.forEach((plot) => plot.setScale("x", { min: from, max: to }));
}

function pictures(answer, mine) {
  const shape = JSON.stringify([answer.panels.map(({ label }) => label), answer.pictures.length]);
  const holder = byId("panels");
  byId("key").hidden = byId("readout").hidden = answer.panels.length === 0;
  if (shape !== view.shape) {
    view.plots.forEach((plot) => plot.destroy());
    view.plots = [];
    view.shape = shape;
    const frames = [...answer.panels, ...answer.pictures].map((panel) => {
      const frame = document.createElement("div");
      frame.className = "panel";
      if (panel.label) frame.append(element("h3", panel.label));
      else frame.append(document.createElement("img"));
      return frame;
    });
    holder.replaceChildren(...frames);
    const others = COLOURS.slice(1);
    view.plots = answer.panels.map((panel, k) => plot(frames[k], panel,
      panel.label === "output" ? COLOURS[0] : others[k % others.length], k + 1 === answer.panels.length));
  }
  answer.panels.forEach((panel, k) => {
    const chart = view.plots[k];
    chart.panel = panel;
    chart.own = mine.panels.find(({ label }) => label === panel.label);
    chart.root.parentElement.setAttribute("role", "img");
    chart.root.parentElement.setAttribute("aria-label", describe(panel));
    chart.setData([panel.curves[0].t, panel.curves[0].v]);
  });
  answer.pictures.forEach((svg, k) => {
    const image = holder.children[answer.panels.length + k].firstChild;
    image.src = `data:image/svg+xml,${encodeURIComponent(svg)}`;
    image.alt = answer.condition;
  });
}

function describe({ label, unit, curves, marks }) {
  const [low, high] = extent(curves.flatMap(({ v }) => v)).map((v) => quantity(v, unit));
  return [`${label} over time, from ${low} to ${high}`, ...marks.map(({ text }) => text)].join("; ");
}

/** A chart: the turned curve by uPlot; windows, the file's own curve and the marks by hand. */
function plot(frame, panel, colour, last) {
  const axis = { stroke: "#1a1a1a", grid: { stroke: "#ececec", width: 1 }, ticks: { stroke: "#c4c4c4", width: 1 },
    font: "12px system-ui, sans-serif" };
  const label = (unit) => (_, splits) => scaled(splits, unit);
  const options = {
    width: frame.clientWidth, height: HEIGHTS[panel.label] ?? OTHER_HEIGHT, padding: [8, 8, last ? 0 : 4, 0],
    legend: { show: false },
    cursor: { y: false, sync: { key: "time" }, drag: { x: true, y: false, setScale: false },
      bind: { dblclick: () => () => byId("zooms").firstChild.click() } },
    scales: { x: { time: false, range: () => [view.from, view.to] }, y: { range: height } },
    series: [{}, { stroke: colour, width: 2, points: { show: false } }],
    axes: [{ ...axis, size: last ? 32 : 6, values: last ? label("s") : (_, splits) => splits.map(() => "") },
      { ...axis, size: 64, values: label(panel.unit) }],
    hooks: { drawClear: [windows, behind], draw: [before], setCursor: [read], setSelect: [magnify] },
  };
  const chart = new uPlot(options, [[0], [0]], frame);
  chart.panel = panel;
  return chart;
}

/** From the lowest to the highest of what is in view, with some air. */
function height(chart) {
  const all = [...chart.panel.curves, ...(chart.own?.curves ?? [])];
  const seen = all.flatMap(({ t, v }) => v.filter((_, k) => (t[k + 1] ?? t[k]) >= view.from && (t[k - 1] ?? t[k]) <= view.to));
  seen.push(...chart.panel.bands.flatMap(({ low, high }) => [low, high]).filter((end) => end !== null));
  let [low, high] = extent(seen);
  if (!(high > low)) [low, high] = [low - (Math.abs(low) * 0.01 || 1), low + (Math.abs(low) * 0.01 || 1)];
  const air = 0.06 * (high - low);
  return [low - air, high + air];
}

function windows(chart) {
  const { ctx, bbox } = chart;
  ctx.save();
  for (const { low, high } of chart.panel.bands) {
    const top = high === null ? bbox.top : chart.valToPos(high, "y", true);
    const bottom = low === null ? bbox.top + bbox.height : chart.valToPos(low, "y", true);
    ctx.fillStyle = "#e3f0f8";
    ctx.fillRect(bbox.left, top, bbox.width, bottom - top);
    ctx.strokeStyle = "#7a9db5";
    ctx.setLineDash([6, 4]);
    for (const edge of [high !== null && top, low !== null && bottom]) {
      if (edge !== false) ctx.strokeRect(bbox.left, edge, bbox.width, 0);
    }
  }
  ctx.restore();
}

/** The file's own curves. */
function behind(chart) {
  within(chart, () => chart.own?.curves.forEach((curve) => trace(chart, curve, OWN, 1)));
}

/** Further curves of the panel, and what was measured. */
function before(chart) {
  within(chart, () => {
    chart.panel.curves.slice(1).forEach((curve, k) => trace(chart, curve, COLOURS[k % COLOURS.length], 2));
    marks(chart);
  });
}

function within({ ctx, bbox }, paint) {
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  paint();
  ctx.restore();
}

function trace(chart, { t, v }, colour, width) {
  const { ctx } = chart;
  ctx.beginPath();
  ctx.strokeStyle = colour;
  ctx.lineWidth = width * devicePixelRatio;
  t.forEach((time, k) => ctx.lineTo(chart.valToPos(time, "x", true), chart.valToPos(v[k], "y", true)));
  ctx.stroke();
}

/** Measured numbers where they happen, each in the next free place below or above. */
function marks(chart) {
  const { ctx, bbox } = chart;
  const line = 15 * devicePixelRatio;
  ctx.textAlign = "left";
  ctx.textBaseline = "middle";
  ctx.strokeStyle = "#fff";
  ctx.lineWidth = 3 * devicePixelRatio;
  ctx.font = `${12 * devicePixelRatio}px system-ui, sans-serif`;
  const dot = 4 * devicePixelRatio;
  const dots = chart.panel.marks.filter(({ t }) => t >= view.from && t <= view.to)
    .map(({ t, v, text }) => ({ x: chart.valToPos(t, "x", true), y: chart.valToPos(v, "y", true), text }));
  const taken = dots.map(({ x, y }) => ({ at: y, left: x - dot, right: x + dot })); // no words over a dot
  for (const { x, y, text } of dots) {
    const wide = ctx.measureText(text).width;
    const left = Math.min(x + 0.5 * line, bbox.left + bbox.width - wide);
    const down = y < bbox.top + bbox.height / 2 ? 1 : -1;
    let at = y + down * 0.6 * line;
    while (taken.some((box) => Math.abs(box.at - at) < line && left < box.right && box.left < left + wide)) at += down * line;
    taken.push({ at, left, right: left + wide });
    ctx.fillStyle = "#1a1a1a";
    ctx.beginPath();
    ctx.arc(x, y, 3 * devicePixelRatio, 0, 7);
    ctx.fill();
    ctx.strokeText(text, left, at); // a rim, so that a curve does not cross the words
    ctx.fillText(text, left, at);
  }
}

function magnify(chart) {
  const { left, width } = chart.select;
  if (width < 4) return;
  look(chart.posToVal(left, "x"), chart.posToVal(left + width, "x"), null);
  chart.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
}

/** The values of every curve at the cursor. */
function read(chart) {
  const { left } = chart.cursor;
  if (left === undefined || left < 0 || !chart.over.matches(":hover")) return;
  const time = chart.posToVal(left, "x");
  const told = view.plots.map(({ panel, own }) => {
    const now = quantity(at(panel.curves[0], time), panel.unit);
    return own ? `${panel.label} ${now} (own ${quantity(at(own.curves[0], time), panel.unit)})` : `${panel.label} ${now}`;
  });
  byId("readout").textContent = `at ${quantity(time, "s")}: ${told.join(", ")}`;
}

function at({ t, v }, time) {
  const k = t.findIndex((each) => each > time);
  if (k < 1) return k ? v.at(-1) : v[0];
  return v[k - 1] + (v[k] - v[k - 1]) * (time - t[k - 1]) / (t[k] - t[k - 1]);
}

// ---------------------------------------------------------------- numbers

/** The lowest and the highest, however many there are. */
const extent = (values) => values.reduce(([low, high], value) => [Math.min(low, value), Math.max(high, value)],
  [Infinity, -Infinity]);

const PREFIXES = ["f", "p", "n", "µ", "m", "", "k", "M", "G"];

/** The power of a thousand that suits a number, and its prefix. */
function prefix(largest, unit) {
  if (unit === "°C" || unit === "1" || !(largest > 0)) return [1, ""];
  const power = Math.min(8, Math.max(0, Math.floor(Math.log10(largest) / 3 + 1e-9) + 5));
  return [1000 ** (power - 5), PREFIXES[power]];
}

function quantity(value, unit) {
  const [scale, letter] = prefix(Math.abs(value), unit);
  return `${Number((value / scale).toPrecision(4))} ${letter}${unit}`;
}

/** Numbers along an axis, all with the prefix of the largest. */
function scaled(splits, unit) {
  const [scale, letter] = prefix(extent(splits.map(Math.abs))[1], unit);
  return splits.map((value) => `${Number((value / scale).toPrecision(6))} ${letter}${unit}`);
}

// ---------------------------------------------------------------- the rest of the page

byId("test").addEventListener("change", turn);
byId("reset").addEventListener("click", () => {
  knobs.forEach((knob) => {
    knob.wanted = knob.tried = knob.own;
    knob.text.value = knob.own;
    knob.blame("");
  });
  turn();
});
byId("copy").addEventListener("click", async () => {
  byId("command").select();
  const done = await navigator.clipboard?.writeText(byId("command").value).then(() => true, () => false);
  byId("kept").textContent = done ? "copied" : "marked; copy it with the keyboard";
});
byId("write").addEventListener("click", async () => {
  try {
    const { written, refused } = await post("copy", { set: changed() });
    byId("kept").textContent = written ? `written: ${written}` : refused;
  } catch (problem) {
    byId("kept").textContent = problem.message;
  }
});
new ResizeObserver(() => {
  for (const chart of view.plots) {
    const width = byId("panels").clientWidth;
    if (width !== chart.width) chart.setSize({ width, height: chart.height });
  }
}).observe(byId("panels"));
turn();

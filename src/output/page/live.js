// The live page: sends values as they are turned, one request in flight and the latest wins, and draws
// what comes back. All words and figures come from the program; nothing is computed here.
"use strict";

const TYPING_MS = 350; // a text that is still being typed is not wrong yet
const RESTING_MS = 200; // a hand that drags and halts for so long has arrived
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
    this.slide.addEventListener("input", () => this.want(this.at(this.slide.valueAsNumber / STEPS), true));
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
  want(wanted, draft) {
    if (this.root.classList.contains("wrong")) this.blame("");
    this.wanted = this.tried = wanted;
    turn(draft);
  }
  blame(words) {
    this.shown = ""; // what came before is to be shown again
    this.tell(words);
    this.root.classList.toggle("wrong", words !== "");
    this.text.setAttribute("aria-invalid", String(words !== ""));
  }
  tell(words) {
    say(this.told, words);
  }
  /** Takes over what the program made of it. */
  show(came) {
    const { text, value, comes_to, pinned } = came;
    if (this.shown === JSON.stringify(came)) return;
    this.good = text;
    if (typeof this.wanted === "number" || document.activeElement !== this.text) this.text.value = text;
    if (this.ranged && value !== null && document.activeElement !== this.slide) {
      this.slide.value = Math.round(this.share(value) * STEPS);
    }
    this.slide.setAttribute("aria-valuetext", text);
    this.text.disabled = this.slide.disabled = pinned !== null;
    this.root.classList.toggle("turned", text !== this.own);
    this.blame("");
    if (pinned !== null) this.tell(`this test sets it itself: ${pinned}`);
    else if (comes_to) this.tell(`comes to ${comes_to}`);
    this.shown = JSON.stringify(came);
  }
}

const knobs = [...document.querySelectorAll(".knob")].map((root) => new Knob(root));

/** What is asked of the program: every value that is not the file's own. */
const changed = () => Object.fromEntries(
  knobs.filter((knob) => knob.wanted !== knob.own).map((knob) => [knob.path, knob.wanted]));

// ---------------------------------------------------------------- requests

// While a value is dragged, drafts are asked for: with fewer points, and only what is in view is drawn.
// Once it rests, the same values are asked for in full.
const state = { answer: null, draft: false, busy: false, again: false, since: 0, resting: 0 };
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
function turn(draft = false) {
  clearTimeout(state.resting);
  Object.assign(state, { draft, again: true, since: performance.now() });
  if (!state.busy) follow();
}

async function follow() {
  state.busy = true;
  byId("panels").setAttribute("aria-busy", "true");
  try {
    await answers();
  } finally {
    state.busy = false; // whatever went wrong, the next wish is followed
  }
  if (state.draft) state.resting = setTimeout(turn, RESTING_MS);
  else byId("panels").setAttribute("aria-busy", "false");
}

/** Draws one answer after the other until nothing more is wanted. */
async function answers() {
  let asked = ask();
  while (asked) {
    const now = asked;
    let show;
    try {
      const answer = await now.answer;
      show = answer.mistakes ? () => blame(answer.mistakes, now.wanted) : take(answer, now);
    } catch (problem) {
      show = () => tell(problem.message.startsWith("the program") ? problem.message
        : "the program does not answer; is it still running?");
    }
    asked = state.again ? ask() : null; // solved while this one is drawn
    show();
    asked ??= state.again ? ask() : null;
    framed().then(() => pace(now));
  }
  await null; // charts are drawn once this turn of the loop is over
}

/** What is wanted now, on its way. */
function ask() {
  state.again = false;
  const { since, draft } = state;
  const test = Number(byId("test").value);
  return { since, draft, sent: performance.now(), wanted: knobs.map((knob) => knob.wanted), answer: once(test, draft) };
}

async function once(test, draft) {
  const set = changed();
  if (!own.has(test)) {
    const mine = await post("turn", { test, set: {}, own: true });
    own.set(test, mine.mistakes ? null : mine); // a file may need what the command line sets
  }
  return post("turn", { test, set, draft });
}

/** Values take over what came; what is left is to draw it. */
function take(answer, { wanted, draft }) {
  knobs.forEach((knob, k) => {
    if (knob.wanted !== wanted[k]) return;
    knob.show(answer.values[k]);
    knob.wanted = knob.good;
  });
  const other = state.answer?.test !== answer.test;
  state.answer = answer;
  return () => {
    tell("");
    draw(answer, own.get(answer.test) ?? answer, { other, draft });
  };
}

/** Once the frame is made that shows what was drawn just now. */
const framed = () => new Promise((made) => requestAnimationFrame(() => setTimeout(made)));

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
  else state.draft = false; // the same in full would be as wrong
}

const tell = (words) => say(byId("mistake"), words);

/** How long it took, from the wish and from the request; told once all rests. */
function pace({ since, sent, draft }) {
  const end = performance.now();
  performance.measure("turn", { start: since, end });
  performance.measure("redraw", { start: sent, end });
  if (draft) return;
  say(byId("pace"), `solved and drawn in ${(end - since).toFixed(0)} ms`);
  performance.clearMeasures(); // who watches them has been told
}

// ---------------------------------------------------------------- words and tables

let saying = 0;

function draw(answer, mine, { other, draft }) {
  const verdict = byId("verdict");
  say(verdict, answer.words);
  verdict.dataset.verdict = answer.verdict;
  verdict.classList.remove("old");
  byId("panels").classList.remove("old");
  clearTimeout(saying);
  saying = setTimeout(() => { byId("said").textContent = answer.words; }, SAYING_MS);
  say(byId("condition"), answer.condition);
  const command = byId("command");
  if (command.value !== answer.command) command.value = answer.command;
  const before = new Map([...mine.rows, ...mine.further].map((row) => [row.name, row.value]));
  const was = (row) => before.get(row.name) ?? "–";
  fill("rows", answer.rows.map((row) => [
    row.name, found(row), row.at, was(row), row.limit, row.margin, row.verdict]), answer.rows.map((row) => row.verdict));
  fill("further", answer.further.map((row) => [row.name, found(row), row.at, was(row)]));
  fill("loops", answer.loops.map((at, k) => [
    at.condition, at.phase_margin, mine.loops[k]?.phase_margin ?? "–", at.crossover,
    mine.loops[k]?.crossover ?? "–"]));
  list(byId("notes"), answer.notes);
  const unseen = !byId("zooms").hasChildNodes() && answer.panels.length > 0;
  if (other || unseen) zooms(mine.panels.length ? mine : answer);
  const unsolved = answer.verdict === "error" && answer.panels.length === 0;
  if (unsolved && !other) byId("panels").classList.add("old");
  else pictures(answer, mine, draft);
}

const found = ({ value, reason }) => value === "–" && reason ? reason : value;

function element(name, text) {
  const made = document.createElement(name);
  made.textContent = text;
  return made;
}

/** Words in their place; what says so already is left alone, for every change is laid out again. */
function say(place, words) {
  const only = place.firstChild;
  if (only === null || place.childNodes.length > 1) place.textContent = words;
  else if (only.data !== words) only.data = words;
}

function list(place, entries) {
  while (place.children.length > entries.length) place.lastChild.remove();
  entries.forEach((words, k) => say(place.children[k] ?? place.appendChild(element("li", "")), words));
}

/** Rows of a table, the first cell of each its head; a table without rows is not shown. */
function fill(id, rows, verdicts = []) {
  const table = byId(id);
  const body = table.tBodies[0];
  table.parentElement.hidden = rows.length === 0;
  while (body.rows.length > rows.length) body.deleteRow(-1);
  rows.forEach((cells, r) => {
    const row = body.rows[r] ?? body.appendChild(blank(table, cells.length, verdicts.length > 0));
    if (verdicts[r] && row.dataset.verdict !== verdicts[r]) row.dataset.verdict = verdicts[r];
    cells.forEach((words, c) => {
      say(row.cells[c], words);
      row.cells[c].classList.toggle("brief", c > 0 && words.length < BRIEF);
    });
  });
}

/** A row of empty cells, the last of them for a verdict where there are verdicts. */
function blank(table, cells, judged) {
  const row = document.createElement("tr");
  const heads = table.querySelectorAll("thead th");
  for (let c = 0; c < cells; c += 1) {
    const cell = row.appendChild(document.createElement(c ? "td" : "th"));
    if (c === 0) cell.scope = "row";
    cell.classList.toggle("extra", heads[c].classList.contains("extra"));
    cell.classList.toggle("verdict-cell", judged && c === cells - 1);
  }
  return row;
}

// ---------------------------------------------------------------- the rest of the page

byId("test").addEventListener("change", () => turn());
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
turn();

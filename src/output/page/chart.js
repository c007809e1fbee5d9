// The pictures of the live page: panels over a common time by uPlot; windows, the file's own curves and
// what was measured by hand. All words and figures come from the program; nothing is computed here.
"use strict";

const byId = (id) => document.getElementById(id);
const COLOURS = ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00"]; // the output's first
const OWN = "#6b6b6b";
const ALLOWED = "#0072b21c"; // seen through, so that a window within another shows
const HEIGHTS = { output: 280 };
const OTHER_HEIGHT = 110;

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

/** Draws what came; of a draft only what is in view. */
function pictures(answer, mine, draft) {
  const shape = JSON.stringify([answer.panels.map(({ label, curves }) => [label, names(curves)]), answer.pictures.length]);
  byId("key").hidden = byId("readout").hidden = answer.panels.length === 0;
  if (shape !== view.shape) {
    view.shape = shape;
    frames(answer);
  }
  view.plots.forEach((chart, k) => {
    chart.panel = answer.panels[k];
    chart.own = mine.panels.find(({ label }) => label === chart.panel.label);
    chart.late = true;
    if (!draft || chart.inView) paint(chart);
    if (!draft) chart.root.parentElement.setAttribute("aria-label", describe(chart.panel));
  });
  answer.pictures.forEach((svg, k) => {
    const image = byId("panels").children[answer.panels.length + k].firstChild;
    image.src = `data:image/svg+xml,${encodeURIComponent(svg)}`;
    image.alt = answer.condition;
  });
}

/** A frame for each panel and picture. */
function frames(answer) {
  view.plots.forEach((plot) => plot.destroy());
  inView.disconnect();
  const colours = (panel, k) => {
    const first = panel.label === "output" ? 0 : 1 + k % (COLOURS.length - 1);
    return panel.curves.map((_, c) => COLOURS[(first + c) % COLOURS.length]);
  };
  const made = [...answer.panels, ...answer.pictures].map((panel, k) => {
    const frame = document.createElement("div");
    frame.className = "panel";
    if (panel.label) frame.append(element("h3", panel.label), ...legend(panel, colours(panel, k)));
    else frame.append(document.createElement("img"));
    return frame;
  });
  byId("panels").replaceChildren(...made);
  view.plots = answer.panels.map((panel, k) => {
    const chart = plot(made[k], panel, colours(panel, k), k + 1 === answer.panels.length);
    made[k].setAttribute("role", "img");
    inView.observe(made[k]);
    return chart;
  });
}

/** What curves of a panel are called, where there are several. */
const names = (curves) => (curves.length > 1 ? curves.map(({ name }) => name) : []);

/** The same beside a stroke of each one's colour. */
function legend({ curves }, colours) {
  const entries = names(curves).map((name, k) => {
    const entry = element("span", ` ${name}`);
    const stroke = entry.insertBefore(element("i", ""), entry.firstChild);
    stroke.className = "line";
    stroke.style.borderColor = colours[k];
    return entry;
  });
  const line = element("p", "");
  line.className = "small key";
  line.append(...entries);
  return entries.length ? [line] : [];
}

const inView = new IntersectionObserver((entries) => {
  for (const { target, isIntersecting } of entries) {
    const chart = view.plots.find(({ root }) => root.parentElement === target);
    if (!chart) continue;
    chart.inView = isIntersecting;
    if (isIntersecting && chart.late) paint(chart);
  }
});

function paint(chart) {
  chart.late = false;
  const told = JSON.stringify(chart.panel);
  if (chart.told === told && chart.toldOwn === chart.own) return; // what is not turned lies still
  Object.assign(chart, { told, toldOwn: chart.own });
  chart.setData([chart.panel.curves[0].t, chart.panel.curves[0].v]);
}

function describe({ label, unit, curves, marks }) {
  const [low, high] = extent(curves.flatMap(({ v }) => v)).map((v) => quantity(v, unit));
  return [`${label} over time, from ${low} to ${high}`, ...marks.map(({ text }) => text)].join("; ");
}

/** A chart: the turned curve by uPlot; windows, the file's own curve and the marks by hand. */
function plot(frame, panel, colours, last) {
  const axis = { stroke: "#1a1a1a", grid: { stroke: "#ececec", width: 1 }, ticks: { stroke: "#c4c4c4", width: 1 },
    font: "12px system-ui, sans-serif" };
  const label = (unit) => (_, splits) => scaled(splits, unit);
  const options = {
    width: frame.clientWidth, height: HEIGHTS[panel.label] ?? OTHER_HEIGHT, padding: [8, 8, last ? 0 : 4, 0],
    pxAlign: false, // on whole pixels a smooth curve would get corners
    legend: { show: false },
    cursor: { y: false, sync: { key: "time" }, drag: { x: true, y: false, setScale: false },
      bind: { dblclick: () => () => byId("zooms").firstChild.click() } },
    scales: { x: { time: false, range: () => [view.from, view.to] }, y: { range: height } },
    series: [{}, { stroke: colours[0], width: 2, points: { show: false } }],
    axes: [{ ...axis, size: last ? 32 : 6, values: last ? label("s") : (_, splits) => splits.map(() => "") },
      { ...axis, size: 64, values: label(panel.unit) }],
    hooks: { drawClear: [windows, behind], draw: [before], setCursor: [read], setSelect: [magnify] },
  };
  const chart = new uPlot(options, [[0], [0]], frame);
  Object.assign(chart, { panel, colours });
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
    ctx.fillStyle = ALLOWED;
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
    chart.panel.curves.slice(1).forEach((curve, k) => trace(chart, curve, chart.colours[k + 1], 2));
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
  const [x, y] = [along(chart, "x"), along(chart, "y")];
  ctx.beginPath();
  ctx.strokeStyle = colour;
  ctx.lineWidth = width * devicePixelRatio;
  for (let k = 0; k < t.length; k += 1) ctx.lineTo(x(t[k]), y(v[k]));
  ctx.stroke();
}

/** Where values lie along an axis, in pixels. */
function along(chart, axis) {
  const { min, max } = chart.scales[axis];
  const [from, to] = [chart.valToPos(min, axis, true), chart.valToPos(max, axis, true)];
  const each = (to - from) / (max - min);
  return (value) => from + (value - min) * each;
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
  const told = view.plots.flatMap(({ panel: { label, unit, curves }, own }) => curves.map((curve) => {
    const value = (of) => quantity(at(of, time), unit);
    const before = own?.curves.find(({ name }) => name === curve.name);
    const name = curves.length > 1 ? `${label} of ${curve.name}` : label;
    return `${name} ${value(curve)}${before ? ` (own ${value(before)})` : ""}`;
  }));
  byId("readout").textContent = `at ${quantity(time, "s")}: ${told.join(", ")}`;
}

function at({ t, v }, time) {
  const k = t.findIndex((each) => each > time);
  if (k < 1) return k ? v.at(-1) : v[0];
  return v[k - 1] + (v[k] - v[k - 1]) * (time - t[k - 1]) / (t[k] - t[k - 1]);
}

new ResizeObserver(() => {
  for (const chart of view.plots) {
    const width = byId("panels").clientWidth;
    if (width !== chart.width) chart.setSize({ width, height: chart.height });
  }
}).observe(byId("panels"));

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
  const rounded = Number(value.toPrecision(4)); // so that 999.96 mV is 1 V
  const [scale, letter] = prefix(Math.abs(rounded), unit);
  return `${Number((rounded / scale).toPrecision(4))} ${letter}${unit}`;
}

/** Numbers along an axis, all with the prefix of the largest. */
function scaled(splits, unit) {
  const [scale, letter] = prefix(extent(splits.map(Math.abs))[1], unit);
  return splits.map((value) => `${Number((value / scale).toPrecision(6))} ${letter}${unit}`);
}

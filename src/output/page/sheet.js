// Curves to look into: panels of one test over a common time, with a common cursor and a common window.
// The numbers stand in the page as JSON; without this script the still pictures show instead.
"use strict";
(() => {
  const PREFIXES = [[1e9, "G"], [1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"], [1e-9, "n"], [1e-12, "p"]];
  const INK = "#111111", SOFT = "#4d4d4d", FAINT = "#e2e2e2", ALLOWED = "#009e73";
  const FONT = '12px system-ui, "Segoe UI", Roboto, Arial, sans-serif';
  const AXIS = 74, RIGHT = 14;

  const prefixOf = (size) => PREFIXES.find(([factor]) => size >= factor * 0.9999) || PREFIXES[PREFIXES.length - 1];

  // A number with a prefix: 20.4 mV. Degrees stay without.
  const quantity = (value, unit, digits) => {
    if (value === null || !isFinite(value)) return "–";
    const [factor, prefix] = unit === "°C" || value === 0 ? [1, ""] : prefixOf(Math.abs(value));
    return `${(value / factor).toPrecision(digits)} ${prefix}${unit}`;
  };

  // The labels of an axis share one prefix and as many decimals as its step needs.
  const ticks = (splits, unit) => {
    const size = Math.max(...splits.map(Math.abs));
    const [factor, prefix] = unit === "°C" || size === 0 ? [1, ""] : prefixOf(size);
    const step = splits.length > 1 ? Math.abs(splits[1] - splits[0]) / factor : 1;
    const decimals = Math.min(6, Math.max(0, Math.ceil(-Math.log10(step) - 1e-9)));
    return splits.map((value) => `${(value / factor).toFixed(decimals)} ${prefix}${unit}`);
  };

  // First value, step, and what each further value adds.
  const decoded = ([start, step, added]) => {
    let sum = 0;
    return [start, ...added.map((more) => start + step * (sum += more))];
  };

  // On the straight line between the points around x.
  const height = (curve, x) => {
    let low = 0, high = curve.x.length - 1;
    if (x < curve.x[0] || x > curve.x[high]) return null;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (curve.x[middle] <= x) low = middle; else high = middle;
    }
    const share = high > low ? (x - curve.x[low]) / (curve.x[high] - curve.x[low]) : 0;
    return curve.y[low] + share * (curve.y[high] - curve.y[low]);
  };

  // What is seen of a panel between two instants, with air; a limit that is near is kept in sight.
  const valueRange = (panel, [from, to]) => {
    let low = Infinity, high = -Infinity;
    const see = (y) => { if (y !== null) { low = Math.min(low, y); high = Math.max(high, y); } };
    for (const curve of panel.curves) {
      see(height(curve, from));
      see(height(curve, to));
      curve.x.forEach((x, k) => { if (x >= from && x <= to) see(curve.y[k]); });
    }
    if (low > high) return [0, 1];
    const size = high - low || Math.abs(high) * 0.1 || 1, [least, most] = [low, high];
    for (const [, bottom, top] of panel.bands) {
      for (const edge of [bottom, top]) {
        if (edge !== null && edge > least - 1.5 * size && edge < most + 1.5 * size) see(edge);
      }
    }
    const air = 0.08 * (high - low || size);
    return [low - air, high + air];
  };

  const drawBands = (u, panel) => {
    const { ctx, bbox } = u;
    const scale = devicePixelRatio;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.font = FONT.replace("12px", `${11 * scale}px`);
    panel.taken = [];
    for (const [label, low, high] of panel.bands) {
      const top = high === null ? bbox.top : u.valToPos(high, "y", true);
      const bottom = low === null ? bbox.top + bbox.height : u.valToPos(low, "y", true);
      ctx.fillStyle = ALLOWED + "1c";
      ctx.fillRect(bbox.left, top, bbox.width, bottom - top);
      ctx.strokeStyle = ALLOWED;
      ctx.lineWidth = scale;
      ctx.setLineDash([6 * scale, 4 * scale]);
      // Names stand inside; outside where they would stand on each other.
      const [under, over] = bottom - top < 30 * scale ? [-4, 13] : [13, -4];
      for (const [edge, at, below] of [[high, top, under], [low, bottom, over]]) {
        if (edge === null) continue;
        ctx.beginPath();
        ctx.moveTo(bbox.left, at);
        ctx.lineTo(bbox.left + bbox.width, at);
        ctx.stroke();
        ctx.fillStyle = "#00553e";
        ctx.textAlign = "right";
        const text = `${label} ${quantity(edge, panel.unit, 4)}`, right = bbox.left + bbox.width - 4 * scale;
        const width = ctx.measureText(text).width;
        ctx.fillText(text, right, at + below * scale);
        panel.taken.push([right - width, at + (below - 4) * scale, width]);
      }
    }
    ctx.restore();
  };

  // Dots where numbers were measured, each with its words where there is room.
  const drawMarks = (u, panel) => {
    const { ctx, bbox } = u;
    const scale = devicePixelRatio;
    const taken = [...panel.taken]; // by the names of limits
    ctx.save();
    ctx.font = FONT.replace("12px", `${12 * scale}px`);
    ctx.textBaseline = "middle";
    ctx.textAlign = "left";
    for (const [text, t, value] of panel.marks) {
      const x = u.valToPos(t, "x", true), y = u.valToPos(value, "y", true);
      if (x < bbox.left || x > bbox.left + bbox.width || y < bbox.top || y > bbox.top + bbox.height) continue;
      ctx.beginPath();
      ctx.arc(x, y, 4 * scale, 0, 2 * Math.PI);
      ctx.fillStyle = INK;
      ctx.fill();
      const width = ctx.measureText(text).width, half = 8 * scale, gap = 9 * scale;
      const places = [];
      for (const down of [0, 17, -17, 34, -34, 51, -51]) {
        for (const left of [x + gap, x - gap - width]) places.push([left, y + down * scale]);
      }
      const place = places.find(([left, middle]) =>
        left > bbox.left && left + width < bbox.left + bbox.width &&
        middle - half > bbox.top && middle + half < bbox.top + bbox.height &&
        !taken.some(([l, m, w]) => left < l + w && l < left + width && Math.abs(m - middle) < 2 * half));
      if (!place) continue;
      const [left, middle] = place;
      taken.push([left, middle, width]);
      if (Math.abs(middle - y) > half) {
        ctx.beginPath();
        ctx.moveTo(x, y);
        ctx.lineTo(left > x ? left : left + width, middle);
        ctx.strokeStyle = SOFT;
        ctx.lineWidth = scale;
        ctx.stroke();
      }
      ctx.fillStyle = "#ffffffd9";
      ctx.fillRect(left - 2 * scale, middle - half, width + 4 * scale, 2 * half);
      ctx.fillStyle = INK;
      ctx.fillText(text, left, middle);
    }
    ctx.restore();
  };

  const element = (name, attributes, text) => {
    const made = document.createElement(name);
    for (const key in attributes) made.setAttribute(key, attributes[key]);
    if (text !== undefined) made.textContent = text;
    return made;
  };

  // What a curve is called, beside a stroke as it is drawn.
  const sample = (curve) => {
    const kind = ["solid", "dashed", "dotted"][curve.dash.length && (curve.dash[0] > curve.dash[1] ? 1 : 2)];
    const name = element("span", { class: "sample" }, curve.name);
    name.prepend(element("i", { style: `border-top: 2px ${kind} ${curve.colour}` }));
    return name;
  };

  const show = (figure) => {
    const record = JSON.parse(figure.querySelector("script[type='application/json']").textContent);
    for (const panel of record.panels) {
      for (const curve of panel.curves) { curve.x = decoded(curve.x); curve.y = decoded(curve.y); }
    }
    const whole = [record.from, record.to];
    let view = whole;
    const live = element("div", { class: "live" });
    const tools = element("div", { class: "tools", role: "group", "aria-label": `window of ${figure.dataset.name}` });
    const readout = element("p", { class: "readout", role: "status" });
    const panels = element("div", {
      class: "panels", role: "group", tabindex: "0",
      "aria-label": `curves of ${figure.dataset.name}; left and right arrow keys move the cursor, plus and minus change the window`,
    });
    live.append(tools, readout, panels);
    figure.prepend(live);

    const idle = "drag over the curves to look closer, double-click for the whole record";
    const charts = [], values = [];
    const toldAt = (x) => {
      readout.textContent = x === null ? idle : `at ${quantity(x, "s", 5)}`;
      record.panels.forEach((panel, k) => {
        const told = panel.curves.map((curve) => {
          const name = panel.curves.length > 1 ? `${curve.name} ` : "";
          return name + quantity(height(curve, x), panel.unit, 5);
        });
        values[k].textContent = x === null ? "" : told.join(", ");
      });
    };

    const look = (from, to) => {
      const [first, last] = whole, least = (last - first) * 1e-5;
      if (to - from < least) return;
      const width = Math.min(to - from, last - first);
      const start = Math.min(Math.max(from, first), last - width);
      view = [start, start + width];
      for (const chart of charts) chart.setScale("x", { min: view[0], max: view[1] });
      for (const button of tools.querySelectorAll("[data-from]")) {
        const same = Number(button.dataset.from) === view[0] && Number(button.dataset.to) === view[1];
        button.setAttribute("aria-pressed", String(same));
      }
    };
    const closer = (share) => {
      const at = cursor === null || cursor < view[0] || cursor > view[1] ? (view[0] + view[1]) / 2 : cursor;
      look(at - (at - view[0]) * share, at + (view[1] - at) * share);
    };
    const aside = (share) => {
      const by = (view[1] - view[0]) * share;
      look(view[0] + by, view[1] + by);
    };

    let cursor = null;
    const pointAt = (x) => {
      cursor = x;
      toldAt(x);
    };
    const total = record.panels.reduce((sum, panel) => sum + (panel.share || 0.25), 0);
    record.panels.forEach((panel, k) => {
      const head = element("p", { class: "panel-head" });
      values.push(element("span", {}));
      const title = element("b", {}, panel.label);
      if (panel.curves.length > 1) title.append(...panel.curves.map(sample));
      head.append(title, values[k]);
      const place = element("div", { class: "panel" });
      panels.append(head, place);
      const last = k === record.panels.length - 1;
      const tall = Math.max(panel.share > 0.5 ? 230 : 90, Math.round(460 * (panel.share || 0.25) / total));
      const single = panel.curves.length === 1;
      const data = single
        ? [panel.curves[0].x, panel.curves[0].y]
        : uPlot.join(panel.curves.map((curve) => [curve.x, curve.y]));
      const grid = { stroke: FAINT, width: 1 };
      charts.push(new uPlot({
        width: Math.max(260, panels.clientWidth), height: tall + (last ? 30 : 8),
        padding: [6, RIGHT, last ? 0 : 8, 0], pxAlign: false,
        legend: { show: false },
        scales: {
          x: { time: false, range: (u, min, max) => (min === null ? whole : [min, max]) },
          y: { range: () => valueRange(panel, view) },
        },
        axes: [
          { size: last ? 30 : 0, font: FONT, stroke: INK, grid, ticks: { show: last, stroke: SOFT, size: 4 }, space: 90,
            values: (u, splits) => (last ? ticks(splits, "s") : splits.map(() => "")) },
          { size: AXIS, font: FONT, stroke: INK, grid, ticks: { stroke: SOFT, size: 4 }, space: tall < 110 ? 24 : 34,
            values: (u, splits) => ticks(splits, panel.unit) },
        ],
        series: [{}, ...panel.curves.map((curve) => ({
          stroke: curve.colour, width: 1.8, dash: curve.dash, spanGaps: true, points: { show: false },
        }))],
        cursor: {
          y: false, points: { show: false },
          sync: { key: figure.dataset.name },
          drag: { x: true, y: false, setScale: false },
          bind: { dblclick: () => () => look(...whole) },
        },
        hooks: {
          drawAxes: [(u) => drawBands(u, panel)],
          draw: [(u) => drawMarks(u, panel)],
          setCursor: [(u) => {
            if (k === 0) pointAt(u.cursor.left >= 0 ? u.posToVal(u.cursor.left, "x") : null);
          }],
          setSelect: [(u) => {
            if (u.select.width < 5) return;
            const ends = [u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")];
            for (const chart of charts) chart.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
            look(...ends);
          }],
        },
      }, data, place));
    });

    const button = (text, act, window) => {
      const made = element("button", { type: "button" }, text);
      if (window) { made.dataset.from = window[0]; made.dataset.to = window[1]; }
      made.addEventListener("click", act);
      tools.append(made);
      return made;
    };
    button("whole record", () => look(...whole), whole);
    for (const [label, from, to] of record.windows) button(label, () => look(from, to), [from, to]);
    button("closer", () => closer(0.5));
    button("wider", () => closer(2));
    button("earlier", () => aside(-0.5));
    button("later", () => aside(0.5));
    const still = button("picture", () => {
      const pictured = figure.classList.toggle("pictured");
      still.setAttribute("aria-pressed", String(pictured));
    });
    still.setAttribute("aria-pressed", "false");

    panels.addEventListener("keydown", (event) => {
      const steps = { ArrowLeft: -1, ArrowRight: 1 };
      if (event.key in steps) {
        const chart = charts[0], wide = chart.over.clientWidth;
        const at = cursor === null ? wide / 2 : chart.valToPos(cursor, "x") + steps[event.key] * wide / 100;
        for (const each of charts) each.setCursor({ left: Math.min(Math.max(at, 0), wide), top: 1 });
      } else if (event.key === "+") closer(0.5);
      else if (event.key === "-") closer(2);
      else return;
      event.preventDefault();
    });
    new ResizeObserver(() => {
      const width = panels.clientWidth;
      if (width > 0) for (const chart of charts) chart.setSize({ width: Math.max(260, width), height: chart.height });
    }).observe(panels);
    toldAt(null);
    look(...whole);
  };

  document.documentElement.classList.add("scripted");
  for (const figure of document.querySelectorAll("figure.record")) show(figure);
})();

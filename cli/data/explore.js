"use strict";
// Draws results and traces so that they can be asked: hover reads values, boxes take curves away, the slider
// walks through the speeds. Without it the page shows the same as fixed pictures.
(function () {
  function held(name) {
    const block = document.getElementById(name);
    return block ? JSON.parse(block.textContent) : null;
  }
  const LINK = "http://www.w3.org/2000/svg";
  const LOOKS = STYLE.series;
  // on a phone fewer units across make the same letters larger
  const W = document.body.clientWidth < 520 ? 400 : 760, H = 340, L = 56, R = 14, B = 44;
  const ROW = 12;

  function make(parent, name, with_, words) {
    const svg = parent.namespaceURI === LINK || name === "svg";
    const it = svg ? document.createElementNS(LINK, name) : document.createElement(name);
    for (const key of Object.keys(with_ || {})) { it.setAttribute(key, with_[key]); }
    if (words !== undefined) { it.textContent = words; }
    parent.appendChild(it);
    return it;
  }
  function round(v) {
    const size = Math.abs(v);
    return v.toFixed(size >= 1000 ? 0 : size >= 100 ? 1 : size >= 1 ? 2 : 3);
  }
  function ticks(low, high) {
    const raw = (high - low) / 5, ten = Math.pow(10, Math.floor(Math.log10(raw)));
    const step = [1, 2, 5, 10].map(function (f) { return f * ten; }).find(function (s) { return s >= raw; });
    const all = [];
    for (let v = Math.ceil(low / step) * step; v <= high + 1e-9 * step; v += step) { all.push(v); }
    return all;
  }

  // A chart of curves {name, x, y}; the part of x in view changes by dragging, a double click shows all.
  function chart(parent, words) {
    const box = make(parent, "div", { "class": "chart" });
    const legend = make(box, "p", { "class": "legend" });
    const svg = make(box, "svg", { viewBox: "0 0 " + W + " " + H, role: "img", "aria-label": words });
    const read = make(box, "p", { "class": "read", "aria-live": "polite" }, "Point at the chart to read it; drag to look closer, double-click for all.");
    const off = new Set();
    let view = null, now = null, T = 12;
    function shown() { return now.curves.filter(function (c) { return !off.has(c.name); }); }
    function scales() {
      let xs = [], ys = [];
      for (const c of shown()) {
        c.x.forEach(function (x, i) {
          if (c.y[i] !== null && (!view || (x >= view[0] && x <= view[1]))) { xs.push(x); ys.push(c.y[i]); }
        });
      }
      if (!xs.length) { xs = [0, 1]; ys = [0, 1]; }
      let x0 = view ? view[0] : Math.min.apply(null, xs), x1 = view ? view[1] : Math.max.apply(null, xs);
      let y0 = Math.min.apply(null, ys), y1 = Math.max.apply(null, ys);
      if (x0 === x1) { x1 = x0 + 1; }
      const room = 0.06 * (y1 - y0 || Math.abs(y1) || 1);
      y0 -= room; y1 += room;
      return {
        x0: x0, x1: x1, y0: y0, y1: y1,
        x: function (v) { return L + (v - x0) / (x1 - x0) * (W - L - R); },
        y: function (v) { return H - B - (v - y0) / (y1 - y0) * (H - T - B); },
        back: function (p) { return x0 + (p - L) / (W - L - R) * (x1 - x0); }
      };
    }
    // rows for the names of marks, so that none stands on another
    function named(s) {
      const ends = [];
      const all = (now.marks || []).filter(function (m) { return m.x >= s.x0 && m.x <= s.x1; });
      for (const m of all) {
        const x = s.x(m.x), wide = 6.2 * m.name.length + 8;
        m.left = Math.min(x + 3, W - R - wide);
        let row = ends.findIndex(function (end) { return end <= m.left; });
        if (row < 0) { row = ends.length; }
        ends[row] = m.left + wide;
        m.row = row;
      }
      T = 12 + ROW * ends.length;
      return all;
    }
    function draw() {
      svg.textContent = "";
      const s = scales();
      const marks = named(s);
      for (const v of ticks(s.y0, s.y1)) {
        make(svg, "path", { d: "M" + L + " " + s.y(v) + "H" + (W - R), stroke: STYLE.grid });
        make(svg, "text", { x: L - 6, y: s.y(v) + 4, "text-anchor": "end", "font-size": 12 }, round(v));
      }
      for (const v of ticks(s.x0, s.x1)) {
        make(svg, "path", { d: "M" + s.x(v) + " " + (H - B) + "v5", stroke: STYLE.ink });
        make(svg, "text", { x: s.x(v), y: H - B + 18, "text-anchor": "middle", "font-size": 12 }, String(Math.round(v * 1000) / 1000));
      }
      make(svg, "path", { d: "M" + L + " " + T + "V" + (H - B) + "H" + (W - R), fill: "none", stroke: STYLE.ink });
      make(svg, "text", { x: (L + W - R) / 2, y: H - 8, "text-anchor": "middle", "font-size": 13 }, now.across);
      for (const m of marks) {
        const top = 4 + ROW * m.row;
        make(svg, "path", { d: "M" + s.x(m.x) + " " + top + "V" + (H - B), stroke: STYLE.rule, "stroke-dasharray": "2 3" });
        make(svg, "text", { x: m.left, y: top + 9, "font-size": 11, fill: STYLE.second }, m.name);
      }
      for (const c of shown()) {
        let d = "", pen = false;
        c.x.forEach(function (x, i) {
          const y = c.y[i];
          if (y === null || x < s.x0 || x > s.x1) { pen = false; return; }
          d += (pen ? "L" : "M") + s.x(x).toFixed(1) + " " + s.y(y).toFixed(1);
          pen = true;
        });
        const look = LOOKS[c.look % LOOKS.length];
        make(svg, "path", { d: d, fill: "none", stroke: look[0], "stroke-width": 2, "stroke-dasharray": look[1] });
      }
      cursor = make(svg, "path", { d: "", stroke: STYLE.ink, "stroke-width": 0.7 });
    }
    let cursor = null, from = null;
    function at(event) {
      const frame = svg.getBoundingClientRect();
      return (event.clientX - frame.left) / frame.width * W;
    }
    svg.addEventListener("pointermove", function (event) {
      const s = scales(), x = s.back(Math.max(L, Math.min(W - R, at(event))));
      const parts = [];
      let exact = x;
      for (const c of shown()) {
        let best = -1;
        c.x.forEach(function (v, i) {
          if (c.y[i] !== null && (best < 0 || Math.abs(v - x) < Math.abs(c.x[best] - x))) { best = i; }
        });
        if (best >= 0) { exact = c.x[best]; parts.push(c.name + " " + round(c.y[best])); }
      }
      read.textContent = now.across + " " + round(exact) + ": " + parts.join(", ");
      cursor.setAttribute("d", "M" + s.x(exact) + " " + T + "V" + (H - B));
    });
    svg.addEventListener("pointerdown", function (event) { from = at(event); });
    svg.addEventListener("pointerup", function (event) {
      const to = at(event);
      if (from !== null && Math.abs(to - from) > 12) {
        const s = scales();
        view = [s.back(Math.max(L, Math.min(from, to))), s.back(Math.min(W - R, Math.max(from, to)))];
        draw();
      }
      from = null;
    });
    svg.addEventListener("dblclick", function () { view = null; draw(); });
    return function (next) {
      if (now && now.across !== next.across) { view = null; }
      now = next;
      legend.textContent = "";
      for (const c of now.curves) {
        const label = make(legend, "label");
        const tick = make(label, "input", { type: "checkbox" });
        tick.checked = !off.has(c.name);
        tick.addEventListener("change", function () {
          if (tick.checked) { off.delete(c.name); } else { off.add(c.name); }
          draw();
        });
        const look = LOOKS[c.look % LOOKS.length];
        const key = make(label, "svg", { viewBox: "0 0 34 8", width: 34, height: 8, "aria-hidden": "true" });
        make(key, "path", { d: "M0 4H34", stroke: look[0], "stroke-width": 2.5, "stroke-dasharray": look[1] });
        make(label, "span", {}, c.name);
      }
      draw();
    };
  }

  function runs(place, data) {
    place.hidden = false;
    // results over speed
    make(place, "h3", {}, "Any result over speed");
    const choose = make(place, "select", { "aria-label": "Result" });
    data.results.forEach(function (r, i) { make(choose, "option", { value: i }, r); });
    const over = chart(place, "Result over speed");
    function results() {
      const i = Number(choose.value);
      const curves = data.builds.map(function (b, k) { return { name: b.name, look: k, x: b.speeds, y: b.results[i] }; });
      if (data.measured[i]) {
        curves.push({ name: "measured", look: 2, x: data.measured[i][0], y: data.measured[i][1] });
      }
      over({ across: "speed [1/min]", curves: curves });
    }
    choose.addEventListener("change", results);
    results();

    // traces
    const speeds = [];
    data.builds.forEach(function (b) { b.traces.forEach(function (t) { if (speeds.indexOf(t.rpm) < 0) { speeds.push(t.rpm); } }); });
    speeds.sort(function (a, b) { return a - b; });
    if (speeds.length) {
      make(place, "h3", {}, "Over the crank angle, speed by speed");
      const row = make(place, "p");
      const which = make(row, "select", { "aria-label": "Quantity" });
      data.traced.forEach(function (t, i) { make(which, "option", { value: i }, t); });
      const slider = make(row, "input", { type: "range", min: 0, max: speeds.length - 1, step: 1, value: Math.floor(speeds.length / 2), "aria-label": "Speed" });
      const told = make(row, "output");
      const traces = chart(place, "Trace over crank angle");
      const show = function () {
        const rpm = speeds[Number(slider.value)], i = Number(which.value);
        told.textContent = rpm + "/min";
        const curves = [];
        let marks = [];
        data.builds.forEach(function (b, k) {
          const t = b.traces.find(function (t) { return t.rpm === rpm; });
          if (!t) { return; }
          t.y[i].forEach(function (c, n) {
            curves.push({ name: c.name + (data.builds.length > 1 ? ", " + b.name : ""), look: data.builds.length > 1 ? 2 * n + k : n, x: t.x, y: c.y });
          });
          marks = t.marks;
          // what was measured, in the turn that was computed
          if (i === 0 && k === data.builds.length - 1) {
            const start = t.x[0];
            data.measured_traces.filter(function (m) { return m.rpm === rpm; }).forEach(function (m, n) {
              const points = m.x.map(function (x, j) { return [start + ((x - start) % 360 + 360) % 360, m.y[j]]; });
              points.sort(function (a, b) { return a[0] - b[0]; });
              curves.push({ name: m.name + ", measured", look: 4 + n, x: points.map(function (p) { return p[0]; }), y: points.map(function (p) { return p[1]; }) });
            });
          }
        });
        traces({ across: "crank angle [° after top]", curves: curves, marks: marks });
      };
      slider.addEventListener("input", show);
      which.addEventListener("change", show);
      show();
    }
  }

  // A sweep: two axes across and up, a result in colour, a slider for every other axis.
  function sweep(place, grid) {
    place.hidden = false;
    const axes = grid.axes;
    const start = axes.map(function (a) {
      return a.chosen !== null ? a.chosen : a.base !== null ? a.base : Math.floor(a.values.length / 2);
    });
    const step = axes.map(function (a, k) {
      return axes.slice(k + 1).reduce(function (n, b) { return n * b.values.length; }, 1);
    });
    make(place, "h3", {}, axes.length > 1 ? "Any result over any two axes" : "Any result over the axis");
    const row = make(place, "p");
    function choice(words, names, first) {
      const label = make(row, "label", {}, words + " ");
      const it = make(label, "select", { "aria-label": words });
      names.forEach(function (n, i) { make(it, "option", { value: i }, n); });
      it.value = String(first);
      return it;
    }
    const names = axes.map(function (a) { return a.name; });
    const what = choice("colour", grid.results.map(function (r) { return r.name; }), 0);
    const at = start.slice();
    if (axes.length < 2) {
      const over = chart(place, "Result over the axis");
      const line = function () {
        const r = grid.results[Number(what.value)];
        const y = r.z.map(function (v) { return typeof v === "number" ? v : null; });
        over({ across: names[0], curves: [{ name: r.name, look: 0, x: axes[0].values, y: y }] });
      };
      what.addEventListener("change", line);
      line();
      return;
    }
    const across = choice("across", names, 0), up = choice("up", names, 1);
    let last = [0, 1];
    const sliders = make(place, "p");
    const svg = make(place, "svg", { viewBox: "0 0 " + W + " " + 420, role: "img", "aria-label": "Map of a sweep" });
    const read = make(place, "p", { "class": "read", "aria-live": "polite" }, "Point at a field to read it. Ring: the build told of here; dashed ring: the engine the sweep starts from; struck through: refused by a limit.");
    const left = 70, right = W - 84, top = 14, bottom = 372;
    function value(r, i, j) {
      let n = 0;
      for (let k = 0; k < axes.length; k++) {
        n += step[k] * (k === last[0] ? i : k === last[1] ? j : at[k]);
      }
      return r.z[n];
    }
    function slide() {
      sliders.textContent = "";
      axes.forEach(function (a, k) {
        if (k === last[0] || k === last[1]) { return; }
        const label = make(sliders, "label", {}, a.name + " ");
        const it = make(label, "input", { type: "range", min: 0, max: a.values.length - 1, step: 1, value: at[k], "aria-label": a.name });
        const told = make(label, "output", {}, String(a.values[at[k]]));
        it.addEventListener("input", function () {
          at[k] = Number(it.value);
          told.textContent = String(a.values[at[k]]);
          draw();
        });
      });
    }
    function draw() {
      svg.textContent = "";
      const r = grid.results[Number(what.value)], a = axes[last[0]], b = axes[last[1]];
      const shown = [];
      a.values.forEach(function (x, i) { b.values.forEach(function (y, j) { shown.push(value(r, i, j)); }); });
      const known = shown.filter(function (v) { return typeof v === "number"; });
      const low = known.reduce(function (m, v) { return Math.min(m, v); }, Infinity);
      const high = known.reduce(function (m, v) { return Math.max(m, v); }, -Infinity);
      const wide = (right - left) / a.values.length, tall = (bottom - top) / b.values.length;
      const band = function (v) {
        const share = high > low ? (v - low) / (high - low) : 0.5;
        return Math.min(grid.shades.length - 1, Math.floor(share * grid.shades.length));
      };
      a.values.forEach(function (x, i) {
        b.values.forEach(function (y, j) {
          const v = value(r, i, j), px = left + i * wide, py = bottom - (j + 1) * tall;
          const seen = typeof v === "number";
          make(svg, "rect", { "class": "field", x: px, y: py, width: wide + 0.3, height: tall + 0.3, fill: seen ? grid.shades[band(v)] : STYLE.page });
          if (v === "x") {
            make(svg, "path", { d: "M" + px + " " + (py + tall) + "L" + (px + wide) + " " + py, stroke: STYLE.rule });
          }
          if (seen && wide > 42 && tall > 15) {
            make(svg, "text", { x: px + wide / 2, y: py + tall / 2 + 4, "text-anchor": "middle", "font-size": 11, fill: band(v) < 0.62 * grid.shades.length ? STYLE.page : STYLE.ink }, round(v));
          }
          const chosen = a.chosen === i && b.chosen === j, base = a.base === i && b.base === j;
          if (chosen || base) {
            make(svg, "circle", { cx: px + wide / 2, cy: py + tall / 2, r: Math.min(wide, tall) * 0.45, fill: "none", stroke: STYLE.mark, "stroke-width": 2.5, "stroke-dasharray": chosen ? "" : "4 3" });
          }
        });
      });
      function labels(axis, room, put) {
        const every = Math.ceil(axis.values.length * room);
        axis.values.forEach(function (v, i) { if (i % every === 0) { put(v, i); } });
      }
      labels(a, 44 / (right - left), function (v, i) {
        make(svg, "text", { x: left + (i + 0.5) * wide, y: bottom + 16, "text-anchor": "middle", "font-size": 12 }, String(v));
      });
      labels(b, 16 / (bottom - top), function (v, j) {
        make(svg, "text", { x: left - 6, y: bottom - (j + 0.5) * tall + 4, "text-anchor": "end", "font-size": 12 }, String(v));
      });
      make(svg, "text", { x: (left + right) / 2, y: bottom + 38, "text-anchor": "middle", "font-size": 13 }, a.name);
      make(svg, "text", { x: 14, y: (top + bottom) / 2, "text-anchor": "middle", "font-size": 13, transform: "rotate(-90 14 " + (top + bottom) / 2 + ")" }, b.name);
      const n = grid.shades.length;
      grid.shades.forEach(function (shade, i) {
        make(svg, "rect", { x: right + 14, y: bottom - (i + 1) * (bottom - top) / n, width: 16, height: (bottom - top) / n + 0.3, fill: shade });
      });
      [0, 0.5, 1].forEach(function (share) {
        if (known.length) {
          make(svg, "text", { x: right + 34, y: bottom - share * (bottom - top) + 4 * (1 + share), "font-size": 12 }, round(low + share * (high - low)));
        }
      });
    }
    svg.addEventListener("pointermove", function (event) {
      const frame = svg.getBoundingClientRect();
      const px = (event.clientX - frame.left) / frame.width * W, py = (event.clientY - frame.top) / frame.height * 420;
      const a = axes[last[0]], b = axes[last[1]];
      const i = Math.floor((px - left) / (right - left) * a.values.length);
      const j = Math.floor((bottom - py) / (bottom - top) * b.values.length);
      if (i < 0 || j < 0 || i >= a.values.length || j >= b.values.length) { return; }
      const r = grid.results[Number(what.value)], v = value(r, i, j);
      const words = typeof v === "number" ? round(v) : v === "x" ? "refused by a limit" : "not known";
      read.textContent = a.name + " " + a.values[i] + ", " + b.name + " " + b.values[j] + ": " + r.name + " " + words;
    });
    function turn() {
      let next = [Number(across.value), Number(up.value)];
      // an axis chosen twice changes places with the other
      if (next[0] === next[1]) { next = next[0] === last[0] ? [last[1], next[1]] : [next[0], last[0]]; }
      last = next;
      across.value = String(last[0]);
      up.value = String(last[1]);
      slide();
      draw();
    }
    what.addEventListener("change", draw);
    across.addEventListener("change", turn);
    up.addEventListener("change", turn);
    turn();
  }

  const data = held("data"), place = document.getElementById("explore");
  if (data && data.builds.length && place) { runs(place, data); }
  const grid = held("grid-data"), map = document.getElementById("grid");
  if (grid && map) { sweep(map, grid); }
})();

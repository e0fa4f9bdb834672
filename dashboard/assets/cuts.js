/* The time line of a recording that is cut: bands and fields are kept alike, times move by arrow keys, pieces are joined. */
(function () {
  "use strict";

  const STEP_S = 1, LEAP_S = 10;

  function plan() { return document.querySelector(".chart-cuts .js-plotly-plot"); }

  function known() { return document.querySelector(".chart-cuts").dataset; }

  function rows() { return [...document.querySelectorAll(".cut-row")]; }

  function field(row, name) { return row.querySelector('[name="' + name + "-" + row.dataset.piece + '"]'); }

  /** Put a value into a field of the page's framework as if it was typed. */
  function type(input, value) {
    if (input.value === value) { return; }
    Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, "value").set.call(input, value);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function two(n) { return String(n).padStart(2, "0"); }

  /** The time of day of seconds since the begin of the recording; "+1" stands behind times of its second day. */
  function clock(after) {
    const whole = Math.round(Number(known().begin) + Number(known().offset) + after), day = ((whole % 86400) + 86400) % 86400;
    const text = two(Math.floor(day / 3600)) + ":" + two(Math.floor(day / 60) % 60) + ":" + two(day % 60);
    const days = Math.round((after - since(text)) / 86400);
    return days > 0 ? text + " +" + days : text;
  }

  /** Seconds since the begin of a time of day, NaN where it is none. */
  function since(text) {
    const m = /^\s*(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?(?:\s*\+(\d))?\s*$/.exec(text);
    if (!m) { return NaN; }
    const begin = Number(known().begin) + Number(known().offset), day = Math.floor(begin / 86400) * 86400;
    const at = day + Number(m[1]) * 3600 + Number(m[2]) * 60 + Number(m[3] || 0);
    return (at < begin - 1 ? at + 86400 : at) + Number(m[4] || 0) * 86400 - begin;
  }

  /** Draw the bands from the fields. */
  function draw() {
    const gd = plan();
    if (!gd || !gd.layout || !gd.layout.shapes) { return; }
    const change = {};
    rows().forEach(row => {
      const i = gd.layout.shapes.findIndex(s => s.name === "piece-" + row.dataset.piece);
      const from = since(field(row, "begin").value), to = since(field(row, "end").value), take = field(row, "take").value === "yes";
      row.classList.toggle("cut-taken", take);
      row.classList.toggle("cut-left", !take);
      if (i < 0 || !isFinite(from) || !isFinite(to)) { return; }
      Object.assign(change, {
        ["shapes[" + i + "].x0"]: from, ["shapes[" + i + "].x1"]: to, ["shapes[" + i + "].y0"]: 0, ["shapes[" + i + "].y1"]: 1,
        ["shapes[" + i + "].fillcolor"]: take ? "#ffc21a" : "#ffffff", ["shapes[" + i + "].opacity"]: take ? 0.35 : 0.01,
        ["shapes[" + i + "].line.width"]: take ? 2 : 0,
      });
    });
    if (Object.keys(change).length) { gd.drawing = true; window.Plotly.relayout(gd, change).then(() => { gd.drawing = false; }); }
  }

  /** A band was dragged: its ends go into the fields, and its neighbours give way. */
  function dragged(event) {
    const gd = plan(), moved = new Set();
    if (gd.drawing) { return; }
    for (const key of Object.keys(event)) {
      const m = /^shapes\[(\d+)\]\.[xy][01]$/.exec(key);
      if (m) { moved.add(Number(m[1])); }
    }
    moved.forEach(i => {
      const shape = gd.layout.shapes[i], row = rows().find(r => shape.name === "piece-" + r.dataset.piece);
      if (!row) { return; }
      const last = gd.layout.xaxis.range[1], ends = [shape.x0, shape.x1].map(Number).sort((a, b) => a - b);
      type(field(row, "begin"), clock(Math.max(ends[0], 0)));
      type(field(row, "end"), clock(Math.min(ends[1], last)));
      const all = rows().filter(r => field(r, "begin").value), at = all.indexOf(row);
      if (at > 0) { type(field(all[at - 1], "end"), field(row, "begin").value); }
      if (at < all.length - 1) { type(field(all[at + 1], "begin"), field(row, "end").value); }
    });
    if (moved.size) { draw(); }
  }

  document.addEventListener("keydown", event => {
    const input = event.target, row = input.closest && input.closest(".cut-row");
    const timed = row && (input === field(row, "begin") || input === field(row, "end"));
    if (!timed || (event.key !== "ArrowUp" && event.key !== "ArrowDown") || !isFinite(since(input.value))) { return; }
    event.preventDefault();
    const step = (event.shiftKey ? LEAP_S : STEP_S) * (event.key === "ArrowUp" ? 1 : -1);
    type(input, clock(Math.max(since(input.value) + step, 0)));
    draw();
  });

  document.addEventListener("change", event => { if (event.target.closest && event.target.closest(".cut-row")) { draw(); } });
  document.addEventListener("click", event => {
    const button = event.target.closest(".cut-join");
    if (!button) { return; }
    const row = button.closest(".cut-row"), all = rows().filter(r => field(r, "begin").value), next = all[all.indexOf(row) + 1];
    if (!next) { return; }
    const take = field(row, "take").value === "yes" || field(next, "take").value === "yes";
    const title = field(row, "title").value || field(next, "title").value;
    type(field(row, "end"), field(next, "end").value);
    type(field(row, "title"), title);
    field(row, "take").value = take ? "yes" : "no";
    type(field(next, "begin"), "");
    type(field(next, "end"), "");
    next.hidden = true;
    const gd = plan(), i = gd ? gd.layout.shapes.findIndex(s => s.name === "piece-" + next.dataset.piece) : -1;
    if (i >= 0) { window.Plotly.relayout(gd, { ["shapes[" + i + "].x1"]: gd.layout.shapes[i].x0, ["shapes[" + i + "].line.width"]: 0 }); }
    draw();
    field(row, "begin").focus();
  });

  function look() {
    const gd = plan();
    if (gd && gd.on && !gd.cutsHeard) { gd.cutsHeard = true; gd.on("plotly_relayout", dragged); }
  }

  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  look();
}());

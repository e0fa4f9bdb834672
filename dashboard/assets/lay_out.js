/* Lay out a drill: where the plan was clicked, in metres; what a click sets; the address that opens the same view. */
(function () {
  "use strict";

  const STILL_PX = 6, PLAN = "lay-plan", PICKED = "lay-picked";
  let down = null;

  /** The chart that an event happened in, null elsewhere; buttons over the chart do not count. */
  function chartAt(event) {
    const frame = document.getElementById(PLAN);
    const inside = frame && frame.contains(event.target) && !event.target.closest(".modebar, .legend");
    return inside ? frame.querySelector(".js-plotly-plot") || (frame._fullLayout ? frame : null) : null;
  }

  /** East and north in metres of a place on the screen, null outside the axes. */
  function metres(chart, event) {
    const layout = chart._fullLayout, box = chart.getBoundingClientRect();
    if (!layout) { return null; }
    const x = event.clientX - box.left - layout.xaxis._offset, y = event.clientY - box.top - layout.yaxis._offset;
    if (x < 0 || y < 0 || x > layout.xaxis._length || y > layout.yaxis._length) { return null; }
    return [layout.xaxis.p2d(x), layout.yaxis.p2d(y)];
  }

  document.addEventListener("pointerdown", event => {
    down = event.isPrimary && event.button === 0 && chartAt(event) ? [event.clientX, event.clientY] : null;
  }, true);
  document.addEventListener("pointercancel", () => { down = null; }, true);
  document.addEventListener("pointerup", event => {
    const from = down, chart = chartAt(event);
    down = null;
    if (!from || !chart || Math.hypot(event.clientX - from[0], event.clientY - from[1]) > STILL_PX) { return; }
    const spot = metres(chart, event);
    if (spot) { window.dash_clientside.set_props(PICKED, {data: [...spot, Date.now()]}); }
  }, true);

  document.addEventListener("click", event => {
    if (event.target.closest("#lay-gpx-open")) { document.querySelector("#lay-gpx input[type=file]").click(); }
  });

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    layOut: {
      choose: function () {
        const context = window.dash_clientside.callback_context;
        if (!context.triggered.some(item => item.value)) { throw window.dash_clientside.PreventUpdate; }
        const what = context.triggered_id.what;
        return [what, context.outputs_list[1].map(item => String(item.id.what === what))];
      },
      address: function (ref, east, north) {
        const spot = [east, north].map(v => (v || "").trim().replace(",", "."));
        const start = spot.every(v => /^[+-]?(\d+\.?\d*|\.\d+)$/.test(v)) ? "?start=" + spot.join(",") : "";
        const path = "/lay-out" + (ref && ref[0] ? "/" + encodeURIComponent(ref[0]) : "") + start;
        if (location.pathname.startsWith("/lay-out") && location.pathname + location.search !== path) {
          history.replaceState(history.state, "", path);
        }
        return path;
      },
    },
  });
})();

/* Links the views of a debrief that was saved as a file: a window of time, chosen by a button or on the bar, moves all
   charts. All changes came with the page. */
(function () {
  "use strict";

  const page = JSON.parse(document.getElementById("debrief").textContent);
  const places = page.charts.map((chart, i) => {
    const place = document.querySelector('[data-chart="' + i + '"]');
    Plotly.newPlot(place, chart.figure.data, chart.figure.layout, chart.config);
    place.on("plotly_click", event => {
      const bounds = event.points[0] && event.points[0].customdata;
      if (Array.isArray(bounds) && bounds.length === 2) { show(key(bounds[0], bounds[1])); }
    });
    return place;
  });
  const buttons = [...document.querySelectorAll("button[data-window]")];

  function key(from, to) { return from.toFixed(1) + "," + to.toFixed(1); }

  function put(target, path, value) {
    for (const step of path.slice(0, -1)) { target = target[step]; }
    target[path[path.length - 1]] = value;
  }

  function show(name) {
    const window = page.windows[name];
    if (!window) { return; }
    document.getElementById("window-caption").textContent = window.caption;
    window.changes.forEach((changes, i) => {
      const figure = page.charts[i].figure;
      for (const [path, value] of changes) { put(figure, path, value); }
      figure.layout = Object.assign({}, figure.layout, { uirevision: name });
      Plotly.react(places[i], figure.data.map(trace => Object.assign({}, trace)), figure.layout, page.charts[i].config);
    });
    for (const button of buttons) { button.setAttribute("aria-pressed", String(button.dataset.window === name)); }
  }

  for (const button of buttons) { button.addEventListener("click", () => show(button.dataset.window)); }
})();

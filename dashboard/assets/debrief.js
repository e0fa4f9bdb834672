/* The debrief: a press on a loss brings the plan into view; what is folded opens for print and for a link to it. */
(function () {
  "use strict";

  document.addEventListener("click", event => {
    if (!event.target.closest || !event.target.closest(".finding")) { return; }
    const plan = document.querySelector(".plan-panel");
    if (!plan) { return; }
    const box = plan.getBoundingClientRect();
    const seen = Math.min(box.bottom, innerHeight) - Math.max(box.top, 0);
    if (seen < 0.8 * Math.min(box.height, innerHeight)) { plan.scrollIntoView({ block: "start" }); }
  });

  function folds() { return document.querySelectorAll(".debrief details"); }

  addEventListener("beforeprint", () => {
    for (const fold of folds()) {
      if (!fold.open) { fold.open = true; fold.dataset.opened = "print"; }
    }
  });
  addEventListener("afterprint", () => {
    for (const fold of folds()) {
      if (fold.dataset.opened === "print") { fold.open = false; delete fold.dataset.opened; }
    }
  });

  function openLinked() {
    const name = decodeURIComponent(location.hash.slice(1));
    const fold = name && document.getElementById(name);
    if (fold && fold.tagName === "DETAILS" && !fold.dataset.linked) {
      fold.dataset.linked = "yes";
      fold.open = true;
      fold.scrollIntoView({ block: "start" });
    }
  }
  addEventListener("hashchange", openLinked);
  new MutationObserver(() => { if (location.hash) { openLinked(); } }).observe(document.body, { childList: true, subtree: true });
  openLinked();
})();

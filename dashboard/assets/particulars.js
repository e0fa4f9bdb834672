/* A place for files to be chosen or dropped on: the page's own framework has no such field. The form sends it as any
   other; a place that was filled once is left alone. */
(function () {
  "use strict";

  function fill(slot) {
    slot.dataset.filled = "yes";
    const label = document.createElement("label"), words = document.createElement("span");
    const input = document.createElement("input");
    words.textContent = slot.dataset.label;
    Object.assign(input, { type: "file", name: slot.dataset.name, multiple: true, required: true });
    label.append(words, input);
    slot.replaceChildren(label);
  }

  function look() { document.querySelectorAll(".file-slot:not([data-filled])").forEach(fill); }

  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  look();
}());

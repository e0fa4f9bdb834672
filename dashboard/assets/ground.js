/* The picture of the ground: one press takes it from under the plans of a page and back, remembered on this machine; and
   points are pressed on it on its own page, by mouse, finger or typed pixels. */
(function () {
  "use strict";

  const KEY = "ground-off";

  function kept() { try { return localStorage.getItem(KEY) === "yes"; } catch { return false; } }

  function keep(off) { try { localStorage.setItem(KEY, off ? "yes" : "no"); } catch { /* not remembered then */ } }

  let off = kept();

  /** Show or hide the picture of one plan, where that is not so already. */
  function settle(plan) {
    const image = plan.layout && plan.layout.images && plan.layout.images[0];
    if (image && (image.visible === false) !== off) { window.Plotly.relayout(plan, { "images[0].visible": !off }); }
  }

  function settleAll() {
    document.querySelectorAll(".js-plotly-plot").forEach(plan => {
      if (!plan.layout || !(plan.layout.images || []).length) { return; }
      if (!plan.groundHeard) {
        plan.groundHeard = true;
        plan.on("plotly_afterplot", () => settle(plan));
      }
      settle(plan);
    });
    document.querySelectorAll(".ground-switch").forEach(button => {
      const pressed = String(!off);
      if (button.getAttribute("aria-pressed") !== pressed) { button.setAttribute("aria-pressed", pressed); }
    });
    document.querySelectorAll(".replay").forEach(root => {
      if (root.player && root.player.showGround) { root.player.showGround(!off); }
    });
  }

  function field(row, name) { return row.querySelector('input[name="' + name + "-" + row.dataset.pin + '"]'); }

  /** Put a value into a field of the page's framework as if it was typed. */
  function type(input, value) {
    Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, "value").set.call(input, value);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function rows(photo) { return [...photo.closest("form").querySelectorAll(".ground-pin")]; }

  /** The row that the next press is for: the one that was asked for, else the first that is empty, else the first. */
  function next(photo) {
    const all = rows(photo);
    return all.find(r => r.classList.contains("ground-active")) || all.find(r => !field(r, "x_px").value) || all[0];
  }

  function mark(photo) {
    rows(photo).forEach(row => {
      const x = Number(field(row, "x_px").value.replace(",", ".")), y = Number(field(row, "y_px").value.replace(",", "."));
      let sign = photo.querySelector('[data-sign="' + row.dataset.pin + '"]');
      const there = field(row, "x_px").value && field(row, "y_px").value && isFinite(x) && isFinite(y);
      if (!there) { if (sign) { sign.remove(); } return; }
      if (!sign) {
        sign = document.createElement("span");
        sign.className = "ground-sign";
        sign.dataset.sign = row.dataset.pin;
        sign.textContent = row.dataset.pin;
        photo.append(sign);
      }
      sign.style.left = 100 * x / photo.dataset.width + "%";
      sign.style.top = 100 * y / photo.dataset.height + "%";
    });
  }

  document.addEventListener("click", event => {
    const button = event.target.closest(".ground-switch, .ground-pick");
    if (button && button.classList.contains("ground-switch")) {
      off = !off;
      keep(off);
      settleAll();
    } else if (button) {
      const row = button.closest(".ground-pin"), form = row.closest("form");
      form.querySelectorAll(".ground-pin").forEach(r => r.classList.toggle("ground-active", r === row));
      form.querySelector(".ground-photo").scrollIntoView({ block: "center" });
    } else if (event.target.closest(".ground-photo")) {
      const photo = event.target.closest(".ground-photo"), row = next(photo), box = photo.getBoundingClientRect();
      type(field(row, "x_px"), ((event.clientX - box.left) / box.width * photo.dataset.width).toFixed(1));
      type(field(row, "y_px"), ((event.clientY - box.top) / box.height * photo.dataset.height).toFixed(1));
      row.classList.remove("ground-active");
      mark(photo);
      row.querySelector("select").focus();
    }
  });

  function look() {
    settleAll();
    document.querySelectorAll(".ground-photo").forEach(mark);
  }

  document.addEventListener("input", event => {
    const row = event.target.closest && event.target.closest(".ground-pin");
    if (row) { mark(row.closest("form").querySelector(".ground-photo")); }
  });
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  look();
}());

/* A film from this machine beside the replay: it plays in step with it and is never sent anywhere. */
(function () {
  "use strict";

  const OFF_S = 0.2, STILL_S = 0.05, SETTLE_MS = 400, ALIKE_M = 0.051;

  function make(tag, props, ...children) {
    const made = Object.assign(document.createElement(tag), props || {});
    made.append(...children);
    return made;
  }

  function clock(seconds) {
    const tenths = Math.round(Math.abs(seconds) * 10), whole = Math.floor(tenths / 10);
    return (seconds < -0.049 ? "-" : "") + Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0") + "." + tenths % 10;
  }

  function kept(key) { try { return localStorage.getItem(key); } catch { return null; } }

  /** Seconds to add to the film's time to get the run's, from the log typed from this film; null where it is another. */
  function fromLog(run, readings) {
    let log = null;
    try { log = JSON.parse(kept("film-log:" + run)); } catch { return null; }
    const rows = log && log.source === "film" && Array.isArray(log.rows) ? log.rows.filter(r => r.kind === "reading") : [];
    const same = rows.length && rows.length === readings.t.length
      && rows.every((r, i) => Math.abs(Number(r.value) - readings.value[i]) < ALIKE_M);
    if (!same) { return null; }
    const off = rows.map((r, i) => readings.t[i] - r.t).sort((a, b) => a - b);
    return off[Math.floor(off.length / 2)];
  }

  class Film {
    constructor(root, player) {
      this.root = root;
      this.player = player;
      const parts = location.pathname.split("/").map(decodeURIComponent);
      this.run = parts[2] + "/" + parts[3];
      this.key = "film-offset:" + this.run;
      this.corrections = 0;
      const stored = parseFloat(kept(this.key));
      this.offset = Number.isFinite(stored) ? stored : null;
      this.build();
      this.show();
      this.frame();
    }

    build() {
      this.video = make("video", { className: "film-video", hidden: true, playsInline: true, controls: true, muted: true });
      this.video.setAttribute("aria-label", "The film of the run");
      this.file = make("input", { type: "file", accept: "video/*", onchange: () => this.open(this.file.files[0]) });
      const button = (words, act) => make("button", { type: "button", className: "button", onclick: act }, words);
      this.keys = make("div", { className: "film-row", hidden: true },
        button("This moment of the film is this moment of the run", () => this.set(this.player.now - this.video.currentTime)),
        button("Loosen", () => { this.offset = null; this.keep(); this.show(); }),
        button("By the typed log", () => this.byLog()),
        button("Film 0.1 s earlier", () => this.set((this.offset || 0) + 0.1)), button("Film 0.1 s later", () => this.set((this.offset || 0) - 0.1)));
      this.said = make("p", { className: "film-said" });
      this.said.setAttribute("role", "status");
      this.root.replaceChildren(make("details", { className: "more" }, make("summary", {}, "A film beside it"),
        make("label", { className: "load-field" }, make("span", {}, "A film on this machine: it is played here and never sent"), this.file),
        this.video, this.keys, this.said));
    }

    open(file) {
      if (!file) { return; }
      if (this.video.src) { URL.revokeObjectURL(this.video.src); }
      this.video.src = URL.createObjectURL(file);
      this.video.hidden = this.keys.hidden = false;
      this.show();
    }

    set(offset) { this.offset = offset; this.keep(); this.show(); }

    byLog() {
      const offset = fromLog(this.run, this.player.data.readings);
      if (offset === null) { this.said.textContent = "No log typed from a film in this browser is the one of this run."; return; }
      this.set(offset);
    }

    keep() {
      try {
        if (this.offset === null) { localStorage.removeItem(this.key); } else { localStorage.setItem(this.key, String(this.offset)); }
      } catch { this.unkept = true; }
    }

    show() {
      const last = this.unkept ? " This browser does not keep it." : " Kept in this browser for this run.";
      this.said.textContent = this.offset === null
        ? (this.video.src ? "Not in step yet. Find one moment in both, such as the probe hit: the replay and the film each by its own slider; then press." : "")
        : "In step: " + (this.offset >= 0 ? "the film begins at " + clock(this.offset) + " of the run." : "the run begins at " + clock(-this.offset) + " of the film.") + last;
    }

    /** Keep the film at the moment of the replay; it is moved only where it is off by more than OFF_S. */
    follow() {
      const video = this.video, player = this.player, wanted = player.now - this.offset;
      const inside = wanted >= 0 && wanted < video.duration, speed = Number(player.find("speed").value);
      if (video.playbackRate !== speed) { video.playbackRate = speed; }
      const plays = player.running && inside;
      if (plays && video.paused && !this.asked) {
        this.asked = true;
        video.play().catch(error => { this.said.textContent = "The film cannot be played: " + error.message; }).finally(() => { this.asked = false; });
      }
      if (!plays && !video.paused && !this.asked) { video.pause(); }
      const target = Math.min(Math.max(wanted, 0), video.duration), settled = performance.now() - (this.moved || 0) > SETTLE_MS;
      if (!video.seeking && Math.abs(video.currentTime - target) > (plays ? OFF_S : STILL_S) && (settled || !plays)) {
        this.moved = performance.now();
        this.corrections += 1;
        video.currentTime = target;
      }
    }

    frame() {
      if (!this.root.isConnected) { this.video.pause(); if (this.video.src) { URL.revokeObjectURL(this.video.src); } return; }
      if (this.offset !== null && this.video.readyState >= 1 && Number.isFinite(this.video.duration)) { this.follow(); }
      requestAnimationFrame(() => this.frame());
    }
  }

  function look() {
    const root = document.querySelector(".replay-film"), replay = document.getElementById("replay");
    if (root && !root.film && replay && replay.player) { root.film = new Film(root, replay.player); }
  }

  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
}());

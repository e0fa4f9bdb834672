/* Readings typed while a film plays: what is shown of the log, its buttons and its table. */
(function () {
  "use strict";

  const { KINDS, LogFiles, named, make, clock, seconds, metres } = window.typedLog;

  /** What a log shows; `Log` in typed_log_tool.js says what its buttons do. */
  window.typedLog.LogPage = class extends LogFiles {
    say(text) { this.said.textContent = text; this.said.className = "film-said"; }

    warn(text) { this.said.textContent = text; this.said.className = "film-said notice"; }

    button(words, act, extra) {
      return make("button", Object.assign({ type: "button", className: "button", onclick: () => { act(); this.entry.focus(); } }, extra), words);
    }

    build() {
      this.time = make("p", { className: "film-clock", role: "timer", "aria-live": "off" }, "0:00.0");
      this.said = make("p", { className: "film-said", role: "status" });
      this.unkept = make("p", { className: "notice", hidden: true }, "This browser keeps nothing (private window, or full): download the files before you leave.");
      this.entry = make("input", { type: "text", inputMode: "decimal", autocomplete: "off", className: "film-entry", enterKeyHint: "done",
        oninput: () => this.typed(), onkeydown: e => this.onKey(e) });
      this.go = this.button("Start the clock", () => this.toggle(), { className: "button button-go" });
      this.who = make("select", {}, make("option", { value: "" }, "not said"), ...this.ids.map(id => make("option", { value: id }, id)));
      this.video = make("video", { hidden: true, controls: true, playsInline: true, className: "film-video", "aria-label": "The film",
        onplay: () => this.buttons(), onpause: () => this.buttons() });
      this.file = make("input", { type: "file", accept: "video/*", onchange: () => this.open(this.file.files[0]) });
      this.filmKeys = make("div", { className: "film-row", hidden: true }, this.button("Back 5 s (j)", () => this.back()),
        this.button("Slower (-)", () => this.speed(-1)), this.button("Faster (+)", () => this.speed(1)));
      const marks = KINDS.map(([kind, words, key, digits]) => this.button(words, () => this.add(kind, "", this.now()), { className: "button film-mark" }));
      marks.forEach((one, i) => one.append(make("small", {}, KINDS[i][2] + " or " + KINDS[i][3])));
      this.body = make("tbody");
      this.clearButton = make("button", { type: "button", className: "button", onclick: () => this.clear() }, "Clear this log");
      this.answer = make("div", { className: "film-answer", role: "status" });
      const heads = ["Time", "What", "Delete"].map(words => make("th", { scope: "col" }, words));
      const save = this.run ? [make("button", { type: "button", className: "button button-go", onclick: () => this.save() }, "Save into " + this.run)] : [];
      const panel = (title, ...content) => make("section", { className: "panel" }, make("h2", {}, title), ...content);
      this.root.replaceChildren(
        panel("Type", this.time, make("div", { className: "film-row" }, this.go, this.button("Undo (u)", () => this.undo())), this.video, this.filmKeys,
          make("form", { className: "film-form", onsubmit: e => this.enter(e) },
            make("label", { className: "load-field" }, make("span", {}, "Reading shown, m"), this.entry),
            this.ids.length > 1 ? make("label", { className: "load-field" }, make("span", {}, "Transmitter (t)"), this.who) : null,
            make("button", { type: "submit", className: "button" }, "Write (Enter)")),
          this.said, this.unkept, make("div", { className: "film-marks", role: "group", "aria-label": "Marks" }, ...marks),
          make("details", { className: "more" }, make("summary", {}, "Keys, and a film on this machine"),
            make("label", { className: "load-field" }, make("span", {}, "A film on this machine: it is played here and never sent"), this.file),
            make("p", {}, "In the field of the reading: digits and Enter write a reading at the moment of the first digit. Space starts and pauses. "
              + "The letter on a button, or its digits and Enter, writes that mark. u or Backspace takes the last change back. Up and down choose a row; "
              + "left and right move its time by 0.1 s, with Shift by 1 s; Delete removes it. In a film j goes back 5 s, minus and plus change the speed."))),
        panel("Written", this.box = make("div", { className: "film-box" }, make("table", { className: "table film-table" }, make("thead", {}, make("tr", {}, ...heads)), this.body))),
        panel("Save", make("p", { className: "panel-note" }, "Kept in this browser until you clear it; nothing is sent before you save."),
          make("div", { className: "film-row" }, ...save,
            make("button", { type: "button", className: "button", onclick: () => this.download("readings") }, "Download readings.csv"),
            make("button", { type: "button", className: "button", onclick: () => this.download("marks") }, "Download marks.csv"), this.clearButton), this.answer));
    }

    buttons() {
      const runs = this.video.src ? !this.video.paused : this.state.since !== null;
      this.go.textContent = (runs ? "Pause" : this.video.src ? "Play the film" : this.state.base ? "Go on" : "Start the clock") + " (space)";
    }

    /** The elements of a row; they stay while it does, so that focus and presses are not lost when something changes. */
    line(row) {
      const id = row.id, own = () => this.state.rows.find(r => r.id === id);
      const cell = change => make("input", { type: "text", inputMode: "decimal", onchange: e => change(own(), e.target.value) });
      const time = cell((mine, text) => {
        const at = seconds(text), zero = this.zero();
        if (Number.isNaN(at) || at + zero < 0) { this.say(text + " is no time: write 1:04.5 or 64.5."); this.draw(); return; }
        this.change(() => { mine.t = at + zero; this.picked = id; });
      });
      const value = cell((mine, text) => {
        const is = metres(text);
        if (!is) { this.say(text + " is no reading."); this.draw(); return; }
        this.change(() => { mine.value = is; this.picked = id; });
      });
      const what = make("span"), gone = this.button("Delete", () => this.remove(own()));
      value.hidden = row.kind !== "reading";
      const whole = make("tr", {}, make("td", {}, time), make("td", {}, value, what), make("td", {}, gone));
      return { whole, time, value, what, gone };
    }

    draw() {
      this.buttons();
      const zero = this.zero(), lines = new Map();
      for (const row of this.state.rows) {
        const line = (this.lines && this.lines.get(row.id)) || this.line(row), words = this.words(row);
        lines.set(row.id, line);
        line.time.value = clock(row.t - zero);
        line.value.value = row.value;
        line.what.textContent = (row.kind === "reading" ? " m" : named(row.kind)) + (row.who ? ", " + row.who : "");
        line.time.setAttribute("aria-label", "Time of " + words);
        line.value.setAttribute("aria-label", "Metres of " + words);
        line.gone.setAttribute("aria-label", "Delete " + words);
        line.whole.className = row === this.row() ? "film-picked" : "";
      }
      if (this.lines) { this.lines.forEach((line, id) => { if (!lines.has(id)) { line.whole.remove(); } }); }
      this.lines = lines;
      [...lines.values()].forEach((line, i) => {
        if (this.body.children[i] !== line.whole) { this.body.insertBefore(line.whole, this.body.children[i] || null); }
      });
      const shown = this.row() && lines.get(this.row().id).whole;
      if (shown) { this.box.scrollTop = shown.offsetTop - this.box.clientHeight / 2; }  // the page itself stays where it is
    }

    tick() {
      if (!this.root.isConnected) { if (this.video.src) { URL.revokeObjectURL(this.video.src); } return; }
      const text = clock(this.now() - this.zero());
      if (this.time.textContent !== text) { this.time.textContent = text; }
      requestAnimationFrame(() => this.tick());
    }
  };
}());

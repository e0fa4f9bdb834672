/* Readings typed while a film plays. A row gets the moment its first digit was typed. Nothing leaves the page before
   it is saved or downloaded; a film is played where it lies and is never sent. All is kept in the browser meanwhile. */
(function () {
  "use strict";

  const UNDO = 200, MOST_M = 150, POLL_MS = 700, BACK_S = 5, SPEEDS = [0.5, 1, 2];
  /** Kind, words, key, and the digits that stand for it where a phone shows a keyboard of digits alone. */
  const KINDS = [
    ["nothing", "Nothing shown", "n", "00"], ["start", "Start", "s", "01"], ["first_reading", "First reading", "f", "02"],
    ["fine_start", "Fine search starts", "c", "03"], ["probe_hit", "Probe hit", "h", "04"], ["finish", "Finish", "e", "05"],
    ["hold_begin", "Hold begins", "b", "06"], ["hold_end", "Hold ends", "g", "07"], ["probe", "Probing, no hit", "p", "08"],
    ["marking_end", "Marking ends", "m", "09"], ["dig_begin", "Digging begins", "d", "010"],
    ["airway_free", "Airway free", "a", "011"],
  ];
  const named = kind => (KINDS.find(k => k[0] === kind) || ["", kind])[1];

  function make(tag, props, ...children) {
    const made = document.createElement(tag);
    for (const [key, value] of Object.entries(props || {})) {
      if (key.startsWith("on")) { made.addEventListener(key.slice(2), value); }
      else if (key in made && key !== "list") { made[key] = value; } else { made.setAttribute(key, value); }
    }
    made.append(...children.filter(c => c !== null));
    return made;
  }

  function clock(seconds) {
    const tenths = Math.round(Math.abs(seconds) * 10), whole = Math.floor(tenths / 10);
    return (seconds < -0.049 ? "-" : "") + Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0") + "." + tenths % 10;
  }

  /** Seconds of "1:04.5" or "64,5"; NaN where it is neither. */
  function seconds(text) {
    const found = /^(-?)(?:(\d+):)?(\d+(?:[.,]\d*)?)$/.exec(text.trim());
    return found ? (found[1] ? -1 : 1) * (60 * Number(found[2] || 0) + Number(found[3].replace(",", "."))) : NaN;
  }

  /** Metres of what was typed, as a text; "" where it is no reading. */
  function metres(text) {
    const plain = text.trim().replace(",", ".");
    return /^(\d+\.?\d*|\.\d+)$/.test(plain) && Number(plain) > 0 && Number(plain) <= MOST_M ? String(Number(plain)) : "";
  }

  class Log {
    constructor(root) {
      this.root = root;
      this.drill = root.dataset.drill;
      this.run = root.dataset.run;
      this.ids = JSON.parse(root.dataset.ids || "[]");
      this.key = "film-log:" + this.drill + "/" + this.run;
      this.history = [];
      this.state = { rows: [], next: 1, source: "", base: 0, since: null };
      this.picked = null;
      this.at = null;
      this.build();
      this.recall();
      this.draw();
      this.tick();
    }

    /* What is kept. */

    recall() {
      try {
        const kept = JSON.parse(localStorage.getItem(this.key));
        if (kept && Array.isArray(kept.rows)) { this.state = Object.assign(this.state, kept); }
      } catch (error) { this.say("What this browser kept of the log cannot be read: " + error.message); return; }
      const count = this.state.rows.length;
      if (count) {
        this.say(count + (count === 1 ? " row is" : " rows are") + " back from this browser."
          + (this.state.source === "film" ? " Open the film again to go on." : ""));
      }
    }

    keep() {
      try { localStorage.setItem(this.key, JSON.stringify(this.state)); this.unkept.hidden = true; }
      catch { this.unkept.hidden = false; }
    }

    /* Time. */

    now() {
      if (this.state.source === "film") { return this.video.currentTime; }
      return this.state.base + (this.state.since === null ? 0 : (Date.now() - this.state.since) / 1000);
    }

    ready() {
      if (this.state.source === "film" && !this.video.src) { this.say("Open the film again first."); return false; }
      if (!this.state.source) { this.say("Start the clock first (space), or open the film here."); return false; }
      return true;
    }

    toggle() {
      if (this.video.src) {
        if (this.video.paused) { this.video.play(); } else { this.video.pause(); }
      } else if (this.state.source === "film") { this.say("Open the film again first."); return; }
      else if (this.state.since === null) { this.state.source = "clock"; this.state.since = Date.now(); this.say("The clock runs."); }
      else { this.state.base = this.now(); this.state.since = null; this.say("The clock stands at " + clock(this.now()) + "."); }
      this.keep();
      this.buttons();
    }

    open(file) {
      if (!file) { return; }
      if (this.state.source === "clock" && this.state.rows.length) {
        this.say("This log was typed by the clock. Clear it before you type from a film here."); return;
      }
      if (this.video.src) { URL.revokeObjectURL(this.video.src); }
      this.video.src = URL.createObjectURL(file);
      this.video.hidden = this.filmKeys.hidden = false;
      Object.assign(this.state, { source: "film", since: null });
      this.keep();
      this.buttons();
      this.say(file.name + " is open. It stays on this machine.");
      this.entry.focus();
    }

    speed(by) {
      if (!this.video.src) { this.say("No film is open here."); return; }
      const at = Math.min(Math.max(SPEEDS.indexOf(this.video.playbackRate) + by, 0), SPEEDS.length - 1);
      this.video.playbackRate = SPEEDS[at];
      this.say("Speed " + SPEEDS[at] + ".");
    }

    back() {
      if (!this.video.src) { this.say("No film is open here."); return; }
      this.video.currentTime = Math.max(this.video.currentTime - BACK_S, 0);
    }

    /* Rows. */

    zero() { const start = this.state.rows.find(r => r.kind === "start"); return start ? start.t : 0; }

    change(act) {
      const { rows, source, base } = this.state;
      this.history.push(JSON.stringify({ rows, source, base }));
      if (this.history.length > UNDO) { this.history.shift(); }
      act();
      this.state.rows.sort((a, b) => a.t - b.t || a.id - b.id);
      this.keep();
      this.draw();
    }

    add(kind, value, t) {
      if (!this.ready()) { return; }
      if ((kind === "start" || kind === "finish") && this.state.rows.some(r => r.kind === kind)) {
        this.say("There is a " + named(kind).toLowerCase() + " mark already: correct or delete it."); return;
      }
      const row = { id: this.state.next, t, kind, value, who: kind === "nothing" || kind === "start" ? "" : this.who.value };
      this.change(() => { this.state.next += 1; this.state.rows.push(row); this.picked = row.id; });
      this.say("Written: " + this.words(row) + ".");
    }

    words(row) {
      return (row.kind === "reading" ? row.value + " m" : named(row.kind)) + (row.who ? ", " + row.who : "")
        + ", at " + clock(row.t - this.zero());
    }

    undo() {
      if (!this.history.length) { this.say("Nothing is left to take back."); return; }
      const before = this.state.rows;
      const kept = JSON.parse(this.history.pop());
      this.state.rows = kept.rows;
      if (!this.state.source) { Object.assign(this.state, { source: kept.source, base: kept.base }); }  // it was cleared
      this.keep();
      this.draw();
      const gone = before.find(r => !this.state.rows.some(o => o.id === r.id));
      this.say(gone ? "Taken back: " + this.words(gone) + "." : "Taken back.");
    }

    row() { return this.state.rows.find(r => r.id === this.picked) || this.state.rows[this.state.rows.length - 1]; }

    pick(by) {
      const rows = this.state.rows, at = rows.indexOf(this.row());
      if (at < 0) { return; }
      const next = rows[Math.min(Math.max(at + by, 0), rows.length - 1)];
      this.picked = next.id;
      this.draw();
      this.say(this.words(next));
    }

    shift(by) {
      const row = this.row();
      if (!row) { return; }
      this.change(() => { row.t = Math.max(Math.round((row.t + by) * 1000) / 1000, 0); this.picked = row.id; });
      this.say(this.words(row));
    }

    remove(row) {
      if (!row) { return; }
      const words = this.words(row);
      this.change(() => { this.state.rows = this.state.rows.filter(r => r !== row); });
      this.say("Deleted: " + words + ".");
    }

    clear() {
      if (!this.sure) {
        this.sure = true;
        this.clearButton.textContent = "Press again to clear " + this.state.rows.length + " rows";
        setTimeout(() => { this.sure = false; this.clearButton.textContent = "Clear this log"; }, 6000);
        return;
      }
      this.sure = false;
      this.clearButton.textContent = "Clear this log";
      this.change(() => { Object.assign(this.state, { rows: [], base: 0, since: null, source: this.video.src ? "film" : "" }); });
      this.buttons();
      this.say("Cleared. Undo brings the rows back while this page is open.");
    }

    /* Typing. */

    typed() {
      const letters = this.entry.value.replace(/[\d.,]/g, "");
      this.entry.value = this.entry.value.replace(/[^\d.,]/g, "");
      if (letters && !this.entry.value) { this.letter(letters[letters.length - 1]); }
      if (!this.entry.value) { this.at = null; } else if (this.at === null) { this.at = this.now(); }
    }

    letter(key) {
      const kind = KINDS.find(k => k[2] === key.toLowerCase());
      if (kind) { this.add(kind[0], "", this.now()); return true; }
      const does = { u: () => this.undo(), j: () => this.back(), " ": () => this.toggle(), "+": () => this.speed(1),
        "-": () => this.speed(-1), t: () => this.nextWho() }[key.toLowerCase()];
      if (does) { does(); }
      return Boolean(does);
    }

    nextWho() {
      this.who.selectedIndex = (this.who.selectedIndex + 1) % this.who.options.length;
      this.say("Transmitter: " + (this.who.value || "not said"));
    }

    onKey(event) {
      if (event.ctrlKey || event.metaKey || event.altKey) { return; }
      const empty = !this.entry.value, step = event.shiftKey ? 1 : 0.1;
      const moves = { ArrowLeft: () => this.shift(-step), ArrowRight: () => this.shift(step), ArrowUp: () => this.pick(-1),
        ArrowDown: () => this.pick(1), Delete: () => this.remove(this.row()), Backspace: () => this.undo() };
      if (event.key === "Escape") { this.entry.value = ""; this.at = null; return; }
      if (empty && moves[event.key]) { event.preventDefault(); moves[event.key](); return; }
      if (event.key.length === 1 && !/[\d.,]/.test(event.key)) {
        event.preventDefault();
        if (event.key === " ") { this.toggle(); } else if (empty) { this.letter(event.key); }
      }
    }

    enter(event) {
      event.preventDefault();
      const text = this.entry.value, at = this.at === null ? this.now() : this.at;
      if (!text) { return; }
      const kind = KINDS.find(k => k[3] === text), value = metres(text);
      if (kind) { this.add(kind[0], "", at); }
      else if (value) { this.add("reading", value, at); }
      else { this.say(text + " is no reading: it is more than 0 and at most " + MOST_M + " m."); }
      this.entry.value = "";
      this.at = null;
    }

    /* What is shown. */

    say(text) { this.said.textContent = text; }

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

    /* Files. */

    files() {
      const zero = this.zero(), early = this.state.rows.filter(r => r.t < zero - 1e-9).length;
      if (early) { this.tell("Not saved: " + early + " rows lie before the start mark. Correct or delete them, or move the start."); return null; }
      const quoted = text => /[",\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
      const at = row => (row.t - zero).toFixed(2), shown = this.state.rows.filter(r => r.kind === "reading" || r.kind === "nothing");
      const marks = this.state.rows.filter(r => r.kind !== "reading" && r.kind !== "nothing");
      const heard = shown.some(r => r.kind === "reading"), named = shown.some(r => r.who);
      const readings = heard ? ["elapsed,reading_m" + (named ? ",transmitter" : ""), ...shown.map(r => at(r) + "," + (r.kind === "nothing" ? "-" : r.value) + (named ? "," + quoted(r.who) : ""))] : [];
      const noted = marks.length ? marks : heard ? [{ t: zero, kind: "start", who: "" }] : [];
      const lines = noted.length ? ["elapsed,mark,transmitter,clock", ...noted.map(r => at(r) + "," + r.kind + "," + quoted(r.who) + "," + (heard && r.kind !== "start" ? "readings" : ""))] : [];
      return { readings: readings.map(l => l + "\n").join(""), marks: lines.map(l => l + "\n").join("") };
    }

    tell(...lines) { this.answer.replaceChildren(...lines.map(l => make("p", {}, l))); }

    download(name) {
      const files = this.files();
      if (!files) { return; }
      if (!files[name]) { this.tell("No " + name + " were typed yet."); return; }
      const url = URL.createObjectURL(new Blob([files[name]], { type: "text/csv" })), link = make("a", { href: url, download: name + ".csv" });
      document.body.append(link);
      link.click();
      link.remove();
      setTimeout(() => URL.revokeObjectURL(url), 1000);
      this.tell(name + ".csv is downloaded. Put both files into the run: times count from the start mark.");
    }

    async save() {
      const files = this.files(), query = "?" + new URLSearchParams({ drill: this.drill, run: this.run });
      if (!files) { return; }
      this.tell("Being saved …");
      try {
        const sent = await fetch("/typed-log/save" + query, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(files) });
        const told = await sent.json();
        if (!told.ok) { this.tell("Not saved: " + told.line); return; }
        this.tell(told.line, "Being measured …");
        for (;;) {
          const found = await (await fetch("/typed-log/clock" + query)).json();
          if (found.busy) { await new Promise(done => setTimeout(done, POLL_MS)); continue; }
          this.tell(told.line, ...found.faults || [], found.line || "");
          break;
        }
      } catch (error) { this.tell("The program did not answer (" + error.message + "). What you typed is still kept here: save again."); }
    }
  }

  function look() {
    document.querySelectorAll(".film-log").forEach(root => { if (!root.log) { root.log = new Log(root); } });
  }

  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  look();
}());

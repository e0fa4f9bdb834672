/* Readings typed while a film plays. A row gets the moment its first digit was typed. Nothing leaves the page before
   it is saved or downloaded; a film is played where it lies and is never sent. All is kept in the browser meanwhile. */
(function () {
  "use strict";

  const UNDO = 200, BACK_S = 5, SPEEDS = [0.5, 1, 2];
  const { KINDS, MOST_M, LogPage, named, clock, metres } = window.typedLog;

  class Log extends LogPage {
    constructor(root) {
      super();
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
      if (this.state.source === "film" && !this.video.src) { this.warn("Not written: open the film again first."); return false; }
      if (!this.state.source) { this.warn("Not written: start the clock first (space, or s at the start), or open the film here."); return false; }
      return true;
    }

    /** The mark Start sets the clock going where none runs: who watches the film does not look for a second key. */
    starts(kind) {
      if (kind === "start" && !this.state.source && !this.video.src) { this.toggle(); }
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
      this.starts(kind);
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
  }

  function look() {
    document.querySelectorAll(".film-log").forEach(root => { if (!root.log) { root.log = new Log(root); } });
  }

  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  look();
}());

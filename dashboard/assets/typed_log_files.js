/* Readings typed while a film plays: the two files, downloaded or saved into the run. */
(function () {
  "use strict";

  const POLL_MS = 700, { make } = window.typedLog;

  /** What a log does with its rows; `Log` in typed_log_tool.js has rows and time. */
  window.typedLog.LogFiles = class {
    files() {
      const zero = this.zero(), early = this.state.rows.filter(r => r.t < zero - 1e-9).length;
      if (early) { this.tell("Not saved: " + early + " rows lie before the start mark. Correct or delete them, or move the start."); return null; }
      const quoted = text => /[",\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
      const at = row => (row.t - zero).toFixed(2), shown = this.state.rows.filter(r => r.kind === "reading" || r.kind === "nothing");
      const marks = this.state.rows.filter(r => r.kind !== "reading" && r.kind !== "nothing");
      const heard = shown.some(r => r.kind === "reading"), named = shown.some(r => r.who);
      const readings = heard ? ["elapsed (s),reading_m" + (named ? ",transmitter" : ""), ...shown.map(r => at(r) + "," + (r.kind === "nothing" ? "-" : r.value) + (named ? "," + quoted(r.who) : ""))] : [];
      const noted = marks.length ? marks : heard ? [{ t: zero, kind: "start", who: "" }] : [];
      const lines = noted.length ? ["elapsed (s),mark,transmitter,clock", ...noted.map(r => at(r) + "," + r.kind + "," + quoted(r.who) + "," + (heard && r.kind !== "start" ? "readings" : ""))] : [];
      return { readings: readings.map(l => l + "\n").join(""), marks: lines.map(l => l + "\n").join("") };
    }

    tell(...lines) { this.answer.replaceChildren(...lines.map(l => make("p", {}, l))); }

    /** The way to what was measured; the log stays, so that it can be corrected. */
    lead() {
      const path = "/run/" + encodeURIComponent(this.drill) + "/" + encodeURIComponent(this.run);
      this.answer.append(make("p", {}, make("a", { href: path, className: "button button-go" }, "Open the debrief")));
    }

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
          this.lead();
          break;
        }
      } catch (error) { this.tell("The program did not answer (" + error.message + "). What you typed is still kept here: save again."); }
    }
  };
}());

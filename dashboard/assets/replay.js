/* The replay of a run: everything is drawn here from numbers that came with the page; the server is not asked again.
   Plan and time line have a layer each that is drawn rarely; a frame copies it and adds what moves. */
(function () {
  "use strict";

  const KEY_STEP_S = 1, KEY_LEAP_S = 10, FRESH_S = 3, SHOWN_S = 30, TEXT_MS = 100, NEAR_EDGE = 0.2, FIRST_SPEED = "4";
  const FONT = "system-ui, 'Segoe UI', Roboto, 'Liberation Sans', sans-serif";

  /** Index of the last value of an increasing list that is at most x; -1 before the first. */
  function upTo(list, x) {
    let low = 0, high = list.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (list[middle] <= x) { low = middle + 1; } else { high = middle; }
    }
    return low - 1;
  }

  /** Value at x, straight between the entries, the ends held; null where a neighbour is not known. */
  function between(xs, ys, x) {
    const i = upTo(xs, x);
    if (i < 0) { return ys[0]; }
    if (i >= xs.length - 1) { return ys[ys.length - 1]; }
    if (ys[i] === null || ys[i + 1] === null) { return ys[i]; }
    const width = xs[i + 1] - xs[i];
    return width > 0 ? ys[i] + (ys[i + 1] - ys[i]) * (x - xs[i]) / width : ys[i + 1];
  }

  function clock(seconds) {
    const whole = Math.floor(Math.max(seconds, 0) + 1e-6);
    return Math.floor(whole / 60) + ":" + String(whole % 60).padStart(2, "0");
  }

  function metres(value, digits) { return value === null || value === undefined ? "-" : value.toFixed(digits) + " m"; }

  function phaseAt(data, t) {
    return data.phases.find(p => t >= p.start && t < p.end) || (data.phases.length && t >= data.phases[0].start
      ? data.phases[data.phases.length - 1] : null);
  }

  /** Where the reference searcher is: null before its first stretch, and whether it is done. */
  function referenceAt(data, t, start) {
    let own = null, number = -1;
    data.reference.forEach((s, i) => { if (s[start] <= t) { own = s; number = i; } });
    if (!own) { return null; }
    const gone = t - own[start], last = own.t[own.t.length - 1];
    return {
      e: between(own.t, own.e, gone), n: between(own.t, own.n, gone), name: own.name, ended: gone >= last,
      done: gone >= last && number === data.reference.length - 1, end: own[start] + last,
    };
  }

  /** The latest reading at t, null where the last one is long ago. */
  function readingAt(data, t) {
    const i = upTo(data.readings.t, t);
    if (i < 0 || t - data.readings.t[i] > SHOWN_S) { return null; }
    return { value: data.readings.value[i], used: data.readings.used[i], age: t - data.readings.t[i] };
  }

  /** A canvas with a layer behind it, in the pixels of the screen. */
  class Sheet {
    constructor(canvas) {
      this.canvas = canvas;
      this.context = canvas.getContext("2d");
      this.layer = document.createElement("canvas");
      this.ground = this.layer.getContext("2d");
      this.fit();
    }

    /** Take the size that the page gives; return whether it changed. */
    fit() {
      const ratio = Math.min(window.devicePixelRatio || 1, 2);
      const width = Math.round(this.canvas.clientWidth * ratio), height = Math.round(this.canvas.clientHeight * ratio);
      if (this.ratio === ratio && this.canvas.width === width && this.canvas.height === height) { return false; }
      this.ratio = ratio;
      for (const c of [this.canvas, this.layer]) { c.width = width; c.height = height; }
      this.width = width / ratio;
      this.height = height / ratio;
      for (const c of [this.context, this.ground]) { c.setTransform(ratio, 0, 0, ratio, 0, 0); }
      return true;
    }

    copy() { this.context.drawImage(this.layer, 0, 0, this.width, this.height); }
  }

  /** The plan: metres to pixels, the ground with the path walked so far, and the two figures. */
  class Plan {
    constructor(canvas, data) {
      this.sheet = new Sheet(canvas);
      this.data = data;
      this.across = null;
      this.centre = null;
      this.drawn = -1;
      this.under = null;
    }

    show(across) { this.across = across; this.centre = null; this.drawn = -1; }

    x(e) { return this.sheet.width / 2 + (e - this.centre[0]) * this.scale; }

    y(n) { return this.sheet.height / 2 - (n - this.centre[1]) * this.scale; }

    /** Set the view; a close one moves on in steps, when the searcher comes near its edge. */
    frame(e, n) {
      const { width, height } = this.sheet;
      if (this.across === null) {
        const [west, east, south, north] = this.data.box;
        this.centre = [(west + east) / 2, (south + north) / 2];
        this.scale = Math.min(width / (east - west), (height - 40) / (north - south));
        return false;
      }
      this.scale = Math.min(width, height) / this.across;
      const inside = this.centre && Math.abs(this.x(e) - width / 2) < width * (0.5 - NEAR_EDGE)
        && Math.abs(this.y(n) - height / 2) < height * (0.5 - NEAR_EDGE);
      if (inside) { return false; }
      this.centre = [e, n];
      return true;
    }

    draw(now, at, reference) {
      const resized = this.sheet.fit(), moved = this.frame(at.e, at.n);
      const last = upTo(this.data.path.t, now);
      if (resized || moved || this.drawn < 0 || last < this.drawn) { this.ground(); }
      if (last > this.drawn) { this.walked(last); }
      this.sheet.copy();
      const c = this.sheet.context;
      this.tail(c, now, at);
      if (reference) { this.referenceFigure(c, reference); }
      this.searcher(c, at, now);
    }

    polyline(c, points) {
      c.beginPath();
      let pen = false;
      for (const [e, n] of points) {
        if (e === null) { pen = false; continue; }
        if (pen) { c.lineTo(this.x(e), this.y(n)); } else { c.moveTo(this.x(e), this.y(n)); }
        pen = true;
      }
    }

    stroke(c, colour, width, dash) { c.strokeStyle = colour; c.lineWidth = width; c.setLineDash(dash || []); c.stroke(); c.setLineDash([]); }

    ring(c, e, n, radius, colour, width, dash) {
      c.beginPath();
      c.arc(this.x(e), this.y(n), Math.max(radius * this.scale, 1), 0, 2 * Math.PI);
      this.stroke(c, colour, width, dash);
    }

    /** Draw what does not move. */
    ground() {
      const c = this.sheet.ground, k = this.data.colours, path = this.data.path;
      c.fillStyle = k.paper;
      c.fillRect(0, 0, this.sheet.width, this.sheet.height);
      c.lineJoin = "round";
      if (this.under) {
        const [west, east, south, north] = this.data.under.box;
        c.drawImage(this.under, this.x(west), this.y(north), (east - west) * this.scale, (north - south) * this.scale);
      }
      if (this.data.area.length) {
        this.polyline(c, this.data.area.concat([this.data.area[0]]));
        if (!this.under) { c.fillStyle = k.ground; c.fill(); }
        this.stroke(c, k.quiet, 1.5);
      }
      this.polyline(c, path.e.map((e, i) => [e, path.n[i]]));
      this.stroke(c, "#b9c4bf", 2);
      for (const line of this.data.lines) {
        if (line.kind === "lowest") {
          const [e, n] = line.points[0];
          c.beginPath(); c.arc(this.x(e), this.y(n), 6, 0, 2 * Math.PI); this.stroke(c, k.ideal, 2.5);
          continue;
        }
        this.polyline(c, line.points);
        if (line.kind === "strips") { this.stroke(c, k.quiet, 1.2, [5, 6]); } else { this.stroke(c, k.ideal, 2.5, line.kind === "field_line" ? [10, 4] : []); }
      }
      for (const t of this.data.transmitters) { this.transmitter(c, t); }
      this.compass(c);
      this.drawn = 0;
    }

    transmitter(c, t) {
      const k = this.data.colours, x = this.x(t.e), y = this.y(t.n);
      this.ring(c, t.e, t.n, t.radius, k.ink, 1.2, [2, 3]);
      c.beginPath();
      for (let i = 0; i < 8; i += 1) {
        const r = i % 2 ? 4 : 11, a = i * Math.PI / 4;
        c.lineTo(x + r * Math.sin(a), y - r * Math.cos(a));
      }
      c.closePath();
      c.fillStyle = k.select; c.fill(); this.stroke(c, k.ink, 1.8);
      this.label(c, t.id, x + 12, y - 12, "bold 15px ");
    }

    label(c, text, x, y, font) {
      c.font = font + FONT;
      c.lineWidth = 4; c.strokeStyle = this.data.colours.paper; c.strokeText(text, x, y);
      c.fillStyle = this.data.colours.ink; c.fillText(text, x, y);
    }

    compass(c) {
      const k = this.data.colours, arrow = (x, bearing) => {
        const s = Math.sin(bearing), o = Math.cos(bearing);
        c.beginPath();
        c.moveTo(x - 11 * s, 22 + 11 * o); c.lineTo(x + 11 * s, 22 - 11 * o);
        c.moveTo(x + 11 * s - 7 * Math.sin(bearing + 0.5), 22 - 11 * o + 7 * Math.cos(bearing + 0.5));
        c.lineTo(x + 11 * s, 22 - 11 * o);
        c.lineTo(x + 11 * s - 7 * Math.sin(bearing - 0.5), 22 - 11 * o + 7 * Math.cos(bearing - 0.5));
        this.stroke(c, k.ink, 2.2);
      };
      arrow(18, 0);
      this.label(c, "N", 30, 27, "bold 15px ");
      if (this.data.slope.angle >= 0.5) {
        arrow(70, (this.data.slope.aspect + 180) * Math.PI / 180);
        this.label(c, "uphill " + Math.round(this.data.slope.angle) + "°", 86, 27, "bold 14px ");
      }
      const target = 0.25 * Math.min(this.sheet.width, this.sheet.height) / this.scale;
      const power = Math.pow(10, Math.floor(Math.log10(target)));
      const length = [5, 2, 1].map(f => f * power).find(v => v <= target * (1 + 1e-9));
      const y = this.sheet.height - 12;
      c.beginPath(); c.moveTo(14, y); c.lineTo(14 + length * this.scale, y); this.stroke(c, k.ink, 5);
      this.label(c, Number(length.toPrecision(2)) + " m", 14, y - 9, "bold 14px ");
    }

    /** Add the path up to row `last` to the ground, in the colour of its phase. */
    walked(last) {
      const c = this.sheet.ground, path = this.data.path;
      let from = Math.max(this.drawn, 0);
      while (from < last) {
        const phase = phaseAt(this.data, path.t[from]);
        let to = from + 1;
        while (to < last && phaseAt(this.data, path.t[to]) === phase) { to += 1; }
        c.beginPath();
        c.moveTo(this.x(path.e[from]), this.y(path.n[from]));
        for (let i = from + 1; i <= to; i += 1) { c.lineTo(this.x(path.e[i]), this.y(path.n[i])); }
        this.stroke(c, phase ? phase.line : this.data.colours.quiet, 3.5);
        from = to;
      }
      this.drawn = last;
    }

    /** Draw the last bit of the path, from its last row to where the searcher is. */
    tail(c, now, at) {
      const i = Math.max(upTo(this.data.path.t, now), 0), phase = phaseAt(this.data, now);
      c.beginPath();
      c.moveTo(this.x(this.data.path.e[i]), this.y(this.data.path.n[i]));
      c.lineTo(this.x(at.e), this.y(at.n));
      this.stroke(c, phase ? phase.line : this.data.colours.quiet, 3.5);
    }

    searcher(c, at, now) {
      const k = this.data.colours, x = this.x(at.e), y = this.y(at.n);
      c.beginPath();
      c.arc(x, y, Math.max(at.radius * this.scale, 1), 0, 2 * Math.PI);
      c.fillStyle = "rgba(16,32,29,0.16)"; c.fill(); this.stroke(c, k.ink, 1.5);
      c.beginPath(); c.arc(x, y, 8, 0, 2 * Math.PI);
      c.fillStyle = k.ink; c.fill(); this.stroke(c, k.paper, 2.5);
      const reading = readingAt(this.data, now);
      if (reading) {
        const old = reading.age > FRESH_S;
        const text = (old ? "(" : "") + reading.value.toFixed(1) + (old ? ")" : "");
        c.font = "bold 18px " + FONT;
        const width = c.measureText(text).width + 12, left = Math.min(Math.max(x + 14, 2), this.sheet.width - width - 2);
        const top = Math.max(y - 36, 2);
        c.fillStyle = old ? k.paper : k.ink; c.fillRect(left, top, width, 26);
        c.strokeStyle = k.ink; c.lineWidth = 1.5; c.strokeRect(left, top, width, 26);
        c.fillStyle = old ? k.ink : k.paper; c.fillText(text, left + 6, top + 19);
      }
    }

    referenceFigure(c, reference) {
      const k = this.data.colours, x = this.x(reference.e), y = this.y(reference.n);
      c.beginPath(); c.rect(x - 8, y - 8, 16, 16);
      c.fillStyle = k.paper; c.fill(); this.stroke(c, k.ideal, 4);
      this.label(c, "R", x - 5, y + 5, "bold 13px ");
    }
  }

  /** The time line: phases, range, readings, the dearest findings, and the moment that is shown. */
  class TimeLine {
    constructor(canvas, data) { this.sheet = new Sheet(canvas); this.data = data; this.ready = false; }

    x(t) { return 8 + (this.sheet.width - 16) * t / this.data.duration; }

    draw(now) {
      if (this.sheet.fit() || !this.ready) { this.ground(); }
      this.sheet.copy();
      const c = this.sheet.context, x = this.x(now);
      c.beginPath(); c.moveTo(x, 0); c.lineTo(x, this.sheet.height);
      c.strokeStyle = this.data.colours.ink; c.lineWidth = 3; c.stroke();
    }

    ground() {
      const c = this.sheet.ground, d = this.data, k = d.colours, { width, height } = this.sheet;
      c.fillStyle = k.paper; c.fillRect(0, 0, width, height);
      const known = d.path.range.concat(d.readings.value).filter(v => v !== null);
      const most = 1.08 * Math.max(1, ...known), top = 20, y = v => height - 4 - (height - top - 6) * v / most;
      d.phases.forEach((p, i) => {
        const x = this.x(p.start), w = this.x(p.end) - x;
        c.fillStyle = p.tint; c.fillRect(x, 0, w, height);
        if (i) { c.fillStyle = p.line; c.fillRect(x - 0.75, 0, 1.5, height); }
        c.font = "bold 13px " + FONT; c.fillStyle = p.line;
        if (w > c.measureText(p.short).width + 8) { c.fillText(p.short, x + 4, 15); }
      });
      for (const f of d.findings) {
        const x = this.x(f.from), w = Math.max(this.x(f.to) - x, 3);
        c.fillStyle = k.select; c.fillRect(x, top + 2, w, 7);
        c.strokeStyle = k.ink; c.lineWidth = 1; c.strokeRect(x, top + 2, w, 7);
        c.font = "bold 12px " + FONT; c.fillStyle = k.ink; c.fillText(String(f.number), x, top + 22);
      }
      c.beginPath();
      let pen = false;
      d.path.t.forEach((t, i) => {
        const r = d.path.range[i];
        if (r === null) { pen = false; return; }
        if (pen) { c.lineTo(this.x(t), y(r)); } else { c.moveTo(this.x(t), y(r)); }
        pen = true;
      });
      c.strokeStyle = k.ink; c.lineWidth = 2; c.lineJoin = "round"; c.stroke();
      d.readings.t.forEach((t, i) => {
        c.beginPath(); c.arc(this.x(t), y(d.readings.value[i]), 2.2, 0, 2 * Math.PI);
        c.fillStyle = d.readings.used[i] ? "#d9730d" : k.alarm; c.fill();
      });
      this.ready = true;
    }
  }

  /** One replay: its moment, whether it runs, and the controls. */
  class Replay {
    constructor(root, data) {
      this.root = root;
      this.data = data;
      this.find = name => root.querySelector(".replay-" + name);
      this.plan = new Plan(this.find("plan"), data);
      this.line = new TimeLine(this.find("line"), data);
      this.now = 0;
      this.running = false;
      this.texts = 0;
      this.frames = { count: 0, work: 0 };
      this.slider();
      this.fromAddress();
      this.listen();
      this.said("");
      requestAnimationFrame(t => this.frame(t));
    }

    slider() {
      this.seekBar = document.createElement("input");
      Object.assign(this.seekBar, { type: "range", min: 0, max: this.data.duration, step: 0.1 });
      this.seekBar.setAttribute("aria-label", "Moment of the run");
      this.find("seek").replaceChildren(this.seekBar);
    }

    fromAddress() {
      const asked = new URLSearchParams(location.search), at = parseFloat(asked.get("at"));
      const choose = (name, first) => {
        const select = this.find(name), value = asked.get(name) || first;
        select.value = [...select.options].some(o => o.value === value) ? value : first;
      };
      choose("speed", FIRST_SPEED); choose("view", "run"); choose("start", "run");
      if (Number.isFinite(at)) { this.now = Math.min(Math.max(at, 0), this.data.duration); }
      this.view();
    }

    /** Write what is shown into the address, so that a link opens the same. */
    toAddress() {
      const query = new URLSearchParams({ at: this.now.toFixed(1) });
      for (const name of ["speed", "view", "start"]) { query.set(name, this.find(name).value); }
      history.replaceState(history.state, "", location.pathname + "?" + query);
    }

    view() {
      const value = this.find("view").value;
      this.plan.show(value === "run" ? null : Number(value));
      this.dirty = true;
    }

    listen() {
      this.find("play").addEventListener("click", () => this.toggle());
      this.find("back").addEventListener("click", () => this.step(-KEY_STEP_S));
      this.find("step").addEventListener("click", () => this.step(KEY_STEP_S));
      this.find("view").addEventListener("change", () => { this.view(); this.toAddress(); });
      this.find("speed").addEventListener("change", () => this.toAddress());
      this.find("start").addEventListener("change", () => { this.dirty = true; this.toAddress(); });
      this.seekBar.addEventListener("input", () => this.seek(Number(this.seekBar.value), true));
      this.seekBar.addEventListener("change", () => this.toAddress());
      const timeline = this.find("line");
      const to = event => this.seek((event.offsetX - 8) / (timeline.clientWidth - 16) * this.data.duration);
      timeline.addEventListener("pointerdown", event => { timeline.setPointerCapture(event.pointerId); to(event); });
      timeline.addEventListener("pointermove", event => { if (event.buttons) { to(event); } });
      timeline.addEventListener("pointerup", () => this.toAddress());
      this.key = event => this.onKey(event);
      document.addEventListener("keydown", this.key);
    }

    onKey(event) {
      const tag = event.target.tagName;
      if (event.ctrlKey || event.metaKey || event.altKey || tag === "SELECT" || tag === "TEXTAREA" || tag === "VIDEO") { return; }
      if (event.key === " " && (tag === "BUTTON" || tag === "A" || tag === "SUMMARY")) { return; }
      const step = event.shiftKey ? KEY_LEAP_S : KEY_STEP_S;
      const does = {
        " ": () => this.toggle(), ArrowLeft: () => this.step(-step), ArrowRight: () => this.step(step),
        Home: () => this.step(-Infinity), End: () => this.step(Infinity), "+": () => this.faster(1), "-": () => this.faster(-1),
      }[event.key];
      if (does) { event.preventDefault(); does(); }
    }

    faster(by) {
      const select = this.find("speed");
      select.selectedIndex = Math.min(Math.max(select.selectedIndex + by, 0), select.options.length - 1);
      this.toAddress();
    }

    toggle() {
      if (!this.running && this.now >= this.data.duration) { this.now = 0; }
      this.run(!this.running);
    }

    run(running) {
      this.running = running;
      this.before = undefined;
      this.find("play").textContent = running ? "Pause" : "Play";
      if (!running) { this.dirty = true; this.toAddress(); this.said(this.words()); } else { this.said(""); }
    }

    step(by) {
      if (this.running) { this.run(false); }
      this.seek(this.now + by);
      this.toAddress();
      this.said(this.words());
    }

    seek(to) { this.now = Math.min(Math.max(to, 0), this.data.duration); this.dirty = true; }

    frame(stamp) {
      if (!this.root.isConnected) { document.removeEventListener("keydown", this.key); return; }
      requestAnimationFrame(t => this.frame(t));
      if (this.running) {
        const passed = this.before === undefined ? 0 : Math.min(stamp - this.before, 250) / 1000;
        this.before = stamp;
        this.now = Math.min(this.now + passed * Number(this.find("speed").value), this.data.duration);
        if (this.now >= this.data.duration) { this.run(false); }
      } else if (!this.dirty && !this.resized()) { return; }
      const begin = performance.now();
      this.draw(stamp);
      this.frames.count += 1;
      this.frames.work += performance.now() - begin;
      this.dirty = false;
    }

    resized() {
      const c = this.plan.sheet;
      return Math.abs(c.width - c.canvas.clientWidth) > 1 || Math.abs(c.height - c.canvas.clientHeight) > 1;
    }

    draw(stamp) {
      const p = this.data.path, now = this.now;
      const at = { e: between(p.t, p.e, now), n: between(p.t, p.n, now), radius: between(p.t, p.radius, now) };
      const reference = referenceAt(this.data, now, this.find("start").value);
      this.plan.draw(now, at, reference);
      this.line.draw(now);
      if (!this.running || stamp - this.texts >= TEXT_MS) { this.texts = stamp; this.write(at, reference); }
    }

    write(at, reference) {
      const p = this.data.path, phase = phaseAt(this.data, this.now), reading = readingAt(this.data, this.now);
      const pace = between(p.t, p.pace, this.now), put = (name, text) => {
        const place = this.find(name);
        if (place.textContent !== text) { place.textContent = text; }
      };
      put("time", clock(this.now) + " of " + clock(this.data.duration));
      put("phase", phase ? phase.name + (phase.transmitter ? ", " + phase.transmitter : "") : "-");
      put("reading", !reading ? (this.data.readings.t.length ? "none" : "no reading log") : reading.value.toFixed(1)
        + (reading.age > FRESH_S ? ", " + Math.round(reading.age) + " s ago" : "") + (reading.used ? "" : ", hardly trusted"));
      put("range", metres(between(p.t, p.range, this.now), 1));
      put("pace", pace === null ? "-" : pace.toFixed(1) + " m/s");
      put("known", metres(at.radius, 1));
      put("reference", this.referenceWords(reference));
      if (document.activeElement !== this.seekBar || this.running) { this.seekBar.value = this.now; }
      this.seekBar.setAttribute("aria-valuetext", clock(this.now));
    }

    referenceWords(reference) {
      if (!this.data.reference.length) { return "none: no ideal line or no pace in this result"; }
      if (!reference) { return "not yet under way"; }
      if (reference.done) { return "done at " + clock(reference.end); }
      return reference.name + (reference.ended ? ", waits" : "");
    }

    words() {
      const read = name => this.find(name).textContent;
      this.write({ radius: between(this.data.path.t, this.data.path.radius, this.now) },
        referenceAt(this.data, this.now, this.find("start").value));
      return clock(this.now) + ", " + read("phase") + ", reading " + read("reading") + ", range " + read("range");
    }

    said(text) { this.find("said").textContent = text; }

    /** Lay the picture of the ground under the plan, once it has come, or take it away: `ground.js` asks. */
    showGround(on) {
      if (!this.data.under || on === this.groundOn) { return; }
      this.groundOn = on;
      if (!this.photo) {
        this.photo = new Image();
        this.photo.addEventListener("load", () => this.underPlan());
        this.photo.src = this.data.under.source;
      }
      this.underPlan();
    }

    underPlan() {
      this.plan.under = this.groundOn && this.photo.naturalWidth ? this.photo : null;
      this.plan.drawn = -1;
      this.dirty = true;
    }
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    replay: {
      mount: function (data) {
        const root = document.getElementById("replay");
        if (!data || !root) { return window.dash_clientside.no_update; }
        if (!root.player) { root.player = new Replay(root, data); }
        return "ready";
      },
    },
  });
})();

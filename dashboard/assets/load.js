/* The drop zone: takes files and folders by drop or choice and sends them one after the other, each as it is. What is
   done is on the server's disk; a page that is closed half way loses nothing that was acknowledged. */
(function () {
  "use strict";

  function element(tag, attributes, ...children) {
    const e = document.createElement(tag);
    Object.entries(attributes).forEach(([k, v]) => { e.setAttribute(k, v); });
    e.append(...children);
    return e;
  }

  function megabytes(bytes) { return (bytes / 1e6).toFixed(bytes < 1e7 ? 1 : 0) + " MB"; }

  /** Files of what was dropped, with their folders; where the browser tells no folders, the files alone. */
  async function dropped(transfer) {
    const entries = [...transfer.items].map(i => i.webkitGetAsEntry && i.webkitGetAsEntry()).filter(Boolean);
    if (!entries.length) { return [...transfer.files].map(f => ({ file: f, path: f.name })); }
    const found = [];
    async function walk(entry, before) {
      if (entry.isFile) {
        const file = await new Promise((yes, no) => entry.file(yes, no));
        found.push({ file: file, path: before + entry.name });
        return;
      }
      const reader = entry.createReader();
      for (;;) { // a reader gives a hundred at a time
        const part = await new Promise((yes, no) => reader.readEntries(yes, no));
        if (!part.length) { break; }
        for (const inner of part) { await walk(inner, before + entry.name + "/"); }
      }
    }
    for (const entry of entries) { await walk(entry, ""); }
    return found;
  }

  function send(zone, item, tell) {
    const most = Number(zone.dataset.most), file = item.file, whole = file.size <= most;
    const query = new URLSearchParams({ batch: zone.dataset.batch, name: item.path, size: file.size });
    return new Promise(answer => {
      const request = new XMLHttpRequest();
      request.open("POST", "/take-in?" + query);
      request.setRequestHeader("Content-Type", "application/octet-stream");
      request.upload.onprogress = e => tell(e.loaded);
      request.onerror = () => answer({ ok: false, lost: true });
      request.onload = () => {
        try { answer(JSON.parse(request.responseText)); } catch (error) { answer({ ok: false, lost: true }); }
      };
      request.send(whole ? file : ""); // too large: its size alone is sent, and the server notes the refusal
    });
  }

  async function take(zone, items) {
    if (!items.length || zone.dataset.busy) { return; }
    zone.dataset.busy = "yes";
    zone.querySelectorAll("input").forEach(i => { i.disabled = true; });
    const said = zone.querySelector(".drop-said"), bar = zone.querySelector("progress");
    const most = Number(zone.dataset.most);
    const sizes = items.map(i => i.file.size <= most ? i.file.size : 0), all = Math.max(sizes.reduce((a, b) => a + b, 0), 1);
    let before = 0, stored = 0, answered = 0, lastLine = "";
    bar.hidden = false;
    for (let i = 0; i < items.length; i += 1) {
      said.textContent = "File " + (i + 1) + " of " + items.length + ", " + megabytes(all) + " in all: " + items[i].path;
      const answer = await send(zone, items[i], loaded => { bar.value = Math.min((before + loaded) / all, 1); });
      before += sizes[i];
      bar.value = before / all;
      if (answer.lost) {
        said.textContent = "The dashboard does not answer. " + answered + " of " + items.length + " files were sent. "
          + "Start it again, open Load and drop the files again: what is stored is not stored twice.";
        delete zone.dataset.busy;
        zone.querySelectorAll("input").forEach(e => { e.disabled = false; e.value = ""; });
        return;
      }
      answered += 1;
      if (answer.ok) { stored += 1; } else { lastLine = answer.line; }
    }
    const query = new URLSearchParams({ batch: zone.dataset.batch });
    if (zone.dataset.drill) { query.set("drill", zone.dataset.drill); }
    if (stored === 0 && !(await known(query))) { // not one line could be noted: a full or read-only workspace
      said.textContent = lastLine;
      delete zone.dataset.busy;
      zone.querySelectorAll("input").forEach(e => { e.disabled = false; e.value = ""; });
      bar.hidden = true;
      return;
    }
    window.location.assign("/load?" + query);
  }

  async function known(query) {
    try { return (await fetch("/take-in/known?" + query)).ok; } catch (error) { return false; }
  }

  function fill(zone) {
    zone.dataset.filled = "yes";
    const files = element("input", { type: "file", multiple: "", id: "pick-files", class: "pick" });
    const folder = element("input", { type: "file", webkitdirectory: "", id: "pick-folder", class: "pick" });
    files.addEventListener("change", () => take(zone, [...files.files].map(f => ({ file: f, path: f.name }))));
    folder.addEventListener("change", () => take(zone, [...folder.files].map(
      f => ({ file: f, path: f.webkitRelativePath || f.name }))));
    zone.replaceChildren(
      element("p", { class: "drop-here" }, zone.dataset.more ? "Drop further files here" : "Drop files here"),
      element("div", { class: "drop-picks" },
        element("label", { for: "pick-files" }, element("span", {}, "or choose files or a zip"), files),
        element("label", { for: "pick-folder" }, element("span", {}, "or choose a folder"), folder)),
      element("p", { class: "drop-said", role: "status" }),
      element("progress", { max: "1", value: "0", hidden: "", "aria-label": "Sent" }));
    ["dragenter", "dragover"].forEach(kind => zone.addEventListener(kind, e => {
      e.preventDefault();
      zone.classList.add("drop-over");
    }));
    ["dragleave", "drop"].forEach(kind => zone.addEventListener(kind, () => zone.classList.remove("drop-over")));
    zone.addEventListener("drop", e => {
      e.preventDefault();
      dropped(e.dataTransfer).then(items => take(zone, items));
    });
  }

  function look() {
    const zone = document.getElementById("drop-zone");
    if (zone && !zone.dataset.filled) { fill(zone); }
  }

  // A file that misses the zone must not replace the page.
  ["dragover", "drop"].forEach(kind => window.addEventListener(kind, e => {
    if (document.getElementById("drop-zone")) { e.preventDefault(); }
  }));
  new MutationObserver(look).observe(document.documentElement, { childList: true, subtree: true });
  look();
}());

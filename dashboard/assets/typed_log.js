/* Readings typed while a film plays: kinds of rows, times and readings as they are typed, and elements. The tool is in
   typed_log_tool.js; files are loaded in the order of their names, and each finds what it needs in those before it. */
window.typedLog = (function () {
  "use strict";

  const MOST_M = 150;
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

  return { KINDS, MOST_M, named, make, clock, seconds, metres };
}());

// Keys: Up and Down go to the next allowed value, Escape takes a field back or closes its drawer.
"use strict";

const asNumber = (text) => { const [above, below] = text.split("/"); return Number(above) / Number(below ?? 1); };

// The nearest value above or below in a run (first:last:step), or nothing.
function nextInRun(run, value, up) {
  const [first, last, step] = run.split(":");
  const low = asNumber(first), high = asNumber(last), hop = Number(step);
  const size = up ? low + Math.max(0, Math.floor((value - low) / hop + 1e-9) + 1) * hop
    : low + Math.min(Math.ceil((value - low) / hop - 1e-9) - 1, Math.round((high - low) / hop)) * hop;
  if (!(size >= low - 1e-9 && size <= high + 1e-9)) return null;
  return { size, text: low === high ? first : String(Math.round(size)) };
}

function nextAllowed(runs, value, up) {
  const found = runs.split(" ").map((run) => nextInRun(run, value, up)).filter(Boolean);
  found.sort((one, other) => (up ? one.size - other.size : other.size - one.size));
  return found[0]?.text;
}

function count(field, text) {
  field.value = text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function openerOf(place) {
  if (place.matches("[aria-expanded='true']")) return place;
  const drawer = place.closest(".drawer");
  return drawer && document.getElementById(drawer.id.replace("drawer-", "eq-"));
}

document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (!(field instanceof Element)) return;
  if (field.dataset.runs && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
    event.preventDefault();
    const next = nextAllowed(field.dataset.runs, asNumber(field.value), event.key === "ArrowUp");
    if (next !== undefined) count(field, next);
  } else if (event.key === "Escape") {
    const opener = openerOf(field);
    if (opener) { opener.focus(); opener.click(); }
    else if (field instanceof HTMLInputElement && field.form) count(field, field.dataset.counted ?? field.defaultValue);
  }
});

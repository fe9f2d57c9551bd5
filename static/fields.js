// Fields: what the server says counts after each answer, allowed values by arrow key, Escape, focus after a mend.
"use strict";

const form = () => document.getElementById("plan");

function restore(field) {
  if (field instanceof HTMLSelectElement) {
    for (const option of field.options) option.selected = option.defaultSelected;
  } else if (field.type === "checkbox" || field.type === "radio") {
    field.checked = field.defaultChecked;
  } else {
    field.value = field.defaultValue;
  }
}

function restoreAllButFocused() {
  for (const field of form()?.elements ?? []) {
    if (field !== document.activeElement && field.name && field.tagName !== "BUTTON") restore(field);
  }
}

function focusChanged() {
  const name = document.getElementById("said")?.dataset.focus;
  const field = name ? document.getElementById(`f-${name}`) : null;
  if (field) { field.focus(); restore(field); }
}

document.addEventListener("htmx:after:swap", () => { restoreAllButFocused(); focusChanged(); });

const asNumber = (text) => { const [above, below] = text.split("/"); return Number(above) / Number(below ?? 1); };

function neighbour(runs, value, up) {
  let best = null, bestSize = null;
  for (const run of runs.split(" ")) {
    const [first, last, step] = run.split(":");
    const low = asNumber(first), high = asNumber(last), hop = Number(step);
    let size = up ? low + Math.max(0, Math.floor((value - low) / hop + 1e-9) + 1) * hop
                  : low + Math.min(Math.ceil((value - low) / hop - 1e-9) - 1, Math.round((high - low) / hop)) * hop;
    if (size < low - 1e-9 || size > high + 1e-9) continue;
    if (bestSize === null || (up ? size < bestSize : size > bestSize)) {
      bestSize = size;
      best = low === high ? first : String(Math.round(size));
    }
  }
  return best;
}

document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (field instanceof HTMLInputElement && field.dataset.runs && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
    const next = neighbour(field.dataset.runs, asNumber(field.value), event.key === "ArrowUp");
    event.preventDefault();
    if (next !== null) { field.value = next; field.dispatchEvent(new Event("input", { bubbles: true })); }
  } else if (event.key === "Escape") {
    const drawer = field.closest?.(".drawer");
    const opener = field.classList?.contains("eq") && field.getAttribute("aria-expanded") === "true" ? field
      : drawer ? document.getElementById(drawer.id.replace("drawer-", "eq-")) : null;
    if (opener) { opener.focus(); opener.click(); }
    else if (field instanceof HTMLInputElement && field.form === form()) {
      field.value = field.dataset.counted ?? field.defaultValue;
      field.dispatchEvent(new Event("input", { bubbles: true }));
    }
  }
});

document.addEventListener("click", (event) => {
  const show = event.target.closest?.("[data-show]");
  if (show) {
    const goal = document.getElementById(show.dataset.show);
    const control = goal?.matches("input, select, h2") ? goal : goal?.querySelector("select, input, button") ?? goal;
    if (control) { event.preventDefault(); control.scrollIntoView({ block: "center" }); control.focus(); }
  }
  const copy = event.target.closest?.("#copy");
  if (copy && navigator.clipboard) {
    event.preventDefault();
    navigator.clipboard.writeText(new URL(copy.getAttribute("href"), location.href).href)
      .then(() => { copy.textContent = copy.dataset.copied; });
  }
});

const copy = document.getElementById("copy");
if (copy && navigator.clipboard) copy.textContent = copy.dataset.copy;
document.addEventListener("htmx:after:swap", () => {
  const link = document.getElementById("copy");
  if (link && navigator.clipboard) link.textContent = link.dataset.copy;
});

// Fields: after each answer a field shows what the server says, unless someone is at it or changed it since.
"use strict";

const fieldsForm = () => document.getElementById("plan");
const changedSince = new Set();

function restore(field) {
  if (field instanceof HTMLSelectElement) {
    for (const option of field.options) option.selected = option.defaultSelected;
  } else if (field.type === "checkbox" || field.type === "radio") {
    field.checked = field.defaultChecked;
  } else {
    field.value = field.defaultValue;
  }
}

// A look at a search that runs swaps no field.
const isForms = (event) => event.detail?.ctx?.sourceElement === fieldsForm();

document.addEventListener("htmx:before:request", (event) => { if (isForms(event)) changedSince.clear(); });

document.addEventListener("htmx:after:swap", (event) => {
  if (!isForms(event)) return;
  for (const field of fieldsForm()?.elements ?? []) {
    const left = field !== document.activeElement && !changedSince.has(field);
    if (left && field.name && field.tagName !== "BUTTON") restore(field);
  }
  const head = fieldsForm()?.querySelector("h1");
  document.title = `${head?.dataset.title ?? head?.textContent ?? "Plan"} · Wheelwork`;
  const name = document.getElementById("said")?.dataset.focus;
  const mended = name ? document.getElementById(`f-${name}`) ?? document.getElementById(name) : null;
  if (mended) { mended.focus(); if (mended.matches("input, select")) restore(mended); }
  const at = document.activeElement;
  if (at?.ariaInvalid) document.getElementById(`w-${at.name}`)?.scrollIntoView({ block: "nearest" });
});

// Where what had the focus goes when a search is over, its result takes it.
let wasInFound = false;
const found = () => document.getElementById("found");

document.addEventListener("htmx:before:swap", () => { wasInFound = !!found()?.contains(document.activeElement); });

document.addEventListener("htmx:after:swap", (event) => {
  if (!isForms(event) && wasInFound && !found()?.contains(document.activeElement)) document.getElementById("f-found")?.focus();
});

// Numbers and choices count as they are typed; other text counts when it is left, a wish in a drawer when it is asked.
const isText = (field) => field instanceof HTMLInputElement && field.form === fieldsForm() && !field.dataset.runs;
const isWish = (field) => field.name.startsWith("wish.");

document.addEventListener("input", (event) => {
  changedSince.add(event.target);
  if (event.isTrusted && isText(event.target)) event.stopPropagation();
}, true);

document.addEventListener("change", (event) => {
  if (isText(event.target) && !isWish(event.target)) event.target.dispatchEvent(new Event("input", { bubbles: true }));
});

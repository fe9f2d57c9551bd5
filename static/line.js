// The line: figures that wait look it, and a lost server is said with the time and what has not been counted.
"use strict";

const lost = document.getElementById("lost");
let lastAnswer = new Date();
let waiting = 0;

const sum = () => document.getElementById("sum");
const clock = (moment) => moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

document.addEventListener("htmx:before:request", () => {
  clearTimeout(waiting);
  waiting = setTimeout(() => sum()?.setAttribute("aria-busy", "true"), 300);
});

document.addEventListener("htmx:after:request", () => {
  clearTimeout(waiting);
  sum()?.removeAttribute("aria-busy");
});

document.addEventListener("htmx:after:swap", () => { lastAnswer = new Date(); lost.hidden = true; });

document.addEventListener("htmx:error", () => {
  clearTimeout(waiting);
  sum()?.removeAttribute("aria-busy");
  const field = document.activeElement;
  const change = field?.name && field.getAttribute("aria-label") ? `${field.getAttribute("aria-label")} ${field.value}` : "Your last change";
  lost.replaceChildren();
  const head = document.createElement("b");
  head.textContent = `No answer since ${clock(lastAnswer)}. `;
  const again = document.createElement("button");
  again.type = "button";
  again.textContent = "Try now";
  again.addEventListener("click", () => document.getElementById("plan")?.requestSubmit());
  lost.append(head, `What you see is from then; ${change} has not been counted. Fields stay open. `, again);
  lost.hidden = false;
});

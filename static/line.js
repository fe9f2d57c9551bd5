// The line: figures that wait look it; a server that is lost, or refuses, is said with the time and what was not counted.
"use strict";

const lost = document.getElementById("lost");
let lastAnswer = new Date();
let asked = null;
let waiting = 0;

const sumLine = () => document.getElementById("sum");
const atTime = (moment) => moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });

function stopWaiting() {
  clearTimeout(waiting);
  sumLine()?.removeAttribute("aria-busy");
}

function lastChange() {
  const label = asked?.isConnected && asked.getAttribute("aria-label");
  return label ? `your last change, ${label} ${asked.selectedOptions?.[0]?.label ?? asked.value}, has` : "your last change has";
}

function say(what) {
  const head = document.createElement("b");
  head.textContent = `${what} `;
  const again = document.createElement("button");
  again.type = "button";
  again.textContent = "Try now";
  again.addEventListener("click", () => document.getElementById("plan")?.requestSubmit());
  lost.replaceChildren(head, `What you see is from then; ${lastChange()} not been counted. Fields stay open. `, again);
  lost.hidden = false;
}

document.addEventListener("input", (event) => { asked = event.target; }, true);

document.addEventListener("htmx:before:request", () => {
  clearTimeout(waiting);
  waiting = setTimeout(() => sumLine()?.setAttribute("aria-busy", "true"), 300);
});

document.addEventListener("htmx:finally:request", stopWaiting);

document.addEventListener("htmx:before:response", (event) => {
  const { status, headers } = event.detail.ctx.response;
  if (status < 400 || headers.get("HX-Redirect")) return;
  event.preventDefault();
  say(`The server answers ${status} since ${atTime(lastAnswer)}.`);
});

document.addEventListener("htmx:after:swap", () => { lastAnswer = new Date(); lost.hidden = true; });

document.addEventListener("htmx:error", () => {
  stopWaiting();
  say(`No answer since ${atTime(lastAnswer)}.`);
});

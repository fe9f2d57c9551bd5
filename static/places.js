// Places: a link that shows a row leads to its control, one that shows a field to the field, one to a list to its head.
"use strict";

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("[data-show]");
  const goal = link && document.getElementById(link.dataset.show);
  if (!goal) return;
  event.preventDefault();
  const control = goal.matches("input, select, h2") ? goal : goal.querySelector("select, input, button") ?? goal;
  control.scrollIntoView({ block: "center" });
  control.focus();
});

// Copy: the link to this plan copies its address, where the browser lets a page do so.
"use strict";

const nameCopyLink = () => {
  const link = document.getElementById("copy");
  if (link && navigator.clipboard) link.textContent = link.dataset.copy;
};

nameCopyLink();
document.addEventListener("htmx:after:swap", nameCopyLink);

document.addEventListener("click", (event) => {
  const link = event.target.closest?.("#copy");
  if (!link || !navigator.clipboard) return;
  event.preventDefault();
  navigator.clipboard.writeText(new URL(link.getAttribute("href"), location.href).href)
    .then(() => { link.textContent = link.dataset.copied; });
});

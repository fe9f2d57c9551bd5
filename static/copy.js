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

// What a page hands over: a button copies the text or the address it names, another prints; both need this script.
const showHandovers = () => {
  if (navigator.clipboard) for (const button of document.querySelectorAll("[data-copies]")) button.hidden = false;
  for (const button of document.querySelectorAll("[data-print]")) button.hidden = false;
  const address = document.getElementById("address");
  if (address) address.value = new URL(address.value, location.href).href;
};

showHandovers();
document.addEventListener("htmx:after:swap", showHandovers);

document.addEventListener("click", (event) => {
  if (event.target.closest?.("[data-print]")) window.print();
  const button = event.target.closest?.("[data-copies]");
  if (!button || !navigator.clipboard) return;
  const source = document.getElementById(button.dataset.copies);
  navigator.clipboard.writeText(source.value ?? source.textContent).then(() => {
    const words = button.textContent;
    if (words === button.dataset.copied) return;
    button.textContent = button.dataset.copied;
    setTimeout(() => { button.textContent = words; }, 2000);
  });
});

// Small comforts of the frame; every page works without them.
// "/" focuses the finder, a refused form moves the focus to what is wrong, "More" closes when one looks elsewhere.
"use strict";

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") {
    document.querySelectorAll("details.more[open]").forEach((more) => more.removeAttribute("open"));
  }
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = event.target;
  if (at instanceof HTMLElement && (at.isContentEditable || /^(input|textarea|select)$/i.test(at.tagName))) return;
  const finder = document.getElementById("finder");
  if (finder) {
    event.preventDefault();
    finder.focus();
    finder.select();
  }
});

document.addEventListener("click", (event) => {
  document.querySelectorAll("details.more[open]").forEach((more) => {
    if (!more.contains(event.target)) more.removeAttribute("open");
  });
});

const showTroubles = (root) => {
  const troubles = root.querySelector("[data-focus]");
  if (troubles) troubles.focus();
};
document.addEventListener("DOMContentLoaded", () => showTroubles(document));
document.addEventListener("htmx:afterSwap", (event) => showTroubles(event.target));

// Lets the stop-watch of a build tick. The time is kept by the server; without this the page shows it as it was.
"use strict";

const opened = Date.now();

const span = (seconds) => {
  const whole = Math.max(0, Math.floor(seconds));
  const pad = (number) => String(number).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${pad(Math.floor(whole / 60) % 60)}:${pad(whole % 60)}`;
};

const tick = () => {
  // What the server said when the page was made, and what this clock says has gone by since: no two clocks are compared.
  document.querySelectorAll("[data-stopwatch]").forEach((watch) => {
    const since = watch.hasAttribute("data-running") ? (Date.now() - opened) / 1000 : 0;
    watch.textContent = span(Number(watch.dataset.stopwatch) + since);
  });
};

document.addEventListener("DOMContentLoaded", () => {
  tick();
  window.setInterval(tick, 1000);
});

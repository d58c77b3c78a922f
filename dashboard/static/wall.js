// What only the wall does: it keeps the shape that its panel shows, and moves by a few pixels now and then.
"use strict";

const STEP_MS = 120000; // dashboard/shift.py
const PLACES = 9;

// A wall comes for a panel that lies and for one that stands. What this one does not show goes, so that it need not be
// kept up to date; a panel that is turned fetches the page anew.
for (const panel of document.querySelectorAll(".panel")) {
  if (getComputedStyle(panel).display === "none") panel.remove();
  else document.body.dataset.stream = panel.dataset.stream;
}
matchMedia("(orientation: portrait)").addEventListener("change", () => location.reload());

setInterval(() => {
  document.body.dataset.shift = String(Math.floor(gatewayNow() / STEP_MS) % PLACES);
}, 1000);
document.currentScript.dataset.ran = ""; // page.js

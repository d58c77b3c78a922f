// Keeps the page of a run live, and opens its result once it is over. Without it the page renews itself.
"use strict";

const EVERY_MS = 1000;
const run = document.getElementById("run");
const unreached = document.getElementById("unreached");

async function look() {
  try {
    const answer = await fetch(run.dataset.state);
    if (answer.headers.get("X-Sinkside-Over") === "yes" || answer.status === 404) {
      location.reload();
      return;
    }
    const html = await answer.text();
    unreached.hidden = answer.ok;
    if (answer.ok && run.innerHTML !== html) run.innerHTML = ours.createHTML(html);
  } catch {
    unreached.hidden = false;
  }
  setTimeout(look, EVERY_MS);
}

void look();

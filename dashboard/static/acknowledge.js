// Sends an acknowledgement, says what came of it, and remembers on this device who acknowledges.
"use strict";

const KEPT = "sinkside.who";
const who = document.getElementById("who");
const form = document.getElementById("who-form");
const known = document.getElementById("who-known");
const answer = document.getElementById("answer");

// A browser may refuse to keep anything: the name is then asked for on each visit.
function kept() {
  try {
    return localStorage.getItem(KEPT) ?? "";
  } catch {
    return "";
  }
}

function keep(name) {
  try {
    if (name === "") localStorage.removeItem(KEPT);
    else localStorage.setItem(KEPT, name);
  } catch {
    // Nothing is lost but the convenience.
  }
}

function showWho(name) {
  document.getElementById("who-name").textContent = name;
  known.hidden = name === "";
  form.hidden = name !== "";
}

function forget() {
  keep("");
  who.value = "";
  showWho("");
  who.focus();
}

async function acknowledge(button) {
  const name = who.value.trim();
  if (name === "") {
    answer.textContent = "Write your name first: it is kept with the acknowledgement.";
    who.focus();
    return;
  }
  button.disabled = true;
  answer.textContent = "Being written down...";
  answer.textContent = await sent(button.dataset.alert, name);
  button.disabled = false;
}

async function sent(alert, name) {
  try {
    const response = await fetch("/api/acknowledge", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Sinkside": "1" },
      body: JSON.stringify({ alert, who: name }),
    });
    const body = await response.json();
    if (!response.ok) return body.error;
    keep(name);
    showWho(name);
    return "Acknowledged, and written down.";
  } catch {
    return "The gateway did not answer. Try again, unless the alert says by then who has seen it.";
  }
}

who.value = kept();
showWho(who.value);
form.addEventListener("submit", (event) => event.preventDefault());
document.getElementById("who-change").addEventListener("click", forget);
document.getElementById("alerts").addEventListener("click", (event) => {
  if (event.target instanceof HTMLButtonElement) void acknowledge(event.target);
});

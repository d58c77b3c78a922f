// Remembers on this device who acts, and shows it.
"use strict";

const KEPT = "sinkside.who";
const who = document.getElementById("who");
const form = document.getElementById("who-form");
const known = document.getElementById("who-known");

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

// What somebody typed before this ran is theirs.
if (who.value === "") {
  who.value = kept();
  showWho(who.value);
}
document.getElementById("who-change").addEventListener("click", forget);

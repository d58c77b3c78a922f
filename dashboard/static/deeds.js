// Sends what was done at a basin, with a probe, at a cart or in maintenance without leaving the page, and counts the seconds since a strip's dip.
"use strict";

const deeds = document.getElementById("deeds");
const answer = document.getElementById("answer");
const dip = document.getElementById("dip");
const dipSeconds = document.getElementById("dip-seconds");
const TWICE_MS = 10000; // the same within this is one entry: a glove taps twice
let counting = null;
let lastTap = { sent: "", id: "", at: 0 };
let plainly = false; // whoever is signed out sends what is filled in as a form, and is led to sign in with it

// What was written down may be no good news: a strip that does not count, a solution out of date.
function say(words, tone) {
  answer.textContent = words;
  for (const style of ["refused", "warns"]) answer.classList.toggle(style, style === tone);
  answer.scrollIntoView({ block: "nearest" });
}

// Fields that are to be mended are marked, and say why; the first of them is where one goes on.
function mark(names) {
  for (const field of deeds.querySelectorAll("input[name], select, textarea")) {
    if (names.includes(field.name)) {
      field.setAttribute("aria-invalid", "true");
      field.setAttribute("aria-describedby", "answer");
    } else {
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
  }
  const first = deeds.querySelector("[aria-invalid]:not([type=hidden])");
  if (first === null) return;
  const folded = first.closest("details");
  if (folded !== null) folded.open = true;
  first.focus();
}

function stopCounting() {
  clearInterval(counting);
  counting = null;
}

function count() {
  const begun = performance.now();
  stopCounting();
  dipSeconds.value = "0";
  counting = setInterval(() => {
    dipSeconds.value = String(Math.floor((performance.now() - begun) / 1000));
  }, 200);
}

function tapOf(sent) {
  if (sent !== lastTap.sent || performance.now() - lastTap.at > TWICE_MS) {
    lastTap = { sent, id: newTap(), at: performance.now() };
  }
  return lastTap.id;
}

async function send(button) {
  const fields = new URLSearchParams(new FormData(deeds, button));
  fields.set("tap", tapOf(`${button.formAction} ${fields}`));
  const section = button.closest("details"); // the button itself may be replaced before the answer is there
  stopCounting();
  button.disabled = true;
  say("Being written down...", "");
  try {
    const response = await fetch(button.formAction, { method: "POST", headers: { Accept: "application/json", "X-Sinkside": deeds.elements.token.value }, body: fields });
    const body = await response.json();
    if (body.signed_out) {
      sendPlainly(button);
      return;
    }
    say(response.ok ? body.said : body.error, response.ok ? (body.warns ? "warns" : "") : "refused");
    mark(body.fields ?? []);
    if (response.ok) done(section);
  } catch {
    say("The gateway did not answer. Look above whether it was written down before you try again.", "refused");
  }
  button.disabled = false;
}

function sendPlainly(button) {
  button.disabled = false;
  plainly = true;
  deeds.requestSubmit(button);
  plainly = false;
}

function done(section) {
  const ago = document.getElementById("ago");
  if (ago !== null) ago.value = "0";
  if (dipSeconds !== null) dipSeconds.value = "";
  if (section !== null) section.open = false;
  for (const field of document.querySelectorAll("[data-once]")) {
    if (field.type === "radio" || field.type === "checkbox") field.checked = false;
    else field.value = "";
  }
}

deeds.addEventListener("submit", (event) => {
  if (plainly) return;
  event.preventDefault();
  if (event.submitter !== null) void send(event.submitter);
});
if (dip !== null) {
  dip.hidden = false;
  dip.addEventListener("click", count);
}

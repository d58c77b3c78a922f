// Keeps what was tapped on an alert's page until the gateway has answered: hospital networks drop. Says plainly what is
// not sent yet, what was taken, and what was refused.
"use strict";

class SignedOut extends Error {}

const KEPT_TAPS = "sinkside.taps";
const MOST_TAPS = 20;
const STALE_MS = 10 * 60 * 1000; // who said "I go" longer ago than this may be elsewhere by now: it is not sent any more
const PATIENCE_MS = 15000; // longer than the gateway takes at most (dashboard/asking.py)
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 30000;
const TWICE_MS = 700; // a glove taps twice: whatever lies under the second one by then, it is no deed of its own
const taps = document.getElementById("taps");
const answerLine = document.getElementById("answer");
const takeBack = document.getElementById("take-back");
const who = document.getElementById("who").textContent;
const here = taps.dataset.here;
const token = taps.elements.token?.value || "1"; // of whoever is signed in now; by a link nobody is
let inMemory = null; // the list, where the browser refuses to keep it
let sending = false;
let waitMs = FIRST_WAIT_MS;
let timer = null;
const NOT_SIGNED_IN = 401;
const FORBIDDEN = 403;
let firstTried = ""; // the tap whose first answer is awaited: nobody can say yet that it is not sent
let lastAt = -TWICE_MS;
let wasSignedOut = false; // the token of this page serves no more then, though somebody signs in beside it

function keptTaps() {
  if (inMemory !== null) return inMemory;
  try {
    return JSON.parse(localStorage.getItem(KEPT_TAPS) ?? "[]");
  } catch {
    return [];
  }
}

function keepTaps(list) {
  try {
    localStorage.setItem(KEPT_TAPS, JSON.stringify(list));
    inMemory = null;
  } catch {
    inMemory = list; // while the page is open
  }
}

function say(words, style) {
  answerLine.textContent = words;
  answerLine.classList.toggle("refused", style === "refused");
  answerLine.classList.toggle("waits", style === "waits");
  takeBack.hidden = !keptTaps().some((tap) => tap.here === here && tap.id !== firstTried);
}

const called = (tap) => (tap.here === here ? tap.said : `${tap.said} (${tap.of})`);
const drop = (tap) => keepTaps(keptTaps().filter((other) => other.id !== tap.id));
const clockOf = (ms) => new Date(ms).toTimeString().slice(0, 5);

function sayWaiting(why) {
  firstTried = "";
  const [tap] = keptTaps();
  if (tap !== undefined) say(`${called(tap)}: not sent yet, waits for the ${why}.`, "waits");
}

// What needs a reason stays open without one, with what was chosen there.
function lacksReason(button) {
  const sheet = button.closest("[data-needs-reason]");
  if (sheet === null) return false;
  const fields = [...sheet.querySelectorAll("input")];
  const given = fields.some((field) => (field.type === "radio" ? field.checked : field.value.trim() !== ""));
  const line = sheet.querySelector(".lacks");
  line.hidden = given;
  if (!given) line.scrollIntoView({ block: "nearest" });
  return !given;
}

// Whoever has an alert can give it back, and anybody else can take it over: the gateway refuses the other of each.
function showToHolder() {
  for (const button of taps.querySelectorAll("[data-holder]")) button.hidden = button.dataset.holder !== who;
  for (const button of taps.querySelectorAll("[data-not-holder]")) button.hidden = button.dataset.notHolder === who;
}

const deedOf = (path, fields) => `${path} ${[...fields].filter(([name]) => name !== "tap").join("&")}`;

function tapped(button) {
  if (performance.now() - lastAt < TWICE_MS || lacksReason(button)) return;
  for (const open of document.querySelectorAll("[popover]")) if (open.matches(":popover-open")) open.hidePopover();
  const list = keptTaps();
  if (list.length >= MOST_TAPS) {
    say("Too much waits to be sent already: call instead.", "refused");
    return;
  }
  const fields = new URLSearchParams(new FormData(taps, button));
  const path = new URL(button.formAction).pathname;
  const last = list.findLast((tap) => tap.here === here);
  if (last !== undefined && deedOf(last.path, new URLSearchParams(last.fields)) === deedOf(path, fields)) return; // under way
  lastAt = performance.now();
  const id = newTap();
  fields.set("tap", id);
  firstTried = id;
  const of = document.querySelector("h1").textContent;
  keepTaps([...list, { id, here, of, path, by: who, said: button.dataset.said, fields: fields.toString(), at: Date.now() }]);
  say(`${button.dataset.said}: being sent...`, "waits");
  waitMs = FIRST_WAIT_MS;
  void sendAll();
}

// What came of it: true where the gateway has answered, so that it need not be sent again.
async function sent(tap) {
  const headers = { Accept: "application/json", "Content-Type": "application/x-www-form-urlencoded", "X-Sinkside": token };
  const response = await fetch(tap.path, { method: "POST", headers, body: tap.fields, signal: AbortSignal.timeout(PATIENCE_MS) });
  const body = await response.json();
  wasSignedOut ||= response.status === NOT_SIGNED_IN;
  if (wasSignedOut && [NOT_SIGNED_IN, FORBIDDEN].includes(response.status)) throw new SignedOut();
  if (response.status >= 500 || response.status === 429) return false;
  drop(tap);
  const late = Date.now() - tap.at > 60000 ? `, tapped at ${clockOf(tap.at)}` : "";
  if (response.ok) say(`${called(tap)}: sent${late}. ${body.said}`, "sent");
  else say(`${called(tap)}: refused. ${body.error}`, "refused");
  return true;
}

async function sendAll() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  try {
    for (let [tap] = keptTaps(); tap !== undefined; [tap] = keptTaps()) {
      if (Date.now() - tap.at > STALE_MS) {
        drop(tap);
        say(`${called(tap)}: not sent, for it is more than 10 minutes old. Answer again if it still holds.`, "refused");
      } else if (tap.by !== who) {
        drop(tap);
        say(`${called(tap)}: not sent, for it was tapped by ${tap.by}. Answer for yourself.`, "refused");
      } else if (!(await sent(tap))) {
        sayWaiting("gateway");
        break;
      }
    }
  } catch (error) {
    sayWaiting(error instanceof SignedOut ? "person: signed out, sign in again and open this page anew" : "network");
  }
  sending = false;
  if (keptTaps().length > 0) {
    timer = setTimeout(() => void sendAll(), waitMs);
    waitMs = Math.min(LONGEST_WAIT_MS, waitMs * 2);
  }
}

taps.addEventListener("submit", (event) => {
  event.preventDefault();
  if (event.submitter !== null) tapped(event.submitter);
});
takeBack.addEventListener("click", () => {
  keepTaps(keptTaps().filter((tap) => tap.here !== here));
  say("Taken back: it is not sent any more. Had it arrived all the same, what stands above says so.", "sent");
});
// How an alert ended stands in the record, and not in the picture that keeps the page live.
async function showEnd() {
  const over = document.querySelector("[data-end]");
  if (over === null) return;
  try {
    const response = await fetch(over.dataset.end);
    if (response.ok) over.innerHTML = ours.createHTML(await response.text());
  } catch {
    // What stands there already is true, and says where the record is.
  }
}

const shown = document.getElementById("alert");
new MutationObserver(showEnd).observe(shown, { childList: true });
void showEnd();
const deeds = document.getElementById("go");
if (deeds !== null) {
  new MutationObserver(showToHolder).observe(deeds, { childList: true });
  showToHolder();
}
if (taps.dataset.opened !== undefined) {
  // That a link was opened tells whoever asks that the message was read; it is no answer, and not worth trying twice.
  fetch(taps.dataset.opened, { method: "POST", headers: { "X-Sinkside": "1" }, body: new URLSearchParams() }).catch(() => {});
}
addEventListener("online", () => void sendAll());
if (keptTaps().length > 0) {
  sayWaiting("network");
  void sendAll();
}

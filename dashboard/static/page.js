// Keeps a page live: swaps regions, carries on clock, countdowns and glasses, and says plainly when the picture is stale.
"use strict";

const SILENT_MS = 5000; // two beats of 2 s missed (dashboard/stream.py)
const OLD_PICTURE_MS = 12000; // a gateway that has much to take in may renew its picture late, and still speaks
const MISSED_BEAT_MS = 2500; // one beat missed: it is the gateway that is silent, not only its picture that is old
const RETRY_MS = 3000;
const WHOLE_MS = 10000; // longer no wall waits for what is still on its way
const SIGNED_OUT = 401;
const KEPT = " What you have filled in is not lost: send it, and you are asked to sign in first.";
const sheet = document.getElementById("sheet");
const cut = document.getElementById("cut");
const cutWhy = document.getElementById("cut-why");
const renewal = document.querySelector("meta[http-equiv=refresh]"); // of a wall, until all that it is made of has come

// Times are told by the gateway's clock, carried on by the steady clock of this browser: its wall clock may be wrong.
const gateway = {
  nowMs: Number(document.body.dataset.nowMs),
  heardAt: performance.now(),
  heardWall: Date.now(),
  offsetMs: null,
  pictureAgeMs: 0,
};
let source = null;
let refusal = ""; // why the gateway gives this page no stream, in its own words
let signedOut = null; // what is said once whoever looks may not any more

const gatewayNow = () => gateway.nowMs + (performance.now() - gateway.heardAt);
const two = (number) => String(number).padStart(2, "0");

function clockText(ms) {
  const local = new Date(ms + gateway.offsetMs);
  return `${two(local.getUTCHours())}:${two(local.getUTCMinutes())}:${two(local.getUTCSeconds())}`;
}

function runningText(ms) {
  const seconds = Math.max(0, Math.ceil(ms / 1000));
  if (seconds < 6000) return `${two(Math.floor(seconds / 60))}:${two(seconds % 60)}`;
  return `${Math.floor(seconds / 3600)} h ${two(Math.floor((seconds % 3600) / 60))}`;
}

function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// Not done before the gateway says so: a reading must show that the temperature held to the end.
function showUnconfirmed(figure) {
  figure.className = "big";
  setText(figure, "Unconfirmed");
  setText(figure.parentElement.querySelector(".line:not(.dipped)"), "waits for a reading");
  figure.closest(".basin").classList.replace("counting", "unconfirmed");
}

function tickFigures(now) {
  for (const figure of document.querySelectorAll(".figure[data-until-ms]")) {
    const leftMs = Number(figure.dataset.untilMs) - now;
    if (leftMs > 0) setText(figure, runningText(leftMs));
    else showUnconfirmed(figure);
  }
  for (const lasting of document.querySelectorAll("[data-since-ms]")) {
    setText(lasting, runningText(1000 * Math.floor((now - Number(lasting.dataset.sinceMs)) / 1000)));
  }
  for (const filled of document.querySelectorAll(".filled[data-until-ms]")) {
    const left = (Number(filled.dataset.untilMs) - now) / Number(filled.dataset.neededMs);
    const height = Math.round(1000 * Math.min(1, Math.max(0, 1 - left))) / 10;
    filled.setAttribute("y", String(100 - height));
    filled.setAttribute("height", String(height));
  }
}

function showStale() {
  // The steady clock may stand still while a display sleeps, the other may be set: the longer silence counts.
  const silentMs = Math.max(performance.now() - gateway.heardAt, Date.now() - gateway.heardWall);
  const pictureAgeMs = gateway.pictureAgeMs + silentMs;
  const stale = silentMs > SILENT_MS || pictureAgeMs > OLD_PICTURE_MS || signedOut !== null;
  const silent = silentMs > MISSED_BEAT_MS;
  const since = gateway.offsetMs === null ? "" : ` since ${clockText(gateway.nowMs - (silent ? 0 : gateway.pictureAgeMs))}`;
  if (signedOut !== null) setText(cutWhy, signedOut);
  else if (stale) setText(cutWhy, silent ? refusal || `Nothing heard from the gateway${since}.` : `The gateway has not renewed its picture${since}.`);
  cut.hidden = !stale;
  cut.classList.toggle("signed-out", signedOut !== null);
  sheet.classList.toggle("stale", stale);
  return stale;
}

function tick() {
  const stale = showStale();
  const now = gatewayNow();
  if (!stale) {
    tickFigures(now);
    if (gateway.offsetMs !== null) {
      for (const element of document.querySelectorAll("[data-clock]")) setText(element, clockText(now));
    }
  }
  setTimeout(tick, Math.min(250, 1000 - (now % 1000) + 5));
}

function onBeat(event) {
  const beat = JSON.parse(event.data);
  if ((document.body.dataset.edition ?? beat.edition) !== beat.edition) {
    location.reload(); // the program was updated, and this page was made by the one before
    return;
  }
  refusal = "";
  gateway.nowMs = beat.now_ms;
  gateway.offsetMs = beat.offset_ms;
  gateway.pictureAgeMs = beat.age_ms;
  gateway.heardAt = performance.now();
  gateway.heardWall = Date.now();
}

function onRegion(event) {
  const region = JSON.parse(event.data);
  const element = document.getElementById(region.id);
  if (element === null) {
    location.reload(); // the site has changed: this page was made for another one
    return;
  }
  const fresh = document.createElement("template");
  fresh.innerHTML = ours.createHTML(region.html);
  if (fresh.innerHTML === element.innerHTML) return; // else a screen reader says it again whenever the stream begins
  const opened = new Map(Array.from(element.querySelectorAll("details[id]"), (one) => [one.id, one.open]));
  element.replaceChildren(fresh.content);
  for (const one of element.querySelectorAll("details[id]")) one.open = opened.get(one.id) ?? one.open;
  tickFigures(gatewayNow());
}

// Nobody may look any more: the picture is out of date from now on, and waiting for the network helps nothing.
function showSignedOut(said, signIn) {
  source.close();
  signedOut = said;
  showStale();
  if (signIn === "") return; // a wall display, at which nobody types a password
  if (document.querySelector("main form[method=post]:not(#taps)") !== null) setText(cutWhy, (signedOut += KEPT));
  const way = document.createElement("a");
  way.href = `${signIn}?${new URLSearchParams({ next: location.pathname + location.search })}`;
  way.textContent = "Sign in";
  if (signedOut.endsWith(KEPT)) {
    // What is filled in stays on this page, and is asked about once it is sent from here.
    way.target = "_blank";
    way.textContent = "Sign in, in a new tab";
  }
  cutWhy.after(" ", way);
  way.focus();
}

function onEnded(event) {
  const { said, sign_in: signIn } = JSON.parse(event.data);
  showSignedOut(said, signIn);
}

// An EventSource does not tell what it was answered.
async function askWhy() {
  try {
    const answer = await fetch(document.body.dataset.stream, { headers: { Accept: "application/json" } });
    refusal = answer.ok ? "" : ((await answer.json()).error ?? "");
    if (answer.ok) await answer.body.cancel();
    if (answer.status === SIGNED_OUT) showSignedOut(refusal, "/sign-in");
  } catch {
    refusal = "";
  }
}

function connect() {
  source = new EventSource(document.body.dataset.stream);
  source.addEventListener("beat", onBeat);
  source.addEventListener("region", onRegion);
  source.addEventListener("ended", onEnded);
  source.onerror = () => {
    // The browser resumes a stream that broke; one that was refused (no place left, gateway gone) it gives up.
    if (source.readyState !== EventSource.CLOSED || signedOut !== null) return;
    void askWhy();
    setTimeout(connectAgain, RETRY_MS);
  };
}

function connectAgain() {
  if (signedOut === null) connect();
}

// Each script of a wall marks itself once it ran; a style sheet that could not be fetched has no rules.
function isWhole() {
  const sheets = document.querySelectorAll("link[rel=stylesheet]");
  return document.querySelector("script:not([data-ran])") === null && Array.from(sheets).every((link) => link.sheet?.cssRules.length > 0);
}

// A wall of which a part is missing stays as it is until it renews itself. Only stop() ends a renewal that is due, and
// with it all that is being fetched: so nothing is asked for before.
function begin() {
  if (source !== null || (renewal !== null && !isWhole())) return;
  if (renewal !== null) {
    stop();
    renewal.remove();
  }
  document.documentElement.classList.add("alive"); // without it nothing is called live (base.css)
  connect();
  tick();
}

document.currentScript.dataset.ran = "";
if (renewal === null) begin();
else {
  addEventListener("load", begin);
  setTimeout(begin, WHOLE_MS); // something may hang that it can do without
}

// Lets the most urgent alert that nobody has answered be heard: one burst after another, until it is answered or paused.
// Whether the browser plays at all is its own decision: where it does not, the wall says so.
"use strict";

const LOOK_MS = 200;
const AGAIN_MS = 5000;
const page = document.documentElement;
const speaker = new AudioContext();
const bursts = new Map(); // priority -> one burst and the rest after it
let playing = null;

// What is to be heard now: nothing while the picture is not live, for nobody could end it, nor while it is paused.
function wanted() {
  const line = document.querySelector(".sound");
  const paused = line !== null && gatewayNow() < Number(line.dataset.pausedUntilMs);
  return line === null || paused || sheet.classList.contains("stale") ? "" : line.dataset.priority;
}

function hush() {
  if (playing !== null) playing.stop();
  playing = null;
}

function play(priority) {
  hush();
  const source = new AudioBufferSourceNode(speaker, { buffer: bursts.get(priority), loop: true });
  source.connect(speaker.destination);
  source.start();
  playing = source;
}

function look() {
  const may = speaker.state === "running" && bursts.size === 3;
  const now = may ? wanted() : "";
  if (now !== page.dataset.heard) {
    if (now === "") hush();
    else play(now);
    page.dataset.heard = now;
  }
  page.classList.toggle("audible", may);
}

async function fetched(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  return speaker.decodeAudioData(await answer.arrayBuffer());
}

async function prepare() {
  try {
    for (const link of document.querySelectorAll("link[data-burst]")) {
      if (!bursts.has(link.dataset.burst)) bursts.set(link.dataset.burst, await fetched(link.href));
    }
  } catch {
    setTimeout(prepare, AGAIN_MS); // until then the wall says that it has no sound
  }
  look();
}

page.dataset.heard = "";
speaker.addEventListener("statechange", look);
for (const touch of ["pointerdown", "keydown"]) document.addEventListener(touch, () => void speaker.resume());
new MutationObserver(look).observe(document.querySelector(".needs"), { childList: true });
setInterval(look, LOOK_MS);
addEventListener("load", () => void prepare()); // not before: page.js stops whatever is being fetched until then
document.currentScript.dataset.ran = ""; // page.js

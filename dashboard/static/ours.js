// The one door through which HTML gets into a page (Trusted Types): what our own gateway has drawn, and nothing else.
"use strict";

const asItIs = { createHTML: (html) => html };
const ours = globalThis.trustedTypes?.createPolicy("sinkside", asItIs) ?? asItIs;
document.currentScript.dataset.ran = ""; // page.js

// What is sent under one such id counts once. No crypto.randomUUID: a page without TLS, as on many a ward's network, has
// none.
function newTap() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (octet) => octet.toString(16).padStart(2, "0")).join("");
}

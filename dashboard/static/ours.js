// The one door through which HTML gets into a page (Trusted Types): what our own gateway has drawn, and nothing else.
"use strict";

const asItIs = { createHTML: (html) => html };
const ours = globalThis.trustedTypes?.createPolicy("sinkside", asItIs) ?? asItIs;
document.currentScript.dataset.ran = ""; // page.js

// On a phone the sensors that are well stay folded, so that what needs a look is not a long way off.
"use strict";

if (matchMedia("(max-width: 40rem)").matches) document.getElementById("well").open = false;

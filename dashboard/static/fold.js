// On a phone what need not be seen at first stays folded, so that what needs a look is not a long way off.
"use strict";

if (matchMedia("(max-width: 40rem)").matches) {
  for (const part of document.querySelectorAll("details[data-fold]")) part.open = false;
}

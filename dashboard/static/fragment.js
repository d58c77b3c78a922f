// Takes a secret from behind the # of the address into the form, and out of the address bar and the history; then sends
// it, for it is nothing that anybody would type.
"use strict";

const taking = document.querySelector("[data-fragment]");
const secret = location.hash.slice(1);

if (secret !== "" && taking.elements[taking.dataset.fragment].type !== "hidden") {
  history.replaceState(null, "", location.pathname);
  taking.elements[taking.dataset.fragment].value = secret;
  taking.submit();
}

// Takes a secret from behind the # of the address into the form, and out of the address bar and the history; then sends
// it, for it is nothing that anybody would type.
"use strict";

const taking = document.querySelector("[data-fragment]");
const field = taking.elements[taking.dataset.fragment];

function take() {
  const secret = location.hash.slice(1);
  if (secret === "" || field.type === "hidden") return;
  history.replaceState(null, "", location.pathname);
  field.value = secret;
  taking.submit();
}

take();
addEventListener("hashchange", take); // an address that was pasted over this one fetches no new page

// Sends an acknowledgement, and says what came of it.
"use strict";

const answer = document.getElementById("answer");

async function acknowledge(button) {
  const name = who.value.trim();
  if (name === "") {
    answer.textContent = "Write your name first: it is kept with the acknowledgement.";
    who.focus();
    return;
  }
  button.disabled = true;
  answer.textContent = "Being written down...";
  answer.textContent = await sent(button.dataset.alert, name);
  button.disabled = false;
}

async function sent(alert, name) {
  try {
    const response = await fetch("/api/acknowledge", {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-Sinkside": "1" },
      body: JSON.stringify({ alert, who: name }),
    });
    const body = await response.json();
    if (!response.ok) return body.error;
    keep(name);
    showWho(name);
    return "Acknowledged, and written down.";
  } catch {
    return "The gateway did not answer. Try again, unless the alert says by then who has seen it.";
  }
}

form.addEventListener("submit", (event) => event.preventDefault());
document.getElementById("alerts").addEventListener("click", (event) => {
  if (event.target instanceof HTMLButtonElement) void acknowledge(event.target);
});

// Sends an acknowledgement and says what came of it.
"use strict";

const who = document.getElementById("who");
const answer = document.getElementById("answer");

async function acknowledge(button) {
  if (who.value.trim() === "") {
    answer.textContent = "Write your name first: it is kept with the acknowledgement.";
    who.focus();
    return;
  }
  button.disabled = true;
  answer.textContent = "Being written down...";
  answer.textContent = await sent(button.dataset.alert, who.value.trim());
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
    return response.ok ? "Acknowledged, and written down." : body.error;
  } catch {
    return "The gateway did not answer: nothing is acknowledged. Try again.";
  }
}

document.getElementById("who-form").addEventListener("submit", (event) => event.preventDefault());
document.getElementById("alerts").addEventListener("click", (event) => {
  if (event.target instanceof HTMLButtonElement) void acknowledge(event.target);
});

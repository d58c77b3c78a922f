// Counts beside the form how many settings it asks for; the server counts for itself.
"use strict";

const shown = document.getElementById("settings");

function number(form, name) {
  const text = form.get(name).trim().replace(",", ".");
  return text === "" ? NaN : Number(text);
}

function valuesOf(form, figure) {
  const first = number(form, `from:${figure}`);
  const last = number(form, `to:${figure}`);
  const step = number(form, `step:${figure}`);
  if (Number.isNaN(first)) return 0;
  if (Number.isNaN(last) || last === first) return 1;
  return step > 0 && last > first ? Math.floor((last - first) / step + 1e-9) + 1 : 0;
}

function count() {
  const form = new FormData(shown.closest("form"));
  const figures = [...form.keys()].filter((name) => name.startsWith("from:")).map((name) => name.slice("from:".length));
  const each = figures.map((figure) => valuesOf(form, figure)).filter((values) => values > 0);
  const settings = each.reduce((product, values) => product * values, 1);
  shown.textContent = each.length ? `As filled in: ${settings.toLocaleString("en")} ${settings === 1 ? "setting" : "settings"}.` : "";
}

shown.closest("form").addEventListener("input", count);
count();

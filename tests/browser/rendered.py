"""What is measured on a rendered page: text, its height, its contrast, and what overflows."""

from dataclasses import dataclass
from typing import Any

# For each text that is visible: its words, colour, the colour behind it, its font, and the height of its capitals in px
# (measured on a canvas with the same font: the ascent of 'H').
_TEXTS = """(within) => {
  const measure = document.createElement("canvas").getContext("2d");
  const found = [];
  const walker = document.createTreeWalker(document.querySelector(within), NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const words = walker.currentNode.textContent.trim();
    const element = walker.currentNode.parentElement;
    if (!words || element.closest("svg, script, noscript, .unseen")) continue;
    if (!element.checkVisibility({checkVisibilityCSS: true})) continue;
    const style = getComputedStyle(element);
    let behind = element;
    while (behind && getComputedStyle(behind).backgroundColor === "rgba(0, 0, 0, 0)") behind = behind.parentElement;
    measure.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const capital = measure.measureText("H").actualBoundingBoxAscent;
    const background = behind ? getComputedStyle(behind).backgroundColor : "rgb(255, 255, 255)";
    found.push({words, color: style.color, background, capital, where: element.className || element.tagName});
  }
  return found;
}"""

# Elements whose content is wider or taller than they are, or that reach out of the screen.
_OVERFLOWS = """() => {
  const bad = [];
  document.body.dataset.shift = "0"; // a wall moves by a few pixels now and then
  for (const element of document.querySelectorAll("#sheet *")) {
    if (element.closest("svg, .unseen") || element.matches(".panel")) continue;
    const box = element.getBoundingClientRect();
    if (!box.width || getComputedStyle(element).display === "inline") continue;
    const name = `${element.tagName}.${element.className} ${element.textContent.trim().slice(0, 40)}`;
    if (element.scrollWidth > element.clientWidth + 1) bad.push(`too wide: ${name}`);
    const section = element.closest("section");
    if (section && box.bottom > section.getBoundingClientRect().bottom + 1) bad.push(`too low: ${name}`);
    const cell = element.closest(".basin, .cart, .others, .flag");
    if (cell && box.bottom > cell.getBoundingClientRect().bottom + 1) bad.push(`too low for its place: ${name}`);
    if (box.right > innerWidth + 1 || box.bottom > innerHeight + 1) bad.push(`off the screen: ${name}`);
  }
  const walker = document.createTreeWalker(document.getElementById("sheet"), NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const within = walker.currentNode.parentElement.closest(".flag, .basin, .cart, .others, section, .caution");
    if (!walker.currentNode.textContent.trim() || walker.currentNode.parentElement.closest("svg, .unseen")) continue;
    const range = document.createRange();
    range.selectNodeContents(walker.currentNode);
    const text = range.getBoundingClientRect(), place = within.getBoundingClientRect();
    const words = walker.currentNode.textContent.trim();
    if (!text.width) continue;
    if (text.right > place.right + 1 || text.left < place.left - 1) bad.push(`text out of its place: ${words}`);
  }
  const root = document.documentElement;
  if (root.scrollHeight > innerHeight || root.scrollWidth > innerWidth) bad.push("the page scrolls");
  return bad;
}"""

# Cells of one row that lie over each other.
_OVERLAPS = """() => {
  const bad = [];
  const lines = [...document.querySelectorAll(
    ".words > *, .cart > *, .flag > *, .others > *, .rest, .caution, .told, .due-band")];
  const boxes = lines.map((line) => {
    const range = document.createRange();
    range.selectNodeContents(line);
    return [line, range.getBoundingClientRect()];
  }).filter(([line, box]) => box.width && !line.matches(".pegs"));
  for (const [a, first] of boxes) for (const [b, second] of boxes) {
    if (a === b || a.parentElement === b.parentElement) continue;
    const across = Math.min(first.right, second.right) - Math.max(first.left, second.left);
    const down = Math.min(first.bottom, second.bottom) - Math.max(first.top, second.top);
    if (across > 1 && down > 12) bad.push(`${a.textContent.trim()} / ${b.textContent.trim()}`);
  }
  return bad;
}"""


_AXE = """async (rules) => {
  const found = await axe.run(document, {runOnly: rules, resultTypes: ["violations"]});
  return found.violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${n.target.join(" ")}: ${n.failureSummary}`));
}"""

ALL_RULES = {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
"""Of axe-core for WCAG 2.2, levels A and AA."""

CONTRAST = {"type": "rule", "values": ["color-contrast"]}
"""Of all the rules only that of contrast looks at colours."""

SILENT_MS = 6000
"""After so long without a word of the gateway a page says that it is not live (page.js)."""


@dataclass(frozen=True)
class Text:
    """A visible text; capital_px: height of its capital letters."""

    words: str
    color: str
    background: str
    capital_px: float
    where: str

    @property
    def contrast(self) -> float:
        """Contrast ratio after WCAG 2.2, 1.4.3."""
        darker, lighter = sorted((luminance(self.color), luminance(self.background)))
        return (lighter + 0.05) / (darker + 0.05)


def texts(page: Any, within: str = "body") -> list[Text]:
    """Every visible text of the page, or of the first element that the selector finds."""
    return [
        Text(t["words"], t["color"], t["background"], t["capital"], t["where"]) for t in page.evaluate(_TEXTS, within)
    ]  # fmt: skip


def broken_rules(page: Any, rules: dict[str, object]) -> list[str]:
    """Where the page breaks such rules, in the words of axe-core."""
    from axe_playwright_python.base import AXE_SCRIPT  # noqa: PLC0415 - only where it is there

    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    found: list[str] = page.evaluate(_AXE, rules)
    return found


def overflows(page: Any) -> list[str]:
    """What does not fit, in words; empty when all does."""
    return [*page.evaluate(_OVERFLOWS), *page.evaluate(_OVERLAPS)]


def luminance(color: str) -> float:
    """Relative luminance of an opaque ``rgb(r, g, b)`` after WCAG 2.2."""
    red, green, blue = (_linear(int(part) / 255) for part in color.removeprefix("rgb(").removesuffix(")").split(","))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4

"""Which texts of a site's own rules the wall has no room for: said before it has to leave out their middle."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dashboard.measure import BOLD, PLAIN, Face, lines
from dashboard.panel import PANELS
from rules.board import FACTS, Fact
from rules.rule import Rule
from rules.site import Basin, Cart, Probe, Site


@dataclass(frozen=True, slots=True)
class _Lines:
    """So many lines of that width in a face."""

    count: int
    width_ems: float
    face: Face

    def holds(self, text: str) -> bool:
        return lines(text, self.width_ems, self.face) <= self.count

    def letters(self, text: str) -> int:
        """How many of its letters fit."""
        return next((kept for kept in range(len(text), 0, -1) if self.holds(text[:kept].rstrip())), 0)


_TEXT = tuple(_Lines(panel.text_lines - 1, panel.text_ems, BOLD) for panel in PANELS)
"""With one line less than a wall has room for where little else stands on it."""

_ADVICE = tuple(_Lines(panel.under_lines, panel.under_ems, PLAIN) for panel in PANELS)


def room_warnings(site: Site) -> Iterator[str]:
    """A sentence for each text, and each first sentence of an advice, of which a wall would show the ends alone."""
    names = _longest_names(site)
    for rule in site.rule:
        facts = {**FACTS[rule.watches], **names.get(rule.watches.value, {})}
        yield from _too_long(rule, "text", rule.text.format_map(facts), _TEXT)
        first = rule.advice.format_map(facts).replace(". ", ".\n").partition("\n")[0]
        yield from _too_long(rule, "advice", first, _ADVICE)


def _too_long(rule: Rule, key: str, filled: str, rooms: tuple[_Lines, ...]) -> Iterator[str]:
    if all(room.holds(filled) for room in rooms):
        return
    room = min(room.letters(filled) for room in rooms)
    what, rest = ("it", "put the rest into 'advice'") if key == "text" else ("its first sentence", "divide it")
    yield (
        f"rule '{rule.id}', key '{key}': a busy wall has room for some {room} letters of {what}, which has"
        f" {len(filled)} with the longest name, and leaves out the middle of what is longer; say it in fewer, or"
        f" {rest}."
    )


def _longest_names(site: Site) -> Mapping[str, Mapping[str, Fact]]:
    """By what a rule watches."""
    things: Mapping[str, Sequence[Basin | Cart | Probe]] = {
        "basin": site.basin,
        "soak": site.basin,
        "cart": site.cart,
        "probe": site.probe,
    }
    return {kind: {"name": max((thing.name for thing in found), key=len)} for kind, found in things.items() if found}

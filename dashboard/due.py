"""What is due soon on the wall: solutions that end, strips, wipe-downs, gel, storage times, soaks to be claimed.

What needs a person now stands among the alerts, and beside its basin or cart; this is what comes next, with its hour.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from dashboard.measure import BOLD, PLAIN, shortened
from dashboard.panel import Panel
from dashboard.solution import Standing, solution_view
from dashboard.words import counted, hour
from gateway.when import local
from rules.picture import BasinPicture, CartPicture, Picture, ProbePicture
from rules.readings import DAY, SECOND, Micros

SOON = DAY
"""So far ahead is told (ours): who comes for the next shift sees what it will ask for."""

LINE_PX, RULE_PX = 54, 3
"""Heights on the wall in px of a 1920x1080 panel."""

OVERDUE = "Overdue"
"""Not the word of an alert: nobody is called for it."""

_BETWEEN_EMS = 1.0
_HEADING_EMS = 3.4
"""With what the faces are broader than reckoned."""
_NAME_EMS = 7.0


@dataclass(frozen=True, slots=True)
class DueItem:
    """What is due; when: the hour, or what it is due before. late: its time has come."""

    when: str
    what: str
    late: bool

    @property
    def ems(self) -> float:
        """Its width on a line."""
        return BOLD.ems(self.when) + PLAIN.ems(f" {self.what}")


@dataclass(frozen=True, slots=True)
class DueView:
    """What is due in its order, and how much more there is; quiet: said where there is nothing."""

    items: tuple[DueItem, ...]
    rest: str
    quiet: str
    height_px: int


@dataclass(frozen=True, slots=True, order=True)
class _Due:
    """At that time something is to be done: kind: what, 'wipe down'; of: one of the many, 'carts'; name: which.

    when: said in place of the hour.
    """

    at: Micros
    kind: str
    many: str
    name: str = field(compare=False)
    when: str = ""


def follows(picture: Picture) -> bool:
    """Whether the site lets anything be followed that can fall due."""
    recorded = any(basin.solution.recorded for basin in picture.basins)
    cared = any(cart.care.wipes_followed or cart.care.gel is not None for cart in picture.carts)
    return recorded or cared or bool(picture.probes)


def due_view(picture: Picture, now: Micros, zone: ZoneInfo, panel: Panel) -> DueView | None:
    """What is due within ``SOON``; None where the site follows nothing that falls due."""
    if not follows(picture):
        return None
    items = _items(sorted(_all(picture, now, zone)), now, zone)
    if not items:
        return DueView((), "", _quiet(picture), LINE_PX + RULE_PX)
    shown = next(n for n in range(len(items), -1, -1) if _rows(items, n, panel) <= panel.due_lines)
    height = LINE_PX * _rows(items, shown, panel) + RULE_PX
    return DueView(tuple(items[:shown]), _rest(items[shown:]), "", height)


def _quiet(picture: Picture) -> str:
    """That nothing is due, unless something may be that is not known."""
    if not picture.hearing and any(cart.care.wipes_followed for cart in picture.carts):
        return "Wipe-downs not known: no sensor heard."
    return "Nothing within 24 hours, by what is entered."


def _all(picture: Picture, now: Micros, zone: ZoneInfo) -> Iterator[_Due]:
    """Whatever has an hour; what is due already has the present one."""
    for basin in picture.basins:
        yield from _of_solution(basin, now, zone)
    for cart in picture.carts:
        yield from _of_cart(cart, now, zone, hearing=picture.hearing)
    for probe in picture.probes:
        yield from _of_probe(probe, now)
    names = {basin.id: basin.name for basin in picture.basins}
    for soak in picture.unclaimed:
        if now <= soak.claim_by < now + SOON:
            yield _Due(soak.claim_by, "say which probe soaked in", "basins", names.get(soak.basin, soak.basin))


def _of_solution(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> Iterator[_Due]:
    if not basin.solution.recorded:
        return
    end, view = basin.solution.clocks.until, solution_view(basin, now, zone)
    if view.standing is Standing.DUE:
        yield _Due(Micros(now + 1), "strip in", "basins", basin.name, "Before a soak")
    if end is not None and now < end < now + SOON:
        yield _Due(end, "solution ends in", "basins", basin.name)


def _of_cart(cart: CartPicture, now: Micros, zone: ZoneInfo, *, hearing: bool) -> Iterator[_Due]:
    """While no sensor is heard nobody knows whether a button told of a wipe-down."""
    care = cart.care
    due = now if care.wipe_due_since is not None else care.wipe_due_next
    if hearing and due is not None and due < now + SOON:
        yield _Due(due, "wipe down", "carts", cart.name)
    if care.gel is not None and (ends := _start_of(care.gel.discard_on, zone)) < now + SOON:
        yield _Due(max(ends, now), "new gel for", "carts", cart.name)


def _of_probe(probe: ProbePicture, now: Micros) -> Iterator[_Due]:
    end = probe.standing.ready_until
    if end is not None and now < end < now + SOON:
        yield _Due(end, "no longer ready:", "probes", probe.name)


def _start_of(day: date, zone: ZoneInfo) -> Micros:
    return Micros(int(datetime.combine(day, time(), zone).timestamp()) * SECOND)


def _items(due: Sequence[_Due], now: Micros, zone: ZoneInfo) -> list[DueItem]:
    """One for each kind and hour: by name where it is one, else counted."""
    together: dict[tuple[str, str, str], list[_Due]] = {}
    for one in due:
        when = one.when or (OVERDUE if one.at <= now else _when(one.at, now, zone))
        together.setdefault((when, one.kind, one.many), []).append(one)
    return [
        DueItem(when, f"{kind} {_named(of)}", late=of[0].at <= now and not of[0].when)
        for (when, kind, _), of in together.items()
    ]


def _named(of: Sequence[_Due]) -> str:
    if len(of) > 1:
        return f"{len(of)} {of[0].many}"
    return shortened(of[0].name, _NAME_EMS, 1, PLAIN)


def _when(at: Micros, now: Micros, zone: ZoneInfo) -> str:
    then = local(at, zone)
    return hour(at, zone) if then.date() == local(now, zone).date() else f"{then:%a} {hour(at, zone)}"


def _rows(items: Sequence[DueItem], shown: int, panel: Panel) -> int:
    """How many lines so many of them take, and the words about the rest."""
    widths = [item.ems for item in items[:shown]]
    if rest := _rest(items[shown:]):
        widths.append(PLAIN.ems(rest))
    rows, used = 1, 0.0
    for width in widths:
        if used and used + _BETWEEN_EMS + width > panel.line_ems - _HEADING_EMS:
            rows, used = rows + 1, 0.0
        used += width + (_BETWEEN_EMS if used else 0)
    return rows


def _rest(left: Sequence[DueItem]) -> str:
    """The first hour tells how soon."""
    if not left:
        return ""
    late, more = sum(item.late for item in left), counted(len(left), "more thing")
    return f"{more}, {late} overdue" if late else f"{more} from {left[0].when}"

"""What the page of the load on people shows: figures beside their targets, and how they are drawn."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dashboard.plots import Bar, Columns, bars, day_columns, slot_columns
from gateway.load_figures import Figure, Meets, alert_figures, page_figures, percent
from gateway.load_log import RecordedLoad
from gateway.load_told import headline
from rules.alert_load import Answers, Often
from rules.page_load import RoleLoad

_SIGNS = {Meets.WITHIN: "met", Meets.MANAGEABLE: "open", Meets.ABOVE: "short", Meets.UNTOLD: ""}

_MINUTE, _HOUR = 60, 3600
ANSWERED_WITHIN = (
    (_MINUTE, "within 1 min"),
    (2 * _MINUTE, "1 to 2 min"),
    (5 * _MINUTE, "2 to 5 min"),
    (10 * _MINUTE, "5 to 10 min"),
    (30 * _MINUTE, "10 to 30 min"),
    (_HOUR, "30 to 60 min"),
    (float("inf"), "more than 1 h"),
)
"""Times to an answer are drawn in these steps (ours)."""


@dataclass(frozen=True, slots=True)
class ShownFigure:
    """A figure in words; target, meets: '' where there is none. sign: the shape beside ``meets``."""

    name: str
    said: str
    target: str
    meets: str
    sign: str


@dataclass(frozen=True, slots=True)
class RolePlot:
    """Pages of each day to one role, on the same scale as those of the other roles; None where there were none."""

    name: str
    columns: Columns | None


@dataclass(frozen=True, slots=True)
class LoadView:
    """headline: of what time it is and what is to be known first. slots: alerts over time."""

    headline: tuple[str, ...]
    alerts: tuple[ShownFigure, ...]
    pages: tuple[ShownFigure, ...]
    slots: Columns
    roles: tuple[RolePlot, ...]
    top: tuple[Bar, ...]
    answers: tuple[Bar, ...]


def load_view(found: RecordedLoad) -> LoadView:
    """Everything that is shown."""
    load = found.load
    slots = slot_columns(load.slots, load.alerts.rates.per_ten_minutes, load.stretch, found.zone)
    return LoadView(
        headline=tuple(headline(found)),
        alerts=_shown(alert_figures(load.alerts)),
        pages=_shown(page_figures(load.pages)),
        slots=slots,
        roles=_role_plots(found, load.roles),
        top=bars([_often(found, one) for one in load.alerts.top]),
        answers=answer_bars(load.alerts.answers),
    )


def _often(found: RecordedLoad, one: Often) -> tuple[str, int, str]:
    return f"{one.rule}, {found.subject(one.subject)}", one.count, f"{one.count}, {percent(one.share)}"


def _shown(figures: Iterable[Figure]) -> tuple[ShownFigure, ...]:
    return tuple(ShownFigure(one.name, one.said, one.target, one.meets.value, _SIGNS[one.meets]) for one in figures)


def _role_plots(found: RecordedLoad, roles: Sequence[RoleLoad]) -> tuple[RolePlot, ...]:
    highest = max((max(role.pages.by_day, default=0) for role in roles), default=0)
    stretch = found.load.stretch
    return tuple(
        RolePlot(found.name(role.role), day_columns(days, highest, stretch, found.zone) if any(days) else None)
        for role, days in ((role, role.pages.by_day) for role in roles)
    )


def answer_bars(answers: Answers) -> tuple[Bar, ...]:
    """How many were answered within which time, and how many never were."""
    counts, before = [], 0
    for within, name in ANSWERED_WITHIN:
        upto = sum(seconds <= within for seconds in answers.seconds)
        counts.append((name, upto - before))
        before = upto
    counts += [("over before anybody answered", answers.unanswered), ("hidden before", answers.aside)]
    counts.append(("still waiting", answers.waiting))
    return bars([(name, count, str(count)) for name, count in counts])

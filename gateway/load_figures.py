"""The load on people in figures, each beside its target.

Targets are those of ISA-18.2-2016, clause 16.4, and EEMUA 191, 3rd edition, both from secondary sources, and are meant
for what one person has to deal with; where there is none, none is given.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from rules.alert_load import AlertLoad, Answers
from rules.alert_words import PageWhy, Priority
from rules.page_load import Arrival, PageLoad
from rules.rates import MOST_IN_TEN_MINUTES, Rates

SOURCE = "Targets after ISA-18.2 and EEMUA 191 (from secondary sources), meant for what one person has to deal with."

FEW_SHARE = 0.01
"""Of slots with too many, and of time in flood."""

STALE_FEWER_THAN = 5
TOP_SHARE = 0.05
SPLIT = {Priority.HIGH: 0.05, Priority.MEDIUM: 0.15, Priority.LOW: 0.80}

PER_TEN_MINUTES, PER_HOUR, PER_DAY = (1, 2), (6, 12), (144, 288)
"""Averages: very likely to be acceptable, and the most that is manageable."""

_MINUTE, _HOUR = 60, 3600


class Meets(StrEnum):
    """How a figure stands to its target; MANAGEABLE: between what is acceptable and what is too much."""

    WITHIN = "within"
    MANAGEABLE = "manageable"
    ABOVE = "above"
    UNTOLD = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure.

    key: its name for programs. value, unit: as a number, None where there is none. said: in words.
    target: in words, '' where there is none.
    """

    key: str
    name: str
    value: float | None
    unit: str
    said: str
    target: str = ""
    meets: Meets = Meets.UNTOLD


def alert_figures(load: AlertLoad) -> Iterator[Figure]:
    """Of alerts, as people are told of them."""
    yield from _rate_figures(load.rates, "alerts")
    yield from _bunched(load.rates, "alerts")
    yield _none_of(len(load.chattering), "alerts_chattering", "chattering: 3 and more of one alert within 1 min")
    yield _none_of(load.fleeting, "alerts_fleeting", "fleeting: cleared in 30 s, not again within 1 min")
    yield _stale(load)
    yield from _split(load)
    yield _top(load)
    yield _plain("alert_reminders", "reminders, not counted above", load.reminders)
    yield from _answer_figures(load.answers)
    for hidden in load.hidden:
        key = f"hidden_{hidden.state.name.lower()}_hours"
        said = f"{hidden.hours:.1f} h, {times(hidden.count)}"
        yield Figure(key, f"{hidden.state.value}, added up", round(hidden.hours, 3), "h", said)


def page_figures(load: PageLoad) -> Iterator[Figure]:
    """Of pages; test pages are left out."""
    yield from _rate_figures(load.rates, "pages")
    most = max(load.by_day, default=0)
    yield Figure("pages_most_per_day", "most on one day", most, "pages", str(most))
    yield from _bunched(load.rates, "pages")
    yield _per_alert(load)
    share = load.in_time_share
    yield Figure("pages_in_time", "confirmed in time", share, "share", "-" if share is None else percent(share))
    for arrival in (Arrival.LATE, Arrival.FAILED, Arrival.NO_WORD, Arrival.WITHDRAWN):
        yield _plain(f"pages_{arrival.name.lower()}", arrival.value, load.arrivals[arrival])
    for why in load.why:
        yield _plain(f"pages_{why.name.lower()}", _WHYS[why], load.why[why])


_WHYS = {
    PageWhy.FIRST: "of which first pages",
    PageWhy.ESCALATION: "escalations",
    PageWhy.REPEAT: "repeats",
    PageWhy.AGAIN: "asked anew",
    PageWhy.FALLBACK: "over another channel",
    PageWhy.HANDED_OVER: "handed over",
    PageWhy.TAKEN_OVER: "taken over, need not go",
    PageWhy.PASSED_ON: "handed over by others, need not go",
    PageWhy.PUT_ASIDE: "put aside by others, need not go",
    PageWhy.SUMMARY: "summaries",
}


def _rate_figures(rates: Rates, what: str) -> Iterator[Figure]:
    yield _plain(what, what, rates.count)
    for key, name, value, (good, most) in (
        ("per_ten_minutes", "in 10 min, on average", rates.per_ten_minutes, PER_TEN_MINUTES),
        ("per_hour", "in an hour, on average", rates.per_hour, PER_HOUR),
        ("per_day", "in a day, on average", rates.per_day, PER_DAY),
    ):
        target = f"about {good}, {most} at most"
        if value is None:
            yield Figure(f"{what}_{key}", name, None, what, rounded(value), target)
            continue
        meets = Meets.WITHIN if value <= good else Meets.MANAGEABLE if value <= most else Meets.ABOVE
        yield Figure(f"{what}_{key}", name, round(value, 6), what, rounded(value), target, meets)


def _bunched(rates: Rates, what: str) -> Iterator[Figure]:
    share = rates.slots_above / rates.slots if rates.slots else 0.0
    yield Figure(
        f"{what}_slots_above",
        "10-min slots with more than 10",
        share,
        "share",
        f"{rates.slots_above} of {rates.slots}, {percent(share)}",
        "less than 1 %",
        _below(share < FEW_SHARE),
    )
    yield Figure(
        f"{what}_most_in_ten_minutes",
        "most in any 10 min",
        rates.most,
        what,
        str(rates.most),
        "10 at most",
        _below(rates.most <= MOST_IN_TEN_MINUTES),
    )
    yield Figure(
        f"{what}_flood_share",
        "floods, and share of time in them",
        rates.flood_share,
        "share",
        f"{len(rates.floods)}, {percent(rates.flood_share)}",
        "less than 1 % of time",
        _below(rates.flood_share < FEW_SHARE),
    )


def _none_of(count: int, key: str, name: str) -> Figure:
    return Figure(key, name, count, "alerts", str(count), "none", _below(not count))


def _stale(load: AlertLoad) -> Figure:
    most = max(load.stale, default=0)
    name = "most on one day that had stood for over 24 h"
    meets = _below(most < STALE_FEWER_THAN)
    return Figure("alerts_stale", name, most, "alerts", str(most), f"fewer than {STALE_FEWER_THAN}", meets)


def _split(load: AlertLoad) -> Iterator[Figure]:
    """Only more of the urgent than is meant is too much; by whole percents, for the targets are no finer."""
    for priority, meant in SPLIT.items():
        count, total = load.split[priority], load.rates.count
        share = count / total if total else None
        said = "-" if share is None else f"{count}, {percent(share)}"
        meets = Meets.UNTOLD if share is None or priority is Priority.LOW else _below(round(share, 2) <= meant)
        name = f"of {priority.value} priority"
        yield Figure(f"alerts_{priority.value}", name, share, "share", said, f"about {percent(meant)}", meets)


def _top(load: AlertLoad) -> Figure:
    share = load.top_share if load.rates.count else None
    meets = Meets.UNTOLD if share is None else _below(round(share, 2) <= TOP_SHARE)
    said = "-" if share is None else percent(share)
    return Figure("alerts_top_share", "share of the ten most frequent", share, "share", said, "1 to 5 %", meets)


def _answer_figures(answers: Answers) -> Iterator[Figure]:
    for key, name, value in (
        ("median", "time to an answer, median", answers.median_seconds),
        ("p90", "time to an answer, 9 of 10 within", answers.p90_seconds),
        ("longest", "time to an answer, longest", answers.longest_seconds),
    ):
        yield Figure(f"answer_{key}_seconds", name, value, "s", "-" if value is None else lasting(value))
    yield _plain("answer_never", "over before anybody answered", answers.unanswered)
    yield _plain("answer_aside", "hidden before anybody answered", answers.aside)
    yield _plain("answer_waiting", "still waiting at the end", answers.waiting)


def _per_alert(load: PageLoad) -> Figure:
    mean = load.per_alert
    said = "-" if mean is None else f"{rounded(mean)} on average, {load.most_per_alert} at most"
    return Figure("pages_per_alert", "pages for one alert", mean, "pages", said)


def _plain(key: str, name: str, count: int) -> Figure:
    return Figure(key, name, count, "", str(count))


def _below(is_within: bool) -> Meets:  # noqa: FBT001 - the answer itself
    return Meets.WITHIN if is_within else Meets.ABOVE


# ---- how figures are said -------------------------------------------------------------------------------------------


def percent(share: float) -> str:
    """``12 %``, ``0.4 %``; what is more than nothing is never said to be 0."""
    value = share * 100
    if 0 < value < 0.1:  # noqa: PLR2004 - the least that is said
        return "below 0.1 %"
    return f"{value:.1f} %".replace(".0 %", " %")


def rounded(value: float | None) -> str:
    """To two digits after the point, without zeros at its end; ``-`` where there is none."""
    return "-" if value is None else f"{value:.2f}".rstrip("0").rstrip(".")


def lasting(seconds: float) -> str:
    """``45 s``, ``3 min 20 s``, ``2 h 05 min``."""
    whole = round(seconds)
    if whole < _MINUTE:
        return f"{whole} s"
    if whole < _HOUR:
        return f"{whole // _MINUTE} min {whole % _MINUTE:02} s"
    return f"{whole // _HOUR} h {whole % _HOUR // _MINUTE:02} min"


def times(count: int) -> str:
    """``once``, ``3 times``."""
    return "once" if count == 1 else f"{count} times"

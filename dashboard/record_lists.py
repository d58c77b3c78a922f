"""The lists of the record as they are stated: their columns, what they are sorted by, what they can be asked for."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import StrEnum
from zoneinfo import ZoneInfo

from dashboard.called import OUTCOMES
from dashboard.held import Held, arranged, natural
from dashboard.listing import NUMBERED, WHOLE, Asked, Choice, Column, Listing, Sort, Sorting
from dashboard.premises import Named
from gateway.alert_log import AlertFilter
from gateway.outbox_reading import PageFilter
from gateway.probe_log import ProbeLine
from gateway.soak_list import lets_through
from gateway.soak_log import SoakFilter, SoakLine
from gateway.solution_log import SolutionFilter
from rules.alert_words import Confirmation, PageEnd, Priority
from rules.probe_words import Fitness
from rules.verdict import Outcome

Choices = Mapping[str, tuple[Named, ...]]
"""What can be chosen from: 'stations', 'basins' and 'probes' of the site."""


def words_of(kind: type[StrEnum]) -> tuple[Named, ...]:
    """Each of its words as an option."""
    return tuple(Named(word.value, word.value) for word in kind)


def known_too(options: Iterable[Named], given: Mapping[str, str], key: str) -> tuple[Named, ...]:
    """With what an address asks for by that key: what the site has no more is in the record still."""
    there, asked = tuple(options), _id_in(given, key)
    return there if asked is None or asked in {named.id for named in there} else (*there, Named(asked, asked))


# ---- soaks ----------------------------------------------------------------------------------------------------------

_SOAK_COLUMNS = (
    Column("began", "Began", Sorting.TIME),
    Column("basin", "Basin", Sorting.TEXT),
    Column("verdict", "Verdict", Sorting.TEXT),
    Column("counted", "Counted", Sorting.NUMBER),
    Column("probe", "Probe"),
    Column("exam", "Exam"),
    Column("solution", "Solution", Sorting.TEXT, minor=True),
    Column("people", "People", minor=True),
)


def soaks_listing(choices: Choices, given: Mapping[str, str]) -> Listing:
    """Soaks; given: the address, for what it names may be in the record alone."""
    probes = known_too(choices["probes"], given, "probe")
    return Listing(
        path="/logbook/soaks",
        what="soak",
        columns=_SOAK_COLUMNS,
        at_first=_SOAK_COLUMNS[0].at_first,
        search="Search probe, serial number, exam, lot, basin, person, verdict",
        choices=(
            Choice("basin", "Basin", known_too(choices["basins"], given, "basin")),
            *((Choice("probe", "Probe", probes),) if probes else ()),
            Choice("verdict", "Verdict", words_of(Outcome)),
        ),
        period="Began",
    )


def which_soaks(asked: Asked, zone: ZoneInfo) -> SoakFilter:
    """As the logbook takes it."""
    chosen = asked.chosen
    verdict = chosen.get("verdict")
    outcome = None if verdict is None else Outcome(verdict)
    return SoakFilter(chosen.get("basin"), chosen.get("probe"), outcome, asked.during(zone), asked.text)


def day_listing(path: str) -> Listing:
    """The soaks of a day's sheet, in the order of the day at first, and whole; path: of the sheet."""
    return Listing(
        path,
        "soak",
        _SOAK_COLUMNS,
        Sort(key="began"),
        search="Search probe, serial number, exam, lot, basin, person, verdict",
        choices=(Choice("verdict", "Verdict", words_of(Outcome)),),
        paging=WHOLE,
        anchor="soaks",
    )


_SOAK_KEYS: Mapping[str, Callable[[SoakLine], object]] = {
    "began": lambda line: (line.start, line.number),
    "basin": lambda line: natural(line.place.basin_name),
    "verdict": lambda line: line.outcome.value,
    "counted": lambda line: line.credited_seconds,
    "solution": lambda line: line.lot,
}


def soaks_asked(lines: Sequence[SoakLine], asked: Asked, zone: ZoneInfo) -> tuple[SoakLine, ...]:
    """Those of the soaks of a day that are asked for, in the order that is asked for."""
    which = which_soaks(asked, zone)
    return arranged([line for line in lines if lets_through(which, line)], asked, _SOAK_KEYS)


MOST_ID = 80
"""Letters of a thing's id in an address (ours)."""


def _id_in(given: Mapping[str, str], key: str) -> str | None:
    said = given.get(key, "").strip()
    return said if 0 < len(said) <= MOST_ID else None


# ---- alerts ---------------------------------------------------------------------------------------------------------

_ALERT_COLUMNS = (
    Column("raised", "Raised", Sorting.TIME),
    Column("alert", "Alert"),
    Column("priority", "Priority", Sorting.URGENCY),
    Column("rule", "Rule", Sorting.TEXT, minor=True),
    Column("where", "Where", Sorting.TEXT),
    Column("answered", "Answered", Sorting.TIME),
    Column("over", "Over", Sorting.TIME),
)

ALERTS = Listing(
    path="/logbook/alerts",
    what="alert",
    columns=_ALERT_COLUMNS,
    at_first=_ALERT_COLUMNS[0].at_first,
    search="Search words, rule, basin, cart, sensor",
    choices=(Choice("priority", "Priority", words_of(Priority)),),
    period="Raised",
)


def which_alerts(asked: Asked, zone: ZoneInfo) -> AlertFilter:
    """As the logbook takes it."""
    priority = asked.chosen.get("priority")
    return AlertFilter(asked.during(zone), asked.text, None if priority is None else Priority(priority))


# ---- solutions ------------------------------------------------------------------------------------------------------

_SOLUTION_COLUMNS = (
    Column("poured", "Poured", Sorting.TIME),
    Column("basin", "Basin", Sorting.TEXT),
    Column("chemistry", "Chemistry", Sorting.TEXT),
    Column("lot", "Lot", Sorting.TEXT),
    Column("until", "Good until"),
    Column("ended", "In the basin until"),
    Column("strips", "Strips"),
    Column("soaks", "Soaks"),
    Column("number", "No.", minor=True),
)


def solutions_listing(choices: Choices, given: Mapping[str, str]) -> Listing:
    """Solutions; given: the address, for what it names may be in the record alone."""
    return Listing(
        path="/logbook/solutions",
        what="solution",
        columns=_SOLUTION_COLUMNS,
        at_first=_SOLUTION_COLUMNS[0].at_first,
        search="Search lot, chemistry, person, strip",
        choices=(Choice("basin", "Basin", known_too(choices["basins"], given, "basin")),),
        period="Poured",
    )


def which_solutions(asked: Asked, zone: ZoneInfo) -> SolutionFilter:
    """As the logbook takes it."""
    return SolutionFilter(asked.chosen.get("basin"), asked.during(zone), asked.text)


# ---- pages told -----------------------------------------------------------------------------------------------------

_PAGE_COLUMNS = (
    Column("told", "Told", Sorting.TIME),
    Column("to", "To", Sorting.TEXT),
    Column("by", "By", Sorting.TEXT),
    Column("why", "Why", Sorting.TEXT),
    Column("said", "What it said"),
    Column("came", "What came of it", Sorting.SURENESS),
    Column("tries", "Tries", Sorting.NUMBER, minor=True),
)
_CAME: tuple[Confirmation | PageEnd, ...] = (*Confirmation, *PageEnd)


_OPEN = Named("none", OUTCOMES[None])


def pages_listing(roles: Mapping[str, str]) -> Listing:
    """Pages told; roles: names by their ids."""
    return Listing(
        path="/pages",
        what="page",
        columns=_PAGE_COLUMNS,
        at_first=_PAGE_COLUMNS[0].at_first,
        search="Search words, person, channel, alert",
        choices=(
            Choice("role", "Role", tuple(Named(role, name) for role, name in roles.items())),
            Choice("came", "What came of it", (_OPEN, *(Named(word.value, OUTCOMES[word]) for word in _CAME))),
        ),
        period="Told",
    )


def which_pages(asked: Asked, zone: ZoneInfo) -> PageFilter:
    """As the logbook takes it."""
    chosen = asked.chosen
    came = next((word for word in _CAME if word.value == chosen.get("came")), None)
    return PageFilter(chosen.get("role"), came, chosen.get("came") == _OPEN.id, asked.during(zone), asked.text)


# ---- probes ---------------------------------------------------------------------------------------------------------

_PROBE_COLUMNS = (
    Column("probe", "Probe", Sorting.TEXT),
    Column("serial", "Serial number", Sorting.TEXT),
    Column("cart", "Cart", Sorting.TEXT),
    Column("stood", "Stood last", Sorting.TEXT),
    Column("since", "Since", Sorting.TIME),
    Column("place", "Where"),
)

PROBES = Listing(
    path="/logbook/probes",
    what="probe",
    columns=_PROBE_COLUMNS,
    at_first=_PROBE_COLUMNS[0].at_first,
    search="Search name, id, serial number, cart",
    choices=(Choice("stood", "Stood last", words_of(Fitness)),),
    paging=NUMBERED,
)

HELD_PROBES = Held[ProbeLine](
    by={
        "probe": lambda line: natural(line.probe.name),
        "serial": lambda line: None if line.probe.serial is None else natural(line.probe.serial),
        "cart": lambda line: natural(line.cart_name) if line.cart_name else None,
        "stood": lambda line: line.stands and line.stands.fitness.value,
        "since": lambda line: line.stands and line.stands.measured,
    },
    words=lambda line: (line.probe.name, line.probe.id, line.probe.serial, line.cart_name),
    options={"stood": lambda line: line.stands.fitness.value if line.stands else None},
)

"""The time lines as they are stated: of a probe, of an alert, and of what was entered at a station on a day."""

from collections.abc import Mapping, Sequence
from functools import partial

from dashboard.happening import Telling
from dashboard.held import Held, found_in
from dashboard.listing import NUMBERED, WHOLE, Asked, Choice, Column, Listing, Sort, Sorting
from dashboard.listing_view import Shown
from dashboard.moments import Moment, moment_of
from dashboard.premises import Named
from gateway.probe_log import TimeLineFilter
from gateway.told import Told

# ---- of a probe -----------------------------------------------------------------------------------------------------

PROBE_KINDS: Mapping[str, str] = {
    "probe touched": "what it touched",
    "probe stepped": "steps done",
    "probe inspected": "looked over for damage",
    "probe soaked": "soaks",
    "probe stands": "how it stood",
    "probe seen": "where it was",
    "probe vouched": "somebody answered for it",
    "probe knocked": "its holder was knocked",
}
"""What can be told of a probe, by the kind of the event."""


def probe_line(here: str, kept: tuple[tuple[str, str], ...] = ()) -> Listing:
    """All that was told of a probe, the newest first; here: the path of its page; kept: as of ``Listing``."""
    return Listing(
        path=here,
        what="event",
        columns=(
            Column("happened", "Happened", Sorting.TIME),
            Column("told", "Told", Sorting.TIME),
            Column("what", "What", Sorting.TEXT),
        ),
        at_first=Sort(key="happened", falls=True),
        search="Search words, person, exam, basin",
        choices=(
            Choice(
                "what",
                "What",
                tuple(Named(kind, said) for kind, said in PROBE_KINDS.items()),
                "Nothing of that kind is told of a probe; choose from the list.",
            ),
        ),
        period="Happened",
        kept=kept,
    )


def which_of_probe(asked: Asked, telling: Telling) -> TimeLineFilter:
    """As the logbook takes it."""
    says = partial(_says, text=asked.text, telling=telling) if asked.text else None
    return TimeLineFilter(asked.during(telling.zone), asked.chosen.get("what"), says)


def _says(item: Told, text: str, telling: Telling) -> bool:
    return found_in(text, *moment_of(item, telling).said)


# ---- of a day at a station ------------------------------------------------------------------------------------------

ENTRY_KINDS: Mapping[str, str] = {
    "solution poured": "pours",
    "solution topped up": "top-ups",
    "strip taken": "strips",
    "solution discarded": "discards",
}
"""What can be entered for a basin, by the kind of the event."""

_COUNTS, _STRUCK = Named("yes", "yes"), Named("no", "no, it was struck")


def entries_of_day(here: str) -> Listing:
    """What was entered for the basins of a station on a day, in order, and whole; here: the path of the sheet."""
    return Listing(
        path=here,
        what="entry",
        columns=(Column("happened", "Happened", Sorting.TIME), Column("what", "What", Sorting.TEXT)),
        at_first=Sort(key="happened"),
        search="Search words, person, lot",
        choices=(
            Choice(
                "what",
                "What",
                tuple(Named(kind, said) for kind, said in ENTRY_KINDS.items()),
                "Nothing of that kind is entered for a basin; choose from the list.",
            ),
            Choice("counts", "It counts", (_COUNTS, _STRUCK), "An entry counts, 'yes', or was struck, 'no'."),
        ),
        paging=WHOLE,
        prefix="entry.",
        anchor="entries",
        many="entries",
    )


def held_entries(telling: Telling) -> Held[Told]:
    """What they are sorted, searched and chosen by."""
    return Held[Told](
        by={
            "happened": lambda item: (item.measured, item.number),
            "what": lambda item: ENTRY_KINDS.get(item.event.kind, item.event.kind),
        },
        words=lambda item: moment_of(item, telling).said,
        options={
            "what": lambda item: item.event.kind,
            "counts": lambda item: (_COUNTS if item.struck is None else _STRUCK).id,
        },
    )


# ---- of an alert ----------------------------------------------------------------------------------------------------


def story_of(here: str) -> Listing:
    """All that was told of an alert, the oldest first; here: the path of its page."""
    return Listing(
        path=here,
        what="event",
        columns=(Column("told", "Told", Sorting.TIME),),
        at_first=Sort(key="told"),
        search="Search words, person",
        paging=NUMBERED,
    )


_STORY = Held[Moment](by={"told": lambda moment: moment.number}, words=lambda moment: moment.said)


def story_shown(moments: Sequence[Moment], listing: Listing, asked: Asked) -> Shown:
    """The page of it that is asked for; raises ListError where there is none of that number."""
    return _STORY.page(moments, listing, asked, lambda moment: moment)

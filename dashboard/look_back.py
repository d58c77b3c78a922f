"""The look-back as a page shows it: what is asked, which soaks it touches, where their probes went, what each needs."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Literal
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field

from dashboard.archive import NotShownError
from dashboard.forms import Blank
from dashboard.happening import Telling
from dashboard.held import Held, natural
from dashboard.listing import WHOLE, Asked, Column, Listing, Sort, Sorting
from dashboard.listing_view import SiftView, sift_view
from dashboard.logbook_queries import Id
from dashboard.words import counted, listed
from gateway.look_back import (
    FailedStrip,
    LookBack,
    Overturned,
    Question,
    TouchedProbe,
    TouchedSoak,
    UnsoundSoak,
    WrongLot,
    WrongThermometer,
)
from gateway.look_back_told import use_words
from gateway.solution_log import LoggedSolution
from gateway.when import WhenError, instant_of, written_whole
from rules.readings import SECOND, Micros, SensorId, StripResult

Error = Annotated[float, Field(ge=-20, le=20)]
"""°C, as far off as a thermometer may be entered to be."""


class LookBackQuery(BaseModel):
    """What is looked back for; what: None where nothing is asked yet. Times as a browser's form writes them."""

    model_config = ConfigDict(extra="ignore")

    what: Annotated[Literal["strip", "soak", "lot", "sensor", "record"] | None, Blank] = None
    basin: Annotated[Id | None, Blank] = None
    at: Annotated[Id | None, Blank] = None
    soak: Annotated[Id | None, Blank] = None
    lot: Annotated[Id | None, Blank] = None
    sensor: Annotated[Id | None, Blank] = None
    error: Annotated[Error | None, Blank] = None
    since: Annotated[Id | None, Blank] = None

    def parts(self) -> list[tuple[str, str]]:
        """The same as parts of an address."""
        return [(name, str(value)) for name, value in self.model_dump(mode="json").items() if value not in (None, "")]

    def question(self, zone: ZoneInfo) -> Question | None:
        """As the logbook takes it; None where nothing is asked yet.

        Raises:
            NotShownError: something is missing or no time.
        """
        try:
            return self._question(zone)
        except WhenError as why:
            raise NotShownError(str(why), 422) from why

    def _question(self, zone: ZoneInfo) -> Question | None:
        match self.what:
            case None:
                return None
            case "record":
                return Overturned()
            case "strip":
                at = None if self.at is None else instant_of(self.at, zone)
                return FailedStrip(_given(self.basin, "Choose the basin whose strip failed."), at)
            case "soak":
                return UnsoundSoak(_given(self.soak, "Name the soak, such as basin-1.12."))
            case "lot":
                return WrongLot(_given(self.lot, "Write the lot of the solution or of the strips."))
            case "sensor":
                return self._thermometer(zone)

    def _thermometer(self, zone: ZoneInfo) -> WrongThermometer:
        if self.sensor is None or self.error is None or self.since is None:
            said = "Give the thermometer, by how many °C it read more than was true (less: a minus), and since when."
            raise NotShownError(said, 422)
        return WrongThermometer(SensorId(self.sensor), self.error, instant_of(self.since, zone))


def _given(value: str | None, sentence: str) -> str:
    if value is None:
        raise NotShownError(sentence, 422)
    return value


# ---- what is found --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ProbeView:
    """A probe that was in a suspect soak; uses: since it was taken out, a line each, or that none is known."""

    href: str
    name: str
    out: str
    needs: str
    uses: tuple[str, ...]
    sound: str


@dataclass(frozen=True, slots=True)
class SuspectView:
    """A soak that is touched; said: its verdict and why. needs: what to do where nobody knows its probe, else ''."""

    id: str
    title: str
    said: str
    needs: str
    probes: tuple[ProbeView, ...]


@dataclass(frozen=True, slots=True)
class LookBackView:
    """What was looked for and what was found, a sentence each; then each soak that is asked for.

    shown: how many of them those are, '' where all. sift: the form to ask with, None where one soak or none was found.
    """

    asked: str
    said: tuple[str, ...]
    shown: str
    sift: SiftView | None
    soaks: tuple[SuspectView, ...]


_COLUMNS = (
    Column("began", "Began", Sorting.TIME),
    Column("basin", "Basin", Sorting.TEXT),
    Column("uses", "Uses since", Sorting.NUMBER),
)
_SOAKS = Held[TouchedSoak](
    by={
        "began": lambda soak: soak.suspect.start,
        "basin": lambda soak: natural(soak.suspect.place.basin_name),
        "uses": lambda soak: sum(len(probe.uses) for probe in soak.probes),
    },
    words=lambda soak: (
        *(soak.suspect.soak, soak.suspect.place.basin_name),
        *(word for one in soak.probes for word in (one.probe.id, one.probe.name, one.probe.serial)),
    ),
)


def look_back_listing(query: LookBackQuery) -> Listing:
    """The soaks that a look-back touches, in order of their beginning at first."""
    return Listing(
        path="/logbook/look-back",
        what="soak",
        columns=_COLUMNS,
        at_first=Sort(key="began"),
        search="Search soak, basin, probe, serial number",
        kept=tuple(query.parts()),
        paging=WHOLE,
    )


def picked(soaks: Sequence[TouchedSoak], asked: Asked) -> tuple[TouchedSoak, ...]:
    """The soaks that are asked for, in the order that is asked for; each with all its probes."""
    return _SOAKS.picked(soaks, asked)


def look_back_view(found: LookBack, telling: Telling, listing: Listing, asked: Asked) -> LookBackView:
    """A look-back in words: the sentences tell of all that was found, whichever soaks are asked for."""
    soaks = picked(found.soaks, asked)
    is_less = len(soaks) < len(found.soaks)
    return LookBackView(
        asked=question_words(found.question, telling),
        said=tuple(_said(found, telling)),
        shown=f"Of them {len(soaks)} {'is' if len(soaks) == 1 else 'are'} shown." if is_less else "",
        sift=sift_view(listing, asked) if len(found.soaks) > 1 else None,
        soaks=tuple(_suspect(soak, telling) for soak in soaks),
    )


def question_words(question: Question, telling: Telling) -> str:
    """What is looked for."""
    match question:
        case FailedStrip(basin, at):
            by = "" if at is None else f" by {telling.time(at)}"
            return f"A strip failed at {telling.name(basin)}{by}."
        case UnsoundSoak(soak):
            return f"Soak {soak} proved not to be sound."
        case WrongLot(lot):
            return f"Lot {lot} of solution or strips proved to be bad."
        case WrongThermometer(sensor, error, since):
            more = "more" if error >= 0 else "less"
            return f"{sensor} read {abs(error):g} °C {more} than was true from {telling.time(since)} on."
        case Overturned():
            return "Soaks that were told as met and by what is known now are not, or are in doubt."


def _said(found: LookBack, telling: Telling) -> Iterator[str]:
    uses = sum(len(probe.uses) for soak in found.soaks for probe in soak.probes)
    probes = len(found.probes)
    parts = [counted(len(found.soaks), "soak"), counted(probes, "probe"), f"{counted(uses, 'use')} since"]
    yield f"{listed(parts)}."
    unknown = sum(not soak.probes for soak in found.soaks)
    if unknown:
        yield f"Of {counted(unknown, 'soak')} nobody knows the probe: what is listed is not all."
    if found.since is not None:
        yield f"The last good check before was at {telling.time(found.since)}."


def _suspect(touched: TouchedSoak, telling: Telling) -> SuspectView:
    suspect = touched.suspect
    return SuspectView(
        id=suspect.soak,
        title=f"{suspect.place.basin_name}, {telling.time(suspect.start)} to {telling.time(suspect.end)}",
        said=f"Recorded as {suspect.outcome.value}; looked back at because {suspect.why}.",
        needs=touched.needs,
        probes=tuple(_probe(probe, telling) for probe in touched.probes),
    )


def _probe(touched: TouchedProbe, telling: Telling) -> ProbeView:
    name, sound = touched.probe, touched.sound
    return ProbeView(
        href=f"/logbook/probe/{name.id}",
        name=name.name + (f", serial {name.serial}" if name.serial else ""),
        out=telling.time(touched.taken_out),
        needs=touched.needs,
        uses=tuple(f"{telling.time(use.at)}: {use_words(use)}" for use in touched.uses),
        sound="" if sound is None else f"soaked soundly since, in {sound.soak}, {telling.time(sound.at)}",
    )


# ---- what can be chosen ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FailedStripLink:
    """A strip that failed, in words and with the address of its look-back."""

    words: str
    href: str


def failed_strips(solutions: Sequence[LoggedSolution], telling: Telling) -> tuple[FailedStripLink, ...]:
    """The strips that failed in these solutions and were not struck, the newest first."""
    failed = [
        (strip.strip.at, solution.place.basin, solution.place.basin_name)
        for solution in solutions
        for strip in solution.strips
        if strip.struck is None and strip.strip.result is StripResult.FAIL
    ]
    return tuple(_link(at, basin, name, telling) for at, basin, name in sorted(failed, reverse=True))


def _link(at: Micros, basin: str, name: str, telling: Telling) -> FailedStripLink:
    by = written_whole(Micros(at + SECOND), telling.zone)  # a whole second holds no less than the strip's own time
    address = urlencode(LookBackQuery(what="strip", basin=basin, at=by).parts())
    return FailedStripLink(f"{name}, {telling.time(at)}", f"/logbook/look-back?{address}")

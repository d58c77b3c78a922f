"""A look-back read from the journal: the soaks that a question touches, the probes in them, and their lives since."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from operator import attrgetter

from gateway.found import ALL, EVER, Found, RecordView
from gateway.lives import Lives
from gateway.look_back import (
    FailedStrip,
    LookBack,
    Overturned,
    Presence,
    Question,
    Suspect,
    UnsoundSoak,
    WrongLot,
    WrongThermometer,
    consequences,
    rejudged,
    why_rejudged,
)
from gateway.past import Past
from gateway.soak_events import SoakEvents, by_soak, is_sound
from gateway.soak_log import SoakStage
from gateway.soak_trace import lid_closed
from gateway.solution_log import LoggedStrip
from gateway.solution_reading import DISCARDED, POURED, STRIP, TOPPED_UP, Solutions, logged_strip
from gateway.strikes import Strikes
from rules.agenda import NEVER
from rules.correction import FoundOff
from rules.events import SensorWasOff, SolutionPoured, SolutionToppedUp, StripTaken
from rules.exposure import Span
from rules.readings import DAY, NO_TIME, Micros, SensorId, StripResult, micros
from rules.verdict import Verdict

NEAR = 5
"""Among so many entries after a strip the one that ends its time is looked for at first (ours)."""

LONGEST_SOAK = Micros(7 * DAY)
"""A soak that was under way is looked for so far back (ours): a lid may stay closed over a weekend."""


NOT_FOR_THESE = "it was told to count for the probe, and does not: it was not in it, or not for long enough"


class NothingFoundError(ValueError):
    """What is asked about is not in the record; one sentence says what is not."""


class LookingBack:
    """Answers questions from a journal."""

    def __init__(self, view: RecordView) -> None:
        self._view = view
        self._past = Past(view)
        self._strikes = Strikes.of(view)
        self._solutions = Solutions(view, self._past, self._strikes)

    def answer(self, question: Question) -> LookBack:
        """What the record tells.

        Raises:
            NothingFoundError: what is asked about is not in it.
        """
        since, suspects = self._suspects(question)
        suspects = sorted(suspects, key=attrgetter("start", "soak"))
        present = self._present(suspects)
        out: defaultdict[str, list[Micros]] = defaultdict(list)
        for one in chain.from_iterable(present.values()):
            out[one.probe.id].append(one.taken_out)
        # A soak that does not count for one probe may well count for another.
        unsound = {one.soak for one in (*suspects, *self._overturned()) if one.why != NOT_FOR_THESE}
        reading = Lives(self._view, self._strikes, unsound)
        lives = {probe: reading.read(probe, min(at), max(at)) for probe, at in out.items()}
        return LookBack(question, since, tuple(consequences(suspects, present, lives)))

    def _suspects(self, question: Question) -> tuple[Micros | None, list[Suspect]]:
        match question:
            case FailedStrip(basin, at):
                return self._since_last_good_strip(basin, EVER if at is None else at)
            case UnsoundSoak(soak):
                return None, self._one(soak)
            case WrongLot(lot):
                return None, list(self._of_lot(lot))
            case WrongThermometer(sensor=sensor):
                if sensor not in self._view.sensor_ids():
                    text = f"Nothing of a sensor '{sensor}' is recorded; expected BASIN/temperature of a basin."
                    raise NothingFoundError(text)
                off = FoundOff(question.since, NEVER, question.error_celsius)
                return None, list(self._judged_by(question.sensor, [off]))
            case Overturned():
                return None, list(self._overturned())

    # ---- a strip --------------------------------------------------------------------------------------------------

    def _since_last_good_strip(self, basin: str, at: Micros) -> tuple[Micros | None, list[Suspect]]:
        failed = next((strip for strip in self._strips_back(basin, at) if _failed(strip)), None)
        if failed is None:
            raise NothingFoundError(f"No strip that failed is recorded at basin '{basin}'; look at the basin's id.")
        read = failed.strip.at
        fill = self._solutions.at(basin, read)
        poured, end = (NO_TIME, read) if fill is None else (fill.lot.at, fill.end or EVER)
        good = next((s for s in self._strips_back(basin, read) if not s.faults and poured <= s.strip.at < read), None)
        begun = poured if good is None else good.strip.at
        early, late = "a strip failed after it", "the strip had failed before it"
        soaks = self._under_way(basin, begun, end)
        found = [self._suspect(told, early if told.known.start <= read else late) for told in soaks]
        return (good.strip.at if good else None), found

    def _strips_back(self, basin: str, at: Micros) -> Iterator[LoggedStrip]:
        found = self._solutions.back(basin, STRIP, at)
        return (strip for one in found if (strip := logged_strip(one, self._strikes)) is not None)

    # ---- a soak, a lot --------------------------------------------------------------------------------------------

    def _one(self, soak: str) -> list[Suspect]:
        found = self._told([soak])
        if not found:
            raise NothingFoundError(f"No soak '{soak}' that has ended is recorded; look at its name in the logbook.")
        return [self._suspect(told, _what_came_of(told)) for told in found]

    def _of_lot(self, lot: str) -> Iterator[Suspect]:
        found = self._strikes.standing(self._view.of_lot(lot, (POURED, TOPPED_UP, STRIP)))
        if not found:
            raise NothingFoundError(f"No solution and no strip of lot '{lot}' is recorded; write it as it was entered.")
        named: dict[str, str] = {}
        for one in found:
            for soak, why in self._with_lot(one):
                named.setdefault(soak, why)
        yield from (self._suspect(told, named[told.id]) for told in self._told(named))

    def _with_lot(self, found: Found) -> Iterator[tuple[str, str]]:
        """The soaks on which a pour, a top-up or a strip bears, and how."""
        match found.event:
            case SolutionPoured():
                solution = self._solutions.numbered(found.number)
                yield from ((soak, "the lot was in it") for soak in (solution.soaks if solution else ()))
            case SolutionToppedUp(basin=basin, measured=at):
                solution = self._solutions.at(basin, at)
                end = EVER if solution is None or solution.end is None else solution.end
                yield from ((told.id, "the lot was added to it") for told in self._under_way(basin, at, end))
            case StripTaken(basin=basin) as taken if not taken.faults:
                strip = logged_strip(found, self._strikes)
                yield from ((soak, "a strip of the lot passed it") for soak in self._counted_on(basin, strip))

    def _counted_on(self, basin: str, strip: LoggedStrip | None) -> list[str]:
        """The soaks for which a good strip counted: up to the next good one, or the end of the solution."""
        if strip is None:
            return []
        since, kinds = strip.strip.at, (STRIP, POURED, DISCARDED)
        for most in (NEAR, ALL):  # the next of them as a rule, or one after many that do not count
            found = self._view.at_basin(basin, kinds, Micros(strip.strip.read + 1), most=most)
            ends = [at for one in self._strikes.standing(found) if (at := self._takes_over(one)) is not None]
            if ends:
                return self._view.soaks_at(basin, since, min(ends))
        return self._view.soaks_at(basin, since, EVER)

    def _takes_over(self, found: Found) -> Micros | None:
        """From when on a strip before it counts no more; None where it changes nothing."""
        strip = logged_strip(found, self._strikes)
        if strip is None:
            return found.measured
        return None if strip.faults else strip.strip.at

    # ---- a thermometer --------------------------------------------------------------------------------------------

    def _judged_by(self, sensor: SensorId, told_off: Sequence[FoundOff]) -> Iterator[Suspect]:
        basin = sensor.removesuffix("/temperature")
        if basin == sensor:
            text = f"No soak is judged by sensor '{sensor}'; expected the thermometer of a basin, BASIN/temperature."
            raise NothingFoundError(text)
        since = min(off.since for off in told_off)
        for told in self._under_way(basin, since, EVER):
            if told.was_met:
                yield from self._judged_again(told, sensor, told_off)

    def _judged_again(self, told: SoakEvents, sensor: SensorId, told_off: Sequence[FoundOff]) -> Iterator[Suspect]:
        known = told.known
        if not known.verdict.outcome.is_met:
            yield self._suspect(told, _what_came_of(told))
            return
        setup = self._past.era(told.judged[0][0]).setup(known.basin)
        if setup is None:
            yield self._suspect(
                told, "the rules that judged it cannot be read by this version, so it was not judged again"
            )
            return
        soak = Span(known.start, known.end)
        samples = [(at, float(celsius)) for at, celsius in self._view.readings(sensor, *soak)]
        said = self._view.readings(SensorId(f"{known.basin}/lid"), *soak)
        closed = list(lid_closed(said, soak, micros(setup.thresholds.lid_bounce_seconds)))
        verdict = rejudged(known.verdict, samples, closed, setup.conditions, told_off)
        if not verdict.outcome.is_met:
            yield self._suspect(told, why_rejudged(verdict), verdict)

    # ---- what the record itself says ------------------------------------------------------------------------------

    def _overturned(self) -> Iterator[Suspect]:
        found: dict[str, Suspect] = {}
        for suspect in (*self._told_of_others(), *self._judged_by_one_found_off(), *self._told_otherwise()):
            found[suspect.soak] = suspect
        return iter(found.values())

    def _told_otherwise(self) -> Iterator[Suspect]:
        changed = [*self._view.of_kind("soak amended"), *self._view.of_kind("soak withdrawn")]
        for told in self._told(by_soak(changed)):
            if told.was_met and not told.is_sound:
                yield self._suspect(told, _what_came_of(told))

    def _told_of_others(self) -> Iterator[Suspect]:
        """Sound soaks that were told to count for a probe, and do not: it may have been used, being taken for ready."""
        for told in self._told(by_soak(self._view.fallen_shares())):
            if told.is_sound and told.mistaken():
                yield self._suspect(told, NOT_FOR_THESE)

    def _judged_by_one_found_off(self) -> Iterator[Suspect]:
        told_off: defaultdict[SensorId, list[FoundOff]] = defaultdict(list)
        for found in self._view.of_kind("sensor was off"):
            if isinstance(found.event, SensorWasOff) and found.event.sensor.endswith("/temperature"):
                off = FoundOff(found.event.since, found.event.at, found.event.error_celsius)
                told_off[found.event.sensor].append(off)
        for sensor, told in told_off.items():
            yield from self._judged_by(sensor, told)

    # ---- soaks and probes -----------------------------------------------------------------------------------------

    def _under_way(self, basin: str, since: Micros, until: Micros) -> list[SoakEvents]:
        """The soaks that were under way at a basin at ``since``, or began in [since, until)."""
        begun = self._view.soaks_at(basin, Micros(since - LONGEST_SOAK), until)
        return [told for told in self._told(begun) if told.known.end > since]

    def _told(self, soaks: Iterable[str]) -> list[SoakEvents]:
        """All that was told of these soaks, those left out that have not ended."""
        return [told for told in by_soak(self._view.of_soaks(soaks)).values() if told.judged]

    def _suspect(self, told: SoakEvents, why: str, verdict: Verdict | None = None) -> Suspect:
        known = told.known
        place = self._past.era(told.judged[0][0]).place(known.basin)
        return Suspect(told.id, place, known.start, known.end, known.verdict.outcome, why, verdict)

    def _present(self, suspects: Sequence[Suspect]) -> dict[str, list[Presence]]:
        """The probes in each of these soaks by what is known today, or those for which alone it does not count."""
        only_told = {suspect.soak for suspect in suspects if suspect.why == NOT_FOR_THESE}
        return {
            told.id: [
                Presence(self._past.era(found).probe_name(s.probe), s.end)
                for found, s in (told.mistaken() if told.id in only_told else told.shares())
            ]
            for told in by_soak(self._view.of_soaks(s.soak for s in suspects)).values()
        }


def _failed(strip: LoggedStrip) -> bool:
    return strip.struck is None and strip.strip.result is StripResult.FAIL


def _what_came_of(told: SoakEvents) -> str:
    first, known = told.first.verdict, told.known.verdict
    if told.stage is SoakStage.WITHDRAWN:
        return f"it was told as {first.outcome.value}, and was no soak of its own"
    if first.outcome is not known.outcome:
        return f"it was told as {first.outcome.value}, and is {known.outcome.value}"
    doubted = known.outcome.is_met and not is_sound(known)
    return "a strip failed after it" if doubted else f"it is {known.outcome.value}"

"""Soaks as a table: a row for each probe in a soak, or one for a soak of which nobody knows the probe."""

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, fields
from datetime import date
from zoneinfo import ZoneInfo

from gateway.csv_text import Cell
from gateway.soak_log import Exposure, LoggedSoak, ProbeShare
from gateway.solution_log import LoggedSolution, LoggedStrip
from gateway.told import Told
from gateway.when import written_whole
from rules.events import EntryStruck, SensorWasOff
from rules.readings import SECOND, Micros


@dataclass(frozen=True, slots=True)
class _Soak:
    """What came of it, when, and where."""

    soak: Cell
    stage: Cell
    verdict: Cell
    all_reasons: Cell
    first_verdict: Cell
    verdicts_told: Cell
    start: Cell
    end: Cell
    station: Cell
    basin: Cell
    basin_name: Cell
    chemistry: Cell
    label: Cell
    label_source: Cell

    @classmethod
    def of(cls, soak: LoggedSoak, zone: ZoneInfo) -> "_Soak":
        first = next((judgement.verdict for judgement in soak.judgements), None)
        return cls(
            soak=soak.id,
            stage=soak.stage.value,
            verdict=soak.verdict.outcome.value if soak.verdict else None,
            all_reasons=_listed(soak.verdict.reasons) if soak.verdict else None,
            first_verdict=first.outcome.value if first else None,
            verdicts_told=len(soak.judgements),
            start=_at(soak.start, zone),
            end=_at(soak.end, zone),
            station=soak.place.station_name,
            basin=soak.place.basin,
            basin_name=soak.place.basin_name,
            chemistry=soak.chemistry,
            label=soak.label,
            label_source=soak.label_source,
        )


@dataclass(frozen=True, slots=True)
class _Exposure:
    """Time and temperature."""

    needed_s: Cell
    credited_s: Cell
    credited_from: Cell
    credited_until: Cell
    least_celsius: Cell
    guard_celsius: Cell
    lowest_celsius: Cell
    highest_celsius: Cell
    no_temperature_s: Cell

    @classmethod
    def of(cls, exposure: Exposure, zone: ZoneInfo) -> "_Exposure":
        credited = exposure.credited
        return cls(
            needed_s=exposure.needed_seconds,
            credited_s=exposure.credited_seconds,
            credited_from=_at(credited.start, zone) if credited else None,
            credited_until=_at(credited.end, zone) if credited else None,
            least_celsius=exposure.min_celsius,
            guard_celsius=exposure.guard_celsius,
            lowest_celsius=exposure.lowest_celsius,
            highest_celsius=exposure.highest_celsius,
            no_temperature_s=sum(gap.micros for gap in exposure.gaps) / SECOND,
        )


@dataclass(frozen=True, slots=True)
class SolutionCells:
    """What was in the basin, from which bottle, and until when it may be used."""

    lot: Cell = None
    printed_expiry: Cell = None
    opened: Cell = None
    opened_days: Cell = None
    poured: Cell = None
    poured_by: Cell = None
    good_until: Cell = None

    @classmethod
    def of(cls, solution: LoggedSolution | None, zone: ZoneInfo) -> "SolutionCells":
        """Empty where nothing is recorded."""
        if solution is None:
            return cls()
        lot = solution.lot
        return cls(
            lot=lot.lot,
            printed_expiry=_day(lot.printed_expiry),
            opened=_day(lot.opened),
            opened_days=lot.opened_days,
            poured=_at(lot.at, zone),
            poured_by=lot.who,
            good_until=_at(solution.clocks.until, zone),
        )


@dataclass(frozen=True, slots=True)
class _Strip:
    """The strip that counts for it, or the last before it."""

    strip_result: Cell = None
    strip_counts: Cell = None
    strip_lot: Cell = None
    strip_expiry: Cell = None
    strip_dipped: Cell = None
    strip_read: Cell = None
    strip_read_by: Cell = None
    strip_entered: Cell = None
    strip_entered_after_start: Cell = None

    @classmethod
    def of(cls, strip: LoggedStrip | None, soak: LoggedSoak, zone: ZoneInfo) -> "_Strip":
        if strip is None:
            return cls()
        said = strip.strip
        return cls(
            strip_result=said.result.value,
            strip_counts=not strip.faults,
            strip_lot=said.lot,
            strip_expiry=_day(said.expiry),
            strip_dipped=_at(said.dipped, zone),
            strip_read=_at(said.read, zone),
            strip_read_by=said.who or "a sensor",
            strip_entered=_at(said.entered, zone),
            strip_entered_after_start=soak.strip_entered_late is not None,
        )


@dataclass(frozen=True, slots=True)
class _Probe:
    """The probe, what it touched, what was done with it, and what became of it."""

    probe: Cell = None
    probe_name: Cell = None
    serial: Cell = None
    put_in: Cell = None
    taken_out: Cell = None
    probe_verdict: Cell = None
    known_by: Cell = None
    claimed_by: Cell = None
    claimed_as: Cell = None
    put_in_by: Cell = None
    contact: Cell = None
    contact_at: Cell = None
    exam: Cell = None
    cleaned_by: Cell = None
    cleaned_at: Cell = None
    cleaning_delay_s: Cell = None
    looked_over_by: Cell = None
    no_damage_found: Cell = None
    afterwards: Cell = None
    afterwards_place: Cell = None
    next_use: Cell = None
    next_soak: Cell = None

    @classmethod
    def of(cls, share: ProbeShare | None, zone: ZoneInfo) -> "_Probe":
        if share is None:
            return cls()
        contact = share.contacts[-1] if share.contacts else None
        cleaned = share.cleaned[-1] if share.cleaned else None
        after = share.disposition
        return cls(
            probe=share.probe.id,
            probe_name=share.probe.name,
            serial=share.probe.serial,
            put_in=_at(share.put_in, zone),
            taken_out=_at(share.taken_out, zone),
            probe_verdict=share.verdict.outcome.value,
            known_by="claim" if share.claimed_by else "entry" if share.entered_by else "tag",
            claimed_by=share.claimed_by,
            claimed_as=share.role,
            put_in_by=share.put_in_by,
            contact=contact.surface if contact else None,
            contact_at=_at(contact.at, zone) if contact else None,
            exam=_listed(dict.fromkeys(touch.exam for touch in share.contacts if touch.exam)),
            cleaned_by=cleaned.who if cleaned else None,
            cleaned_at=_at(cleaned.at, zone) if cleaned else None,
            cleaning_delay_s=share.cleaning_delay_seconds,
            looked_over_by=share.inspected.who if share.inspected else None,
            no_damage_found=share.inspected.sound if share.inspected else None,
            afterwards=after.fitness.value if after.fitness else None,
            afterwards_place=_listed(word for word in (after.place and after.place.value, after.thing) if word),
            next_use=_at(after.next_use.at, zone) if after.next_use else None,
            next_soak=after.next_soak,
        )


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the record does not show, what was corrected, and what judged."""

    corrections: Cell
    not_entered: Cell
    not_measured: Cell
    judged_after_input: Cell
    site_and_rules_sha256: Cell
    program: Cell

    @classmethod
    def of(cls, soak: LoggedSoak) -> "_Shown":
        newest = soak.judgements[-1] if soak.judgements else None
        return cls(
            corrections=_listed(map(_correction, soak.corrections)),
            not_entered=_listed(soak.not_entered),
            not_measured=" ".join(soak.unmeasured),
            judged_after_input=newest.after_input if newest else None,
            site_and_rules_sha256=newest.by.sha256 if newest else None,
            program=newest.by.program if newest else None,
        )


SOAK_COLUMNS = tuple(
    field.name for group in (_Soak, _Exposure, SolutionCells, _Strip, _Probe, _Shown) for field in fields(group)
)


def soak_rows(soak: LoggedSoak, zone: ZoneInfo) -> Iterator[list[Cell]]:
    """The rows of one soak, a cell for each of ``SOAK_COLUMNS``."""
    for share in soak.probes or (None,):
        groups = (
            _Soak.of(soak, zone),
            _Exposure.of(soak.exposure, zone),
            SolutionCells.of(soak.solution, zone),
            _Strip.of(soak.strip, soak, zone),
            _Probe.of(share, zone),
            _Shown.of(soak),
        )
        yield [cell for group in groups for cell in asdict(group).values()]


def _correction(told: Told) -> str:
    match told.event:
        case EntryStruck(entry=entry, who=who, why=why):
            return f"{entry.kind} struck by {who}: {why}"
        case SensorWasOff(sensor=sensor, error_celsius=error, who=who, why=why):
            return f"{sensor} read {error:+g} Cel too much, by {who}: {why}"
        case _:
            return told.event.kind


def _listed(words: Iterable[str]) -> str:
    return "; ".join(words)


def _day(day: date | None) -> Cell:
    return None if day is None else day.isoformat()


def _at(instant: Micros | None, zone: ZoneInfo) -> Cell:
    return None if instant is None else written_whole(instant, zone)

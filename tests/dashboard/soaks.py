"""A soak as the logbook tells of it, with everything that can be told: the arrangement of a test in one line."""

from dataclasses import replace
from datetime import date

from gateway.hub import RecordHead
from gateway.soak_log import (
    Disposition,
    Exposure,
    Judgement,
    LoggedSoak,
    ProbeName,
    ProbeShare,
    Sample,
    SoakStage,
)
from gateway.solution_log import LoggedSolution, LoggedStrip
from gateway.told import BasinPlace, JudgedBy, Struck, Told
from rules.commands import StripRead
from rules.events import EntryStruck, SolutionPoured, StripTaken
from rules.evidence import Handling, Inspection, Touch
from rules.exposure import Span
from rules.probe_words import Fitness, Level, Place, Step
from rules.readings import SECOND, Micros, StripResult
from rules.solution import Clocks, SolutionLot, Strip, ToppedUp
from rules.verdict import Outcome, Reason, SolutionCheck, Verdict

BEGIN = Micros(1_764_079_400 * SECOND)
"""14:03:20 on 25 November 2025, UTC and in Lisbon."""

PLACE = BasinPlace("basin-1", "Room, left", "reprocessing-room", "Reprocessing room")
LAW = JudgedBy("6f1c" * 16, "0.1.0", Micros(BEGIN - 86_400 * SECOND), 1)
HEAD = RecordHead(12345, bytes(range(32)), Micros(BEGIN + 1200 * SECOND))
PROBE = ProbeName("probe-4", "Endocavity, cart 4", "SN 0099-17")


def after(seconds: float) -> Micros:
    """So many seconds after the soak began."""
    return Micros(BEGIN + round(seconds * SECOND))


def verdict(outcome: Outcome = Outcome.EXPOSURE_MET, *reasons: Reason, counted: float = 760) -> Verdict:
    """A verdict on twelve minutes at 20 °C; the sensor is within 0.5 °C."""
    return Verdict(
        outcome=outcome,
        reasons=reasons,
        credited_start=after(0),
        credited_end=after(counted),
        credited_seconds=counted,
        needed_seconds=720,
        min_celsius=20,
        guard_celsius=0.5,
        solution=SolutionCheck(lot="L-77", good_until=after(13 * 86_400), last_good_check=after(-300), doubted_by=None),
    )


def exposure(seconds: int = 760, gap: Span | None = None) -> Exposure:
    """A lid that was closed, and 21.4 °C every ten seconds, but in the gap."""
    told = [Sample(after(at), 21.4 + at % 50 / 500) for at in range(-10, seconds + 20, 10)]
    return Exposure(
        samples=tuple(s for s in told if gap is None or not gap.start < s.at < gap.end),
        lid=(Span(after(0), after(seconds)),),
        gaps=() if gap is None else (gap,),
        lowest_celsius=21.4,
        highest_celsius=21.48,
        credited=Span(after(0), after(seconds)),
        credited_seconds=seconds,
        needed_seconds=720,
        min_celsius=20,
        guard_celsius=0.5,
    )


def solution() -> LoggedSolution:
    """Poured the day before, topped up once; still in the basin."""
    lot = SolutionLot(after(-86_400), "Ana", "L-77", "opa-0.55-manual", date(2026, 6, 30), date(2025, 11, 20), 75)
    return LoggedSolution(
        number=40,
        place=PLACE,
        lot=lot,
        chemistry="ortho-phthalaldehyde 0.55 %",
        clocks=Clocks(after(200 * 86_400), after(70 * 86_400), after(13 * 86_400)),
        topped_up=(ToppedUp(after(-3600), "Ben", "L-78"),),
        end=None,
        discarded=None,
        strips=(strip(),),
        soaks=("soak-7",),
    )


def strip(struck: Struck | None = None) -> LoggedStrip:
    """Passed, five minutes before the soak."""
    read = Strip(after(-210), after(-300), StripResult.PASS, "S-9", date(2026, 1, 31), "Ana")
    return LoggedStrip(52, read, (), struck)


def share() -> ProbeShare:
    """The endocavity probe, claimed; everything done and told of."""
    touch = Touch(after(-1500), Level.HIGH, covered=True, surface="mucosa", exam="EX-2291", who="Dr. Oduya")
    return ProbeShare(
        probe=PROBE,
        number=61,
        told=after(900),
        put_in=after(0),
        taken_out=after(760),
        verdict=verdict(),
        claimed_by="Ana",
        role="technician",
        put_in_by="Ana",
        contacts=(touch,),
        cleaned=(Handling(after(-700), (Step.COVER_OFF, Step.WASHED, Step.DRIED), 1, "Ben"),),
        cleaning_delay_seconds=800,
        inspected=Inspection(after(-650), sound=True, who="Ben"),
        after=(Handling(after(820), (Step.RINSED,), 3, "Ana"), Handling(after(900), (Step.DRIED,), 1, "Ana")),
        disposition=Disposition(Fitness.READY, "", Place.CABINET, "cabinet-1", after(1000), None, None),
    )


def entry(number: int = 52, struck: Struck | None = None) -> Told:
    """A strip that Ana entered."""
    taken = StripTaken(
        at=after(-200), basin="basin-1", measured=after(-210), who="Ana", result=StripResult.PASS, dipped=after(-300),
        lot="S-9", expiry=date(2026, 1, 31), faults=(),
    )  # fmt: skip
    return Told(number, 480, after(-210), "Ana", taken, struck)


def correction() -> Told:
    """The charge nurse struck another strip."""
    wrong = StripRead(
        arrived=after(-400), who="Ben", basin="basin-1", measured=after(-400), result=StripResult.FAIL, lot="S-9"
    )
    struck = EntryStruck(at=after(300), entry=wrong, who="N. Charge", why="read the wrong bottle")
    return Told(55, 500, after(300), "N. Charge", struck)


def poured() -> Told:
    """What Ana poured."""
    event = SolutionPoured(
        at=after(-86_400), basin="basin-1", measured=after(-86_400), who="Ana", lot="L-77", label="opa-0.55-manual",
        printed_expiry=date(2026, 6, 30), opened=date(2025, 11, 20), opened_days=75, good_until=after(13 * 86_400),
    )  # fmt: skip
    return Told(40, 400, after(-86_400), "Ana", event)


def logged(**changes: object) -> LoggedSoak:
    """All of it, with changes."""
    whole = LoggedSoak(
        id="soak-7",
        place=PLACE,
        stage=SoakStage.ENDED,
        start=after(0),
        end=after(760),
        label="opa-0.55-manual",
        chemistry="ortho-phthalaldehyde 0.55 %",
        label_source="CDC/HICPAC 2008, Table 4",
        verdict=verdict(),
        judgements=(Judgement(60, after(762), 520, after(0), after(760), verdict(), LAW),),
        exposure=exposure(),
        solution=solution(),
        strip=strip(),
        probes=(share(),),
        unmeasured=("Cleaning, concentration and sterility are not measured by anything here.",),
        not_entered=(),
        corrections=(correction(),),
        entries=(poured(), entry()),
    )
    return replace(whole, **changes)  # type: ignore[arg-type]  # named like its fields

"""The record of a soak in words: everything that is known, and plainly what is not."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.happening import Telling
from dashboard.sheet import Fact
from dashboard.soak_sheet import SoakSheet, soak_sheet
from gateway.soak_log import LoggedSoak, SoakStage
from gateway.told import Struck
from rules.evidence import Inspection
from rules.solution import Clocks
from rules.verdict import Outcome, Reason
from tests.dashboard.soaks import after, entry, logged, share, solution, strip, verdict

TELLING = Telling(ZoneInfo("Europe/Lisbon"), {"cabinet-1": "Cabinet A", "basin-1": "Room, left"})


def sheet(**changes: object) -> SoakSheet:
    return soak_sheet(logged(**changes), TELLING)


def found(shown: SoakSheet, section: str, name: str) -> Fact:
    return next(f for s in shown.sections if s.id == section for f in s.facts if f.name == name)


def words(shown: SoakSheet) -> str:
    """All that stands on it."""
    return "\n".join(
        [shown.title, shown.outcome, *shown.reasons, shown.says]
        + [line for s in shown.sections for line in (s.title, *s.sentences)]
        + [f"{fact.name}: {line}" for s in shown.sections for fact in s.facts for line in fact.lines]
        + [" | ".join(row) for s in shown.sections if s.table for row in (s.table.headings, *s.table.rows)]
    )


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"claimed_by": None, "entered_by": "Ana"}, "entered by Ana, no tag was read (No. 61, 25 Nov 2025 14:18:20)"),
        ({"claimed_by": None, "put_in_by": None}, "its tag was read (No. 61, 25 Nov 2025 14:18:20)"),
    ],
)
def test_it_says_by_whom_or_what_a_probe_is_known_to_be_in_it(known: dict[str, str | None], said: str) -> None:
    shown = sheet(probes=(replace(share(), **known),))  # type: ignore[arg-type] - the names of its fields
    assert found(shown, "probe-probe-4", "Known to be in it").lines == (said,)


def test_a_soak_that_counts_for_nothing_for_a_probe_says_why_and_names_nobody_who_disinfected_it() -> None:
    shown = sheet(probes=(replace(share(), elsewhere="it hung on its hook meanwhile", put_in_by=None),))
    verdict_told = found(shown, "probe-probe-4", "Verdict on its share").lines[0]
    assert verdict_told.startswith("counts for nothing: it hung on its hook meanwhile (exposure met")
    assert "Ana" not in found(shown, "probe-probe-4", "Disinfected by (put in)").lines[0]


def late() -> dict[str, object]:
    """Read five minutes before the soak began, and entered a minute after that."""
    known = verdict()
    assert known.solution is not None
    check = known.solution.model_copy(update={"check_entered": after(60)})
    read = strip()
    return {
        "verdict": known.model_copy(update={"solution": check}),
        "strip": replace(read, strip=replace(read.strip, entered=after(60))),
    }


def test_a_strip_that_was_entered_after_the_soak_began_is_said_so_in_the_head_and_beside_it() -> None:
    shown = sheet(**late())
    assert shown.outcome == "Exposure met"
    assert shown.reasons == (
        (
            "Strip entered late: at 25 Nov 2025 14:04:20, after this soak had begun."
            " That it was read before is a person's word."
        ),
    )
    assert found(shown, "strip", "Entered").lines == ("25 Nov 2025 14:04:20, after this soak had begun",)


@pytest.mark.parametrize(
    ("changes", "note"),
    [
        (late(), " (the strip that counts for this soak, entered late)"),
        ({}, " (the strip that counts for this soak)"),
        ({"strip": None}, ""),
        ({"verdict": verdict().model_copy(update={"reasons": (Reason.STRIP_MISSING,)})}, ""),  # of the day before
    ],
)
def test_among_what_people_entered_the_strip_that_counts_is_marked(changes: dict[str, object], note: str) -> None:
    shown = sheet(entries=(entry(), entry(53)), **changes)
    (entries,) = (section.table for section in shown.sections if section.id == "entries")
    assert entries is not None
    said = "Strip of Basin 1: pass, lot S-9"
    assert [row[4].replace("Room, left", "Basin 1") for row in entries.rows] == [said + note, said]


def test_a_strip_that_was_entered_in_time_says_when() -> None:
    read = strip()
    shown = sheet(strip=replace(read, strip=replace(read.strip, entered=after(-200))))
    assert (shown.reasons, found(shown, "strip", "Entered").lines) == ((), ("25 Nov 2025 14:00:00",))


# Record per cycle after ANSI/AAMI ST58 (secondary): each field of it, and what it is in this soak.
PER_CYCLE = [
    ("probe identity", "Probe: Endocavity, cart 4 (probe-4)"),
    ("serial", "Serial number: SN 0099-17"),
    ("date and time", "Lid closed at: 25 Nov 2025 14:03:20"),
    ("exam reference", "Exam: EX-2291"),
    ("who cleaned", "Cleaned before: 25 Nov 2025 13:51:40: cover off, washed, dried, by Ben"),
    ("who disinfected", "Known to be in it: claimed by Ana, technician"),
    ("chemistry", "Chemistry: ortho-phthalaldehyde 0.55 %"),
    ("lot", "Lot: L-77"),
    ("expiry", "Printed expiry: 30 Jun 2026"),
    ("opened", "Bottle opened: 20 Nov 2025"),
    ("activated", "Poured (activated): 24 Nov 2025 14:03:20 by Ana"),
    ("reuse end", "Reuse life ends: 8 Dec 2025 14:03:20"),
    ("strip lot", "Lot: S-9"),
    ("strip expiry", "Expiry: 31 Jan 2026"),
    ("strip result", "Result: pass"),
    ("exposure time", "Counted: 12:40 of 12:00"),
    ("exposure temperature", "Lowest temperature: 21.4 °C"),
    ("damage check", "Damage check: 25 Nov 2025 13:52:30: no damage found, by Ben"),
    ("place", "Place, as known now: in a cabinet (Cabinet A) since 25 Nov 2025 14:20:00"),
    ("delay from exam end to cleaning", "From exam to cleaning: 13:20"),
    ("disposition", "Disposition, as known now: ready for use"),
]


@pytest.mark.parametrize(("field", "said"), PER_CYCLE, ids=[field for field, _ in PER_CYCLE])
def test_each_field_of_the_record_per_cycle_stands_on_the_sheet(field: str, said: str) -> None:
    assert said in words(sheet()), field


def test_what_nobody_entered_is_said_and_never_left_out() -> None:
    bare = replace(
        share(),
        probe=replace(share().probe, serial=None),
        contacts=(),
        cleaned=(),
        cleaning_delay_seconds=None,
        inspected=None,
        after=(),
    )
    shown, whole = sheet(probes=(bare,)), sheet()
    for name in ("Serial number", "Contacts before", "Exam", "Cleaned before", "Damage check", "Done after"):
        fact = found(shown, "probe-probe-4", name)
        assert (fact.lines, fact.is_missing) == (("not entered",), True)
    assert found(shown, "probe-probe-4", "From exam to cleaning").is_missing
    names = [[fact.name for s in of.sections for fact in s.facts] for of in (shown, whole)]
    assert names[0] == names[1]


def test_damage_that_was_found_is_not_to_be_overlooked() -> None:
    damaged = replace(share(), inspected=Inspection(after(-650), sound=False, who="Ben"))
    fact = found(sheet(probes=(damaged,)), "probe-probe-4", "Damage check")
    assert fact.lines == ("25 Nov 2025 13:52:30: DAMAGE FOUND, by Ben",)


def test_what_is_not_there_at_all_is_said() -> None:
    said = words(sheet(solution=None, strip=None, probes=(), corrections=(), entries=()))
    assert "No solution is recorded to have been in the basin." in said
    assert "No strip is recorded before this soak." in said
    assert "Nobody told which probe was in this soak, and no tag did." in said
    assert "None: nothing in this record was corrected." in said
    assert "Nobody entered anything." in said


def test_a_date_that_is_missing_fails_and_an_end_that_is_not_known_is_said_to_be_so() -> None:
    told = solution()
    unknown = replace(told, clocks=Clocks(None, None, None))
    no_date = replace(unknown, lot=replace(told.lot, printed_expiry=None))
    for shown, said in ((unknown, "not known"), (no_date, "a date is missing: it fails")):
        assert found(sheet(solution=shown), "solution", "Good until, the earliest").lines == (said,)


def test_a_soak_without_a_temperature_says_not_measured() -> None:
    told = replace(logged().exposure, samples=(), lowest_celsius=None, highest_celsius=None, credited=None)
    assert found(sheet(exposure=told), "exposure", "Lowest temperature").lines == ("not measured",)


def test_all_reasons_are_given_each_with_what_it_means() -> None:
    every = sheet(verdict=verdict(Outcome.TOO_SHORT, *Reason))
    assert len(every.reasons) == len(Reason)
    assert [words.partition(":")[0].lower() for words in every.reasons] == [reason.value for reason in Reason]
    assert every.tone == "short"


@pytest.mark.parametrize(
    ("changes", "outcome", "tone"),
    [
        ({}, "Exposure met", "met"),
        ({"verdict": verdict(Outcome.MET)}, "Time and temperature met", "met"),
        ({"verdict": verdict(Outcome.TOO_COLD, Reason.TOO_COLD)}, "Too cold", "short"),
        ({"verdict": None, "end": None, "stage": SoakStage.RUNNING}, "Still running", "open"),
        ({"verdict": None, "stage": SoakStage.WITHDRAWN}, "Withdrawn", "open"),
    ],
)
def test_the_verdict_in_large_words(changes: dict[str, object], outcome: str, tone: str) -> None:
    shown = sheet(**changes)
    assert (shown.outcome, shown.tone) == (outcome, tone)


def test_a_verdict_of_time_and_temperature_is_not_said_to_be_more() -> None:
    assert "nothing is said of them" in sheet(verdict=verdict(Outcome.MET)).says


def test_a_soak_that_a_strip_threw_doubt_on_later_is_no_good_one() -> None:
    met = verdict()
    assert met.solution is not None
    doubted = met.model_copy(update={"solution": met.solution.model_copy(update={"doubted_by": after(5000)})})
    shown = sheet(verdict=doubted)
    assert (shown.outcome, shown.tone) == ("Exposure met, but in doubt", "short")
    assert "Do not use what was soaked" in shown.reasons[-1]


def test_corrections_tell_who_when_and_why() -> None:
    said = words(sheet())
    assert "Struck an entry (strip read by Ben): read the wrong bottle" in said
    assert "55 | 25 Nov 2025 14:08:20 | 25 Nov 2025 14:08:20 | N. Charge" in said
    struck = Struck(after(300), "N. Charge", "other basin")
    said = words(sheet(entries=(entry(struck=struck),), strip=strip(struck)))
    assert said.count("25 Nov 2025 14:08:20 by N. Charge: other basin") == 2


def test_the_versions_that_judged_are_told_in_full() -> None:
    assert f"0.1.0 | 24 Nov 2025 14:03:20 | 1 | {'6f1c' * 16}" in words(sheet())


def test_a_running_soak_is_drawn_as_far_as_it_is_known() -> None:
    running: LoggedSoak = logged(end=None, verdict=None, stage=SoakStage.RUNNING)
    assert soak_sheet(running, TELLING).drawn.end == running.exposure.samples[-1].at

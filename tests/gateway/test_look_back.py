"""The look-back: which soaks something bears on, the probes in them, and where those were used since.

After a failed strip or a cold soak: list what was processed since the last good check, and hold the probes (common
practice; the list and no more is ours).
"""

from pathlib import Path
from random import Random

import pytest

from gateway.look_back import (
    FailedStrip,
    Overturned,
    UnsoundSoak,
    WrongLot,
    uses_of,
)
from gateway.look_back_reading import NothingFoundError
from gateway.look_back_told import lines
from rules.commands import Input, SensorFoundOff
from rules.evidence import Touch
from rules.probe_words import Level
from rules.verdict import Outcome
from tests.gateway.books import worked
from tests.gateway.looked_back import FAIL, HOUR, THERMOMETER, ids, only_probe, soaks, written
from tests.rules.bath import discard, pour, strike, strip, top_up
from tests.rules.feeder import HOOK_A, OFF_HOOK, TEMPERATURE, instant, late, read, soak
from tests.rules.followed import claim, contact, hung

# ---- a strip that failed ---------------------------------------------------------------------------------------------


def test_after_a_failed_strip_all_since_the_last_good_one_are_listed(tmp_path: Path) -> None:
    # One strip for two soaks is against this site's policy, and just then a look-back has to reach further.
    book = written(tmp_path, soaks(100, HOUR), soak(720, 21, start=2 * HOUR), [strip(3 * HOUR, FAIL)])
    found = book.look_back(FailedStrip("basin-1"))
    assert ids(found) == ["basin-1.2", "basin-1.3"]
    assert found.since == instant(HOUR - 20)


def test_without_a_good_strip_all_since_the_pour_are_listed(tmp_path: Path) -> None:
    book = written(tmp_path, soak(720, 21), soak(720, 21, start=HOUR), [strip(2 * HOUR, FAIL)])
    found = book.look_back(FailedStrip("basin-1"))
    assert (ids(found), found.since) == (["basin-1.1", "basin-1.2"], None)


def test_what_was_in_another_solution_is_not_listed(tmp_path: Path) -> None:
    fresh = [discard(HOUR - 50), pour(HOUR - 40, lot="L2")]
    book = written(tmp_path, soaks(100), fresh, soak(720, 21, start=HOUR), [strip(2 * HOUR, FAIL)])
    assert ids(book.look_back(FailedStrip("basin-1"))) == ["basin-1.2"]


def test_a_soak_under_way_at_the_last_good_strip_is_listed(tmp_path: Path) -> None:
    # None passed after its end before one failed, so it is in doubt (rules.weighing.weigh): it belongs into the list.
    book = written(tmp_path, soaks(100), [strip(400), strip(HOUR, FAIL)])
    assert ids(book.look_back(FailedStrip("basin-1"))) == ids(book.look_back(Overturned())) == ["basin-1.1"]


def test_a_soak_that_began_after_the_strip_had_failed_is_listed_too(tmp_path: Path) -> None:
    book = written(tmp_path, soaks(100), [strip(1000, FAIL)], soaks(HOUR))
    found = book.look_back(FailedStrip("basin-1", instant(1000)))
    assert [soak.suspect.why for soak in found.soaks] == ["a strip failed after it", "the strip had failed before it"]


def test_a_failed_strip_that_was_struck_is_none(tmp_path: Path) -> None:
    wrong = strip(1000, FAIL)
    book = written(tmp_path, soaks(100), [wrong, strike(wrong, 1100)])
    with pytest.raises(NothingFoundError, match="No strip that failed is recorded at basin 'basin-1'"):
        book.look_back(FailedStrip("basin-1"))


def test_an_earlier_failed_strip_can_be_asked_about(tmp_path: Path) -> None:
    both = [strip(1000, FAIL), discard(1100), pour(1200), strip(2 * HOUR, FAIL)]
    book = written(tmp_path, soaks(100), both, soaks(HOUR))
    assert ids(book.look_back(FailedStrip("basin-1", instant(1500)))) == ["basin-1.1"]
    assert ids(book.look_back(FailedStrip("basin-1"))) == ["basin-1.2"]


# ---- where its probes went -------------------------------------------------------------------------------------------


def test_each_later_use_is_listed_with_its_exam(tmp_path: Path) -> None:
    used = [contact(2000, exam="B-2"), contact(2600, "skin", exam="C-3")]
    probe = only_probe(written(tmp_path, worked(0), used).look_back(UnsoundSoak("basin-1.1")))
    assert (probe.probe.id, probe.taken_out, probe.sound) == ("curved-1", instant(920), None)
    assert [(use.exam, use.surface, use.marked) for use in probe.uses if use.marked] == [
        ("B-2", "mucosa", True),
        ("C-3", "skin", True),
    ]
    assert probe.needs.startswith("do not use it before it is cleaned and soaked soundly")
    assert "infection prevention decides" in probe.needs


def test_uses_end_with_the_next_sound_soak(tmp_path: Path) -> None:
    again = worked(5000, exam="B-2", soak_name="basin-1.2")
    later = [contact(8000, exam="C-3")]
    probe = only_probe(written(tmp_path, worked(0), again, later).look_back(UnsoundSoak("basin-1.1")))
    assert [use.exam for use in probe.uses if use.marked] == ["B-2"]
    assert probe.sound is not None
    assert probe.sound.soak == "basin-1.2"
    assert probe.needs.endswith("soaked soundly since, in basin-1.2")


def test_a_soak_that_is_suspect_itself_is_no_sound_one(tmp_path: Path) -> None:
    again = worked(5000, exam="B-2", soak_name="basin-1.2")
    found = written(tmp_path, worked(0), again, [contact(8000, exam="C-3")]).look_back(WrongLot("L1"))
    assert ids(found) == ["basin-1.1", "basin-1.2"]
    first, second = (soak.probes[0] for soak in found.soaks)
    assert [use.exam for use in first.uses if use.marked] == ["B-2"]
    assert first.needs.endswith("; uses after basin-1.2 are listed there")
    assert [use.exam for use in second.uses if use.marked] == ["C-3"]


@pytest.mark.parametrize("chunk", [1, 2, 3])
def test_a_life_is_read_on_until_a_sound_soak_after_the_last_suspect_one(
    tmp_path: Path, chunk: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    rounds = [
        worked(begin, exam=f"E-{n}", soak_name=f"basin-1.{n}") for n, begin in enumerate((0, 5000, 10_000, 15_000), 1)
    ]
    fresh = {1: [], 2: [discard(9000), pour(9100, lot="L2")], 3: [discard(14_000), pour(14_100)]}
    book = written(tmp_path, *rounds, *fresh.values(), [contact(18_000, exam="E-9")])
    monkeypatch.setattr("gateway.lives.CHUNK", chunk)
    found = book.look_back(WrongLot("L1"))
    assert ids(found) == ["basin-1.1", "basin-1.2", "basin-1.4"]
    uses = [[use.exam for use in soak.probes[0].uses if use.marked] for soak in found.soaks]
    assert uses == [["E-2"], ["E-3"], ["E-9"]]
    sound = [soak.probes[0].sound for soak in found.soaks]
    assert [bath and bath.soak for bath in sound] == ["basin-1.3", "basin-1.3", None]


def test_a_use_that_nobody_marked_is_listed_as_such(tmp_path: Path) -> None:
    # Off its hook for half an hour, which is a use though nobody said of what (policy 'not proven', ours).
    unmarked = [*hung(1220, 2000), read(HOOK_A, OFF_HOOK, 2010), *hung(3800, 3900)]
    probe = only_probe(written(tmp_path, worked(0), unmarked, until=4000).look_back(UnsoundSoak("basin-1.1")))
    assert [(use.marked, use.exam) for use in probe.uses] == [(False, None)]


def test_a_soak_that_is_in_doubt_does_not_end_a_look_back(tmp_path: Path) -> None:
    again = worked(5000, exam="B-2", soak_name="basin-1.2")
    doubt = [strip(6500, FAIL), contact(8000, exam="C-3")]
    probe = only_probe(written(tmp_path, worked(0), again, doubt).look_back(UnsoundSoak("basin-1.1")))
    assert [use.exam for use in probe.uses if use.marked] == ["B-2", "C-3"]
    assert probe.sound is None


def test_a_use_marked_as_the_probe_was_taken_out_is_listed(tmp_path: Path) -> None:
    used = [contact(920, exam="B-2", arrived=950)]
    probe = only_probe(written(tmp_path, worked(0), used).look_back(UnsoundSoak("basin-1.1")))
    assert [use.exam for use in probe.uses if use.marked] == ["B-2"]


def test_a_use_that_nobody_saw_is_said_to_be_possible(tmp_path: Path) -> None:
    # Marked and hung up; its hook then falls silent for longer than it is taken to be on its way.
    marked = [read(HOOK_A, OFF_HOOK, 1220), contact(1300, exam="B-2"), *hung(1400, 1500)]
    probe = only_probe(written(tmp_path, worked(0), marked, until=4000).look_back(UnsoundSoak("basin-1.1")))
    assert [(use.exam, use.seen) for use in probe.uses] == [("B-2", True), (None, False)]


def test_what_is_soaked_for_long_in_a_suspect_is_listed_once(tmp_path: Path) -> None:
    # Ten rounds in a bad lot are ten uses, not the 45 that they were if each stood under every soak before it.
    rounds = [worked(n * 5000, exam=f"E-{n}", soak_name=f"basin-1.{n + 1}") for n in range(10)]
    found = written(tmp_path, *rounds).look_back(WrongLot("L1"))
    uses = [use.exam for soak in found.soaks for use in soak.probes[0].uses if use.marked]
    assert uses == [f"E-{n}" for n in range(1, 10)]


@pytest.mark.parametrize("seed", range(6))
def test_no_exam_after_an_unsound_soak_is_missing(tmp_path: Path, seed: int) -> None:
    """Counted from what was done, not from what the engine said of it."""
    chance = Random(seed)  # noqa: S311 - a sample, no secret
    said: list[list[Input]] = []
    sound: list[float] = []
    exams: list[tuple[float, str]] = []
    for n in range(8):
        begin, kind = n * 5000.0, chance.choice(["sound", "cold", "doubted"])
        said.append(worked(begin, exam=None, celsius=15 if kind == "cold" else 21, soak_name=f"basin-1.{n + 1}"))
        if kind == "doubted":
            said.append([strip(begin + 1170, FAIL), discard(begin + 1180), pour(begin + 1190)])
        elif kind == "sound":
            sound.append(begin + 200)
        exams.append((begin, "round"))
        for m in range(chance.randrange(4)):
            at, exam = begin + 1300 + 900 * m, f"E-{n}-{m}"
            mark = contact(at, chance.choice(["skin", "mucosa"]), exam=exam)
            is_struck = chance.random() < 0.3
            said.append([mark, strike(mark, at + 5)] if is_struck else [mark])
            exams += [] if is_struck else [(at, exam)]
    book = written(tmp_path, *said)
    for n in range(8):
        begin = n * 5000.0 + 200
        end = next((start for start in sound if start > begin), 1e9)
        wanted = [exam for at, exam in exams if begin + 720 <= at < end]
        uses = only_probe(book.look_back(UnsoundSoak(f"basin-1.{n + 1}"))).uses
        assert [use.exam or "round" for use in uses if use.marked] == wanted


def test_a_soak_of_which_nobody_knows_the_probe_asks_to_find_out(tmp_path: Path) -> None:
    (touched,) = written(tmp_path, soaks(100)).look_back(UnsoundSoak("basin-1.1")).soaks
    assert touched.probes == ()
    assert touched.needs.startswith("find out which probes were in it")


def test_a_mark_belongs_to_the_use_before_it_and_only_to_that_one() -> None:
    mark = Touch(instant(30), Level.HIGH, None, "mucosa", "A-1", "R. Nurse")
    uses = uses_of([mark], {instant(10): True, instant(50): True})
    assert [(use.at, use.marked) for use in uses] == [(instant(30), True), (instant(50), False)]


def test_nothing_is_found_of_a_soak_that_there_is_not(tmp_path: Path) -> None:
    with pytest.raises(NothingFoundError, match=r"No soak 'basin-1\.9' that has ended"):
        written(tmp_path, soaks(100)).look_back(UnsoundSoak("basin-1.9"))


# ---- a lot -----------------------------------------------------------------------------------------------------------


def test_a_wrong_lot_touches_what_was_soaked_in_it(tmp_path: Path) -> None:
    fresh = [discard(HOUR - 50), pour(HOUR - 40, lot="L2")]
    book = written(tmp_path, soaks(100), fresh, soaks(HOUR))
    assert ids(book.look_back(WrongLot("L2"))) == ["basin-1.2"]
    assert book.look_back(WrongLot("L2")).soaks[0].suspect.why == "the lot was in it"


def test_a_wrong_lot_that_was_added_touches_what_came_after(tmp_path: Path) -> None:
    added = top_up(HOUR - 100).model_copy(update={"lot": "L7"})
    book = written(tmp_path, soaks(100, HOUR), [added])
    assert ids(book.look_back(WrongLot("L7"))) == ["basin-1.2"]


def test_a_wrong_lot_that_was_added_touches_the_soak_under_way(tmp_path: Path) -> None:
    added = top_up(500).model_copy(update={"lot": "L7"})
    assert ids(written(tmp_path, soaks(100, HOUR), [added]).look_back(WrongLot("L7"))) == ["basin-1.1", "basin-1.2"]


def test_a_wrong_lot_of_strips_touches_what_they_passed(tmp_path: Path) -> None:
    other = strip(HOUR - 20).model_copy(update={"lot": "S9"})
    book = written(tmp_path, soaks(100), [other], soak(720, 21, start=HOUR), soaks(2 * HOUR))
    assert ids(book.look_back(WrongLot("S9"))) == ["basin-1.2"]


def test_a_lot_that_nobody_entered_is_told(tmp_path: Path) -> None:
    with pytest.raises(NothingFoundError, match="No solution and no strip of lot 'L9'"):
        written(tmp_path, soaks(100)).look_back(WrongLot("L9"))


# ---- what the record itself says -------------------------------------------------------------------------------------


def test_a_soak_that_late_readings_made_cold_is_listed_without_being_asked_for(tmp_path: Path) -> None:
    cold = late([read(TEMPERATURE, 15.0, at) for at in (405, 406, 407)], 1500)
    found = written(tmp_path, worked(0), cold).look_back(Overturned())
    assert ids(found) == ["basin-1.1"]
    assert found.soaks[0].suspect.why.startswith("it was told as exposure met, and is ")


def test_a_soak_in_doubt_is_listed_and_one_that_never_was_met_is_not(tmp_path: Path) -> None:
    short = soak(300, 21, start=2 * HOUR)
    found = written(tmp_path, soaks(100), short, [strip(3 * HOUR, FAIL)]).look_back(Overturned())
    assert ids(found) == ["basin-1.1"]
    assert found.soaks[0].suspect.why == "a strip failed after it"


def test_what_a_thermometer_judged_that_was_found_off_later_is_listed_however_long_ago(tmp_path: Path) -> None:
    # The engine remembers a day or so of a basin; 30 days later it has nothing left of this soak to judge again.
    month = 30 * 86_400
    off = SensorFoundOff(
        arrived=instant(month), who="E. Ng", sensor=THERMOMETER, since=instant(0), error_celsius=1.5, why="ice water"
    )
    book = written(tmp_path, soaks(100), [off], until=month + 100)
    assert [line.outcome for line in book.soaks().lines] == [Outcome.EXPOSURE_MET]
    found = book.look_back(Overturned())
    assert ids(found) == ["basin-1.1"]
    assert found.soaks[0].suspect.rejudged is not None


def test_a_soak_that_the_engine_judged_again_itself_is_listed_once(tmp_path: Path) -> None:
    off = SensorFoundOff(
        arrived=instant(2000), who="E. Ng", sensor=THERMOMETER, since=instant(0), error_celsius=1.5, why="ice water"
    )
    found = written(tmp_path, soaks(100), [off], until=3000).look_back(Overturned())
    assert [soak.suspect.why for soak in found.soaks] == ["it was told as exposure met, and is too cold"]


def test_a_probe_that_was_told_to_have_been_in_a_sound_soak_and_was_not_is_listed(tmp_path: Path) -> None:
    wrong = claim(1000, since=200)  # as worked() enters it: until it is struck the probe was taken for ready
    found = written(tmp_path, worked(0), [contact(2000, exam="B-2"), strike(wrong, 3000)]).look_back(Overturned())
    assert ids(found) == ["basin-1.1"]
    assert found.soaks[0].suspect.why.startswith("it was told to count for the probe, and does not")
    assert [use.exam for use in only_probe(found).uses if use.marked] == ["B-2"]


def test_where_all_is_sound_nothing_is_listed(tmp_path: Path) -> None:
    book = written(tmp_path, worked(0))
    found = book.look_back(Overturned())
    assert list(lines(found, book.zone())) == ["0 soaks, 0 probes, 0 uses since. Times are local to UTC."]


# ---- in words --------------------------------------------------------------------------------------------------------


def test_it_is_told_in_words_and_says_that_nobody_was_notified(tmp_path: Path) -> None:
    used = [contact(2000, exam="B-2")]
    book = written(tmp_path, worked(0), used, [strip(3000, FAIL)], until=3100)
    told = list(lines(book.look_back(FailedStrip("basin-1")), book.zone()))
    # Second 0 is 22:13:20 UTC on 14 November 2023 (`date -u -d @1700000000`).
    assert "The last good check before was at 2023-11-14 22:15:20." in told
    assert (
        "Soak basin-1.1, Basin 1, 2023-11-14 22:16:40 to 2023-11-14 22:28:40, exposure met: a strip failed after it."
        in told
    )
    assert "    used at 2023-11-14 22:46:40: mucosa, exam B-2, marked by R. Nurse" in told
    assert told[-1].startswith("This is a list and no decision: nobody was notified.")

"""Probes from the journal: their part in a soak, lists of them, and how they stood at an instant."""

from dataclasses import replace
from pathlib import Path

import pytest

from gateway.gaps import not_entered
from gateway.logbook import Logbook
from gateway.probe_reading import EVENTS_BEFORE
from gateway.probe_told import lines
from gateway.soak_log import LoggedSoak, ProbeShare, SoakFilter
from gateway.soak_table import SOAK_COLUMNS, soak_rows
from rules.probe_events import ProbeSeen, ProbeStands, ProbeTouched
from rules.probe_words import Fitness, Place, Step
from rules.readings import StripResult
from rules.verdict import Outcome
from tests.gateway.books import HUNG, TRACKED, Book, book_of, merged, site_text, worked
from tests.rules.bath import pour, strike, strip
from tests.rules.feeder import HOOK_A, ON_HOOK, instant, read, seconds
from tests.rules.followed import PROBE, claim, contact, did, hung, placed, vouch


def read_soak(book: Logbook, name: str = "basin-1.1") -> LoggedSoak:
    found = book.soak(name)
    assert found is not None
    return found


def share_of(book: Logbook) -> ProbeShare:
    (share,) = read_soak(book).probes
    return share


@pytest.fixture
def book(tmp_path: Path) -> Logbook:
    """One round of the probe."""
    return book_of(tmp_path, worked(0)).closed()


# ---- its part in a soak ----------------------------------------------------------------------------------------------


def test_a_soak_tells_which_probe_was_in_it_with_its_own_times(book: Logbook) -> None:
    share = share_of(book)
    assert (share.probe.id, share.probe.name, share.probe.serial) == (PROBE, "Curved 1", "SN-1001")
    assert (share.put_in, share.taken_out) == (instant(200), instant(920))
    assert share.verdict.outcome is Outcome.EXPOSURE_MET
    assert (share.claimed_by, share.role, share.put_in_by) == ("R. Tech", "technician", "R. Tech")


def test_who_entered_that_it_is_in_the_basin_disinfected_it_and_a_reader_tells_nobody(tmp_path: Path) -> None:
    unclaimed = [item for item in worked(0) if getattr(item, "kind", "") != "claim"]
    by_hand = [placed(190, Place.BASIN, "basin-1"), placed(930, Place.SINK)]
    share = share_of(book_of(tmp_path, unclaimed, by_hand).closed())
    assert (share.claimed_by, share.entered_by, share.put_in_by) == (None, "R. Tech", "R. Tech")
    assert "Curved 1: who put it into the basin" in not_entered(None, None, [replace(share, put_in_by=None)])


def entered_by_hand(folder: Path) -> Logbook:
    """One round of the probe whose place in the basin a person entered."""
    unclaimed = [item for item in worked(0) if getattr(item, "kind", "") != "claim"]
    return book_of(folder, unclaimed, [placed(190, Place.BASIN, "basin-1")]).closed()


def test_a_place_that_was_entered_is_among_what_people_entered_and_can_be_struck(tmp_path: Path) -> None:
    book = entered_by_hand(tmp_path)
    (entry,) = [entry for entry in read_soak(book).entries if isinstance(entry.event, ProbeSeen)]
    assert (entry.number, entry.who) == (share_of(book).number, "R. Tech")
    found = book.entry(entry.number)
    assert found is not None
    assert found.entry == placed(190, Place.BASIN, "basin-1")


def test_the_table_of_soaks_says_that_a_place_was_entered_and_by_whom(tmp_path: Path) -> None:
    book = entered_by_hand(tmp_path)
    (row,) = soak_rows(read_soak(book), book.zone())
    told = dict(zip(SOAK_COLUMNS, row, strict=True))
    assert (told["known_by"], told["put_in_by"], told["claimed_by"]) == ("entry", "R. Tech", None)


def test_a_list_of_soaks_names_who_entered_that_a_probe_was_in_one(tmp_path: Path) -> None:
    by_hand = [placed(190, Place.BASIN, "basin-1").model_copy(update={"who": "B. Night"})]
    unclaimed = [item for item in worked(0) if getattr(item, "kind", "") != "claim"]
    (line,) = book_of(tmp_path, unclaimed, by_hand).closed().soaks().lines
    assert "B. Night" in line.people


def test_a_claim_that_a_late_word_of_its_hook_contradicts_disinfected_nothing(tmp_path: Path) -> None:
    late = [read(HOOK_A, ON_HOOK, at, 2500 + at / 100) for at in (500, 560)]
    share = share_of(book_of(tmp_path, worked(0), late).closed())
    assert (share.elsewhere, share.put_in_by) == ("it hung on its hook meanwhile", None)


def test_it_tells_exam_cleaning_and_the_delay_between_them(book: Logbook) -> None:
    share = share_of(book)
    assert [(touch.exam, touch.surface, touch.who) for touch in share.contacts] == [("A-17", "mucosa", "R. Nurse")]
    assert [handling.who for handling in share.cleaned] == ["R. Tech"]
    assert share.cleaning_delay_seconds == 100
    assert share.inspected is not None
    assert (share.inspected.sound, share.inspected.who) == (True, "R. Tech")
    assert [handling.steps for handling in share.after] == [(Step.RINSED,), (Step.DRIED,)]


def test_nothing_is_missing_of_a_soak_of_which_all_was_entered_but_the_dip(book: Logbook) -> None:
    assert read_soak(book).not_entered == ("dip of the strip",)


def test_what_nobody_entered_of_a_probe_is_named(tmp_path: Path) -> None:
    kinds = ("contact", "steps done", "inspected")
    said = [item for item in worked(0) if getattr(item, "kind", "") not in kinds]
    found = read_soak(book_of(tmp_path, said).closed())
    assert found.not_entered[1:] == (
        "Curved 1: what it touched",
        "Curved 1: when it was washed",
        "Curved 1: look for damage",
    )


def test_who_entered_what_is_told_in_its_order(book: Logbook) -> None:
    entries = read_soak(book).entries
    assert [(entry.event.kind, entry.who) for entry in entries] == [
        ("solution poured", "R. Tech"),
        ("probe touched", "R. Nurse"),
        ("probe stepped", "R. Tech"),
        ("probe inspected", "R. Tech"),
        ("strip taken", "R. Tech"),
        ("probe soaked", "R. Tech"),
        ("probe stepped", "R. Tech"),
        ("probe stepped", "R. Tech"),
    ]


def test_what_became_of_it_is_told_up_to_its_next_use(tmp_path: Path) -> None:
    later = [*hung(1220, 1960), contact(2000, exam="B-2")]
    after = share_of(book_of(tmp_path, worked(0), later).closed()).disposition
    assert (after.fitness, after.place, after.thing) == (Fitness.READY, Place.HOOK, "cart-1")
    assert after.next_use is not None
    assert (after.next_use.exam, after.next_use.at) == ("B-2", instant(2000))
    assert after.next_soak is None


def test_a_claim_that_was_struck_takes_the_probe_out_of_the_soak(tmp_path: Path) -> None:
    wrong = claim(1000, since=200)
    found = read_soak(book_of(tmp_path, worked(0), [strike(wrong, 1500)]).closed())
    assert found.probes == ()
    assert "which probe was in it" in found.not_entered


def test_a_contact_that_was_struck_is_no_reason_for_the_soak_but_stays_to_be_seen(tmp_path: Path) -> None:
    wrong = contact(20, exam="WRONG")
    found = read_soak(book_of(tmp_path, worked(0), [wrong, strike(wrong, 1500)]).closed())
    assert [touch.exam for touch in found.probes[0].contacts] == ["A-17"]
    (struck,) = [entry for entry in found.entries if entry.struck]
    assert isinstance(struck.event, ProbeTouched)
    assert [correction.who for correction in found.corrections] == ["S. Lead"]


def test_only_contacts_since_the_last_sound_soak_are_of_this_one(tmp_path: Path) -> None:
    twice = [worked(0, exam="A-1"), worked(5000, exam="B-2", soak_name="basin-1.2")]
    found = read_soak(book_of(tmp_path, *twice, until=7000).closed(), "basin-1.2")
    assert [touch.exam for touch in found.probes[0].contacts] == ["B-2"]


def test_a_soak_that_fell_short_ends_no_run_so_that_its_contacts_are_of_the_next_one_too(tmp_path: Path) -> None:
    twice = [worked(0, exam="A-1", celsius=19), worked(5000, exam="B-2", soak_name="basin-1.2")]
    found = read_soak(book_of(tmp_path, *twice, until=7000).closed(), "basin-1.2")
    assert [touch.exam for touch in found.probes[0].contacts] == ["A-1", "B-2"]


# ---- lists -----------------------------------------------------------------------------------------------------------


def test_soaks_are_found_by_probe_exam_and_people(tmp_path: Path) -> None:
    twice = [worked(0, exam="A-1"), worked(5000, exam="B-2", soak_name="basin-1.2")]
    book = book_of(tmp_path, *twice, until=7000).closed()
    for asked, found in (
        (SoakFilter(probe=PROBE), ["basin-1.2", "basin-1.1"]),
        (SoakFilter(probe="internal-1"), []),
        (SoakFilter(text="b-2"), ["basin-1.2"]),
        (SoakFilter(text="sn-1001"), ["basin-1.2", "basin-1.1"]),
        (SoakFilter(text="r. nurse"), ["basin-1.2", "basin-1.1"]),
    ):
        assert [line.id for line in book.soaks(asked).lines] == found


def test_a_soak_that_was_told_anew_is_listed_once_and_as_it_is_known_today(tmp_path: Path) -> None:
    failed = strip(150, StripResult.FAIL, 2000)
    book = book_of(tmp_path, worked(0), [failed], worked(5000, soak_name="basin-1.2"), until=7000).closed()
    lines = book.soaks(SoakFilter(probe=PROBE)).lines
    assert [(line.id, line.outcome) for line in lines][-1] == ("basin-1.1", Outcome.STRIP_FAILED)
    assert len(lines) == 2


def test_a_probes_soaks_are_listed_page_by_page(tmp_path: Path) -> None:
    rounds = [worked(begin, soak_name=f"basin-1.{n}") for n, begin in enumerate((0, 5000, 10_000), 1)]
    book = book_of(tmp_path, *rounds, until=12_000).closed()
    first = book.soaks(SoakFilter(probe=PROBE), most=2)
    second = book.soaks(SoakFilter(probe=PROBE), first.next, most=2)
    assert [[line.id for line in page.lines] for page in (first, second)] == [["basin-1.3", "basin-1.2"], ["basin-1.1"]]
    assert second.next is None


def test_probes_are_listed_as_the_site_file_has_them_and_then_those_it_has_no_more(tmp_path: Path) -> None:
    writing = book_of(tmp_path, worked(0), until=1170)
    without = site_text(more=TRACKED).replace('id = "curved-1"', 'id = "curved-9"').replace('tag = "E2-77"', "")
    listed = writing.under(without).closed().probes()
    assert [(line.probe.id, line.in_site) for line in listed] == [
        ("curved-9", True),
        ("internal-1", True),
        ("curved-1", False),
    ]
    gone = listed[-1]
    assert gone.probe.serial == "SN-1001"
    assert gone.stands is not None
    assert gone.stands.fitness is Fitness.READY


# ---- how it stood ----------------------------------------------------------------------------------------------------


def fitness(book: Logbook, at: float) -> Fitness:
    found = book.probe_at(PROBE, instant(at))
    assert found is not None
    return found.standing.fitness


def test_any_instant_of_the_past_can_be_asked(book: Logbook) -> None:
    for at, expected in (
        (-200, Fitness.NOT_PROVEN),  # nothing is known of it before
        (50, Fitness.IN_USE),
        (150, Fitness.IN_PROCESS),
        (1015, Fitness.IN_PROCESS),  # rinsed, not dried yet
        (1030, Fitness.READY),
    ):
        assert fitness(book, at) is expected, at


def test_it_is_told_by_which_soak_it_is_ready(book: Logbook) -> None:
    found = book.probe_at(PROBE, instant(1030))
    assert found is not None
    assert (found.standing.soak, found.standing.owes) == ("basin-1.1", None)


def test_or_by_whose_word(tmp_path: Path) -> None:
    found = book_of(tmp_path, [vouch(-50)]).closed().probe_at(PROBE, instant(0))
    assert found is not None
    assert (found.standing.fitness, found.standing.vouched_by) == (Fitness.READY, "E. Ngineer")


def test_what_is_known_today_may_be_other_than_what_was_made_of_it_then(tmp_path: Path) -> None:
    # That it was dried is entered ten minutes late: at 1030 s nobody could know.
    late = [did(1020, Step.DRIED, arrived=1620) if item == did(1020, Step.DRIED) else item for item in worked(0)]
    found = book_of(tmp_path, late).closed().probe_at(PROBE, instant(1030))
    assert found is not None
    assert found.standing.fitness is Fitness.READY
    assert isinstance(found.told_then, ProbeStands)
    assert found.told_then.fitness is Fitness.IN_PROCESS


def test_an_entry_that_was_struck_made_no_difference(tmp_path: Path) -> None:
    wrong = contact(1300)
    said = [worked(0), [wrong, strike(wrong, 1500)]]
    assert fitness(book_of(tmp_path, *said).closed(), 1400) is Fitness.READY


def test_where_it_was_is_told(tmp_path: Path) -> None:
    found = book_of(tmp_path, worked(0), [placed(1300, Place.CABINET, "cab-1")]).closed().probe_at(PROBE, instant(1400))
    assert found is not None
    assert (found.standing.place, found.standing.thing, found.standing.since) == (Place.CABINET, "cab-1", instant(1300))


def test_it_is_judged_by_the_law_in_force_then(tmp_path: Path) -> None:
    writing = book_of(tmp_path, worked(0))
    first = writing.law.sha256
    book = writing.under(site_text(more=TRACKED + "storage_days = 1\n")).closed()
    found = book.probe_at(PROBE, instant(1030))
    assert found is not None
    assert found.terms.sha256 == first


def test_where_probes_are_not_followed_that_is_said(tmp_path: Path) -> None:
    book = Book(tmp_path).feed(merged([pour(-500)], HUNG, worked(0))).until(3000).closed()
    found = book.probe_at(PROBE, instant(1030))
    assert found is not None
    assert (found.tracked, found.standing.fitness, found.told_then) == (False, Fitness.NOT_PROVEN, None)
    assert any("does not follow probes" in line for line in lines(found, book.zone()))


def test_a_hook_that_bounced_for_hours_hides_no_word_of_then_and_is_said_to_have_cut_the_past(tmp_path: Path) -> None:
    writing = book_of(tmp_path, worked(0))
    whole = Logbook(writing.path).probe_at(PROBE, instant(1030))
    bounced = [
        ProbeSeen(at=at, probe=PROBE, measured=at, who=None, place=Place.HOOK, thing="cart-1")
        for at in (instant(3001 + number) for number in range(EVENTS_BEFORE))
    ]
    found = writing.note(*bounced).closed().probe_at(PROBE, instant(1030))
    assert whole is not None
    assert found is not None
    assert (whole.is_cut, whole.standing.fitness) == (False, Fitness.READY)
    assert (found.is_cut, found.standing.fitness) == (True, Fitness.NOT_PROVEN)
    assert found.told_then is not None
    assert found.told_then == whole.told_then
    assert "more is on record than was looked at" in list(lines(found, Logbook(writing.path).zone()))[-1]


def test_a_probe_that_steps_made_ready_says_so(tmp_path: Path) -> None:
    said = [contact(0, "skin"), did(30, Step.WASHED, Step.DRIED)]
    book = book_of(tmp_path, [vouch(-50)], said, until=100).closed()
    found = book.probe_at(PROBE, instant(60))
    assert found is not None
    assert "  ready by   what people entered" in list(lines(found, book.zone()))


def test_what_was_made_of_it_then_is_told_only_where_it_was_otherwise(tmp_path: Path) -> None:
    late = [did(1020, Step.DRIED, arrived=1620) if item == did(1020, Step.DRIED) else item for item in worked(0)]
    book = book_of(tmp_path, late).closed()
    for at, is_told in ((1030, True), (1700, False)):
        found = book.probe_at(PROBE, instant(at))
        assert found is not None
        told = [line for line in lines(found, book.zone()) if line.startswith("At that time")]
        assert bool(told) is is_told, told


def test_a_probe_that_nobody_has_is_none(book: Logbook) -> None:
    assert book.probe_at("no-such-probe", instant(0)) is None
    assert book.probe("no-such-probe") is None


def test_the_journal_tells_at_every_step_what_the_engine_made_of_it(tmp_path: Path) -> None:
    """No independent source: the engine's own picture, with what it remembers, against all that the journal has."""
    writing = book_of(tmp_path, until=-90)
    said = worked(0)
    for first in range(0, len(said), 20):
        writing.feed(said[first : first + 20])
        now = writing.now
        (curved, _) = writing.pictured()
        found = Logbook(writing.path).probe_at(PROBE, now)
        assert found is not None
        assert found.standing == curved, seconds(now)
    writing.journal.close()

"""Every event has words of its own: none is told as JSON."""

from collections.abc import Sequence
from datetime import date
from typing import get_args

import pytest

from gateway.event_words import EventWords
from gateway.replay import compare
from rules.events import (
    CartWiped,
    EntryStruck,
    Event,
    GelChanged,
    SensorWasOff,
)
from rules.probe_events import (
    ProbeEvent,
    ProbeInspected,
    ProbeKnocked,
    ProbeSeen,
    ProbeSoaked,
    ProbeStands,
    ProbeStepped,
    ProbeTouched,
    ProbeVouched,
)
from rules.probe_words import Fitness, Level, Place, Step, Surface
from rules.readings import SensorId
from rules.verdict import Outcome, Verdict
from tests.gateway.books import TRACKED, site_text
from tests.gateway.sites import law
from tests.rules.bath import strip
from tests.rules.feeder import instant

WORDS = EventWords.of(law(site_text("Asia/Kolkata", TRACKED)).site)
VERDICT = Verdict(
    outcome=Outcome.EXPOSURE_MET,
    reasons=(),
    credited_start=instant(0),
    credited_end=instant(720),
    credited_seconds=720.0,
    needed_seconds=720.0,
    min_celsius=20.0,
    guard_celsius=0.0,
)
OF_PROBE = {"at": instant(5), "probe": "curved-1", "measured": instant(0)}
BY_TECH, BY_SENSOR = OF_PROBE | {"who": "R. Tech"}, OF_PROBE | {"who": None}
TOUCHED = ProbeTouched(
    **BY_TECH, surface=Surface.MUCOSA, covered=None, percutaneous=False, exam="A-17", level=Level.HIGH
)
SOAKED = ProbeSoaked(**BY_TECH, soak="basin-1.1", basin="basin-1", end=instant(720), verdict=VERDICT, role="technician")
STANDS = ProbeStands(
    **BY_SENSOR, fitness=Fitness.NOT_PROVEN, owes=Level.HIGH, place=Place.HOOK, thing="cart-1", why="knocked"
)
SAID: Sequence[tuple[Event, str]] = (
    (TOUCHED, "Curved 1, mucosa, owes high-level disinfection, exam A-17 by R. Tech"),
    (
        TOUCHED.model_copy(update={"withdrawn": True, "exam": None}),
        "Curved 1, mucosa, owes high-level disinfection by R. Tech, which is not so",
    ),
    (ProbeSeen(**BY_SENSOR, place=Place.BASIN, thing="basin-1"), "Curved 1, basin Basin 1"),
    (ProbeSeen(**BY_SENSOR, place=Place.IN_HANDS, thing=None), "Curved 1, in hands"),
    (ProbeStepped(**BY_TECH, steps=(Step.WASHED, Step.DRIED), times=1), "Curved 1, washed, dried by R. Tech"),
    (ProbeStepped(**BY_TECH, steps=(Step.RINSED,), times=3), "Curved 1, rinsed, 3 times by R. Tech"),
    (SOAKED, "Curved 1, in soak basin-1.1: exposure met, 720 s of 720 s at 20 °C by R. Tech"),
    (
        ProbeVouched(**BY_TECH, role="engineer", why="new"),
        "Curved 1, fit for use by the word of R. Tech, engineer: new",
    ),
    (ProbeInspected(**BY_TECH, sound=False, remark="crack"), "Curved 1, damage found: crack by R. Tech"),
    (ProbeInspected(**BY_TECH, sound=True, remark=None), "Curved 1, no damage found by R. Tech"),
    (ProbeKnocked(**BY_SENSOR, peak_mps2=30.5), "Curved 1, 30.5 m/s2"),
    (STANDS, "Curved 1, not proven, owes high-level disinfection: knocked"),
    # Second 0 is 22:13:20 UTC on 14 November 2023 (`date -u -d @1700000000`), in India 03:43:20 on the next day.
    (
        CartWiped(at=instant(5), cart="cart-1", measured=instant(0), who=None),
        "Cart 1, 2023-11-15 03:43:20",
    ),
    (
        GelChanged(
            at=instant(5),
            cart="cart-1",
            measured=instant(0),
            who="R. Tech",
            opened=date(2024, 1, 1),
            lot="G1",
            discard_on=date(2024, 1, 29),
        ),
        "Cart 1, lot G1, not used from 2024-01-29 on by R. Tech",
    ),
    (
        GelChanged(
            at=instant(5), cart="cart-1", measured=instant(0), who="R. Tech", opened=None, lot=None, discard_on=None
        ),
        "Cart 1, no bottle by R. Tech",
    ),
    (
        EntryStruck(at=instant(5), entry=strip(0), who="S. Lead", why="wrong basin"),
        "strip read, Basin 1, 2023-11-15 03:43:20 by R. Tech; struck by S. Lead: wrong basin",
    ),
    (
        SensorWasOff(
            at=instant(5),
            sensor=SensorId("basin-1/temperature"),
            since=instant(0),
            error_celsius=1.5,
            who="E. Ng",
            why="ice water",
        ),
        "basin-1/temperature read +1.5 °C too much from 2023-11-15 03:43:20 on, by E. Ng: ice water",
    ),
)


@pytest.mark.parametrize(("event", "words"), SAID, ids=lambda value: getattr(value, "kind", ""))
def test_an_event_is_told_with_the_names_and_times_of_the_site(event: Event, words: str) -> None:
    assert WORDS.words(event) == words


def test_every_event_of_a_probe_is_among_them() -> None:
    assert {type(event) for event, _ in SAID} >= set(get_args(ProbeEvent))


# ---- which events are about the same ---------------------------------------------------------------------------------


def test_a_probes_share_told_otherwise_is_the_same_happening() -> None:
    other = SOAKED.model_copy(update={"verdict": VERDICT.model_copy(update={"outcome": Outcome.TOO_COLD})})
    found = compare([SOAKED], [other])
    assert [(changed.was, changed.now) for changed in found.changed] == [(SOAKED, other)]


def test_how_a_probe_stands_is_compared_in_order_whenever_it_was_said() -> None:
    later = STANDS.model_copy(update={"at": instant(9), "measured": instant(9), "why": ""})
    assert len(compare([STANDS], [later]).changed) == 1


def test_contacts_of_two_times_are_two_happenings() -> None:
    other = TOUCHED.model_copy(update={"measured": instant(3)})
    found = compare([TOUCHED], [other])
    assert (found.vanished, found.appeared) == ((TOUCHED,), (other,))


def test_two_sensors_found_off_are_two_happenings() -> None:
    off = SAID[-1][0]
    assert isinstance(off, SensorWasOff)
    other = off.model_copy(update={"sensor": SensorId("basin-2/temperature")})
    assert len(compare([off], [other]).vanished) == 1

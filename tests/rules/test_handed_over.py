"""An alert that was given to a role, through the engine: who answers for it then, and who is told."""

from functools import cache

from rules.alert_commands import Acknowledge, Decline, HandOver, PageTold, Shelve, TakeOver
from rules.alert_events import AlertAcknowledged, AlertMoved, PageAsked
from rules.alert_words import Confirmation, PageWhy, State
from rules.events import Event
from rules.readings import Micros
from rules.site import Site
from tests.rules.alert_ward import by, do, off_rule, shown, state
from tests.rules.feeder import HOOK_A, OFF_HOOK, Feeder, department, instant
from tests.rules.house import contact, duty

PASSED_ON, HANDED_OVER = PageWhy.PASSED_ON, PageWhy.HANDED_OVER
NURSE = {"who": "N. Nurse"}


def _tier(role: str, after_seconds: float) -> dict[str, object]:
    return {"roles": [role], "after_seconds": after_seconds}


@cache
def ward() -> Site:
    """A technician, a charge nurse and an engineer, each with a pager, who are told in that order."""
    return department(
        sensor=[{"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 0}],
        rule=[off_rule()],
        rules={"cord-left-off": {"enabled": False}},
        role=[{"id": name, "name": name.title()} for name in ("tech", "charge", "engineer")],
        channel=[{"id": "pager", "asks": "accepted"}],
        contact=[contact(name, "pager") for name in ("phone", "nurse", "bench")],
        duty=[duty("tech", "phone"), duty("charge", "nurse"), duty("engineer", "bench")],
        route=[{"name": "All", "tiers": [_tier("tech", 0), _tier("charge", 60), _tier("engineer", 600)]}],
    )


def raised() -> Feeder:
    """The cord fell at second 0; technician and charge nurse were told of 'alert-1', by page-1 and page-2."""
    return Feeder(ward()).say(HOOK_A, OFF_HOOK, 0).feed([_told("page-1", 1)]).until(60).feed([_told("page-2", 61)])


def _told(page: str, at: float, outcome: Confirmation = Confirmation.ACCEPTED) -> PageTold:
    return PageTold(arrived=instant(at), who="gateway", page=page, outcome=outcome)


def handed(feeder: Feeder, at: float = 100, role: str = "engineer", **further: object) -> list[Event]:
    return do(feeder, HandOver(**by(at, role=role, **further) | NURSE))


def asked(events: list[Event]) -> list[tuple[Micros, str, PageWhy]]:
    return [(event.at, event.contact, event.why) for event in events if isinstance(event, PageAsked)]


def pages(feeder: Feeder) -> list[tuple[Micros, str, PageWhy]]:
    """But for those that were asked for before."""
    return asked(feeder.events)[2:]


def test_an_earlier_page_answers_no_more_for_what_was_handed_over_and_the_role_is_told() -> None:
    feeder = raised()
    handed(feeder)
    do(feeder, Acknowledge(**by(100, page="page-1") | {"who": "Phone"}))
    assert state(feeder) is State.UNACKNOWLEDGED
    assert (instant(101), "bench", HANDED_OVER) in pages(feeder.restart().until(101))
    do(feeder, Acknowledge(**by(200, page="page-2") | {"who": "Nurse"}))
    assert state(feeder) is State.UNACKNOWLEDGED


def test_whoever_says_by_an_earlier_page_that_they_go_is_told_once_who_is_asked_instead() -> None:
    feeder = raised()
    handed(feeder)
    late = Acknowledge(**by(110, page="page-1") | {"who": "Phone"})
    [told] = do(feeder.until(110), late)
    assert isinstance(told, PageAsked)
    assert (told.contact, told.why) == ("phone", PASSED_ON)
    assert "You do not have it any more: Engineer is asked instead." in told.text
    feeder.feed([_told("page-1", 110, Confirmation.ANSWERED)])
    assert do(feeder, late.model_copy(update={"arrived": instant(120)})) == []


def test_that_one_cannot_go_by_an_earlier_page_does_not_keep_the_role_from_being_told() -> None:
    feeder = raised()
    handed(feeder, role="charge")
    assert do(feeder, Decline(**by(100, page="page-2") | {"who": "Nurse"})) == []
    assert pages(feeder.until(101)) == [(instant(101), "nurse", HANDED_OVER)]


def test_the_page_of_the_hand_over_answers_and_so_does_whoever_signs_in() -> None:
    feeder = raised()
    handed(feeder)
    given = next(e.page for e in feeder.until(101).events if isinstance(e, PageAsked) and e.why is HANDED_OVER)
    answered, *_ = do(feeder.until(120), Acknowledge(**by(120, page=given) | {"who": "Bench"}))
    assert answered == AlertAcknowledged(at=instant(120), alert="alert-1", who="Bench", page=given)
    at_a_screen = raised()
    handed(at_a_screen)
    do(at_a_screen, Acknowledge(**by(100.5)))
    assert state(at_a_screen) is State.ACKNOWLEDGED


def test_given_back_it_is_answered_by_whoever_goes_as_nobody_is_asked_alone_any_more() -> None:
    feeder = raised()
    handed(feeder)
    do(feeder, Acknowledge(**by(120) | NURSE))
    do(feeder, Decline(**by(130) | NURSE))
    assert PASSED_ON not in [
        why for _, _, why in asked(do(feeder, Acknowledge(**by(140, page="page-1") | {"who": "Phone"})))
    ]
    assert state(feeder) is State.ACKNOWLEDGED


def test_whoever_is_asked_since_goes_by_an_earlier_page_too() -> None:
    """The newest message must not tell the one who is asked that somebody else is."""
    feeder = raised()
    handed(feeder, role="charge")
    told = do(feeder, Acknowledge(**by(105, page="page-2") | {"who": "Nurse"}))
    assert (state(feeder), PASSED_ON in [why for _, _, why in asked(told)]) == (State.ACKNOWLEDGED, False)


def test_whoever_took_over_what_had_been_handed_over_by_an_earlier_page_can_take_that_back_by_it() -> None:
    feeder = raised()
    handed(feeder)
    do(feeder, Acknowledge(**by(120) | NURSE))
    do(feeder, TakeOver(**by(130, page="page-1", holder="N. Nurse") | {"who": "Phone"}))
    do(feeder, Decline(**by(140, page="page-1") | {"who": "Phone"}))
    assert state(feeder) is State.UNACKNOWLEDGED


def test_who_had_it_by_a_device_is_told_that_somebody_else_handed_it_over() -> None:
    feeder = raised()
    do(feeder, Acknowledge(**by(70, page="page-1") | {"who": "Phone"}))
    assert asked(handed(feeder)) == [(instant(100), "phone", PASSED_ON)]


def test_who_hands_it_over_or_is_given_it_is_not_told_that_it_is_not_theirs() -> None:
    own = raised()
    do(own, Acknowledge(**by(70, page="page-1") | {"who": "Phone"}))
    assert asked(do(own, HandOver(**by(100, role="charge", page="page-9") | {"who": "Phone"}))) == []
    given = raised()
    do(given, Acknowledge(**by(70, page="page-2") | {"who": "Nurse"}))
    assert asked(handed(given, role="charge")) == []


def test_who_took_it_over_by_a_device_is_told_that_it_was_handed_over_and_who_had_it_before_is_not() -> None:
    feeder = raised()
    do(feeder, Acknowledge(**by(70, page="page-1") | {"who": "Phone"}))
    do(feeder, TakeOver(**by(80, page="page-2", holder="Phone") | {"who": "Nurse"}))
    assert asked(do(feeder, HandOver(**by(100, role="engineer") | {"who": "R. Tech"}))) == [
        (instant(100), "nurse", PASSED_ON)
    ]


def test_who_had_it_by_a_device_is_told_that_somebody_else_put_it_aside() -> None:
    feeder = raised()
    do(feeder, Acknowledge(**by(70, page="page-1") | {"who": "Phone"}))
    moved, told = do(feeder, Shelve(**by(100, minutes=10, why="known") | NURSE))
    assert isinstance(moved, AlertMoved)
    assert isinstance(told, PageAsked)
    assert (told.contact, told.why) == ("phone", PageWhy.PUT_ASIDE)
    assert told.brief.startswith("PUT ASIDE: a off")
    assert asked(do(raised(), Shelve(**by(100, minutes=10, why="known") | NURSE))) == []


def test_who_cannot_go_at_a_screen_is_not_called_by_their_own_pager() -> None:
    for own, following in (("nurse", "bench"), ("bench", "nurse"), (None, "nurse")):
        feeder = Feeder(ward()).say(HOOK_A, OFF_HOOK, 0)
        assert asked(do(feeder, Decline(**by(20, own_contact=own) | NURSE))) == [
            (instant(20), following, PageWhy.ESCALATION)
        ]


def test_an_answer_that_one_cannot_go_is_shown_as_that() -> None:
    feeder = raised()
    do(feeder, Decline(**by(70, page="page-1") | {"who": "Phone"}))
    feeder.feed([_told("page-1", 70, Confirmation.ANSWERED)])
    [call] = feeder.restart().engine.picture().calls
    assert [(page.contact, page.cannot) for page in call.told[:2]] == [("phone", True), ("nurse", False)]
    assert shown(feeder).waits_since == instant(0)

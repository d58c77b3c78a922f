"""What cannot be meant in roles, contacts, duties and routes is said in one sentence each."""

from typing import Any

import pytest
from pydantic import ValidationError

from rules.ruleset import RuleError
from rules.site import Site
from tests.rules.feeder import book_of, department
from tests.rules.house import ROUTE, contact, duty, manned

WHOLE = manned().model_dump(include={"role", "channel", "contact", "duty", "route"})


def said(**change: Any) -> str:
    with pytest.raises(ValidationError) as caught:
        department(**WHOLE | change)
    return str(caught.value.errors()[0]["ctx"]["error"])


def route(**change: Any) -> list[dict[str, Any]]:
    return [{**ROUTE, **change}]


NIGHT = [{"name": "night", "start": "19:00:00", "end": "07:00:00"}]
BOTH_AT_ONCE = [{"roles": ["tech"], "after_seconds": 60}, {"roles": ["charge"], "after_seconds": 60}]

MISTAKES: dict[str, dict[str, Any]] = {
    "[[duty]] number 3, key 'role': no [[role]] has the id 'tec'; perhaps 'tech' is meant": {
        "duty": [duty("tech", "phone"), duty("charge", "nurse"), duty("tec", "phone")]
    },
    "[[duty]] number 1, key 'contacts': no [[contact]] has the id 'phon'; perhaps 'phone' is meant": {
        "duty": [duty("tech", "phon"), duty("charge", "nurse")]
    },
    "[[contact]] number 1, key 'ways.channel': no [[channel]] has the id 'male'; perhaps 'mail' is meant": {
        "contact": [contact("phone", "male"), contact("nurse", "pager")]
    },
    "[[route]] number 1, key 'tiers.roles': no [[role]] has the id 'charg'; perhaps 'charge' is meant": {
        "route": route(tiers=[{"roles": ["charg"]}])
    },
    "[[route]] number 1, key 'places': no station, basin, cart or probe has the id 'cart-2'; perhaps"
    " 'cart-1' is meant": {"route": route(places=["cart-2"])},
    "[[route]] number 1, key 'shifts': no [[shift]] has the name 'nigth'; perhaps 'night' is meant": {
        "route": route(shifts=["nigth"]),
        "shift": NIGHT,
    },
    "[[route]] number 1, key 'shifts': no [[shift]] has the name 'night'; add one": {"route": route(shifts=["night"])},
    "[[route]] number 1, key 'tiers.after_seconds': 60 follows 60; expected that each tier is told later than the one"
    " before it, counted from when the alert was raised": {"route": route(tiers=BOTH_AT_ONCE)},
    "[[route]] number 1, key 'tiers.roles': nobody is ever on duty as 'charge'; add a [[duty]] for it, or leave"
    " it out": {"duty": [duty("tech", "phone")]},
    "[[duty_change]] number 1, key 'end': it is not after 'start', 2026-06-01 08:00; give a later date and time": {
        "duty_change": [{"role": "tech", "start": "2026-06-01T08:00:00", "end": "2026-06-01T08:00:00"}]
    },
    "[[duty_change]] number 1, key 'start': leave out what follows the seconds; a time of the site's wall clock is"
    " expected": {"duty_change": [{"role": "tech", "start": "2026-06-01T08:00:00Z", "end": "2026-06-01T09:00:00"}]},
    "[[role]] number 3, key 'id': 'tech' is there twice; give each its own": {
        "role": [*WHOLE["role"], {"id": "tech", "name": "Another"}]
    },
    "[[route]] number 2, key 'name': 'All' is there twice; give each its own": {"route": [ROUTE, ROUTE]},
}


@pytest.mark.parametrize("sentence", list(MISTAKES))
def test_a_mistake_is_said_with_where_it_is_and_what_is_meant(sentence: str) -> None:
    assert said(**MISTAKES[sentence]) == sentence


def test_a_rule_that_does_not_exist_is_said_when_the_rules_are_known() -> None:
    with pytest.raises(RuleError) as caught:
        book_of(department(**WHOLE | {"route": route(rules=["soak-colt"])}))
    assert caught.value.problems == (
        "[[route]] number 1, key 'rules': no rule has the id 'soak-colt'; perhaps 'soak-cold' is meant",
    )


def test_a_rule_that_the_site_has_switched_off_may_be_named() -> None:
    off = {"route": route(rules=["soak-cold"]), "rules": {"soak-cold": {"enabled": False}}}
    assert book_of(department(**WHOLE | off)).rules


def test_a_site_as_it_should_be_has_nothing_to_mend() -> None:
    assert isinstance(department(**WHOLE), Site)

"""Settings evaluated on what was seen in one replay give the alerts of a replay with each of them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.commands import Input
from tests.sim_devices.tuned_worlds import HISTORY, OWN, SITE, VALUES, by_both_ways, end_of, named

RULES = [str(rule["id"]) for rule in OWN]


@pytest.mark.parametrize("rule", RULES)
@settings(deadline=None, max_examples=60)
@given(history=HISTORY, tried=st.lists(VALUES, min_size=1, max_size=4))
def test_alert_by_alert_as_in_a_replay(rule: str, history: list[Input], tried: list[dict[str, float]]) -> None:
    fast, slow = by_both_ways(SITE, rule, [named(rule, values) for values in tried], history, end_of(history))
    assert fast == slow

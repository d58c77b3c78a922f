"""Settings evaluated on what was seen in one replay give the alerts of a replay with each of them."""

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.commands import Input
from tests.rules.feeder import book_of
from tests.sim_devices.tuned_worlds import HISTORY, OWN, SETTING, SITE, both_ways, end_of

RULES = [str(rule["id"]) for rule in OWN]


@settings(deadline=None, max_examples=60)
@given(history=HISTORY, tried=st.lists(SETTING, min_size=2, max_size=3))
def test_alert_by_alert_as_in_a_replay(history: list[Input], tried: list[dict[str, float]]) -> None:
    found = both_ways(SITE, book_of(SITE), RULES, tried, history, end_of(history))
    assert found.fast == found.slow

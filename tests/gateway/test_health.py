"""gateway/health.py: what a monitor is told."""

from dataclasses import replace

import pytest

from gateway.health import FRESH_SECONDS, Health
from gateway.hub import Feed
from rules.readings import SECOND, Micros
from tests.dashboard.pictures import NOON, picture


@pytest.mark.parametrize(
    ("feed", "wrong"),
    [
        (Feed(picture()), None),
        (Feed(picture(hearing=False)), "hearing"),
        (replace(Feed(picture()), store_trouble="The journal cannot be written (disk full)."), "storing"),
    ],
)
def test_a_gateway_is_well_that_hears_and_stores(feed: Feed, wrong: str | None) -> None:
    health = Health.of(feed, NOON, running=True)
    assert health.ok is (wrong is None)
    for name in ("running", "fresh", "hearing", "storing"):
        assert getattr(health, name) is (name != wrong)


def test_a_picture_that_is_renewed_no_more_is_not_well() -> None:
    last = Micros(NOON + FRESH_SECONDS * SECOND)
    assert Health.of(Feed(picture()), last, running=True).ok
    assert not Health.of(Feed(picture()), Micros(last + 1), running=True).fresh


def test_a_gateway_that_stops_is_not_well() -> None:
    assert not Health.of(Feed(picture()), NOON, running=False).ok

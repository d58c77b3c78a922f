"""What the wall says is due soon."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from dashboard.due import DueView, due_view
from dashboard.panel import LYING, UPRIGHT, Panel
from rules.picture import BasinPicture, CarePicture, CartPicture, GelPicture, Picture
from rules.readings import SECOND, Micros
from rules.verdict import Reason
from tests.dashboard.pictures import NOON, basin, cart, later, picture, solution
from tests.dashboard.probe_pictures import probe, standing, unclaimed, with_probes

LISBON = ZoneInfo("Europe/Lisbon")
HOUR = 3600


def due(shown: Picture, panel: Panel = LYING) -> DueView:
    view = due_view(shown, NOON, LISBON, panel)
    assert view is not None
    return view


def said(shown: Picture, panel: Panel = LYING) -> list[str]:
    return [f"{item.when} {item.what}" for item in due(shown, panel).items]


def filled(name: str, ends_in: float, *lacking: Reason) -> BasinPicture:
    of = solution(*lacking)
    return basin(name, solution=replace(of, clocks=of.clocks._replace(reuse=later(ends_in))))


def cared(name: str, **care: Any) -> CartPicture:
    return replace(cart(name), care=CarePicture(wipes_followed=True, **care))


def test_a_solution_that_ends_within_a_day_is_due_at_its_hour() -> None:
    shown = picture(filled("Basin 1", 3 * HOUR), filled("Basin 2", 25 * HOUR), filled("Basin 3", -60))
    assert said(shown) == ["15:00 solution ends in Basin 1"]


def test_a_strip_is_due_before_a_soak() -> None:
    shown = picture(filled("Basin 1", 99 * HOUR, Reason.STRIP_MISSING), filled("Basin 2", 99 * HOUR))
    assert said(shown) == ["Before a soak strip in Basin 1"]


def test_a_wipe_down_that_is_owed_is_overdue_and_the_next_one_at_its_hour() -> None:
    carts = (cared("Cart 1", wipe_due_since=later(-60)), cared("Cart 2", wipe_due_next=later(3.5 * HOUR)))
    assert said(picture(carts=carts)) == ["Overdue wipe down Cart 1", "15:30 wipe down Cart 2"]


def test_what_is_due_at_one_hour_is_counted_together() -> None:
    carts = tuple(cared(f"Cart {n}", wipe_due_next=later(3.5 * HOUR)) for n in range(60))
    assert said(picture(carts=carts)) == ["15:30 wipe down 60 carts"]


def test_the_day_is_told_where_it_is_not_todays() -> None:
    # 25 Nov 2025 is a Tuesday.
    assert said(picture(carts=(cared("Cart 1", wipe_due_next=later(19.5 * HOUR)),))) == ["Wed 07:30 wipe down Cart 1"]


@pytest.mark.parametrize(("last", "when"), [(date(2025, 11, 24), "Overdue"), (date(2025, 11, 26), "Wed 00:00")])
def test_gel_is_due_from_its_last_day_on(last: date, when: str) -> None:
    gel = GelPicture(date(2025, 10, 28), None, last, out_of_date=when == "Overdue")
    assert said(picture(carts=(cared("Cart 1", gel=gel),))) == [f"{when} new gel for Cart 1"]


def test_a_probe_whose_storage_time_ends_and_a_soak_to_be_claimed_are_due() -> None:
    probes = (probe("Linear probe 1", standing(ready_until=later(HOUR))),)
    assert said(with_probes(*probes, shown=picture(basin("Basin 1")), soaks=(unclaimed("basin-1"),))) == [
        "13:00 no longer ready: Linear probe 1",
        "22:00 say which probe soaked in Basin 1",
    ]


def test_what_is_due_comes_in_the_order_of_its_time() -> None:
    carts = (cared("Cart 1", wipe_due_next=later(2 * HOUR)), cared("Cart 2", wipe_due_since=NOON))
    shown = picture(filled("Basin 1", HOUR, Reason.STRIP_MISSING), carts=carts)
    large = replace(UPRIGHT, due_lines=9)
    assert [words.split()[0] for words in said(shown, large)] == ["Overdue", "Before", "13:00", "14:00"]


@pytest.mark.parametrize("panel", [LYING, UPRIGHT], ids=lambda panel: panel.name)
@pytest.mark.parametrize("count", [1, 2, 3, 5, 12])
def test_what_does_not_fit_is_counted_with_how_soon(panel: Panel, count: int) -> None:
    basins = [filled(f"Endocavity probes, eastern corridor, basin {n}", n * HOUR) for n in range(1, count + 1)]
    view = due(picture(*basins), panel)
    left = int(view.rest.split()[0]) if view.rest else 0
    assert len(view.items) + left == count
    assert view.rest in {"", f"{left} more thing{'s' * (left > 1)} from {(12 + len(view.items) + 1) % 24:02}:00"}


def test_while_no_sensor_is_heard_no_wipe_down_is_asked_for_and_none_is_said_not_to_be_due() -> None:
    shown = picture(carts=(cared("Cart 1", wipe_due_since=NOON),), hearing=False)
    assert due(shown).quiet == "Wipe-downs not known: no sensor heard."
    assert due(replace(shown, carts=(), basins=(filled("Basin 1", 99 * HOUR),))).quiet.startswith("Nothing within 24")


def test_a_site_that_follows_nothing_that_falls_due_has_no_such_line() -> None:
    assert due_view(picture(basin(), carts=(cart(),)), NOON, LISBON, LYING) is None


def test_an_hour_is_told_in_the_zone_of_the_site_across_a_change_of_its_clocks() -> None:
    # Lisbon, 29 Mar 2026: at 01:00 UTC the clock goes from 01:00 to 02:00 (IANA tz database).
    night = Micros(int(datetime(2026, 3, 29, 0, 30, tzinfo=UTC).timestamp()) * SECOND)
    shown = picture(carts=(cared("Cart 1", wipe_due_next=later(HOUR, night)),), at=night)
    view = due_view(shown, night, LISBON, LYING)
    assert view is not None
    assert view.items[0].when == "02:30"

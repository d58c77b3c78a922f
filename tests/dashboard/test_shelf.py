"""Which basins have a cell, and what each has room for."""

import re
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.alert_standing import Standing
from dashboard.basins import BasinView, basin_view
from dashboard.measure import BOLD, PLAIN
from dashboard.panel import LYING, UPRIGHT, Panel
from dashboard.shelf import least_px, shelf
from dashboard.tied import Tied
from rules.alert_words import Priority
from rules.picture import BasinPicture
from rules.verdict import Outcome
from tests.dashboard.pictures import NOON, basin, ended, soak

UTC = ZoneInfo("UTC")
SHORT = ended(Outcome.TOO_SHORT, credited=550)


def views(*shown: BasinPicture) -> list[BasinView]:
    return [basin_view(replace(b, name=f"Basin {n}"), True, NOON, UTC) for n, b in enumerate(shown, 1)]  # noqa: FBT003


@pytest.mark.parametrize(
    ("count", "style", "columns"),
    [
        (1, "grand", 1),
        (2, "grand", 2),
        (3, "tall", 3),
        (4, "tall", 4),
        (5, "dense", 3),
        (6, "dense", 3),
        (7, "dense", 4),
        (8, "dense", 4),
    ],
)
def test_cells_are_as_large_as_their_number_allows(count: int, style: str, columns: int) -> None:
    view = shelf(views(*[basin(soaking=soak())] * count), 700)
    assert (view.style, view.columns, len(view.cells), view.rest) == (style, columns, count, "")


def test_basins_keep_the_order_of_the_site() -> None:
    view = shelf(views(basin(), basin(soaking=soak(None, lid_open=True)), basin(), basin()), 700)
    assert [cell.name.text for cell in view.cells] == ["Basin 1", "Basin 2", "Basin 3", "Basin 4"]


def test_of_many_basins_those_that_need_somebody_have_a_cell_and_the_rest_is_counted() -> None:
    shown = [basin()] * 12 + [basin(soaking=soak(None, lid_open=True)), basin("Basin 1", soak(), SHORT)]
    view = shelf(views(*shown), 700)
    assert [cell.name.text for cell in view.cells][-2:] == ["Basin 13", "Basin 14"]
    assert (len(view.cells), view.rest) == (8, "6 more basins: all without a soak yet")


def test_where_not_even_two_rows_fit_one_row_stays_and_the_rest_is_counted() -> None:
    held = [basin("Basin 1", soak(None, lid_open=True), SHORT)] * 8
    view = shelf(views(*held), least_px(views(*held)) - 1)
    assert (len(view.cells), view.rest) == (4, "4 more basins: all lid lifted early")


def test_the_least_height_shows_what_a_cell_must() -> None:
    held = views(*[basin("Basin 1", soak(), SHORT)] * 4)
    cell = shelf(held, least_px(held)).cells[0]
    assert (cell.rows, cell.held) == (("done about 12:07",), ("last soak too short:", "leave probe in"))
    assert (cell.celsius, cell.need, cell.why, cell.label, cell.earlier) == ("21.4 °C", "≥ 20.5", "", "", ())


def test_what_the_needed_temperature_is_made_of_is_the_first_thing_more() -> None:
    held = views(*[basin("Basin 1", soak(), SHORT)] * 4)
    assert shelf(held, least_px(held) + 32).cells[0].why == "label 20 °C, sensor 0.5"


def test_met_is_never_shown_without_what_was_not_checked() -> None:
    for count in range(1, 9):
        met = views(*[basin("Basin 1", None, ended())] * count)
        assert {cell.basin.note for cell in shelf(met, least_px(met)).cells} == {
            "says nothing of solution, strip, cleaning"
        }


def test_a_name_that_is_too_long_for_its_cell_shows_that_it_is_shortened() -> None:
    long = [
        replace(view, name=f"Endocavity probes, eastern corridor, by the stair, basin {n}")
        for n, view in enumerate(views(*[basin()] * 8))
    ]
    names = [cell.name.text for cell in shelf(long, 700).cells]
    assert all("…" in name for name in names)
    assert len({re.sub(r".*…", "", name) for name in names}) == 8


@pytest.mark.parametrize(("celsius", "said"), [(21.4, ("21.4 °C", "≥ 20.5")), (None, ("temp. not known", ""))])
def test_in_a_small_cell_temperature_and_need_share_a_row(celsius: float | None, said: tuple[str, str]) -> None:
    cell = shelf(views(*[basin(celsius=celsius)] * 8), 700).cells[0]
    assert (cell.celsius, cell.need) == said


@pytest.mark.parametrize(
    ("count", "room", "style", "columns", "cells"),
    [
        (1, 900, "grand", 1, 1),
        (2, 1000, "grand", 1, 2),
        (2, 500, "tall", 2, 2),
        (4, 900, "tall", 2, 4),
        (4, 600, "dense", 2, 4),
        (12, 1500, "dense", 2, 12),
        (12, 1200, "dense", 2, 10),
        (12, 400, "dense", 2, 2),
    ],
)
def test_on_a_panel_that_stands_basins_stand_two_by_two(
    count: int, room: int, style: str, columns: int, cells: int
) -> None:
    view = shelf(views(*[basin(soaking=soak())] * count), room, UPRIGHT)
    assert (view.style, view.columns, len(view.cells)) == (style, columns, cells)
    assert view.rest.startswith(f"{count - cells} more basins" if count > cells else "")


SECOND_PX, DIGIT_PX = 44, {"": 134.4, "less": 104, "least": 83.2}
"""wall.css."""


@pytest.mark.parametrize("panel", [LYING, UPRIGHT], ids=lambda panel: panel.name)
@pytest.mark.parametrize("done_in", [1, 431, 5999, 6000, 35_999])
def test_a_countdown_leaves_room_for_the_words_behind_it_in_every_cell(panel: Panel, done_in: float) -> None:
    for count in range(3, 13):
        view = shelf(views(*[basin(soaking=soak(done_in))] * count), 800, panel)
        width = (panel.inner - 25.6 * (view.columns - 1)) / view.columns - {"tall": 70.4, "dense": 56}[view.style]
        for cell in view.cells:
            assert cell.basin.countdown is not None
            figure = BOLD.ems(cell.basin.countdown.text) * DIGIT_PX[cell.digits]
            assert figure + PLAIN.ems(" to go") * SECOND_PX <= width


def test_where_not_all_have_a_cell_the_basin_of_an_urgent_alert_comes_first() -> None:
    shown = views(*[basin(soaking=soak(None, lid_open=True))] * 12)
    tie = Tied(3, Priority.MEDIUM, Standing.WAITING, "Soon", asks=True, last_known=False)
    tied = [replace(view, tied=tie if n == 11 else None) for n, view in enumerate(shown)]
    assert [cell.name.text for cell in shelf(tied, 700).cells][:2] == ["Basin 12", "Basin 1"]
    seen = [replace(view, tied=replace(tie, asks=False) if n == 11 else None) for n, view in enumerate(shown)]
    assert "Basin 12" not in [cell.name.text for cell in shelf(seen, 700).cells]


def test_in_a_small_cell_the_temperature_gives_way_where_only_a_last_soak_is_told_of() -> None:
    met = views(*[basin("Basin 1", None, ended())] * 8)
    least, roomy = (shelf(met, room).cells[0] for room in (least_px(met), least_px(met) + 200))
    assert (least.lead, least.celsius) == ("last soak, 11:10:", "")
    assert (roomy.lead, roomy.celsius) == ("last soak, 11:10:", "21.4 °C")


def test_of_basins_that_count_without_a_cell_it_is_told_when_the_first_is_done() -> None:
    counting = [basin(soaking=soak(done_in=60 * n)) for n in range(1, 13)]
    rest = shelf(views(*counting), 700).rest
    assert rest == "4 more basins: all counting (first done Basin 9 about 12:09)"


def test_of_what_is_not_confirmed_the_least_cell_says_what_it_was() -> None:
    unheard = [basin_view(basin("Basin 1", None, ended()), False, NOON, UTC)] * 4  # noqa: FBT003 - one fact
    assert shelf(unheard, least_px(unheard)).cells[0].rows == ("was met 11:10",)

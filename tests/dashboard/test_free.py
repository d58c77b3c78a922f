"""To which basin the wall sends a probe that cannot soak where it is."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from dashboard.deed import deed
from dashboard.free import ANOTHER, elsewhere, is_free
from rules.picture import BasinPicture
from rules.verdict import Reason
from tests.dashboard.pictures import alert, basin, picture, soak, solution
from tests.dashboard.probe_pictures import probe, soaking, with_probes

COLD = basin("Basin 1", soak(None), celsius=18.9)
FREE = basin("Basin 2", lid_closed=False)


@pytest.mark.parametrize(
    "taken",
    [
        pytest.param(basin("Basin 2", soak()), id="a soak runs"),
        pytest.param(basin("Basin 2"), id="its lid is closed"),
        pytest.param(basin("Basin 2", lid_closed=None), id="its lid is not known"),
        pytest.param(basin("Basin 2", lid_closed=False, celsius=18.9), id="it is too cold"),
        pytest.param(basin("Basin 2", lid_closed=False, celsius=None), id="how warm it is is not known"),
        pytest.param(basin("Basin 2", lid_closed=False, solution=solution(Reason.STRIP_FAILED)), id="a strip failed"),
    ],
)
def test_a_basin_in_which_no_soak_can_begin_is_not_free(taken: BasinPicture) -> None:
    assert is_free(FREE, picture(FREE))
    assert not is_free(taken, picture(taken))


def test_a_basin_in_which_a_probe_is_known_to_lie_is_not_free() -> None:
    assert not is_free(FREE, with_probes(probe("Linear probe 1", soaking("basin-2")), shown=picture(FREE)))


def test_one_or_two_that_hold_the_same_solution_are_named_and_no_other() -> None:
    second, third = replace(FREE, id="basin-3", name="Basin 3"), replace(FREE, id="basin-4", name="Basin 4")
    other = replace(FREE, chemistry="hydrogen peroxide 2.0 %")
    assert elsewhere(COLD, picture(COLD, FREE)) == "Basin 2"
    assert elsewhere(COLD, picture(COLD, FREE, second)) == "Basin 2 or Basin 3"
    assert elsewhere(COLD, picture(COLD, FREE, second, third)) == ANOTHER
    assert elsewhere(COLD, picture(COLD, other)) == elsewhere(COLD, picture(COLD)) == ANOTHER


def test_the_order_about_a_cold_basin_names_the_one_that_is_free() -> None:
    advice = "Move the probe from Basin 1 to another basin. Do not wait: no wait is long enough."
    cold = replace(alert("Basin 1: too cold", about="basin basin-1", advice=advice), rule="soak-never-done")
    assert deed(cold, picture(COLD, FREE), ZoneInfo("UTC")).order == "Move the probe from Basin 1 to Basin 2"

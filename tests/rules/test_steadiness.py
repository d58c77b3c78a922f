"""A link to the broker that comes and goes: three losses in ten minutes (our defaults)."""

import pytest

from rules.readings import GATEWAY_LINK
from tests.rules.feeder import OFFLINE, ONLINE, Feeder, closed, department, in_order, read, warm


def losing(*at: float, feeder: Feeder | None = None) -> Feeder:
    """The link is lost at these seconds, each time for one second."""
    feeder = feeder or Feeder().say(GATEWAY_LINK, ONLINE, 0)
    for second in at:
        feeder.say(GATEWAY_LINK, OFFLINE, second).say(GATEWAY_LINK, ONLINE, second + 1)
    return feeder


def test_of_a_link_that_is_lost_every_16_seconds_a_person_is_told_though_no_delay_ever_passes() -> None:
    soaking = in_order(warm(15, 2, 7200), closed(100, 7000))
    lost, back = range(10, 7200, 16), range(11, 7200, 16)
    flaps = [read(GATEWAY_LINK, word, at) for word, times in ((OFFLINE, lost), (ONLINE, back)) for at in times]
    feeder = Feeder().say(GATEWAY_LINK, ONLINE, 0).feed(in_order(soaking, flaps))
    assert feeder.raised("gateway-unsteady") == [42]
    assert "gateway-unsteady" in feeder.standing()


@pytest.mark.parametrize(("losses", "raised"), [((10, 300), []), ((10, 300, 610), []), ((10, 300, 609.9), [609.9])])
def test_so_many_losses_within_the_time_and_no_fewer_make_it_unsteady(
    losses: tuple[float, ...], raised: list[float]
) -> None:
    assert losing(*losses).until(2000).raised("gateway-unsteady") == raised


def test_it_is_steady_again_when_fewer_losses_are_left_within_the_time() -> None:
    feeder = losing(10, 100, 200).until(650)
    assert feeder.over("gateway-unsteady") == [(610, "cleared")]
    assert losing(690, feeder=feeder).raised("gateway-unsteady") == [200, 690]


def test_each_further_loss_puts_that_off() -> None:
    assert losing(10, 100, 200, 300, 400).until(2000).over("gateway-unsteady") == [(800, "cleared")]


def test_before_it_was_ever_heard_nothing_was_lost() -> None:
    feeder = Feeder().say(GATEWAY_LINK, OFFLINE, 0).say(GATEWAY_LINK, ONLINE, 1)
    assert losing(10, 20, feeder=feeder).until(100).raised("gateway-unsteady") == []


def test_another_threshold_judges_the_losses_that_were() -> None:
    sooner = department(thresholds={"flapping_losses": 2})
    feeder = losing(10, 100).restart(sooner).until(102)
    assert feeder.raised("gateway-unsteady") == [101]
    assert feeder.restart(department()).until(103).over("gateway-unsteady") == [(102, "cleared")]

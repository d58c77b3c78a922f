"""What is said of a strip that is entered while a soak is under way, or after it: of that soak it is no strip before.

A strip is read before the soak that it is to vouch for (CDC 2008, facts.md): one read later tells of the next.
"""

import pytest
from httpx import Client

from gateway.hub import Feed, Hub
from rules.readings import SECOND, Micros, Reading
from rules.verdict import Outcome
from tests.dashboard.probe_forms import AT, follow_probes
from tests.dashboard.serving import Desk
from tests.dashboard.visitors import script
from tests.rules.feeder import LID, TEMPERATURE

POUR = {"lot": "L-7", "printed_expiry": "2199-06-30", "opened_when": "now", "opened_days": "30", "ago": "80"}
STRIP = {"result": "pass", "strip_lot": "S-1", "strip_expiry": "2199-01-31"}


@pytest.fixture(autouse=True)
def followed(hub: Hub, desk: Desk) -> None:
    follow_probes(hub)
    desk.hub = hub


def send(client: Client, deed: str, fields: dict[str, str]) -> str:
    answer = client.post(f"/basin/basin-1/{deed}", data=fields, headers=script(client))
    return str(answer.json()["said"])


@pytest.mark.parametrize("result", ["pass", "fail"])
def test_of_a_strip_without_a_lot_it_is_said_what_will_not_find_it(client: Client, result: str) -> None:
    without = "No lot was entered: a look-back by the lot of the strips will not find it."
    send(client, "pour", POUR)
    assert without in send(client, "strip", {**STRIP, "result": result, "strip_lot": ""})
    assert without not in send(client, "strip", {**STRIP, "result": result})


def soaks(desk: Desk, hub: Hub, start: int, end: int | None = None) -> None:
    """The lid is closed from so many seconds before the picture's time to so many, or on."""
    for ago in range(start + 20, 0, -10):
        at = Micros(AT - ago * SECOND)
        desk.engine.apply(Reading(TEMPERATURE, at, at, 21.0))
        desk.engine.apply(Reading(LID, at, at, ago <= start and (end is None or ago > end)))
    desk.engine.advance(AT)
    hub.publish(Feed(desk.engine.picture()))


def test_a_strip_that_is_read_during_a_soak_is_said_to_be_none_for_it(client: Client, desk: Desk, hub: Hub) -> None:
    soaks(desk, hub, 300)
    send(client, "pour", POUR)
    said = send(client, "strip", STRIP)
    assert "The soak under way began before it was read" in said
    assert "does not count" in said
    assert "began before" not in send(client, "strip", {**STRIP, "ago": "7"})  # it was read before, and entered late


def test_a_strip_that_is_entered_after_a_soak_is_said_to_bear_on_its_verdict(
    client: Client, desk: Desk, hub: Hub
) -> None:
    soaks(desk, hub, 1200, 300)
    send(client, "pour", POUR)
    judged = "had no strip so far: if this one counts for it, its verdict changes, and the record says"
    assert judged not in send(client, "strip", {**STRIP, "ago": "4"})
    assert judged in send(client, "strip", {**STRIP, "ago": "22"})
    desk.engine.advance(Micros(AT + SECOND))
    (over,) = desk.engine.picture().basins[0].ended
    assert over.solution is not None
    assert (over.outcome, over.solution.check_entered) == (Outcome.EXPOSURE_MET, AT)
    hub.publish(Feed(desk.engine.picture()))
    assert judged not in send(client, "strip", {**STRIP, "ago": "23"})

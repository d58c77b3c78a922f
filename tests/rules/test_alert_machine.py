"""Commands, conditions, time and restarts in any order: the engine's alert and the model of it never disagree."""

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from rules.alert_commands import (
    Acknowledge,
    AlertCommand,
    Decline,
    HandOver,
    PutBack,
    Settle,
    Shelve,
    TakeOut,
    TakeOver,
    Unshelve,
)
from rules.alert_words import State
from rules.picture import AlertPicture
from rules.readings import SensorId
from rules.site import Site
from tests.rules.alert_model import Model
from tests.rules.feeder import HOOK_A, MOTION, OFF_HOOK, ON_HOOK, STANDS, Feeder, department, instant, seconds

MAINS = SensorId("cart-1/mains")

NAMES = {
    State.NORMAL: "NORM",
    State.UNACKNOWLEDGED: "UNACK",
    State.ACKNOWLEDGED: "ACKED",
    State.RETURNED: "RTNUN",
    State.LATCHED_UNACKNOWLEDGED: "LTUNK",
    State.LATCHED_ACKNOWLEDGED: "LTACK",
    State.SHELVED: "SHLVD",
    State.SUPPRESSED: "DSUPR",
    State.OUT_OF_SERVICE: "OOSRV",
}

RULE = "watched"


def seconds_of(value: float) -> dict[str, object]:
    return {"value": value, "low": 0, "high": 60, "source": "ours, for tests"}


def site(until: str) -> Site:
    """One rule on a cart whose sensors speak on change only, so that time alone changes no fact."""
    watched = {
        "id": RULE,
        "watches": "cart",
        "condition": "cords_off > 0",
        "suppressed_when": "plugged_in",
        "on_delay_seconds": seconds_of(5),
        "off_delay_seconds": seconds_of(3),
        "stands_until": until,
        "priority": "medium",
        "text": "{cords_off_names} off",
        "source": "ours, for tests",
    }
    on_change = [
        {"thing": "cart-1", "name": "hook-a", "kind": "hook", "report_seconds": 0},
        {"thing": "cart-1", "name": "hook-b", "kind": "hook", "report_seconds": 0},
        {"thing": "cart-1", "name": "motion", "kind": "motion", "report_seconds": 0},
        {"thing": "cart-1", "name": "mains", "kind": "mains", "report_seconds": 0},
    ]
    return department(
        basin=[],
        sensor=on_change,
        rule=[watched],
        rules={"cord-left-off": {"enabled": False}},
        role=[{"id": "charge", "name": "Charge"}],
        alerts={"shelve_most_minutes": 30, "remind_medium_minutes": 10, "maintenance_roles": ["engineer"]},
    )


class AlertMachine(RuleBasedStateMachine):
    """Each step takes whole seconds and one thousandth more than all before, so that no two timers are due at once."""

    until = "seen"

    def __init__(self) -> None:
        super().__init__()
        self.model = Model(self.until)
        self.feeder = Feeder(site(self.until))
        self.at = 0.0
        self.last_id = "none"
        self.seen: set[str] = set()

    @initialize(suppressed=st.sampled_from([False, False, True]))
    def the_condition_holds(self, suppressed: bool) -> None:  # noqa: FBT001 - drawn
        self.feeder.say(MOTION, STANDS, 0).say(HOOK_A, ON_HOOK, 0).say(MAINS, suppressed, 0)
        self.model.design(suppressed=suppressed)
        self.the_condition_changes_for_good(off=True)

    def _do(self, wait: int, command: Callable[[], AlertCommand], modelled: Callable[[], None]) -> None:
        self._wait(wait)
        self.feeder.feed([command()])
        modelled()

    def _wait(self, wait: int) -> None:
        self.at = round(self.at + wait + 0.001, 3)
        self.feeder.until(self.at)
        self.model.pass_time(self.at)

    def _alert(self) -> str:
        """The alert's name; the name of the one before where there is none."""
        picture = self._picture()
        self.last_id = picture.id or self.last_id if picture else self.last_id
        return self.last_id

    def _picture(self) -> AlertPicture | None:
        picture = self.feeder.engine.picture()
        return next((alert for alert in (*picture.alerts, *picture.hidden) if alert.rule == RULE), None)

    # ---- what can happen ---------------------------------------------------------------------------------------------

    @rule(wait=st.sampled_from([0, 2, 4, 5, 8, 61, 599, 601, 1200, 2000]))
    def time_passes(self, wait: int) -> None:
        self._wait(wait)

    @rule(wait=st.sampled_from([0, 1, 4, 6]), off=st.booleans())
    def the_condition_is_seen(self, wait: int, off: bool) -> None:  # noqa: FBT001 - drawn
        self._wait(wait)
        self.feeder.say(HOOK_A, OFF_HOOK if off else ON_HOOK, self.at)
        self.model.see(abnormal=off)

    @rule(off=st.booleans())
    def the_condition_changes_for_good(self, off: bool) -> None:  # noqa: FBT001 - drawn
        self.the_condition_is_seen(0, off)
        self._wait(7)

    @rule(wait=st.sampled_from([300, 599, 602]))
    def somebody_acknowledges_and_time_passes(self, wait: int) -> None:
        self.somebody_acknowledges(0)
        self._wait(wait)

    @rule(suppressed=st.booleans())
    def the_rule_suppresses(self, suppressed: bool) -> None:  # noqa: FBT001 - drawn
        self._wait(1)
        self.feeder.say(MAINS, suppressed, self.at)
        self.model.design(suppressed=suppressed)

    @rule(wait=st.integers(0, 2))
    def somebody_acknowledges(self, wait: int) -> None:
        self._do(wait, lambda: Acknowledge(**self._by()), self.model.acknowledge)

    @precondition(lambda self: self.model.known)
    @rule()
    def somebody_cannot_go(self) -> None:
        self._do(1, lambda: Decline(**self._by() | {"who": self._holder()}), self.model.ask_anew)

    @precondition(lambda self: self.model.known)
    @rule(role=st.sampled_from(["charge", "nobody"]))
    def somebody_hands_over(self, role: str) -> None:
        known = self.model.ask_anew if role == "charge" else lambda: None
        self._do(1, lambda: HandOver(**self._by(), role=role), known)

    @precondition(lambda self: self.model.known)
    @rule(from_holder=st.booleans())
    def somebody_takes_it_over(self, from_holder: bool) -> None:  # noqa: FBT001 - drawn
        known = self.model.take_over if from_holder else lambda: None
        self._do(
            1,
            lambda: TakeOver(
                **self._by() | {"who": "N. Nurse" if self._holder() == "R. Tech" else "R. Tech"},
                holder=self._holder() if from_holder else "nobody who has it",
            ),
            known,
        )

    @precondition(lambda self: self.model.known)
    @rule()
    def somebody_says_what_was_done(self) -> None:
        self._do(1, lambda: Settle(**self._by(), why="hung up"), self.model.settle)

    @precondition(lambda self: self.model.known)
    @rule(minutes=st.sampled_from([1, 10, 29, 31, 600]), one_shot=st.booleans())
    def somebody_shelves(self, minutes: float, one_shot: bool) -> None:  # noqa: FBT001 - drawn
        self._do(
            1,
            lambda: Shelve(**self._by(), minutes=minutes, one_shot=one_shot, why="being seen to"),
            lambda: self.model.put_on_shelf(minutes, one_shot=one_shot),
        )

    @precondition(lambda self: self.model.known)
    @rule()
    def somebody_takes_it_from_the_shelf(self) -> None:
        self._do(1, lambda: Unshelve(**self._by()), self.model.take_from_shelf)

    @rule(out=st.booleans(), role=st.sampled_from(["engineer", "engineer", "visitor"]))
    def maintenance(self, out: bool, role: str) -> None:  # noqa: FBT001 - drawn
        self._wait(1)
        about = {"arrived": instant(self.at), "who": "E. Engineer", "thing": "cart-1", "role": role}
        self.feeder.feed([TakeOut(**about, why="new wheels") if out else PutBack(**about)])
        if role == "engineer" and out is not self.model.out:
            self.model.serve(out=out)

    @rule()
    def the_program_is_started_again(self) -> None:
        before = self.feeder.engine.picture()
        self.feeder.restart()
        assert self.feeder.engine.picture() == before

    def _holder(self) -> str:
        """Whoever has it; R. Tech where nobody does."""
        picture = self._picture()
        return (picture and picture.acknowledged_by) or "R. Tech"

    def _by(self) -> dict[str, object]:
        return {"arrived": instant(self.at), "who": "R. Tech", "alert": self._alert()}

    # ---- what has to be so -------------------------------------------------------------------------------------------

    @invariant()
    def the_state_is_that_of_the_table(self) -> None:
        picture = self._picture()
        self.seen.add(self.model.shown)
        assert (NAMES[picture.state] if picture else "NORM") == self.model.shown

    @invariant()
    def people_are_told_when_the_table_says_so(self) -> None:
        assert [round(at, 3) for at in self._told()] == [round(at, 3) for at in self.model.told]
        assert [round(at, 3) for at, _ in self.feeder.over(RULE)] == [round(at, 3) for at in self.model.over]

    def _told(self) -> list[float]:
        return self.feeder.asked(RULE)

    @invariant()
    def the_shelf_ends_when_it_should(self) -> None:
        picture = self._picture()
        until = picture.aside_until if picture else None
        if until is not None:
            assert round(seconds(until), 3) == round(self.model.timers["shelf"], 3)


@pytest.mark.parametrize("until", ["seen", "cleared", "settled"])
def test_the_engine_and_the_table_never_disagree(until: str) -> None:
    machine = type("Machine", (AlertMachine,), {"until": until})
    machine.TestCase.settings = settings(
        max_examples=40, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
    )
    machine.TestCase("runTest").runTest()


def test_every_state_of_the_table_is_reached_by_these_steps() -> None:
    # Counted once, so that the agreement above is known to be about something.
    reached: set[str] = set()

    class Counting(AlertMachine):
        until = "settled"

        def teardown(self) -> None:
            reached.update(self.seen)

    counting = settings(max_examples=60, stateful_step_count=40, deadline=None, derandomize=True, database=None)
    Counting.TestCase.settings = counting
    Counting.TestCase("runTest").runTest()
    assert reached == set(NAMES.values()) - {"RTNUN"}

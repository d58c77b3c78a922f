import pytest

from rules.readings import SECOND, Micros
from sim_devices.scenarios.judged import misfits
from sim_devices.scenarios.library import names, shipped
from sim_devices.scenarios.mistakes import ScenarioError
from sim_devices.scenarios.reading import read_scenario
from sim_devices.scenarios.scenario import Scenario
from sim_devices.scenarios.stage import Played, play
from sim_devices.scenarios.told import lines, run_of, situation

pytestmark = pytest.mark.slow

PUSHED = """
[scenario]
title = "A push"
about = "A cart is pushed off with a cord down."
lasts = "6:00"
besides = ["probe-rolls-away"]

[[step]]
at = "1:00"
do = "take-down"
cart = "cart-2"
cord = "linear"

[[step]]
at = "3:00"
do = "mains"
cart = "cart-2"
plugged_in = false

[[step]]
at = "4:00"
do = "roll"
cart = "cart-2"

[[step]]
at = "5:00"
do = "hang-up"
cart = "cart-2"
cord = "linear"
"""

RAISED = """
[[raised]]
rule = "cord-down-rolling"
thing = "cart-2"
between = ["4:06", "4:09"]
over = ["5:03", "5:04"]
"""

WRONG = """
[[wrong]]
trouble = "cord-down-rolling"
thing = "cart-2"
between = ["4:00", "4:00"]
over = ["5:00", "5:00"]
"""


@pytest.mark.parametrize("name", names())
def test_in_a_situation_that_ships_is_raised_what_its_file_says_and_nothing_else(name: str) -> None:
    scenario = shipped(name)
    assert misfits(scenario, play(scenario)) == []


def test_at_least_25_situations_ship_and_each_says_in_words_what_it_is() -> None:
    told = [situation(shipped(name)) for name in names()]
    assert len(told) >= 25
    assert all(len(one.about) > 40 for one in told)


# ---- wrong expectations fail ----------------------------------------------------------------------------------------


def read(text: str) -> Scenario:
    return read_scenario(text, "push", "push.toml")


@pytest.fixture(scope="module")
def pushed() -> Played:
    return play(read(PUSHED))


def test_what_happens_as_it_should_has_no_misfits(pushed: Played) -> None:
    assert misfits(read(PUSHED + RAISED + WRONG), pushed) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        # Rolling after 6 s by its tracker, which the accelerometer's own second precedes; over 3 s after the cord hangs
        (
            (RAISED, ""),
            "'cord-down-rolling' about cart-2 is raised at 4:0",
        ),
        (('"4:09"', '"4:06.001"'), "'cord-down-rolling' about cart-2 should be raised once between 4:06 and 4:06"),
        (
            ('"5:03"', '"5:03.900"'),
            "'cord-down-rolling' about cart-2 should be over between 5:03.9 and 5:04, and is over",
        ),
        (
            ('rule = "cord-down-rolling"', 'rule = "moved-plugged-in"'),
            "'moved-plugged-in' about cart-2 should be raised",
        ),
        (
            ("[[raised]]", '[[not_raised]]\nrule = "cord-down-rolling"\nwhy = "a test"\n\n[[raised]]'),
            "'cord-down-rolling' about cart-2 should not be raised (a test), and was at 4:0",
        ),
        (("[[wrong]]", "[[wrong]]\n"), ""),
        (
            ('over = ["5:00", "5:00"]', 'over = ["4:59", "4:59"]'),
            "'cord-down-rolling' about cart-2 should really begin",
        ),
        ((WRONG, ""), "it really goes wrong, and the scenario does not list it: a cart rolls with a cord off its hook"),
        (
            ("[[wrong]]", '[[verdict]]\nbasin = "basin-1"\noutcome = "exposure met"\n\n[[wrong]]'),
            "the verdict on soak 1 of basin-1 should be 'exposure met', and there is none",
        ),
    ],
)
def test_a_wrong_expectation_is_told_in_a_sentence(pushed: Played, changed: tuple[str, str], said: str) -> None:
    text = PUSHED + RAISED + WRONG
    assert changed[0] in text
    found = misfits(read(text.replace(*changed)), pushed)
    assert any(sentence.startswith(said) for sentence in found) if said else found == []


def test_what_is_raised_or_goes_wrong_once_more_at_another_time_than_the_file_says_is_a_misfit(pushed: Played) -> None:
    later = Micros(300 * SECOND)
    alerts = [alert._replace(raised=Micros(alert.raised + later)) for alert in pushed.alerts]
    episodes = [episode._replace(start=Micros(episode.start + later)) for episode in pushed.episodes]
    twice = pushed._replace(alerts=(*pushed.alerts, *alerts), episodes=(*pushed.episodes, *episodes))
    found = misfits(read(PUSHED + RAISED + WRONG), twice)
    assert [sentence.partition(":")[0] for sentence in found] == [
        "'cord-down-rolling' about cart-2 is raised at 9",
        "it really goes wrong, and the scenario does not list it",
    ]


def test_a_false_alert_has_to_be_called_one_and_a_true_one_must_not(pushed: Played) -> None:
    called = RAISED + 'falsely = "nobody knows"\n'
    (said,) = misfits(read(PUSHED + called + WRONG), pushed)
    assert "'cord-down-rolling' about cart-2 is no false alert" in said
    nothing_wrong = pushed._replace(episodes=())
    assert misfits(read(PUSHED + called), nothing_wrong) == []
    (said,) = misfits(read(PUSHED + RAISED), nothing_wrong)
    assert "'cord-down-rolling' about cart-2 is a false alert" in said


def test_what_came_of_it_is_told_step_by_step(pushed: Played) -> None:
    told = "\n".join(lines(read(PUSHED + RAISED + WRONG), pushed))
    assert "4:00  done    roll: cart cart-2" in told
    assert "4:00  really  cart-2: a cart rolls with a cord off its hook" in told
    assert "raised  cord-down-rolling (cart-2): Cart 2: cart rolls, cord off hook (linear)" in told
    assert told.endswith("As meant.")
    assert run_of(read(PUSHED), pushed).is_as_meant is False


def test_the_same_scenario_goes_the_same_way_each_time(pushed: Played) -> None:
    again = play(read(PUSHED))
    assert (again.inputs, again.alerts, again.episodes) == (pushed.inputs, pushed.alerts, pushed.episodes)


# ---- mistakes in a file ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (
            ('at = "1:00"', 'at = "soon"'),
            (
                "push.toml, line 9: [[step]] number 1, key 'at': expected a time since the start, such as '5:00' or"
                " '1:05:00'; found 'soon'"
            ),
        ),
        (
            ('cord = "linear"', 'cort = "linear"'),
            "push.toml, line 12: [[step]] number 1, key 'cort': no such key; perhaps 'cart' or 'cord' is meant",
        ),
        (
            ('do = "roll"', 'do = "rol"'),
            "push.toml, line 22: [[step]] number 3, key 'do': no deed is called 'rol'; perhaps 'roll' is meant",
        ),
        (
            ("plugged_in = false", 'plugged_in = "no"'),
            "push.toml, line 18: [[step]] number 2, key 'plugged_in': expected true or false; found 'no'",
        ),
        (
            ('lasts = "6:00"', "lasts = 6"),
            (
                "push.toml, line 5: [scenario], key 'lasts': expected a time since the start as text, such as '5:00' or"
                " '1:05:00'; found 6"
            ),
        ),
        (
            ('rule = "cord-down-rolling"', 'rule = "cord-down"'),
            (
                "push.toml, line 32: [[raised]] number 1, key 'rule': there is no rule 'cord-down'; perhaps"
                " 'cord-down-rolling' is meant"
            ),
        ),
        (
            ('thing = "cart-2"', 'thing = "cart-9"'),
            "push.toml, line 33: [[raised]] number 1, key 'thing': there is no thing 'cart-9'; perhaps",
        ),
        (
            ("[[raised]]", "[site.thresholds]\nrolling_after = 2\n\n[[raised]]"),
            "push.toml, line 32: [site], key 'thresholds.rolling_after': [thresholds] 'rolling_after' is not",
        ),
        (
            ('cord = "linear"', 'cord = "linnear"'),
            "push.toml, line 8: [[step]] number 1: there is no cord of cart 'cart-2' 'linnear'",
        ),
        (("[scenario]", "[scenari]"), "push.toml, line 2: [scenari]: no such table; perhaps [scenario] is meant"),
        (("[scenario]", "[scenario"), "push.toml, line 2: not TOML"),
    ],
)
def test_a_mistake_in_a_file_is_told_in_one_clear_sentence(changed: tuple[str, str], said: str) -> None:
    text = PUSHED + RAISED
    with pytest.raises(ScenarioError) as refused:
        read(text.replace(*changed, 1))
    assert any(problem.startswith(said) for problem in refused.value.problems), refused.value.problems


def test_a_situation_that_does_not_ship_is_told_with_those_that_are_like_it() -> None:
    with pytest.raises(ScenarioError, match="no situation is called 'quiet'; perhaps 'quiet-night' is meant"):
        shipped("quiet")

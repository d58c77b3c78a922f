"""Figures changed by command in a running gateway: on disk before anybody is told, in force after it was killed."""

from concurrent.futures import Future
from pathlib import Path

import pytest

from gateway.inbox import Asked
from gateway.logbook import Logbook
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.events import Event
from rules.figure_commands import FigureCommand, SetFigures, WithdrawFigures
from rules.figure_events import FiguresChanged, FiguresRefused
from rules.figure_picture import FigurePicture
from tests.gateway.sites import site_text
from tests.gateway.ward import START, Ward, soak

RECLOSE = "threshold.reclose_seconds"
BY = {"arrived": START, "who": "E. Engineer", "role": "engineer", "why": "too many"}


def entered(ward: Ward, command: FigureCommand) -> list[Event]:
    """What came of it, once that is on disk."""
    answer: Future[list[Event]] = Future()
    ward.inbox.offer_urgent(Asked(command, answer))
    ward.step(1)
    return answer.result(0)


def shown(ward: Ward) -> FigurePicture:
    return next(figure for figure in ward.pump.feed().picture.figures if figure.name == RECLOSE)


def ended_after(ward: Ward) -> float:
    """How long after its lid was lifted early a soak was over, seconds."""
    ward.connect()
    soak(ward, 20)
    ward.step(130)
    (ended,) = (event for event in ward.events() if event.kind == "soak ended")
    return (ended.at - ended.end) / 1e6  # type: ignore[union-attr]  # it is a soak's end


@pytest.mark.parametrize("killed", [False, True])
def test_a_figure_stays_changed_when_the_gateway_is_killed(tmp_path: Path, killed: bool) -> None:  # noqa: FBT001 - pytest gives it
    ward = Ward(tmp_path)
    ward.start()
    (event,) = entered(ward, SetFigures(values={RECLOSE: 90}, **BY))
    assert isinstance(event, FiguresChanged)
    if killed:
        ward.kill()
        ward.start()
    assert (shown(ward).value, shown(ward).given) == (90, 60)
    assert ended_after(ward) == pytest.approx(90, abs=1)
    ward.kill()
    assert verify(tmp_path / DATABASE).is_sound


def test_a_new_site_file_that_says_otherwise_is_the_newest_word(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.start()
    entered(ward, SetFigures(values={RECLOSE: 90, "threshold.jump_celsius": 4}, **BY))
    ward.kill()
    ward.start(site_text(more="[thresholds]\nreclose_seconds = 40"))
    ward.step(1)
    assert (shown(ward).value, shown(ward).ordered) == (40, None)
    assert ended_after(ward) == pytest.approx(40, abs=1)
    ward.kill()
    assert [figure.name for figure in Logbook(tmp_path / DATABASE).figures().standing()] == ["threshold.jump_celsius"]
    assert verify(tmp_path / DATABASE).is_sound


def test_what_cannot_be_is_told_and_changes_nothing(tmp_path: Path) -> None:
    ward = Ward(tmp_path)
    ward.start()
    (event,) = entered(ward, SetFigures(values={RECLOSE: 4}, **BY))
    assert isinstance(event, FiguresRefused)
    assert event.problem == f"'{RECLOSE}' is 4 s; expected 5 to 600 s."
    (event,) = entered(ward, WithdrawFigures(names=(RECLOSE,), **BY))
    assert isinstance(event, FiguresRefused)
    assert shown(ward).ordered is None
    ward.kill()
    assert verify(tmp_path / DATABASE).is_sound

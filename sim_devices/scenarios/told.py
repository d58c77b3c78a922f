"""What came of a scenario, in words: step by step, what was done, what was raised, and what really was."""

from collections.abc import Iterator
from typing import NamedTuple

from gateway.situations import Situation, SituationRun
from rules.readings import Micros
from sim_devices.scenarios.judged import misfits
from sim_devices.scenarios.scenario import Scenario, Step
from sim_devices.scenarios.stage import Played
from sim_devices.ward.deeds import Touch


class _Line(NamedTuple):
    at: Micros
    what: str
    text: str


def situation(scenario: Scenario) -> Situation:
    """What it is, for a list."""
    tables = scenario.tables
    return Situation(
        name=scenario.name,
        about=f"{scenario.about.title}. {' '.join(scenario.about.about.split())}",
        raised=tuple(dict.fromkeys(entry.rule for entry in tables.raised)),
        quiet=tuple(dict.fromkeys(entry.rule for entry in tables.not_raised)),
    )


def run_of(scenario: Scenario, played: Played) -> SituationRun:
    """What came of it: a sentence for each alert, and for each misfit."""
    wrong = misfits(scenario, played)
    raised = (f"{scenario.time(alert.raised)}: {alert.rule}: {alert.text}" for alert in played.alerts)
    return SituationRun(name=scenario.name, is_as_meant=not wrong, said=(*raised, *wrong))


def lines(scenario: Scenario, played: Played) -> Iterator[str]:
    """The whole course of it, and at the end whether it went as meant."""
    yield f"{scenario.about.title}: {' '.join(scenario.about.about.split())}"
    yield ""
    course = [*_done(scenario), *_raised(played), *_really(played)]
    for line in sorted(course, key=lambda line: line.at):
        yield f"{scenario.time(line.at):>10}  {line.what:<7} {line.text}"
    for soak in played.soaks:
        yield f"{'':>10}  verdict soak {soak.number} of {soak.basin}: {soak.outcome}"
    if played.rejected:
        yield f"{'':>10}  {len(played.rejected)} messages could not be used"
    yield ""
    wrong = misfits(scenario, played)
    yield from ("Otherwise than meant:", *(f"  {said}" for said in wrong)) if wrong else ("As meant.",)


def _done(scenario: Scenario) -> Iterator[_Line]:
    for step in scenario.steps:
        yield _Line(scenario.instant(step.at), "done", _deed(step))


def _deed(step: Step) -> str:
    keys = step.deed.model_dump(mode="json", exclude_defaults=True, exclude={"do"})
    if isinstance(step.deed, Touch):
        keys["marked"] = step.deed.marked
    return f"{step.deed.do}: " + ", ".join(f"{key} {_plain(value)}" for key, value in keys.items())


def _plain(value: object) -> str:
    return " and ".join(map(str, value)) if isinstance(value, list) else str(value)


def _raised(played: Played) -> Iterator[_Line]:
    for alert in played.alerts:
        yield _Line(alert.raised, "raised", f"{alert.rule} ({alert.subject.id}): {alert.text}")
        if alert.over is not None:
            yield _Line(alert.over, "over", f"{alert.rule} ({alert.subject.id})")


def _really(played: Played) -> Iterator[_Line]:
    for episode in played.episodes:
        yield _Line(episode.start, "really", f"{episode.subject.id}: {episode.trouble}")
        if episode.end is not None:
            yield _Line(episode.end, "ends", f"{episode.subject.id}: {episode.trouble}")

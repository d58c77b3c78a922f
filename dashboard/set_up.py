"""First steps of a new site: what to publish so that each sensor is heard, and what people enter then."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from shlex import quote

from dashboard.premises import Premises
from dashboard.quiet import is_own
from dashboard.reached import Reached
from dashboard.words import counted, listed
from gateway.senml import SECONDARY_UNITS_VERSION
from gateway.units import SECONDARY_UNITS
from rules.picture import BasinPicture, Picture, SensorPicture
from rules.probe_words import Fitness
from rules.readings import KINDS, SensorKind, Shape

EXAMPLE_TIME = "<seconds since 1970>"
_SHELL_TIME = "'\"$(date +%s)\"'"
"""The same where a shell fills it in, between two texts in single quotes."""

MOST_SILENT = 60
"""So many sensors that were never heard are named at most of each kind (ours)."""

_EXAMPLES = {
    SensorKind.TEMPERATURE: 21.5,
    SensorKind.SHOCK: 250.0,
    SensorKind.VAPOUR: 0.02,
    SensorKind.BATTERY: 80.0,
}
"""Numbers such as each kind tells on a quiet day; a knock is one that asks for a look."""

_ABOUT = {
    SensorKind.LID: "true is closed",
    SensorKind.TEMPERATURE: "of the solution, in °C",
    SensorKind.MOTION: "true is rolling",
    SensorKind.HOOK: "true is on its hook",
    SensorKind.TAG: "the tags that are there now, separated by blanks; an empty text where there is none",
    SensorKind.CONTACT: "what a probe touched, when the button is pressed: skin, mucosa, blood or sterile",
    SensorKind.WIPED: "when the cart was wiped down",
    SensorKind.MAINS: "true is plugged in",
    SensorKind.SHOCK: "how hard a knock was, in m/s²",
    SensorKind.VAPOUR: "of the room's air, in ppm",
    SensorKind.STRIP: "what a strip showed: pass, fail or invalid",
    SensorKind.BATTERY: "what is left of it, in %",
}


@dataclass(frozen=True, slots=True)
class Example:
    """What to publish to be heard; the device's time has its place in angle brackets, or is filled in by a shell.

    about: what the value means. makers: of a device of another maker, what the site file says of its messages; then
    there is no message and no command of ours.
    """

    topic: str
    message: str
    command: str
    about: str
    makers: str = ""


@dataclass(frozen=True, slots=True)
class KindToHear:
    """A kind of sensor of which some were never heard.

    heard: how many of how many, in words. example: of the first that was not. silent: ids of those that were not; more:
    how many besides are not named.
    """

    kind: str
    heard: str
    example: Example
    silent: tuple[str, ...]
    more: int


@dataclass(frozen=True, slots=True)
class StepToTake:
    """One of the steps that follow: how far it has come, what to do, and where, '' where that is on no page.

    is_done: nothing is left of it, as far as is known here; how_far: '' where that is not known.
    """

    title: str
    how_far: str
    advice: str
    href: str
    link: str
    is_done: bool


@dataclass(frozen=True, slots=True)
class SetUpView:
    """How far a new site has come.

    heard: how many sensors have been heard, in words. kinds: those that still have some to be heard; empty where none
    has. buttons: kinds that speak only when somebody presses or knocks, and never did. steps: what follows.
    is_done: nothing is left to be done.
    """

    heard: str
    all_heard: bool
    kinds: tuple[KindToHear, ...]
    buttons: tuple[KindToHear, ...]
    steps: tuple[StepToTake, ...]
    is_done: bool


def set_up_view(picture: Picture, premises: Premises, reached: Reached) -> SetUpView:
    """How far it is set up by what was heard, entered and reached so far."""
    outside = [sensor for sensor in picture.sensors if not is_own(sensor) and sensor.kind is not SensorKind.LINK]
    steady = [sensor for sensor in outside if not KINDS[sensor.kind].momentary]
    heard = sum(sensor.value is not None for sensor in steady)
    all_heard = bool(steady) and heard == len(steady)
    steps = tuple(_steps(picture, premises, reached))
    return SetUpView(
        heard=f"{heard} of {counted(len(steady), 'sensor')} heard",
        all_heard=all_heard,
        kinds=_kinds(steady, premises),
        buttons=_kinds((sensor for sensor in outside if KINDS[sensor.kind].momentary), premises),
        steps=steps,
        is_done=all_heard and all(step.is_done for step in steps),
    )


def first_example(sensors: Sequence[SensorPicture], premises: Premises) -> Example | None:
    """A thermometer of our own if there is one, else any sensor; None once anything outside has spoken."""
    outside = [sensor for sensor in sensors if not is_own(sensor)]
    if not outside or any(sensor.value is not None for sensor in outside):
        return None
    return _example(min(outside, key=lambda sensor: _fitness(sensor, premises)), premises)


def _fitness(sensor: SensorPicture, premises: Premises) -> tuple[bool, bool, bool]:
    """Least for the best example."""
    is_makers = sensor.id in premises.makers or not sensor.topic.endswith(f"/{sensor.id}")
    return sensor.kind is SensorKind.LINK, is_makers, sensor.kind is not SensorKind.TEMPERATURE


def _kinds(sensors: Iterable[SensorPicture], premises: Premises) -> tuple[KindToHear, ...]:
    """In the order of the site file."""
    by_kind: dict[SensorKind, list[SensorPicture]] = {}
    for sensor in sensors:
        by_kind.setdefault(sensor.kind, []).append(sensor)
    return tuple(
        KindToHear(
            kind.value,
            f"{len(of_kind) - len(silent)} of {len(of_kind)} heard",
            _example(min(silent, key=lambda sensor: _fitness(sensor, premises)), premises),
            tuple(sensor.id for sensor in silent[:MOST_SILENT]),
            max(0, len(silent) - MOST_SILENT),
        )
        for kind, of_kind in by_kind.items()
        if (silent := [sensor for sensor in of_kind if sensor.value is None])
    )


def _example(sensor: SensorPicture, premises: Premises) -> Example:
    about = _ABOUT.get(sensor.kind, "")
    if makers := premises.makers.get(sensor.id):
        return Example(sensor.topic, "", "", about, makers)
    name = sensor.id.rpartition("/")[2]
    if sensor.kind is SensorKind.LINK:
        return Example(sensor.topic, "online", _command(premises.broker, sensor.topic, "'online'"), about)
    message = _message(name, sensor.kind, EXAMPLE_TIME)
    command = _command(premises.broker, sensor.topic, f"'{_message(name, sensor.kind, _SHELL_TIME)}'")
    return Example(sensor.topic, message, command, about)


def _message(name: str, kind: SensorKind, time: str) -> str:
    spec = KINDS[kind]
    if Shape.TRUTH in spec.shapes:
        said = '"vb":true'
    elif Shape.TEXT in spec.shapes:
        said = f'"vs":"{min(spec.words, default="")}"'
    else:
        said = f'"u":"{spec.unit}","v":{_EXAMPLES[kind]:g}'
    version = f'"bver":{SECONDARY_UNITS_VERSION},' if spec.unit in SECONDARY_UNITS and '"u"' in said else ""
    return f'[{{{version}"n":"{name}",{said},"t":{time}}}]'


def _command(broker: str, topic: str, message: str) -> str:
    return f"mosquitto_pub -L {quote(f'{broker}/{topic}')} -q 1 -m {message}"


def _steps(picture: Picture, premises: Premises, reached: Reached) -> Iterable[StepToTake]:
    """Those that the site file asks for, in the order in which they are taken."""
    recorded = [basin for basin in picture.basins if basin.solution.recorded]
    if recorded:
        yield _solutions(recorded)
        yield _strips(recorded)
    if picture.probes:
        yield _probes(picture)
    yield _people(picture)
    yield StepToTake(
        "Let people and walls in",
        f"{reached.signed_in} of {_people_words(reached.people)} signed in once, and {reached.seen} of"
        f" {counted(reached.displays, 'display')} seen",
        "Each person comes in by an invitation, each wall by a secret of its own that only reads. An administrator"
        " makes them here; on the machine 'sinkside people add' and 'sinkside people display add' print them.",
        "/people",
        "People and displays, for administrators",
        is_done=0 < reached.people == reached.signed_in and 0 < reached.displays == reached.seen,
    )
    if picture.roles:
        taken, arrived = premises.ways & reached.taken, premises.ways & reached.arrived
        yield StepToTake(
            "Try the ways to people",
            f"{len(taken)} of {counted(len(premises.ways), 'way')} took a page, and {len(arrived)} told that it"
            " arrived",
            "Send a test page, and look below it whether each arrived: that a server took it says nothing of a pocket.",
            "/pages",
            "Send a test page",
            is_done=taken == premises.ways,
        )


def _people_words(number: int) -> str:
    return "1 person" if number == 1 else f"{number} people"


def _solutions(basins: Sequence[BasinPicture]) -> StepToTake:
    entered = sum(basin.solution.lot is not None for basin in basins)
    return StepToTake(
        "Enter the solution in each basin",
        f"{entered} of {counted(len(basins), 'basin')} entered",
        "Lot, printed expiry, and when the bottle was opened. No soak counts in a basin of which nothing is entered.",
        "/basins",
        "Open the basins",
        is_done=entered == len(basins),
    )


def _strips(basins: Sequence[BasinPicture]) -> StepToTake:
    read = sum(basin.solution.strip is not None for basin in basins)
    return StepToTake(
        "Read a strip in each basin",
        f"{read} of {counted(len(basins), 'basin')} with a strip of its solution",
        "Pass, fail or invalid, with lot and expiry of the strips' bottle.",
        "/basins",
        "Open the basins",
        is_done=read == len(basins),
    )


def _probes(picture: Picture) -> StepToTake:
    unknown = [
        probe
        for probe in picture.probes
        if probe.standing.fitness is Fitness.NOT_PROVEN and not probe.standing.use_seen
    ]
    known = len(picture.probes) - len(unknown)
    return StepToTake(
        "Take each probe into service",
        f"{known} of {counted(len(picture.probes), 'probe')} with a history",
        "Reprocess it once, or answer for it on its page, as the engineer may who takes it into service.",
        "/probes",
        "Open the probes",
        is_done=not unknown,
    )


def _people(picture: Picture) -> StepToTake:
    nobody = [role.name for role in picture.roles if not role.contacts]
    if not picture.roles:
        how_far = "Nobody is paged"
        advice = (
            "The site file names no role. A [[contact]] with a [[channel]], a [[role]], a [[duty]] and a [[route]] say"
            " who is told of alerts; the command 'sinkside example' prints one of each."
        )
    elif nobody:
        how_far = f"Nobody is on duty as {listed(nobody)} now"
        advice = "Look when that is so, and mend it in the site file."
    else:
        how_far, advice = f"Somebody is on duty in {counted(len(picture.roles), 'role')} now", ""
    is_done = bool(picture.roles) and not nobody
    return StepToTake("Say who is told of alerts", how_far, advice, "/duty", "Who is on duty", is_done=is_done)

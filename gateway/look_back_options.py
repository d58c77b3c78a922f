"""The question of a look-back as options of a command."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import click

from gateway.look_back import FailedStrip, Overturned, Question, UnsoundSoak, WrongLot, WrongThermometer
from gateway.when import instant_of
from rules.readings import SensorId

R = TypeVar("R")

FURTHEST_OFF_CELSIUS = 20
"""So far a thermometer can be said to be off, as where it is entered."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The options as they were given; None where one was not."""

    strip: str | None
    at: str | None
    soak: str | None
    lot: str | None
    sensor: str | None
    error: float | None
    since: str | None

    @property
    def is_given(self) -> bool:
        """Whether there is any."""
        given = (self.strip, self.at, self.soak, self.lot, self.sensor, self.error, self.since)
        return any(value is not None for value in given)

    def question(self, zone: ZoneInfo) -> Question:
        """What is asked; times without an offset are local to ``zone``.

        Raises:
            click.UsageError: options that do not go together.
            WhenError: a time that cannot be used.
        """
        self._check()
        if self.strip is not None:
            return FailedStrip(self.strip, None if self.at is None else instant_of(self.at, zone))
        if self.soak is not None:
            return UnsoundSoak(self.soak)
        if self.lot is not None:
            return WrongLot(self.lot)
        if self.sensor is not None and self.error is not None and self.since is not None:
            return WrongThermometer(SensorId(self.sensor), self.error, instant_of(self.since, zone))
        return Overturned()

    def _check(self) -> None:
        if sum(value is not None for value in (self.strip, self.soak, self.lot, self.sensor)) > 1:
            raise click.UsageError("Ask one thing at a time: one of --strip, --soak, --lot, --sensor, or none of them.")
        if self.at is not None and self.strip is None:
            raise click.UsageError("--at goes with --strip; give the basin whose strip failed, or leave it out.")
        if len({value is None for value in (self.sensor, self.error, self.since)}) > 1:
            raise click.UsageError("--sensor, --error and --since go together; give all three, or none.")
        if self.error is not None and not abs(self.error) <= FURTHEST_OFF_CELSIUS:  # NaN is none either
            raise click.UsageError(
                f"--error takes a number of °C from -{FURTHEST_OFF_CELSIUS} to {FURTHEST_OFF_CELSIUS}."
            )


def question_options(command: Callable[..., R]) -> Callable[..., R]:
    """Adds the options to a command, which takes them as ``asked``."""

    @click.option("--strip", metavar="BASIN", help="A strip failed at that basin: soaks since the last good one.")
    @click.option("--at", metavar="TIME", help="With --strip: the newest that failed by then.")
    @click.option("--soak", metavar="SOAK", help="That soak proved to be unsound.")
    @click.option("--lot", metavar="LOT", help="That lot of solution or strips proved to be bad.")
    @click.option("--sensor", metavar="SENSOR", help="That thermometer was off, such as 'basin-1/temperature' ...")
    @click.option("--error", type=float, metavar="CEL", help="... by so much: what it read minus what was true ...")
    @click.option("--since", metavar="TIME", help="... from then on.")
    @wraps(command)
    def asking(
        *args: Any,
        strip: str | None,
        at: str | None,
        soak: str | None,
        lot: str | None,
        sensor: str | None,
        error: float | None,
        since: str | None,
        **others: Any,
    ) -> R:
        return command(*args, asked=Asked(strip, at, soak, lot, sensor, error, since), **others)

    return asking

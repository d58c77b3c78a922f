"""All that was ever told of one soak, put in its places."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from gateway.found import Found
from gateway.soak_log import SoakStage
from rules.events import SoakAmended, SoakEnded, SoakStarted, SoakWithdrawn
from rules.probe_events import ProbeSoaked
from rules.verdict import Verdict

Judged = SoakEnded | SoakAmended


@dataclass(slots=True)
class SoakEvents:
    """What was told of a soak, each kind in the order of its telling.

    id: of the soak. found: the first that was told. judged: each with its verdict, the first one first.
    soaked: of the probes in it.
    """

    id: str
    found: Found
    started: SoakStarted | None = None
    judged: list[tuple[Found, Judged]] = field(default_factory=list)
    withdrawn: Found | None = None
    soaked: list[tuple[Found, ProbeSoaked]] = field(default_factory=list)

    @property
    def stage(self) -> SoakStage:
        """How far it is."""
        if self.withdrawn is not None:
            return SoakStage.WITHDRAWN
        return SoakStage.ENDED if self.judged else SoakStage.RUNNING

    @property
    def first(self) -> Judged:
        """How it was judged first; only of one that ended."""
        return self.judged[0][1]

    @property
    def known(self) -> Judged:
        """How it is judged by what is known today; only of one that ended."""
        return self.judged[-1][1]

    @property
    def was_met(self) -> bool:
        """Whether it was ever told to have met what was asked of it."""
        return any(judged.verdict.outcome.is_met for _, judged in self.judged)

    def take(self, found: Found) -> None:
        """The next of its events."""
        match found.event:
            case SoakStarted() as started:
                self.started = started
            case SoakEnded() | SoakAmended() as judged:
                self.judged.append((found, judged))
            case SoakWithdrawn():
                self.withdrawn = found
            case ProbeSoaked() as soaked:
                self.soaked.append((found, soaked))

    @property
    def is_sound(self) -> bool:
        """Whether by what is known today it met what was asked of it, and nothing leaves that in doubt."""
        return self.stage is SoakStage.ENDED and is_sound(self.known.verdict)

    def shares(self) -> list[tuple[Found, ProbeSoaked]]:
        """The probes that were in it by what is known today, each as it was told last, in the order of put-in."""
        newest = {soaked.probe: (found, soaked) for found, soaked in self.soaked}
        there = [share for share in newest.values() if not share[1].withdrawn]
        return sorted(there, key=lambda share: (share[1].measured, share[0].number))

    def mistaken(self) -> list[tuple[Found, ProbeSoaked]]:
        """As they were told first: the probes to which it was told to count, and does not by what is known today."""
        met: dict[str, tuple[Found, ProbeSoaked]] = {}
        for found, soaked in self.soaked:
            if not soaked.withdrawn and soaked.verdict.outcome.is_met:
                met.setdefault(soaked.probe, (found, soaked))
        newest = {soaked.probe: soaked for _, soaked in self.soaked}
        return [
            first for probe, first in met.items() if newest[probe].withdrawn or not newest[probe].verdict.outcome.is_met
        ]


def is_sound(verdict: Verdict) -> bool:
    """Whether it is met, and no strip that failed later leaves it in doubt."""
    return verdict.outcome.is_met and (verdict.solution is None or verdict.solution.doubted_by is None)


def by_soak(found: Iterable[Found]) -> dict[str, SoakEvents]:
    """What was told of each soak."""
    soaks: dict[str, SoakEvents] = {}
    for one in found:
        match one.event:
            case SoakStarted() | SoakEnded() | SoakAmended() | SoakWithdrawn() | ProbeSoaked():
                soaks.setdefault(one.event.soak, SoakEvents(one.event.soak, one)).take(one)
    return soaks

"""Soaks that people claim. Which id a soak has only the engine knows, so a claim waits until the engine tells of it.

Whoever feeds an engine asks ``Claims.made`` with the unclaimed soaks of its picture, as a person looks at the page
before the claim is entered.
"""

from collections.abc import Iterable
from typing import NamedTuple

from rules.commands import Claim
from rules.picture import UnclaimedSoak
from rules.readings import Micros
from sim_devices.ward.crew import TECHNICIAN


class Claiming(NamedTuple):
    """Somebody claims at ``due`` that the probe was in the basin from ``put_in`` to ``taken_out``."""

    due: Micros
    probe: str
    basin: str
    put_in: Micros
    taken_out: Micros


class _Bath(NamedTuple):
    basin: str
    put_in: Micros
    claimed_after: Micros


class Claims:
    """waiting: claims that are still to be made, in the order in which the probes were taken out."""

    def __init__(self) -> None:
        self.waiting: list[Claiming] = []
        self._baths: dict[str, _Bath] = {}

    def put_in(self, probe: str, basin: str, at: Micros, claimed_after: Micros | None) -> None:
        """A probe comes into a basin; somebody will claim the soak so long after it was taken out, None: nobody."""
        if claimed_after is not None:
            self._baths[probe] = _Bath(basin, at, claimed_after)

    def taken_out(self, probe: str, at: Micros) -> None:
        """A probe leaves its basin."""
        bath = self._baths.pop(probe, None)
        if bath is not None:
            self.waiting.append(Claiming(Micros(at + bath.claimed_after), probe, bath.basin, bath.put_in, at))

    def made(self, unclaimed: Iterable[UnclaimedSoak], role: str, now: Micros) -> list[Claim]:
        """What is claimed by now of the soaks that the engine tells of; each claim is made once.

        One whose soak the engine does not tell of yet goes on waiting. role: one that entitles to claim.
        """
        soaks = list(unclaimed)
        found: list[Claim] = []
        for claiming in [c for c in self.waiting if c.due <= now]:
            soak = next((soak for soak in soaks if _is_of(claiming, soak)), None)
            if soak is not None:
                self.waiting.remove(claiming)
                found.append(_claim(claiming, soak, role, now))
        return found

    def forget(self, before: Micros) -> None:
        """What was to be claimed before then is never claimed."""
        self.waiting = [claiming for claiming in self.waiting if claiming.due >= before]


def _is_of(claiming: Claiming, soak: UnclaimedSoak) -> bool:
    return soak.basin == claiming.basin and soak.start <= claiming.taken_out and claiming.put_in <= soak.end


def _claim(claiming: Claiming, soak: UnclaimedSoak, role: str, now: Micros) -> Claim:
    return Claim(
        arrived=now,
        who=TECHNICIAN,
        probe=claiming.probe,
        measured=Micros(max(claiming.put_in, soak.start)),
        soak=soak.soak,
        role=role,
    )

"""What people enter of probes: contacts, steps, places, inspections, and a word for each when it is taken into service.

All of it is a function of time, so that what was done while the demo did not run can be entered afterwards.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rules.commands import Claim, Contact, Inspected, Placed, ProbeEntry, StepsDone, Vouch
from rules.picture import UnclaimedSoak
from rules.policy import ReprocessingPolicy
from rules.probe_words import Step
from rules.readings import SECOND, Micros
from sim_devices.exams import Exam
from sim_devices.journeys import Journey
from sim_devices.knocks import CartKnocks
from sim_devices.truth import TruthTeller
from sim_devices.upkeep import LOOK_BACK_SECONDS
from sim_devices.whereabouts import ProbeHome, Whereabouts

_LONGEST_DELAY = 900 * SECOND
"""Everything is entered within this after it was done, but for claims."""


@dataclass(frozen=True, slots=True)
class Crew:
    """Who enters what."""

    bedside: str
    technician: str
    engineer: str


@dataclass(frozen=True)
class ProbeDeeds:
    """What is entered of the probes of a department.

    truth: what people know of a probe when they answer for it. knocks: by cart.
    begins: when the probes were taken into service.
    """

    whereabouts: Whereabouts
    truth: TruthTeller
    knocks: Mapping[str, CartKnocks]
    policy: ReprocessingPolicy
    crew: Crew
    begins: Micros

    def within(self, after: Micros, until: Micros, unheard: Micros) -> list[ProbeEntry]:
        """What is entered in (after, until], the oldest first; ``arrived``: when.

        unheard: of what was marked with a button by then, no device could tell; it is entered too.
        """
        since = Micros(max(after - _LONGEST_DELAY, self.begins, until - LOOK_BACK_SECONDS * SECOND))
        entries = [
            entry
            for home in self.whereabouts.homes.values()
            for entry in self._of_probe(home, since, until, unheard)
            if after < entry.arrived <= until
        ]
        return sorted(entries, key=lambda entry: entry.arrived)

    def _of_probe(self, home: ProbeHome, since: Micros, until: Micros, unheard: Micros) -> Iterator[ProbeEntry]:
        if self.whereabouts.exams[home.cart].probes[home.cord].is_vouched_for:
            yield self._vouch(home.id, self.begins, "looked over and reprocessed before it was taken into service")
        for exam in self.whereabouts.exams[home.cart].within(since, until):
            if exam.cord == home.cord and exam.off.start >= self.begins:
                yield from self._of_exam(home.id, exam, unheard)
        for journey in self.whereabouts.journeys(home.id, since, until):
            yield from self._of_journey(journey)
        for knock in self.knocks[home.cart].within(since, until):
            if knock.cord == home.cord and knock.at >= self.begins:
                yield Inspected(
                    arrived=knock.inspected, who=self.crew.bedside, probe=home.id, measured=knock.inspected, sound=True
                )

    def _vouch(self, probe: str, at: Micros, why: str) -> Vouch:
        role = self.policy.vouch_roles[0]
        return Vouch(arrived=at, who=self.crew.engineer, probe=probe, measured=at, role=role, why=why)

    def vouched_anew(self, now: Micros) -> Iterator[Vouch]:
        """After a time in which nobody watched, somebody answers for the probes on their hooks that owe nothing.

        Not for those of which nobody ever knew anything.
        """
        for home in self.whereabouts.homes.values():
            journey = self.whereabouts.newest_journey(home.id, now)
            is_known = self.whereabouts.exams[home.cart].probes[home.cord].is_vouched_for or journey is not None
            is_home = journey is None or journey.end <= now
            if is_known and is_home and self.truth.truth(home.id, now).owes is None:
                yield self._vouch(home.id, now, "known to be clean when Sinkside began to watch")

    def _of_exam(self, probe: str, exam: Exam, unheard: Micros) -> Iterator[ProbeEntry]:
        mark, cleaning, who = exam.mark, exam.cleaning, self.crew.bedside
        if mark is not None and (not mark.by_button or mark.told <= unheard):
            yield Contact(arrived=mark.told, who=who, probe=probe, measured=exam.touched, surface=exam.surface)
        if cleaning is not None and cleaning.told is not None:
            yield StepsDone(
                arrived=cleaning.told, who=who, probe=probe, measured=cleaning.done, steps=self._bed_steps()
            )

    def _bed_steps(self) -> tuple[Step, ...]:
        wiped = (Step.LOW_LEVEL,) if self.policy.low_level_after_skin else ()
        return (Step.COVER_OFF, Step.WASHED, Step.DRIED, *wiped)

    def _of_journey(self, journey: Journey) -> Iterator[ProbeEntry]:
        who = self.crew.technician
        for chore in journey.chores:
            if chore.told is not None:
                yield StepsDone(
                    arrived=chore.told,
                    who=who,
                    probe=journey.probe,
                    measured=chore.done,
                    steps=chore.steps,
                    times=chore.times,
                )
        for stay in journey.stays:
            if stay.told is not None:
                yield Placed(
                    arrived=stay.told,
                    who=who,
                    probe=journey.probe,
                    measured=stay.start,
                    place=stay.place,
                    thing=stay.thing,
                )

    # ---- claims ---------------------------------------------------------------------------------------------------

    def claims(self, unclaimed: Iterable[UnclaimedSoak], now: Micros) -> Iterator[Claim]:
        """Soaks that somebody claims by now."""
        for soak in unclaimed:
            for probe in self.whereabouts.rotas[soak.basin].probes:
                if (dropped := self._claimed(probe, soak, now)) is not None:
                    yield Claim(
                        arrived=now,
                        who=self.crew.technician,
                        probe=probe,
                        measured=dropped,
                        soak=soak.soak,
                        role=self.policy.claim_roles[0],
                    )

    def _claimed(self, probe: str, soak: UnclaimedSoak, now: Micros) -> Micros | None:
        """When the probe was put into a soak that is claimed by now; None where it is none of it."""
        for journey in self.whereabouts.journeys(probe, soak.start, soak.end):
            for leg in journey.legs:
                is_there = journey.basin == soak.basin and leg.dropped <= soak.end and soak.start <= leg.out
                if is_there and leg.claimed is not None and leg.claimed <= now < soak.claim_by:
                    return leg.dropped
        return None

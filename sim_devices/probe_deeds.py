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
from sim_devices.chance import Chance
from sim_devices.exams import Exam
from sim_devices.journeys import Journey
from sim_devices.knocks import CartKnocks
from sim_devices.probe_habits import HABITS, ProbeHabits
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

    knocks: by cart. begins: when the probes were taken into service.
    bed_steps: what is done with a probe at the bed after an exam on skin.
    """

    whereabouts: Whereabouts
    knocks: Mapping[str, CartKnocks]
    policy: ReprocessingPolicy
    crew: Crew
    begins: Micros
    chance: Chance
    habits: ProbeHabits = HABITS

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
        if self.is_vouched_for(home.id):
            yield self._vouch(home.id)
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

    def is_vouched_for(self, probe: str) -> bool:
        """Whether somebody answered for the probe when it was taken into service."""
        return self.chance.share(probe, "vouched for") < self.habits.vouched_share

    def _vouch(self, probe: str) -> Vouch:
        return Vouch(
            arrived=self.begins,
            who=self.crew.engineer,
            probe=probe,
            measured=self.begins,
            role="engineer",
            why="looked over and reprocessed before it was taken into service",
        )

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

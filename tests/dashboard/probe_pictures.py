"""Pictures of probes for tests: of our own invention, in every state that a screen must show."""

from dataclasses import replace
from typing import Any

from dashboard.premises import Named, Premises
from rules.agenda import NEVER
from rules.evidence import Touch
from rules.picture import Picture, ProbePicture, UnclaimedSoak
from rules.policy import ReprocessingPolicy
from rules.probe_words import Fitness, Level, Place, Step, Surface
from rules.readings import Micros
from rules.standing import Standing
from rules.verdict import Outcome
from tests.dashboard.pictures import NOON, later, picture

PREMISES = Premises(
    policy=ReprocessingPolicy(tracked=True),
    sinks=(Named("station-1", "Dirty utility"),),
    cabinets=(Named("cabinet-1", "Cabinet by the door"),),
    rinses={"basin-1": 3, "basin-2": 1},
)


def touch(surface: Surface = Surface.MUCOSA, *, at: Micros = NOON, **other: Any) -> Touch:
    return replace(Touch(later(-1200, at), Level.HIGH, covered=True, surface=surface, exam=None, who="Ana"), **other)


def standing(fitness: Fitness = Fitness.READY, *, at: Micros = NOON, **other: Any) -> Standing:
    """On its hook for ten minutes, nothing owed."""
    return replace(
        Standing(
            fitness=fitness,
            owes=None,
            done=(),
            next_step=None,
            contact=None,
            place=Place.HOOK,
            thing="cart-1",
            since=later(-600, at),
            why="",
            soak=None,
            vouched_by=None,
            ready_until=None,
            reused=None,
            use_seen=True,
            changes_at=NEVER,
        ),
        **other,
    )


def owing(*done: Step, next_step: Step | None = Step.COVER_OFF, at: Micros = NOON, **other: Any) -> Standing:
    """High-level disinfection is owed for a covered contact with mucosa."""
    fitness = Fitness.IN_PROCESS if done else Fitness.OWES
    owed = {"owes": Level.HIGH, "contact": touch(at=at), "done": done, "next_step": next_step}
    return standing(fitness, at=at, **{**owed, "place": Place.SINK, "thing": "station-1", **other})


def not_proven(at: Micros = NOON, **other: Any) -> Standing:
    why = {"why": "its contact is not marked"}
    return standing(Fitness.NOT_PROVEN, at=at, owes=Level.HIGH, next_step=Step.WASHED, **{**why, **other})


def damaged(at: Micros = NOON) -> Standing:
    return standing(Fitness.INSPECT, at=at, why="knocked")


def soaking(basin: str = "basin-1", at: Micros = NOON) -> Standing:
    done = (Step.COVER_OFF, Step.WASHED, Step.DRIED)
    return owing(*done, next_step=Step.SOAKED, at=at, place=Place.BASIN, thing=basin)


def probe(name: str = "Linear probe 1", stands: Standing | None = None, *, cart: int = 1, **other: Any) -> ProbePicture:
    kind = name.partition(" ")[0].lower()
    stands = standing() if stands is None else stands
    at_home = stands.place is Place.HOOK
    return replace(
        ProbePicture(
            id=f"{kind}-{cart}",
            name=name,
            cart=f"cart-{cart}",
            cart_name=f"Cart {cart}",
            cord=kind,
            internal=False,
            serial=f"SN-{kind}-{cart}",
            tag=f"TAG{kind.upper()}{cart}",
            price=None,
            standing=replace(stands, thing=f"cart-{cart}") if at_home else stands,
        ),
        **other,
    )


def unclaimed(basin: str = "basin-1", *, at: Micros = NOON, outcome: Outcome = Outcome.EXPOSURE_MET) -> UnclaimedSoak:
    return UnclaimedSoak(f"{basin}-7", basin, later(-3600, at), later(-2820, at), outcome, later(36_000, at))


def with_probes(*probes: ProbePicture, shown: Picture | None = None, soaks: tuple[UnclaimedSoak, ...] = ()) -> Picture:
    """A department whose probes are followed."""
    return replace(picture() if shown is None else shown, probes=probes, unclaimed=soaks)

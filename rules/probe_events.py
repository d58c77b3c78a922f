"""What the engine says of probes.

All but ``ProbeStands`` are what is known, each with when it was so (``measured``): folded in that order, they
give how a probe stood at any instant. ``ProbeStands`` is what was made of it then.
"""

from typing import Literal

from rules.happened import Happened
from rules.probe_words import Fitness, Level, Place, Step, Surface
from rules.readings import Micros
from rules.verdict import Verdict


class _OfProbe(Happened):
    """``measured``: when it was so. who: the person, None where a sensor told.

    withdrawn: the same was told before and is not so: an entry was struck, or a late reading showed otherwise.
    """

    probe: str
    measured: Micros
    who: str | None
    withdrawn: bool = False


class ProbeTouched(_OfProbe):
    """An exam's contact was marked.

    level: what it demands, by class and the site's policy. sure: whether it can be of no other probe; where it can, as
    with a cart's button, it may raise what is owed and never lower it.
    """

    kind: Literal["probe touched"] = "probe touched"
    surface: Surface
    covered: bool | None
    percutaneous: bool
    exam: str | None
    level: Level
    sure: bool = True


class ProbeSeen(_OfProbe):
    """The probe is at another place since ``measured``; ``thing``: id of cart, station, basin or cabinet."""

    kind: Literal["probe seen"] = "probe seen"
    place: Place
    thing: str | None


class ProbeStepped(_OfProbe):
    """Steps of reprocessing were done; times: how often it was rinsed; remark: by which cycle it was sterilised."""

    kind: Literal["probe stepped"] = "probe stepped"
    steps: tuple[Step, ...]
    times: int
    remark: str | None = None


class ProbeSoaked(_OfProbe):
    """The probe was in a basin during a soak, from ``measured`` to ``end``, and this is the verdict on its share of it.

    Told anew where the verdict or the times change; the newest counts. who, role: who claimed it, None where it was
    seen there. withdrawn: it was not in that soak after all, whatever else is told beside it.
    """

    kind: Literal["probe soaked"] = "probe soaked"
    soak: str
    basin: str
    end: Micros
    verdict: Verdict
    role: str | None


class ProbeVouched(_OfProbe):
    """A person answers for it that the probe is fit for use."""

    kind: Literal["probe vouched"] = "probe vouched"
    role: str
    why: str


class ProbeInspected(_OfProbe):
    """The probe was looked over; ``sound``: no damage was found."""

    kind: Literal["probe inspected"] = "probe inspected"
    sound: bool
    remark: str | None


class ProbeKnocked(_OfProbe):
    """The probe's holder was knocked: peak acceleration in m/s2."""

    kind: Literal["probe knocked"] = "probe knocked"
    peak_mps2: float


class ProbeStands(_OfProbe):
    """How the probe stands since ``measured``, by what was known at ``at``; ``who`` is always None."""

    kind: Literal["probe stands"] = "probe stands"
    fitness: Fitness
    owes: Level | None
    place: Place
    thing: str | None
    why: str


ProbeEvent = (
    ProbeTouched | ProbeSeen | ProbeStepped | ProbeSoaked | ProbeVouched | ProbeInspected | ProbeKnocked | ProbeStands
)

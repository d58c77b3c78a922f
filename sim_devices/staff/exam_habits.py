"""How an exam goes: the way to the bed, the probe at the patient, and what becomes of it there."""

from collections.abc import Mapping
from types import MappingProxyType

from rules.probe_words import Surface
from sim_devices.parameters import Parameters, figure

BEFORE = 0.62
AFTER = 0.89
"""Thoroughness of cleaning before and after an improvement programme."""

THOROUGHNESS_SOURCE = "0.62 before and 0.89 after an improvement programme: Van Kalsbeek et al, Ultrasound J 2021;13:43"


class WayHabits(Parameters):
    """How a cart is brought to a bed and back."""

    least_walk_seconds: float = figure(5, "somebody comes for the cart, at least", unit="s", high=3600)
    most_walk_seconds: float = figure(60, "and at most", unit="s", high=3600)
    least_roll_seconds: float = figure(20, "the cart rolls to a bed, at least", unit="s", high=3600)
    most_roll_seconds: float = figure(150, "and at most", unit="s", high=3600)
    plug_seconds: float = figure(6, "to pull the plug, or to put it in", unit="s", high=600)
    grip_seconds: float = figure(
        3, "until a probe is taken down, or the cart is pushed off, after what is done before", unit="s", high=600
    )
    least_settle_seconds: float = figure(
        10, "brakes, screen and the patient's name come first once the cart halted, at least", unit="s", high=600
    )
    most_settle_seconds: float = figure(60, "and at most", unit="s", high=600)
    plugged_in_share: float = figure(0.004, "of the rolls that begin with the plug in its socket", unit="share", high=1)
    unplugged_share: float = figure(0.05, "of the returns after which nobody plugs the cart in", unit="share", high=1)
    at_bed_share: float = figure(0.3, "of the exams for which the cart is plugged in at the bed", unit="share", high=1)
    left_down_share: float = figure(
        0.008, "of the contacts after which the cord is not hung up before the cart rolls", unit="share", high=1
    )
    least_noticed_seconds: float = figure(
        3, "it is hung up so long after the cart halted, at least", unit="s", high=3600
    )
    most_noticed_seconds: float = figure(60, "and at most", unit="s", high=3600)
    left_lying_share: float = figure(
        0.015, "of the exams after which a cord is taken down at the parked cart and left lying", unit="share", high=1
    )
    least_lying_minutes: float = figure(3, "until somebody hangs it up, at least", unit="min", high=1440)
    most_lying_minutes: float = figure(90, "and at most", unit="min", high=1440)


class ExamHabits(Parameters):
    """How an exam goes."""

    exam_minutes: float = figure(9, "mean time that a probe is at the patient", unit="min", low=0.1, high=600)
    exam_stages: float = figure(
        4,
        "how alike the exams are: sum of so many exponential parts (Erlang); 1 = exponential",
        unit="",
        low=1,
        high=50,
    )
    least_prepare_seconds: float = figure(10, "from the hook to the patient, at least", unit="s", high=3600)
    most_prepare_seconds: float = figure(60, "and at most", unit="s", high=3600)
    second_probe_share: float = figure(0.15, "of the exams in which another probe is used too", unit="share", high=1)
    mucosa_share: float = figure(0.06, "of the contacts, those with mucosa", unit="share", high=1)
    blood_share: float = figure(0.08, "with blood, body fluid or broken skin", unit="share", high=1)
    sterile_share: float = figure(0.01, "with sterile tissue; the rest is with intact skin", unit="share", high=1)
    unmarked_share: float = figure(0.06, "of the contacts that nobody marks in time", unit="share", high=1)
    late_share: float = figure(0.5, "of what is not entered in time, the part entered later", unit="share", high=1)
    unheeded_share: float = figure(
        0.02, "of the contacts other than with skin, those that everybody takes for skin", unit="share", high=1
    )
    least_enter_seconds: float = figure(5, "until something is entered, at least", unit="s", high=3600)
    most_enter_seconds: float = figure(90, "and at most", unit="s", high=3600)
    least_late_minutes: float = figure(3, "and when it is late, at least", unit="min", high=600)
    most_late_minutes: float = figure(30, "and at most", unit="min", high=600)
    drop_share: float = figure(0.002, "of the exams in which a probe is dropped", unit="share", high=1)
    least_drop_metres: float = figure(0.2, "from a height of at least", unit="m", low=0.01, high=3)
    most_drop_metres: float = figure(1.1, "and at most", unit="m", low=0.01, high=3)
    inspected_share: float = figure(0.7, "of the knocks after which the probe is looked over", unit="share", high=1)
    least_inspect_minutes: float = figure(2, "so long after, at least", unit="min", high=1440)
    most_inspect_minutes: float = figure(25, "and at most", unit="min", high=1440)
    cleaned_share: float = figure(
        AFTER,
        "of the exams on skin, those after which the probe is cleaned",
        unit="share",
        high=1,
        source=THOROUGHNESS_SOURCE,
    )
    least_clean_seconds: float = figure(20, "cleaning at the bed takes at least", unit="s", high=3600)
    most_clean_seconds: float = figure(75, "and at most", unit="s", high=3600)
    least_hang_seconds: float = figure(2, "hanging a probe on its hook takes at least", unit="s", high=600)
    most_hang_seconds: float = figure(8, "and at most", unit="s", high=600)
    carried_weight: float = figure(0.6, "weight of: a probe is carried to the sink at once", unit="", high=100)
    hung_back_weight: float = figure(0.3, "weight of: hung back, and fetched before the cart rolls", unit="", high=100)
    rolled_away_weight: float = figure(0.07, "weight of: hung back on a cart that rolls away", unit="", high=100)
    hasty_weight: float = figure(0.03, "weight of: hung back, and used on the next patient", unit="", high=100)
    least_fetch_minutes: float = figure(
        1, "a probe that was hung back is fetched after, at least", unit="min", high=600
    )
    most_fetch_minutes: float = figure(12, "and at most", unit="min", high=600)
    least_carry_seconds: float = figure(20, "the way to the sink takes at least", unit="s", high=3600)
    most_carry_seconds: float = figure(180, "and at most", unit="s", high=3600)

    def surfaces(self) -> Mapping[Surface, float]:
        """How often a contact is with which surface; together 1."""
        soiling = {
            Surface.MUCOSA: self.mucosa_share,
            Surface.BLOOD: self.blood_share,
            Surface.STERILE: self.sterile_share,
        }
        return MappingProxyType({Surface.SKIN: max(0.0, 1 - sum(soiling.values())), **soiling})


EXAMS: Mapping[str, ExamHabits] = MappingProxyType(
    {
        "emergency": ExamHabits(),
        "ward": ExamHabits(exam_minutes=12, mucosa_share=0.01, blood_share=0.12, sterile_share=0.015),
        "clinic": ExamHabits(
            exam_minutes=14, exam_stages=8, mucosa_share=0.25, blood_share=0.02, sterile_share=0.005, drop_share=0.001
        ),
    }
)
"""By kind of department; figures ours, but for the thoroughness of cleaning."""

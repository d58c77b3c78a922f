"""How probes are reprocessed: at the sink, in the basin, and until they hang on their hooks again."""

from sim_devices.parameters import Parameters, figure
from sim_devices.staff.exam_habits import AFTER, THOROUGHNESS_SOURCE


class SinkHabits(Parameters):
    """What is done before and after a soak."""

    technicians: float = figure(2, "who work at a station at once", unit="", low=1, high=20)
    thorough_share: float = figure(
        AFTER, "of the probes that are washed before they are soaked", unit="share", high=1, source=THOROUGHNESS_SOURCE
    )
    least_wash_seconds: float = figure(60, "washing takes at least", unit="s", high=3600)
    most_wash_seconds: float = figure(150, "and at most", unit="s", high=3600)
    unread_share: float = figure(
        0.05, "of the visits to sink, basin and cabinet that a tag reader there does not see", unit="share", high=1
    )
    placed_share: float = figure(0.5, "of those that somebody enters", unit="share", high=1)
    claimed_share: float = figure(
        0.8, "of the soaks that no reader saw, those that somebody claims", unit="share", high=1
    )
    least_claim_minutes: float = figure(2, "so long after the probe was taken out, at least", unit="min", high=720)
    most_claim_minutes: float = figure(40, "and at most", unit="min", high=720)
    unentered_share: float = figure(0.05, "of the steps that nobody enters in time", unit="share", high=1)
    late_share: float = figure(0.5, "of those, the part entered later", unit="share", high=1)
    least_enter_seconds: float = figure(2, "until a step is entered, at least", unit="s", high=3600)
    most_enter_seconds: float = figure(20, "and at most", unit="s", high=3600)
    least_late_minutes: float = figure(3, "and when it is late, at least", unit="min", high=600)
    most_late_minutes: float = figure(20, "and at most", unit="min", high=600)
    least_rinse_seconds: float = figure(30, "each rinse takes at least", unit="s", high=3600)
    most_rinse_seconds: float = figure(70, "and at most", unit="s", high=3600)
    once_rinsed_share: float = figure(
        0.06, "of the soaks after which a probe is rinsed once where it should be oftener", unit="share", high=1
    )
    dry_seconds: float = figure(25, "drying takes", unit="s", high=3600)
    least_sterilise_minutes: float = figure(40, "sterilising takes, with its way, at least", unit="min", high=1440)
    most_sterilise_minutes: float = figure(90, "and at most", unit="min", high=1440)
    noticed_share: float = figure(
        0.7, "of what was done badly, the part noticed, as on the wall, and done once more", unit="share", high=1
    )
    least_back_seconds: float = figure(20, "the way back to the cart takes at least", unit="s", high=3600)
    most_back_seconds: float = figure(120, "and at most", unit="s", high=3600)
    cabinet_share: float = figure(0.4, "of the probes that are kept in a cabinet for a while", unit="share", high=1)
    least_cabinet_minutes: float = figure(20, "for at least", unit="min", high=10_080)
    most_cabinet_minutes: float = figure(480, "and at most", unit="min", high=10_080)


class SoakHabits(Parameters):
    """What is done with a soak; the time of the label is asked for."""

    pair_share: float = figure(
        0.3, "of the soaks to which another probe that waits is taken along", unit="share", high=1
    )
    cut_short_share: float = figure(0.02, "of the soaks that are ended before the label's time", unit="share", high=1)
    least_cut_part: float = figure(0.4, "of the label's time they last at least", unit="share", low=0.01, high=1)
    most_cut_part: float = figure(0.97, "and at most", unit="share", low=0.01, high=1)
    forgotten_share: float = figure(0.03, "of the soaks that are forgotten", unit="share", high=1)
    least_forgotten_minutes: float = figure(20, "for, beyond the label's time, at least", unit="min", high=1440)
    most_forgotten_minutes: float = figure(150, "and at most", unit="min", high=1440)
    least_late_seconds: float = figure(5, "others are ended after the label's time, by at least", unit="s", high=3600)
    most_late_seconds: float = figure(180, "and at most", unit="s", high=3600)
    lift_share: float = figure(0.03, "of the soaks during which the lid is lifted once", unit="share", high=1)
    least_lift_seconds: float = figure(4, "for at least", unit="s", high=3600)
    most_lift_seconds: float = figure(60, "and at most", unit="s", high=3600)
    open_soak_share: float = figure(0.01, "of the soaks during which the lid is never closed", unit="share", high=1)
    lid_left_open_share: float = figure(0.03, "of the soaks after which the lid stays open", unit="share", high=1)
    least_left_open_minutes: float = figure(5, "for at least", unit="min", high=1440)
    most_left_open_minutes: float = figure(120, "and at most", unit="min", high=1440)
    handle_seconds: float = figure(6, "to lift a lid, to put a probe in, or to take it out", unit="s", high=600)

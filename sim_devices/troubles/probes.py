"""What went wrong with probes: used, moved or left though they owe something, soaked in a wrong basin, knocked."""

from collections.abc import Iterator

from rules.board import Subject, SubjectKind
from rules.probe_words import Level, Place
from rules.readings import Micros
from rules.site import Label, Probe
from sim_devices.troubles.carts import NUDGE_SECONDS, at_patient
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.look import Look
from sim_devices.troubles.standing import Standing
from sim_devices.troubles.stretches import Held, both, held, joined, lasting, without

WAITS_SECONDS = 900
WAITS_LONG_SECONDS = 3600
"""No figure is published for ultrasound; for endoscopes 15 min, 60 min and 3 h appear."""


def probe_troubles(look: Look) -> Iterator[Episode]:
    """Of every probe, in no order."""
    for probe in look.ward.site.probe:
        subject, standing = Subject(SubjectKind.PROBE, probe.id), look.standings[probe.id]
        again, uncleaned = _used_again(look, standing)
        waits = _waits(look, standing)
        yield from look.episodes(Trouble.USED_AGAIN, subject, again)
        yield from look.episodes(Trouble.USED_UNCLEANED, subject, uncleaned)
        yield from look.episodes(Trouble.ROLLS_AWAY, subject, _rolls_away(look, probe, standing))
        yield from look.episodes(Trouble.WAITS, subject, lasting(waits, WAITS_SECONDS))
        yield from look.episodes(Trouble.WAITS_LONG, subject, lasting(waits, WAITS_LONG_SECONDS))
        yield from look.episodes(Trouble.WRONG_BASIN, subject, _wrong_basins(look, probe, standing))
        yield from look.episodes(Trouble.KNOCKED, subject, _knocked(look, standing))


def _used_again(look: Look, standing: Standing) -> tuple[list[Held], list[Held]]:
    """Since a use that began while a level was owed from an earlier one, until nothing is owed.

    Contacts without the probe being put away in between are one use. The second list is of uses of which cleaning alone
    is owed, the one before included (cleaning after every use: common practice; AIUM 2022); the first of all others.
    """
    found: tuple[list[Held], list[Held]] = ([], [])
    last: Micros | None = None
    for contact in standing.life.contacts:
        same_use = last is not None and not standing.life.stay.changes(last, contact.start)
        if standing.before(contact.start).owed is not None and not same_use:
            cleaning_alone = standing.state(contact.start).owed is Level.CLEANING
            end = standing.settled_after(contact.start)
            found[cleaning_alone].append(Held(contact.start, look.within.end if end is None else end))
        last = contact.start
    return joined(found[0]), joined(found[1])


def _owing(look: Look, standing: Standing, *, untouched: bool = False) -> list[Held]:
    """When disinfection was owed; ``untouched``: and nothing of it done."""
    ends = [*(state.at for state in standing.states[1:]), look.within.end]
    return joined(
        Held(state.at, Micros(min(end, look.within.end)))
        for state, end in zip(standing.states, ends, strict=True)
        if state.owed is not None
        and state.owed is not Level.CLEANING
        and not (untouched and state.begun)
        and state.at < min(end, look.within.end)
    )


def _rolls_away(look: Look, probe: Probe, standing: Standing) -> list[Held]:
    """From its cart's first push, while it owes and hangs there, until it leaves its hook or owes nothing."""
    on_hook = held(standing.life.stay, lambda stay: stay.place is Place.HOOK, look.within)
    rolling = lasting(held(look.ward.carts[probe.cart].rolling, bool, look.within), NUDGE_SECONDS)
    found = []
    for span in both(_owing(look, standing), on_hook):
        pushed = both(rolling, [span])
        if pushed:
            found.append(Held(pushed[0].start, span.end))
    return found


def _waits(look: Look, standing: Standing) -> list[Held]:
    """While it owes disinfection, nothing of that is begun, and it is neither at a patient nor in a basin."""
    in_basin = held(standing.life.stay, lambda stay: stay.place is Place.BASIN, look.within)
    busy = joined([*at_patient(standing.life, look.within), *in_basin])
    return without(_owing(look, standing, untouched=True), busy)


def _wrong_basins(look: Look, probe: Probe, standing: Standing) -> list[Held]:
    wrong = (bath.stay for bath in standing.baths if _is_wrong(probe, bath.basin, look.tubs[bath.basin].label))
    return joined(wrong)


def _is_wrong(probe: Probe, basin: str, label: Label) -> bool:
    """By its maker's word: the basin, the time, the temperature or the chemistry.

    The immersion test of IEC 60529 is made in fresh water and says nothing of any.
    """
    too_long = probe.max_soak_minutes is not None and label.min_minutes > probe.max_soak_minutes
    too_warm = probe.max_celsius is not None and label.min_celsius > probe.max_celsius
    another = bool(probe.chemistries) and label.chemistry not in probe.chemistries
    return too_long or too_warm or another or (bool(probe.basins) and basin not in probe.basins)


def _knocked(look: Look, standing: Standing) -> list[Held]:
    ends = [*(state.at for state in standing.states[1:]), look.within.end]
    return joined(
        Held(state.at, Micros(min(end, look.within.end)))
        for state, end in zip(standing.states, ends, strict=True)
        if state.knocked is not None and state.at < min(end, look.within.end)
    )

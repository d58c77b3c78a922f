"""What went wrong with carts, their cords and their upkeep."""

from bisect import bisect_right
from calendar import monthrange
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from operator import not_
from typing import Literal
from zoneinfo import ZoneInfo

from rules.board import Subject, SubjectKind
from rules.policy import CarePolicy, Shift
from rules.probe_words import Place
from rules.readings import SECOND, Micros
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.look import Look
from sim_devices.troubles.stretches import Held, both, held, joined, lasting, without
from sim_devices.ward.state import CartState, ProbeState

PUSH_GAP_SECONDS = 10
"""A cart that stops for no longer and goes on is on the same way (ours: a door, a corner)."""

NUDGE_SECONDS = 1
"""What rolls for less is put aside at the bedside and goes nowhere (ours; from rest, half a metre at a walk)."""

_ELSEWHERE = (Place.SINK, Place.BASIN, Place.CABINET)

LEFT_SECONDS = 1200
"""A probe that nobody examines with and nobody hangs up for so long was left lying (ours; preparing and tidying up take
minutes). It is never left lying on a bed: common practice."""


def cart_troubles(look: Look) -> Iterator[Episode]:
    """Of every cart, in no order."""
    for name, cart in look.ward.carts.items():
        subject = Subject(SubjectKind.CART, name)
        rolling = held(cart.rolling, bool, look.within)
        off = joined(span for cord in cart.on_hook for span in _hangs_down(look, name, cord))
        plugged = held(cart.plugged_in, bool, look.within)
        yield from look.episodes(Trouble.CORD_DOWN_ROLLING, subject, _pushed(both(rolling, off)))
        yield from look.episodes(Trouble.PLUGGED_IN_ROLLING, subject, _pushed(both(rolling, plugged)))
        yield from look.episodes(Trouble.CORD_LEFT_OFF, subject, joined(_left_off(look, name, cart, rolling)))
        yield from look.episodes(Trouble.GEL_OUT_OF_DATE, subject, _gel_too_old(look, cart))
        if look.ward.site.care.wipes:
            yield from look.episodes(Trouble.WIPE_DOWN_OWED, subject, _wipe_owed(look, cart.wiped))


def _pushed(rolling: list[Held]) -> list[Held]:
    return lasting(joined(rolling, PUSH_GAP_SECONDS), NUDGE_SECONDS)


# ---- cords ----------------------------------------------------------------------------------------------------------


def _hangs_down(look: Look, cart: str, cord: str) -> list[Held]:
    """When a cord was off its hook with its probe at the cart: one that was taken elsewhere left nothing hanging."""
    off = held(look.ward.carts[cart].on_hook[cord], not_, look.within)
    probe = look.ward.on_cord.get((cart, cord))
    return off if probe is None else without(off, joined(_elsewhere(look.ward.probes[probe], look.within)))


def _elsewhere(life: ProbeState, within: Held) -> Iterator[Held]:
    """When a probe was at a sink, in a basin or in a cabinet, or carried there from the patient or from there."""
    stays = list(life.stay.stretches(*within))
    used = [span.end for span in at_patient(life, within)]
    for stay, before, after in zip(stays, [None, *stays], [*stays[1:], None], strict=False):
        is_carried_back = before is not None and before.value.place in _ELSEWHERE
        is_carried_there = after is not None and after.value.place in _ELSEWHERE
        if stay.value.place in _ELSEWHERE or (stay.value.place is Place.IN_HANDS and is_carried_back):
            yield Held(stay.start, stay.end)
        elif stay.value.place is Place.IN_HANDS and is_carried_there:
            since = max((end for end in used if stay.start < end <= stay.end), default=stay.start)
            yield Held(since, stay.end)


def _left_off(look: Look, cart: str, state: CartState, rolling: list[Held]) -> Iterator[Held]:
    for probe in look.ward.site.probe:
        if probe.cart == cart and probe.cord in state.on_hook:
            off = held(state.on_hook[probe.cord], not_, look.within)
            in_hands = held(look.ward.probes[probe.id].stay, lambda stay: stay.place is Place.IN_HANDS, look.within)
            idle = without(both(off, in_hands), at_patient(look.ward.probes[probe.id], look.within))
            yield from lasting(without(idle, rolling), LEFT_SECONDS)


def at_patient(life: ProbeState, within: Held) -> list[Held]:
    """When a probe touched a patient: from a contact until it is laid down, or next brought somewhere."""
    ends = sorted([*life.stay.changes(within.start, within.end), *life.laid_down, within.end])
    starts = [contact.start for contact in life.contacts if contact.start < within.end]
    return joined(Held(start, ends[bisect_right(ends, start)]) for start in starts)


# ---- gel ------------------------------------------------------------------------------------------------------------


def _gel_too_old(look: Look, cart: CartState) -> Iterator[Held]:
    """From the day on which the bottle is to be discarded until another one takes its place.

    28 days after it was opened (CPSBC 2018), or a calendar month (UK 2021), as the site's policy says. A month from a
    day that the next month does not have ends on that month's last day.
    """
    zone, life = look.ward.site.site.zone, look.ward.site.care.gel_days
    for start, end, opened in cart.gel_opened.stretches(*look.within):
        if opened is not None:
            too_old = Micros(max(start, _instant(_discarded_on(_day(opened, zone), life), time(), zone)))
            if too_old < end:
                yield Held(too_old, end)


def _discarded_on(opened: date, life: int | Literal["month"]) -> date:
    if life != "month":
        return opened + timedelta(days=life)
    next_month = opened.replace(day=1) + timedelta(days=31)
    return next_month.replace(day=min(opened.day, monthrange(next_month.year, next_month.month)[1]))


# ---- wipe-downs -----------------------------------------------------------------------------------------------------


def _wipe_owed(look: Look, wiped: Sequence[Micros]) -> list[Held]:
    site = look.ward.site
    owed: list[Held] = []
    for shift in site.shift:
        for span in _shifts(shift, site.site.zone, look.within):
            owed += _owed_in(span, sorted(wiped), site.care)
    within = [look.within]
    return both(joined(owed), within)


def _shifts(shift: Shift, zone: ZoneInfo, within: Held) -> Iterator[Held]:
    """Every shift of that name that overlaps the look, by the wall clock."""
    day = _day(within.start, zone) - timedelta(days=1)
    while day <= _day(within.end, zone):
        ends = day if shift.end > shift.start else day + timedelta(days=1)
        span = Held(_instant(day, shift.start, zone), _instant(ends, shift.end, zone))
        if span.start < within.end and span.end > within.start and span.micros > 0:
            yield span
        day += timedelta(days=1)


def _owed_in(shift: Held, wiped: Sequence[Micros], care: CarePolicy) -> Iterator[Held]:
    """From when the shift asks for a wipe-down until it is done, or the shift is over.

    Before each shift and once or twice during it (common practice), evenly spread (ours); a wipe-down counts for one.
    """
    pieces = care.wipes_per_shift + 1
    counts_from = Micros(shift.start - round(care.wipe_lead_minutes * 60 * SECOND))
    left = iter(wiped)
    for piece in range(pieces):
        asked = Micros(shift.start + shift.micros * piece // pieces)
        done = next((at for at in left if at >= counts_from), None)
        end = shift.end if done is None else min(done, shift.end)
        if asked < end:
            yield Held(asked, end)
        if done is None:
            return
        counts_from = Micros(max(asked, done + 1))


def _day(at: Micros, zone: ZoneInfo) -> date:
    return datetime.fromtimestamp(at // SECOND, zone).date()


def _instant(day: date, clock: time, zone: ZoneInfo) -> Micros:
    return Micros(round(datetime.combine(day, clock, zone).timestamp()) * SECOND)

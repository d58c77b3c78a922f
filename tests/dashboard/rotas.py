"""Who is on duty in a department of our own invention."""

from datetime import datetime, time
from zoneinfo import ZoneInfo

from dashboard.premises import Premises
from rules.duty import Rota
from rules.reach import Duty, DutyChange

LISBON = ZoneInfo("Europe/Lisbon")
NAMES = {"phone-2": "Phone 2", "pager-1": "Pager 1", "basin-1": "Basin 1", "cart-3": "Cart 3"}


def duties(*duty: Duty, changes: tuple[DutyChange, ...] = ()) -> Premises:
    """Charge nurses and techs, and what maintenance may take out of service."""
    return Premises(
        names=NAMES,
        duty_roles={"charge-nurse": "Charge nurse", "tech": "Reprocessing tech"},
        rota=Rota(LISBON, duty, changes),
        watched={"basin-1": "Basin 1", "cart-3": "Cart 3", "basin-1/lid": "Basin 1: lid sensor"},
        rules=("cord-down-rolling", "soak-cold"),
        rule_names={"soak-cold": "Basin: too cold, not counting"},
        maintenance_roles=("engineer",),
    )


def always(role: str, contact: str) -> Duty:
    return Duty(role=role, contacts=(contact,), start=time(7), end=time(7))


def by_day(role: str, contact: str) -> Duty:
    return Duty(role=role, contacts=(contact,), start=time(7), end=time(19))


def nobody(role: str, start: str, end: str) -> DutyChange:
    return DutyChange(role=role, start=datetime.fromisoformat(start), end=datetime.fromisoformat(end))

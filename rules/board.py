"""The facts that trackers publish and rules read."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

Fact = bool | int | float | str


class SubjectKind(StrEnum):
    """What a rule can watch."""

    CART = "cart"
    BASIN = "basin"
    SOAK = "soak"
    PROBE = "probe"
    ROOM = "room"
    SENSOR = "sensor"
    GATEWAY = "gateway"


class Subject(NamedTuple):
    """One watched thing."""

    kind: SubjectKind
    id: str


FACTS: Mapping[SubjectKind, Mapping[str, Fact]] = MappingProxyType(
    {
        SubjectKind.CART: {
            "name": "",
            "rolling": False,
            "cords_off": 0,
            "cords_off_names": "",
            "cost_at_risk": "",
            "left_off": 0,
            "left_off_names": "",
            "plugged_in": False,
            "wipe_due": False,
            "gel_out_of_date": False,
        },
        SubjectKind.BASIN: {
            "name": "",
            "soaking": False,
            "vacant": False,
            "seems_empty": False,
            "lid_open_over_soak": False,
            "temperature_known": False,
            "solution_celsius": 0.0,
            "min_celsius": 0.0,
            "guard_celsius": 0.0,
            "never_done": False,
            "solution_fault": "",
            "solution_ends_soon": False,
            "strip_failed": False,
            "over_soak": False,
            "station_open": True,
        },
        SubjectKind.SOAK: {
            "name": "",
            "soak": "",
            "outcome": "",
            "minutes": "",
            "needed_minutes": "",
            "unclaimed": False,
            "vacant": False,
            "seems_empty": False,
        },
        SubjectKind.PROBE: {
            "name": "",
            "cart_name": "",
            "owes": "",
            "lacks": "",
            "owes_in_full": "",
            "owes_deed": "",
            "owes_disinfection": False,
            "held": False,
            "on_hook": False,
            "cart_rolling": False,
            "waiting": False,
            "used_again": False,
            "to_inspect": False,
            "why": "",
            "pairing_fault": "",
        },
        SubjectKind.ROOM: {"name": "", "vapour_rising": False},
        SubjectKind.SENSOR: {
            "name": "",
            "thing_name": "",
            "sensor_name": "",
            "kind": "",
            "silent": False,
            "offline": False,
            "thing_offline": False,
            "implausible": False,
            "trouble": "",
            "clock_behind": False,
        },
        SubjectKind.GATEWAY: {
            "name": "",
            "hearing": True,
            "flapping": False,
            "storing": True,
            "unreached": "",
            "nobody_on_duty": "",
            "test_unconfirmed": "",
            "channel_unconfirmed": "",
            "no_channel_works": False,
        },
    }
)
"""Every fact with its value before anything was heard; the type of that value is the type of the fact.

Seconds, minutes and temperatures carry their unit in the name (minutes are written as text, "11:59").
"""


class Board:
    """What is known of every subject, and which facts changed since the rules last looked."""

    def __init__(self) -> None:
        self.facts: dict[Subject, dict[str, Fact]] = {}
        self.changed: dict[tuple[Subject, str], None] = {}

    def add(self, subject: Subject, **known: Fact) -> None:
        """Start to watch a subject; facts not given have their value of ``FACTS``."""
        facts = {**FACTS[subject.kind], **known}
        self.facts[subject] = facts
        for name in facts:
            self.changed[subject, name] = None

    def touch(self) -> None:
        """Let the rules look at everything again."""
        for subject, facts in self.facts.items():
            for name in facts:
                self.changed[subject, name] = None

    def remove(self, subject: Subject) -> None:
        """Stop to watch a subject; what it raised is then let go."""
        if self.facts.pop(subject, None) is not None:
            self.changed[subject, ""] = None

    def publish(self, subject: Subject, name: str, value: Fact) -> None:
        """Set a fact; the rules that read it are looked at again if it changed."""
        facts = self.facts[subject]
        if facts[name] != value:
            facts[name] = value
            self.changed[subject, name] = None

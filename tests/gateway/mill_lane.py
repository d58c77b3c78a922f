"""A site for the tests of the wire, and its wire."""

import json
from typing import Any

from gateway.wire import Decoded, Wire
from rules.readings import SECOND, Micros
from rules.site import Site

NOW = Micros(1_760_000_000_500_000)
NOW_SECONDS = NOW / SECOND

SINK: dict[str, Any] = {"thing": "sink", "topic": "house/sink", "time": "/at"}
SITE = Site.model_validate(
    {
        "site": {"id": "mill-lane", "name": "Mill Lane"},
        "station": [{"id": "soak", "name": "Soak"}],
        "basin": [{"id": "basin-1", "name": "Basin 1", "station": "soak", "label": "any"}],
        "cart": [{"id": "cart-1", "name": "Cart 1", "cords": ["a"]}],
        "sensor": [
            {"thing": "room", "name": "vapour", "kind": "vapour"},
            {"thing": "cart-1", "name": "battery", "kind": "battery"},
            {"thing": "cart-1", "name": "contact", "kind": "contact"},
            {"thing": "cart-1", "name": "tag", "kind": "tag", "topic": "elsewhere/tags"},
            {"thing": "cart-1", "name": "water-temperature", "kind": "temperature"},
            SINK | {"name": "tap", "value": "/tap", "kind": "lid", "true_when": ["on"]},
            SINK | {"name": "warm", "value": "/warm", "kind": "temperature", "unit": "degF"},
        ],
    }
)
WIRE = Wire(SITE)


def topic(sensor: str) -> str:
    return f"sinkside/mill-lane/{sensor}"


def decode(sensor: str, *records: dict[str, Any]) -> Decoded:
    return WIRE.decode(topic(sensor), json.dumps(records).encode(), NOW)

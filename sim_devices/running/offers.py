"""The deeds that can be done by hand at a site, each with its keys and with the things of the site to choose from."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from inspect import getdoc
from types import MappingProxyType
from typing import Any

from gateway.hands import Choice, Key, Offer
from rules.site import Site
from sim_devices.running.spoken_deeds import KINDS, NEVER, types_of
from sim_devices.ward.deeds import Deed

_GROUPS = (
    ("basin", "Basins"),
    ("cart", "Carts"),
    ("probe", "Probes"),
    ("station", "Rooms"),
    ("thing", "Devices"),
    ("sensor", "Sensors"),
)

_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "open-lid": "Lift a lid",
        "close-lid": "Close a lid",
        "pour": "Pour fresh solution",
        "spend": "Use a solution up",
        "read-strip": "Read a strip",
        "set-celsius": "Warm or cool a solution",
        "heater": "Break or mend a heater",
        "room-celsius": "Warm or cool a room",
        "spill": "Spill solution",
        "roll": "Roll a cart",
        "halt": "Halt a cart",
        "bump": "Bump against a cart",
        "mains": "Plug a cart in or out",
        "take-down": "Take a cord down",
        "hang-up": "Hang a cord up",
        "wipe-down": "Wipe a cart down",
        "open-gel": "Put a gel bottle on a cart",
        "touch": "Touch a patient",
        "lay-down": "Leave a probe lying",
        "bring": "Bring a probe somewhere",
        "treat": "Reprocess a probe",
        "drop": "Drop a probe",
        "inspect": "Look a probe over",
        "vouch-for": "Vouch for a probe",
        "power": "Power a device up or down",
        "network": "Take a device out of reach",
        "set-clock": "Set a device's clock wrong",
        "charge": "Set a battery's charge",
        "defect": "Break or mend a sensor",
    }
)

_KEY_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "celsius": "temperature (°C)",
        "mps2": "acceleration (m/s²)",
        "ppm": "vapour (ppm)",
        "percent": "charge (%)",
        "height_m": "height (m)",
        "ahead_seconds": "ahead by (s)",
        "days_ago": "opened before (days)",
        "expired_days": "expired for (days, below 0: days left)",
        "told_after_seconds": "entered after (s)",
        "claimed_after_seconds": "claimed after (s)",
        "thing": "what",
    }
)
"""Where a key's name alone does not say it."""

_LISTED = "several with ',' between them"


def offers_of(site: Site) -> tuple[Offer, ...]:
    """All deeds that the site has things for."""
    things = _Things(site)
    offers = (_offer(do, kind, things) for do, kind in KINDS.items())
    return tuple(offer for offer in offers if not any(key.needed and _has_none(key, things) for key in offer.keys))


def told(offers: Iterable[Offer]) -> Iterator[str]:
    """Offers as lines: what a command line is given, and what happens."""
    for offer in offers:
        yield " ".join((offer.do, *(f"{key.name}=..." if key.needed else f"[{key.name}=...]" for key in offer.keys)))
        yield f"    {offer.about}"
        for key in offer.keys:
            yield f"    {key.name}: {_told(key)}"


def _told(key: Key) -> str:
    if key.choices:
        said = " | ".join(choice.value or "''" for choice in key.choices)
    elif key.low is not None:
        said = f"{key.words}: {key.low:g} to {key.high:g}"
    else:
        said = key.words
    return f"{said}  [{key.value}]" if key.value else said


def _has_none(key: Key, things: "_Things") -> bool:
    return key.name in things.known and not key.choices


def _offer(do: str, kind: type[Deed], things: "_Things") -> Offer:
    group = next(words for key, words in _GROUPS if key in kind.model_fields)
    keys = "|".join(kind.model_fields)
    # Where a deed's docstring goes on with one of its keys.
    about = re.split(rf"\s+(?:{keys}): ", (getdoc(kind) or "").split("\n\n")[0])[0]
    return Offer(do, _WORDS[do], about, group, tuple(_keys(kind, things)))


def _keys(kind: type[Deed], things: "_Things") -> list[Key]:
    whole = kind.model_json_schema()
    named = ((name, about) for name, about in whole["properties"].items() if name != "do")
    return [_key(kind, whole, name, about, things) for name, about in named]


def _key(kind: type[Deed], whole: Mapping[str, Any], name: str, about: Mapping[str, Any], things: "_Things") -> Key:
    field = kind.model_fields[name]
    needed, types = field.is_required(), types_of(whole, about)
    words = _KEY_WORDS.get(name, name.replace("_", " "))
    default = "" if needed else _text(field.default)
    if "array" in types:
        values = ", ".join(_values(whole, about))
        return Key(name, f"{words}, {_LISTED}: {values}", value=default, needed=needed)
    if "null" in types and "number" in types:
        return Key(name, f"{words}, or '{NEVER}'", value=default or NEVER, needed=needed)
    choices = _choices(kind, name, about, whole, things)
    low, high = (None, None) if choices else _range(about)
    may_be_empty = any(not choice.value for choice in choices)
    is_thing = name == "thing" or name in things.known
    return Key(name, words, choices, default, low, high, needed and not may_be_empty, is_thing)


def _text(value: object) -> str:
    if value is None:
        return ""
    return str(value).lower() if isinstance(value, bool) else str(value)


def _choices(
    kind: type[Deed], name: str, about: Mapping[str, Any], whole: Mapping[str, Any], things: "_Things"
) -> tuple[Choice, ...]:
    if name == "thing":
        return things.devices if kind.model_fields[name].is_required() else things.places
    if name in things.known:
        return things.known[name]()
    if "boolean" in types_of(whole, about):
        return (Choice("true", "yes"), Choice("false", "no"))
    return tuple(Choice(value, value) for value in _values(whole, about))


def _values(whole: Mapping[str, Any], about: Mapping[str, Any]) -> list[str]:
    """The words that a part of a JSON Schema allows; empty where it allows any."""
    for inner in (*about.get("anyOf", ()), *([about["items"]] if "items" in about else [])):
        if found := _values(whole, inner):
            return found
    if "$ref" in about:
        return _values(whole, whole["$defs"][about["$ref"].removeprefix("#/$defs/")])
    return list(about.get("enum", ()))


def _range(about: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """Ends of the range of a number; a number without ends has the widest."""
    for part in (about, *about.get("anyOf", ())):
        if part.get("type") in ("number", "integer"):
            low = part.get("minimum", part.get("exclusiveMinimum", -_FAR))
            return low, part.get("maximum", _FAR)
    return None, None


_FAR = 1_000_000.0


class _Things:
    """What a site has, as choices."""

    def __init__(self, site: Site) -> None:
        stations, basins, cabinets = (_named(group) for group in (site.station, site.basin, site.cabinet))
        cords = dict.fromkeys(cord for cart in site.cart for cord in cart.cords)
        sensors = [sensor for sensor in site.sensors().values() if sensor.thing != "gateway"]
        self.places = (Choice("", "none"), *stations, *basins, *cabinets)
        self.devices = (Choice("", "all of them"), *_plain(dict.fromkeys(sensor.thing for sensor in sensors)))
        self.known: Mapping[str, Callable[[], tuple[Choice, ...]]] = {
            "basin": lambda: basins,
            "cart": lambda: _named(site.cart),
            "probe": lambda: _named(site.probe),
            "station": lambda: stations,
            "cord": lambda: _plain(cords),
            "sensor": lambda: _plain(sensor.id for sensor in sensors),
        }


def _named(group: Sequence[Any]) -> tuple[Choice, ...]:
    return tuple(Choice(each.id, each.name) for each in group)


def _plain(names: Any) -> tuple[Choice, ...]:
    return tuple(Choice(name, name) for name in names)

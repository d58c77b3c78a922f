"""Sensor Measurement Lists (RFC 8428), JSON and CBOR: bytes become resolved records.

What is read: packs with base fields, relative times, base version, sums, data values, labels that must be understood,
and secondary units (RFC 8798) where the pack declares them (RFC 9100). What is not: the XML and EXI forms, and endless
streams.

Decisions where the RFCs leave room:

- A version up to 10 is a plain number and accepted, whatever its bits: RFC 8428 prints an example with version 5, which
  RFC 9100 would read as bits that are never set. Above 10 it is the set of features of RFC 9100, of which the
  secondary units are the only one understood; a pack with any other is refused.
- A fault of one record spoils that record alone; a fault that touches the reading of the others (base fields, version,
  a label that must be understood) spoils the pack.
- A number written with a capital E is accepted, though a sender must not write it so.
- A record without a value is refused unless it has a sum; a base value alone is no value.

Bounds: 64 KiB a pack, 2,000 records, 255 characters a name, 16 levels of nesting.
"""

import re
from base64 import b64decode
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import lru_cache
from math import inf, isfinite
from typing import Any, NamedTuple, NoReturn

import cbor2
from pydantic_core import from_json

from gateway.units import SECONDARY_UNITS

MOST_OCTETS = 64 * 1024
MOST_RECORDS = 2_000
MOST_NAME_CHARACTERS = 255
MOST_LEVELS = 16

RELATIVE_BELOW = 1 << 28
"""Times below this many seconds count from now (RFC 8428, 4.5.3)."""

DEFAULT_VERSION = 10
SECONDARY_UNITS_VERSION = DEFAULT_VERSION + (1 << 4)
"""Version 10 and the feature bit of the secondary units (RFC 9100; RFC 8798)."""

NO_PACK = (
    "a SenML pack begins with '[' (JSON) or a CBOR array (first octet 80 to 9f hex), such as"
    ' [{"n":"temperature","u":"Cel","v":21.5,"t":1767225600}]'
)

Value = float | bool | str | bytes

_BASES = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})
_PLAIN = frozenset({"n", "u", "v", "vb", "t"})
_KNOWN = _BASES | {"n", "u", "v", "vs", "vb", "vd", "s", "t", "ut"}
CBOR_LABELS: Mapping[int, str] = {
    -1: "bver",
    -2: "bn",
    -3: "bt",
    -4: "bu",
    -5: "bv",
    -6: "bs",
    0: "n",
    1: "u",
    2: "v",
    3: "vs",
    4: "vb",
    5: "s",
    6: "t",
    7: "ut",
    8: "vd",
}
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9:./_-]*")


class SenmlError(ValueError):
    """The payload, or one record of it, is not usable SenML; the message is one sentence that says why."""


class Record(NamedTuple):
    """One resolved record.

    name: base name and name together.
    unit: SenML unit, '' where none was given; secondary units are kept as they came.
    seconds: since the epoch; ``now`` where the sender gave no time.
    absolute: whether the sender gave a time of its own, not one that counts from now.
    value: None where only a sum was given.
    total: the sum (``s``), integral over time of the value.
    update_seconds: longest time until the sender's next record of this name.
    version: of the pack.
    """

    name: str
    unit: str
    seconds: float
    absolute: bool
    value: Value | None
    total: float | None
    update_seconds: float | None
    version: int


class Pack(NamedTuple):
    """The usable records in order of time (RFC 8428, 4.6), and why the others are not usable."""

    records: list[Record]
    faults: list[SenmlError]


class _Base(NamedTuple):
    name: str = ""
    seconds: float = 0.0
    unit: str = ""
    value: float = 0.0
    total: float | None = None
    version: int = DEFAULT_VERSION


_NO_BASE = _Base()
Labelled = dict[str, Any]
"""A record as it stands in its pack, with the labels of JSON."""


def plain(raw: Labelled) -> tuple[str, str, float, float | bool] | None:
    """The short way for what nearly every message is: name, unit, absolute time, and a number or truth value.

    For the only record of its pack. None where it is not so plain, or anything is wrong with it: ``resolve`` says what.
    """
    if not _PLAIN.issuperset(raw):
        return None
    get = raw.get
    name, unit, seconds, value = get("n"), get("u", ""), get("t"), get("v")
    if value is None:
        value = get("vb")
        if type(value) is not bool:
            return None
    elif type(value) is not float or not isfinite(value) or "vb" in raw:
        return None
    if type(seconds) is not float or not RELATIVE_BELOW <= seconds < inf:
        return None
    if type(name) is not str or type(unit) is not str or unit in SECONDARY_UNITS or not _is_name(name):
        return None
    return name, unit, seconds, value


def resolve(pack: list[Labelled], now_seconds: float) -> Pack:
    """Resolve a parsed pack; relative times count from ``now_seconds``.

    Raises:
        SenmlError: the pack as a whole cannot be used.
    """
    base, version = _NO_BASE, 0
    records: list[Record] = []
    faults: list[SenmlError] = []
    for raw in pack:
        if not _KNOWN.issuperset(raw):
            _check_must_understand(raw)
        if not _BASES.isdisjoint(raw):
            base = _rebased(base, raw)
        if base.version != version:
            version = _same_version(version, base.version)
        try:
            records.append(_record(raw, base, now_seconds))
        except SenmlError as fault:
            faults.append(fault)
    if len(records) > 1:
        records.sort(key=_seconds)
    return Pack(records, faults)


def _seconds(record: Record) -> float:
    return record.seconds


# ---- bytes to labelled records ------------------------------------------------------------------------------------


def parse(payload: bytes) -> list[Labelled]:
    """The records of a pack as they stand, with the labels of JSON.

    Raises:
        SenmlError: no pack, or too large a one.
    """
    if len(payload) > MOST_OCTETS:
        raise SenmlError(f"the pack has {len(payload)} octets, more than {MOST_OCTETS}: send it in parts")
    if payload.startswith(b"["):
        pack = _from_json(payload)
    elif b"\x80" <= payload[:1] <= b"\x9f":
        pack = _from_cbor(payload)
    elif payload.lstrip(b" \t\r\n")[:1] == b"[":
        pack = _from_json(payload)
    else:
        raise SenmlError(NO_PACK)
    if not 0 < len(pack) <= MOST_RECORDS:
        raise SenmlError(f"a pack has 1 to {MOST_RECORDS} records, this one has {len(pack)}")
    return pack


def _from_json(payload: bytes) -> list[Labelled]:
    try:
        pack = from_json(payload, allow_inf_nan=False)
    except ValueError as error:
        raise SenmlError(f"not JSON: {error}") from error
    for raw in pack:
        if type(raw) is not dict:
            raise SenmlError("every record of a pack is an object: [{...}, ...]")
    return pack  # type: ignore[no-any-return]  # a list: the text begins with '['


def _from_cbor(payload: bytes) -> list[Labelled]:
    try:
        pack = cbor2.loads(payload, max_depth=MOST_LEVELS, allow_duplicate_keys=False, semantic_decoders=_TAGS_REFUSED)
    # A tag's content may break the decoder of that tag in its own way.
    except (cbor2.CBORError, ValueError, TypeError, ArithmeticError, RecursionError) as error:
        raise SenmlError(f"not CBOR: {error}") from error
    for raw in pack:
        if type(raw) is not dict:
            raise SenmlError("every record of a pack is a map")
    return [_relabelled(raw) for raw in pack]


def _refuse_tag(_: object) -> NoReturn:
    raise cbor2.CBORDecodeError("the only CBOR tag used in SenML is 4, a decimal fraction")


# Dates, references, rationals, addresses and so on; 2 and 3 may stand within the decimal fraction of tag 4.
_TAGS_REFUSED: Mapping[int, Callable[[object], NoReturn]] = dict.fromkeys(
    (0, 1, 5, 25, 28, 29, 30, 35, 36, 37, 52, 54, 100, 256, 258, 260, 261, 1004, 43000, 55799), _refuse_tag
)


def _relabelled(raw: Mapping[object, Any]) -> Labelled:
    """A CBOR record with the labels of JSON; unknown numbers are dropped, as unknown labels are ignored."""
    record: Labelled = {}
    for key, value in raw.items():
        if type(key) is int:
            label = CBOR_LABELS.get(key)
            if label is not None:
                record[label] = value
        elif type(key) is str and key not in _KNOWN:
            record[key] = value
        else:
            raise SenmlError(
                f"{key!r:.40} is no label of a CBOR record: known labels are whole numbers, others are text"
            )
    if type(record.get("vd", b"")) is not bytes:
        raise SenmlError("'vd' (8) is a byte string in CBOR")
    return record


# ---- labelled records to resolved ones ----------------------------------------------------------------------------


def _check_must_understand(raw: Labelled) -> None:
    for label in raw.keys() - _KNOWN:
        if label.endswith("_"):
            raise SenmlError(f"the label {label[:40]!r} must be understood and is not")


def _rebased(base: _Base, raw: Labelled) -> _Base:
    return _Base(
        _text(raw, "bn", base.name),
        _number(raw, "bt", base.seconds),
        _text(raw, "bu", base.unit),
        _number(raw, "bv", base.value),
        _number(raw, "bs", 0.0) if "bs" in raw else base.total,
        _version(raw, base.version),
    )


def _version(raw: Labelled, inherited: int) -> int:
    version = raw.get("bver", inherited)
    if type(version) is not int or version < 1:
        raise SenmlError("'bver' is a whole number above 0")
    if version > DEFAULT_VERSION and version != SECONDARY_UNITS_VERSION:
        raise SenmlError("'bver' names features that are not understood; expected 10 or 26")
    return version


def _same_version(before: int, now: int) -> int:
    if before:
        raise SenmlError(f"all records of a pack have one version; this pack has {before} and {now}")
    return now


def _record(raw: Labelled, base: _Base, now_seconds: float) -> Record:
    name = base.name + _text(raw, "n", "")
    _check_name(name)
    unit = _text(raw, "u", base.unit)
    if unit in SECONDARY_UNITS and base.version != SECONDARY_UNITS_VERSION:
        raise SenmlError(f'{unit!r} is a secondary unit: it needs "bver":{SECONDARY_UNITS_VERSION} (RFC 8798)')
    seconds = _sum(base.seconds, _number(raw, "t", 0.0), "t")
    absolute = seconds >= RELATIVE_BELOW
    return Record(
        name,
        unit,
        seconds if absolute else now_seconds + seconds,
        absolute,
        _value(raw, base),
        None if base.total is None and "s" not in raw else _sum(base.total or 0.0, _number(raw, "s", 0.0), "s"),
        _number(raw, "ut", 0.0) if "ut" in raw else None,
        base.version,
    )


def _value(raw: Labelled, base: _Base) -> Value | None:
    present = ("v" in raw) + ("vb" in raw) + ("vs" in raw) + ("vd" in raw)
    if present != 1:
        if present == 0 and "s" in raw:
            return None
        raise SenmlError(f"a record has exactly one of v, vb, vs and vd; this one has {present}")
    if "v" in raw:
        return _sum(base.value, _number(raw, "v", 0.0), "v")
    if "vb" in raw:
        truth = raw["vb"]
        if type(truth) is not bool:
            raise SenmlError("'vb' is true or false")
        return truth
    if "vs" in raw:
        return _text(raw, "vs", "")
    return _octets(raw["vd"])


def _octets(data: object) -> bytes:
    if type(data) is bytes:
        return data
    if type(data) is not str or "=" in data:
        raise SenmlError("'vd' is base64url text without padding")
    try:
        return b64decode(data + "=" * (-len(data) % 4), altchars=b"-_", validate=True)
    except ValueError as error:
        raise SenmlError("'vd' is base64url text without padding") from error


def _text(raw: Labelled, label: str, absent: str) -> str:
    text = raw.get(label, absent)
    if type(text) is not str:
        raise SenmlError(f"'{label}' is text")
    return text


def _number(raw: Labelled, label: str, absent: float) -> float:
    number = raw.get(label, absent)
    if type(number) is float and isfinite(number):
        return number
    if type(number) is int or type(number) is Decimal:  # a Decimal is CBOR's decimal fraction
        try:
            number = float(number)
        except OverflowError:
            number = inf
        if isfinite(number):
            return number
    raise SenmlError(f"'{label}' is a finite number")


def _sum(base: float, own: float, label: str) -> float:
    total = base + own
    if not isfinite(total):
        raise SenmlError(f"'b{label}' and '{label}' together are no finite number")
    return total


def _check_name(name: str) -> None:
    if not _is_name(name):
        raise SenmlError(
            f"{name[:60]!r} is no name: letters, digits and - : . / _, a letter or digit first,"
            f" at most {MOST_NAME_CHARACTERS}"
        )


def _is_name(name: str) -> bool:
    # The length is looked at first, so that the cache never keeps long ones.
    return len(name) <= MOST_NAME_CHARACTERS and _has_name_form(name)


@lru_cache(maxsize=4096)
def _has_name_form(name: str) -> bool:
    return _NAME.fullmatch(name) is not None

"""Names replaced by others that say nothing: the same name always by the same, so that who is who can be told apart."""

from collections.abc import Iterable, Mapping
from enum import StrEnum

from rules.figures import LIMITS, OWN_FIGURES, RULE
from rules.readings import SensorKind

GATEWAY = "gateway"
"""The gateway's own name, as a thing and as a person."""

_KINDS = tuple(map(str, SensorKind))
"""None of them begins another."""


class Kind(StrEnum):
    """What a name is of; the first part of each name that takes its place."""

    PERSON = "person"
    SITE = "site"
    STATION = "station"
    BASIN = "basin"
    CABINET = "cabinet"
    CART = "cart"
    PROBE = "probe"
    THING = "thing"
    CORD = "cord"
    SENSOR = "sensor"
    SERIAL = "serial"
    TAG = "tag"
    LABEL = "label"
    CHEMISTRY = "chemistry"
    LOT = "lot"
    EXAM = "exam"
    RULE = "rule"
    LIMIT = "limit"
    FIGURE = "figure"
    ALERT = "alert"
    PAGE = "page"
    GATHERS = "cause"
    SHIFT = "shift"
    ROLE = "role"
    CONTACT = "contact"
    CHANNEL = "channel"
    ROUTE = "route"
    ADDRESS = "address"


PLACES = (Kind.STATION, Kind.BASIN, Kind.CABINET, Kind.CART)
"""Things of which no two have the same id."""


def titled(pseudonym: str) -> str:
    """As people would read it: 'Cart 07' of '07-cart', 'Probe 3' of 'probe-3'."""
    first, _, second = pseudonym.partition("-")
    words = (second, first) if first.isdigit() else (first, second)
    return " ".join(words).replace("-", " ").capitalize()


class Pseudonyms:
    """Gives the names.

    kept: names that are no secret, as those of the rules that come with the program.
    """

    def __init__(self, kept: Mapping[Kind, frozenset[str]]) -> None:
        self._kept = kept
        self._given: dict[Kind, dict[str, str]] = {kind: {} for kind in Kind}
        self._width: dict[Kind, int] = {}
        self._titles: dict[str, str] = {}

    def prepare(self, kind: Kind, names: Iterable[str]) -> None:
        """Number these in their own order, with as many digits each: what goes by the order of names goes on so."""
        new = sorted(set(names) - self._kept.get(kind, frozenset()) - self._given[kind].keys())
        self._width[kind] = max(self._width.get(kind, 1), len(str(len(self._given[kind]) + len(new))))
        for name in new:
            self.of(kind, name)

    def prepare_places(self, ids: Mapping[Kind, Iterable[str]]) -> None:
        """Number all places together: of what happens at one instant at two of them, the first by name comes first."""
        kinds = {each: kind for kind, found in ids.items() for each in found}
        # A sensor's id is the place's with '/' and its own name.
        ordered = sorted(kinds, key=lambda each: f"{each}/")
        width = len(str(len(ordered)))
        for number, each in enumerate(ordered, 1):
            self._given[kinds[each]][each] = f"{number:0{width}d}-{kinds[each]}"

    def of(self, kind: Kind, name: str) -> str:
        """What takes the place of a name."""
        if name in self._kept.get(kind, ()):
            return name
        given = self._given[kind]
        if name not in given:
            given[name] = f"{kind}-{len(given) + 1:0{self._width.get(kind, 1)}d}"
        return given[name]

    def entitle(self, title: str, new: str) -> None:
        """People call something by this title, and by the new one now."""
        self._titles.setdefault(title, new)

    def known(self, text: str) -> str | None:
        """What takes the place of a text that is just the title or the id of something; None where it is neither."""
        given = (each[text] for each in self._given.values() if text in each)
        found = self._titles.get(text) or next(given, None)
        if found is not None or "/" not in text:
            return found
        return self.sensor(text) if any(text.partition("/")[0] in self._given[kind] for kind in PLACES) else None

    def place(self, name: str) -> str:
        """Of a station, basin, cabinet or cart, or whatever else has sensors."""
        if name == GATEWAY:
            return name
        found = next((kind for kind in PLACES if name in self._given[kind]), Kind.THING)
        return self.of(found, name)

    def thing(self, name: str) -> str:
        """Of a place, a probe, or a sensor by its id."""
        if "/" in name:
            return self.sensor(name)
        known = any(name in self._given[kind] for kind in PLACES)
        return self.of(Kind.PROBE, name) if name in self._given[Kind.PROBE] and not known else self.place(name)

    def sensor(self, sensor: str) -> str:
        """Of a sensor by its id."""
        thing, _, name = sensor.partition("/")
        return f"{self.place(thing)}/{self.sensor_name(name)}"

    def sensor_name(self, name: str) -> str:
        """The second part of a sensor's id: it goes on naming its kind and its cord, by which rules know it."""
        kind, dash, rest = _parts(name)
        if rest in self._given[Kind.CORD]:
            return f"{kind}{dash}{self.of(Kind.CORD, rest)}"
        if name in self._given[Kind.CORD]:
            return self.of(Kind.CORD, name)
        own = self.own_part(name)
        return name if own is None else f"{name.removesuffix(own)}{self.of(Kind.SENSOR, own)}"

    def own_part(self, name: str) -> str | None:
        """What of a sensor's name is neither a word of the program nor the name of a cord, None where nothing is."""
        _, dash, rest = _parts(name)
        cords = self._given[Kind.CORD]
        if not rest or rest in cords or name in cords:
            return None
        return rest if dash else name

    def soak(self, soak: str) -> str:
        """Of a soak by its id, the basin's with a number."""
        basin, _, number = soak.rpartition(".")
        return f"{self.of(Kind.BASIN, basin)}.{number}" if _is_number(number) else self.of(Kind.THING, soak)

    def numbered(self, kind: Kind, name: str) -> str:
        """Of what the engine numbers, such as 'alert-3', which is kept; somebody may have entered something else."""
        first, _, number = name.rpartition("-")
        return name if name == "" or (first == kind and _is_number(number)) else f"other {self.of(kind, name)}"

    def person(self, who: str) -> str:
        """Of a person; the gateway is none."""
        return who if who == GATEWAY else self.of(Kind.PERSON, who)

    def tags(self, value: str) -> str:
        """Of all that a tag reader names."""
        return " ".join(self.of(Kind.TAG, tag) for tag in value.split())

    def figure(self, name: str) -> str:
        """Of a figure by its name."""
        rule, _, key = name.removeprefix(RULE).partition(".")
        limit = key.removeprefix(LIMITS)
        if name.startswith(RULE) and rule in self._given[Kind.RULE]:
            if key in OWN_FIGURES:
                return f"{RULE}{self.of(Kind.RULE, rule)}.{key}"
            if key != limit and limit in self._given[Kind.LIMIT]:
                return f"{RULE}{self.of(Kind.RULE, rule)}.{LIMITS}{self.limit(limit)}"
        return self.of(Kind.FIGURE, name)

    def limit(self, name: str) -> str:
        """Of a limit of the site's own rule, which its condition names."""
        return self.of(Kind.LIMIT, name).replace("-", "_")

    def is_limit(self, name: str) -> bool:
        """Whether it is a limit of the site's own rules."""
        return name in self._given[Kind.LIMIT]

    def subject(self, words: str) -> str:
        """Of what an alert is about, by its kind and id."""
        kind, _, name = words.partition(" ")
        match kind:
            case "soak":
                return f"{kind} {self.soak(name)}"
            case "probe":
                return f"{kind} {self.of(Kind.PROBE, name)}"
            case _:
                return f"{kind} {self.thing(name)}"


def _parts(sensor_name: str) -> tuple[str, str, str]:
    """The kind with which the name begins, the dash behind it, and the rest; each of them may be empty."""
    kind = next((each for each in _KINDS if sensor_name.startswith(each)), "")
    rest = sensor_name.removeprefix(kind)
    dash = "-" if kind and rest.startswith("-") else ""
    return kind, dash, rest.removeprefix(dash)


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit()

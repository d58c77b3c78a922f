"""A site file without the names in it, which judges the same."""

from collections.abc import Iterable, Mapping
from enum import Enum
from string import Formatter
from typing import Any

import tomli_w
from pydantic import BaseModel

from gateway.pseudonyms import GATEWAY, Kind, Pseudonyms, titled
from gateway.renamed_condition import KNOWN_FACTS, renamed_condition
from gateway.renaming import Act, Removal, blank, gone, keep, moment, named, of, place, thing
from rules import policy, reach
from rules import site as models
from rules.air import VAPOUR_LIMITS
from rules.alert_words import Confirmation
from rules.figures import figures_of
from rules.rule import Figure, Rule
from rules.ruleset import RuleBook
from rules.site import RuleOverride, Site

OURS = "the site"
"""Takes the place of where a site has its own figures from."""


def prepare(names: Pseudonyms, sites: Iterable[Site]) -> None:
    """Number all that these sites name, each kind in the order of its names."""
    sites = list(sites)
    names.prepare_places(
        {
            Kind.THING: (each.thing for site in sites for each in site.sensor if each.thing != GATEWAY),
            Kind.STATION: (each.id for site in sites for each in site.station),
            Kind.BASIN: (each.id for site in sites for each in site.basin),
            Kind.CABINET: (each.id for site in sites for each in site.cabinet),
            Kind.CART: (each.id for site in sites for each in site.cart),
        }
    )
    groups: dict[Kind, Iterable[str]] = {
        Kind.PROBE: (each.id for site in sites for each in site.probe),
        Kind.CORD: (cord for site in sites for each in site.cart for cord in each.cords),
        Kind.TAG: (each.tag for site in sites for each in site.probe if each.tag),
        Kind.RULE: (each.id for site in sites for each in site.rule),
        Kind.LIMIT: (name for site in sites for each in site.rule for name in each.limits),
        Kind.CONTACT: (each.id for site in sites for each in site.contact),
        Kind.CHANNEL: (each.id for site in sites for each in site.channel),
        Kind.SHIFT: (each.name for site in sites for each in site.shift),
        Kind.ROUTE: (each.name for site in sites for each in site.route),
        Kind.ROLE: (each.id for site in sites for each in site.role),
        Kind.LABEL: (each.id for site in sites for each in site.label),
    }
    for kind, found in groups.items():
        names.prepare(kind, found)
    listed = (names.own_part(each.name) for site in sites for each in site.sensor)
    names.prepare(Kind.SENSOR, (part for part in listed if part is not None))
    for site in sites:
        _entitle(names, site)


def _entitle(names: Pseudonyms, site: Site) -> None:
    for kind, things in (
        (Kind.STATION, site.station),
        (Kind.BASIN, site.basin),
        (Kind.CABINET, site.cabinet),
        (Kind.CART, site.cart),
        (Kind.PROBE, site.probe),
    ):
        for each in things:
            names.entitle(each.name, titled(names.of(kind, each.id)))
    known = {each.id: each.name for group in (site.basin, site.cart, site.station) for each in group}
    for sensor in site.sensors().values():
        # As rules.build calls a sensor, of a cabinet or something unlisted by its id.
        place = names.place(sensor.thing)
        title = titled(place) if sensor.thing in known else place
        names.entitle(
            f"{known.get(sensor.thing, sensor.thing)} {sensor.name}", f"{title} {names.sensor_name(sensor.name)}"
        )


def kept_names(books: Iterable[RuleBook]) -> dict[Kind, frozenset[str]]:
    """What comes with the program, and so is no secret; ``books``: the shipped rules, without any site's own."""
    books = list(books)
    rules = [compiled.rule for book in books for compiled in book.rules.values()]
    labels = [label for book in books for label in book.labels.values()]
    shipped = policy.ReprocessingPolicy()
    roles = (*shipped.claim_roles, *shipped.vouch_roles, *reach.AlertPolicy().maintenance_roles)
    return {
        Kind.RULE: frozenset(rule.id for rule in rules),
        Kind.LIMIT: frozenset(name for rule in rules for name in rule.limits),
        Kind.FIGURE: frozenset(name for book in books for name in figures_of(book)),
        Kind.GATHERS: frozenset({"", *(rule.gathers for rule in rules)}),
        Kind.LABEL: frozenset(label.id for label in labels),
        Kind.CHEMISTRY: frozenset(label.chemistry for label in labels),
        Kind.ROLE: frozenset(roles),
    }


# ---- field by field -------------------------------------------------------------------------------------------------


def _nested(value: Any, removal: Removal) -> Any:
    """A model, or several."""
    if isinstance(value, BaseModel):
        return _renamed(value, removal)
    return tuple(_renamed(each, removal) for each in value)


def _renamed(model: BaseModel, removal: Removal) -> BaseModel:
    """Without names; what had a title beside its id gets one by its new id."""
    made = removal.renamed(model, SITE)
    fields = type(model).model_fields
    return made.model_copy(update={"name": titled(made.id)}) if {"id", "name"} <= fields.keys() else made  # type: ignore[attr-defined]  # it has one


def _chemistry(names: Pseudonyms, name: str) -> str:
    """A substance whose vapour has limits is still told by its name."""
    found = names.of(Kind.CHEMISTRY, name)
    substances = [limit.substance for limit in VAPOUR_LIMITS if limit.substance in name.casefold()]
    return found if found == name else " ".join(dict.fromkeys([found, *substances]))


def _overrides(rules: Mapping[str, RuleOverride], removal: Removal) -> dict[str, BaseModel]:
    return {removal.names.of(Kind.RULE, name): _renamed(change, removal) for name, change in rules.items()}


def _limits(limits: Mapping[str, Figure], removal: Removal) -> dict[str, Figure]:
    return {removal.names.limit(name): _bare(figure) for name, figure in limits.items()}


def _figure(figure: Figure, _: Removal) -> Figure:
    return _bare(figure)


def _bare(figure: Figure) -> Figure:
    return figure.model_copy(update={"unit": "", "text": "", "source": OURS})


def _text(text: str, _: Removal) -> str:
    """Of the site's own rule: the facts that it tells of, for an alert is told anew where one of them changes."""
    named = dict.fromkeys(name for _, name, _, _ in Formatter().parse(text) if name in KNOWN_FACTS)
    return " ".join(["alert", *(f"{{{name}}}" for name in named)])


def _condition(text: str | None, removal: Removal) -> str | None:
    return text and renamed_condition(text, removal.names)


def _source(_: Any, __: Removal) -> str:
    return OURS


_NAMES = of(Kind.SHIFT)
_POLICY: Mapping[type[BaseModel], Mapping[str, Act]] = {
    policy.ExposurePolicy: dict.fromkeys(policy.ExposurePolicy.model_fields, keep),
    policy.SolutionPolicy: dict.fromkeys(policy.SolutionPolicy.model_fields, keep),
    policy.CarePolicy: dict.fromkeys(policy.CarePolicy.model_fields, keep),
    policy.ReprocessingPolicy: {
        **dict.fromkeys(policy.ReprocessingPolicy.model_fields, keep),
        "claim_roles": of(Kind.ROLE),
        "vouch_roles": of(Kind.ROLE),
        "exam_pattern": gone,
    },
    models.Limits: dict.fromkeys(models.Limits.model_fields, keep),
    policy.Shift: {"name": _NAMES, "start": keep, "end": keep},
}

_REACH: Mapping[type[BaseModel], Mapping[str, Act]] = {
    reach.Channel: {"id": of(Kind.CHANNEL), "asks": keep, "deadline_seconds": keep, "most_letters": keep},
    reach.Way: {"channel": of(Kind.CHANNEL), "address": of(Kind.ADDRESS)},
    reach.Contact: {"id": of(Kind.CONTACT), "name": keep, "ways": _nested},
    reach.DutyRole: {"id": of(Kind.ROLE), "name": keep},
    reach.Duty: {"role": of(Kind.ROLE), "contacts": of(Kind.CONTACT), "days": keep, "start": keep, "end": keep},
    reach.DutyChange: {"role": of(Kind.ROLE), "start": moment, "end": moment, "contacts": of(Kind.CONTACT)},
    reach.Tier: {"roles": of(Kind.ROLE), "after_seconds": keep},
    reach.Route: {
        "name": of(Kind.ROUTE),
        "priorities": keep,
        "rules": of(Kind.RULE),
        "places": thing,
        "shifts": _NAMES,
        "tiers": _nested,
        "repeat_seconds": keep,
        "most_repeats": keep,
    },
    reach.AlertPolicy: {
        **dict.fromkeys(reach.AlertPolicy.model_fields, keep),
        "maintenance_roles": of(Kind.ROLE),
    },
}

_THINGS: Mapping[type[BaseModel], Mapping[str, Act]] = {
    models.Head: {"id": of(Kind.SITE), "name": keep, "timezone": keep},
    models.Station: {"id": of(Kind.STATION), "name": keep, "shifts": _NAMES},
    models.Basin: {"id": of(Kind.BASIN), "name": keep, "station": of(Kind.STATION), "label": of(Kind.LABEL)},
    models.Cabinet: {"id": of(Kind.CABINET), "name": keep},
    models.Cart: {"id": of(Kind.CART), "name": keep, "cords": of(Kind.CORD)},
    models.Probe: {
        **dict.fromkeys(("internal", "price", "max_soak_minutes", "max_celsius"), keep),
        "id": of(Kind.PROBE),
        "name": keep,
        "cart": of(Kind.CART),
        "cord": of(Kind.CORD),
        "serial": of(Kind.SERIAL),
        "tag": of(Kind.TAG),
        "basins": of(Kind.BASIN),
        "chemistries": named(_chemistry),
    },
    models.Sensor: {
        **dict.fromkeys(("kind", "true_above", "report_seconds", "uncertainty_celsius"), keep),
        "thing": place,
        "name": named(Pseudonyms.sensor_name),
        # How another maker's message is read judges nothing: what it said is in the journal.
        **dict.fromkeys(("topic", "value", "time", "unit"), gone),
        "time_form": lambda *_: "s",
        "true_when": lambda *_: (),
    },
    models.Label: {
        **dict.fromkeys(models.Label.model_fields, keep),
        "id": of(Kind.LABEL),
        "chemistry": named(_chemistry),
        "source": _source,
    },
}

_RULES: Mapping[type[BaseModel], Mapping[str, Act]] = {
    RuleOverride: {
        **dict.fromkeys(RuleOverride.model_fields, keep),
        "suppressed_when": _condition,
        "gathers": of(Kind.GATHERS),
    },
    Rule: {
        **dict.fromkeys(("watches", "stands_until", "priority"), keep),
        **dict.fromkeys(("on_delay_seconds", "off_delay_seconds", "deadband"), _figure),
        "id": of(Kind.RULE),
        "condition": _condition,
        "limits": _limits,
        "suppressed_when": _condition,
        "gathers": of(Kind.GATHERS),
        "many": blank,
        "text": _text,
        "advice": blank,
        "ends": blank,
        "source": _source,
    },
}

_SECTIONS: Mapping[type[BaseModel], Mapping[str, Act]] = {
    Site: {**dict.fromkeys(Site.model_fields, _nested), "thresholds": keep, "rules": _overrides}
}

SITE: Mapping[type[BaseModel], Mapping[str, Act]] = {**_POLICY, **_REACH, **_THINGS, **_RULES, **_SECTIONS}


def renamed_site(site: Site, removal: Removal) -> Site:
    """The site without names; raises RenamingError."""
    return removal.renamed(site, SITE)


# ---- as a file ------------------------------------------------------------------------------------------------------


def site_text(site: Site) -> str:
    """The site file that says just this; how a page is sent is made up, as it judges nothing."""
    document = _plain(site.model_dump(exclude_none=True))
    for channel in document.get("channel", ()):
        two_way = channel["asks"] != Confirmation.ACCEPTED
        channel |= {"kind": "snpp", "host": "127.0.0.1", "two_way": two_way}
    return tomli_w.dumps(document)


def _plain(value: Any) -> Any:
    """As TOML knows it."""
    if isinstance(value, Mapping):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    return value.value if isinstance(value, Enum) else value

"""What was understood of a site file, and what in it can be meant but most likely is not: ``sinkside check``."""

import json
import os
from collections.abc import Iterable, Iterator, Mapping

from gateway.channel_settings import LOOPBACK
from gateway.channels_told import channel_lines, channel_warnings
from gateway.reach_told import reach_lines
from gateway.sitefile import BrokerSettings, DashboardSettings, Setup, SiteFile, inferred_kinds
from rules.air import GLUTARALDEHYDE, LEAST_AIR_CHANGES_PER_HOUR
from rules.pairing import unchecked_probes
from rules.part import meant
from rules.reach_checks import reach_warnings
from rules.readings import KINDS, Micros, SensorId, SensorKind
from rules.site import Label, Sensor

JUDGED_BY = frozenset((SensorKind.LID, SensorKind.TEMPERATURE, SensorKind.STRIP, SensorKind.MOTION, SensorKind.HOOK))
"""Kinds of sensors by which soaks and carts are judged; of the others only the last word is shown."""

TOLD_OF_CARTS = frozenset((SensorKind.WIPED, SensorKind.MAINS))
"""Kinds of sensors that tell something of a cart, whatever they are called there."""

LEAST_MINUTES = 1.0
"""A label's time below this is most likely meant in other units than minutes; ours."""

_FIGURES = frozenset(("report_seconds", "true_above", "uncertainty_celsius"))
"""What an entry of a sensor may set besides where and how it speaks."""


def describe(setup: Setup, now: Micros, also: Iterable[str] = ()) -> str:
    """What was understood of a site file at an instant, to be read by whoever wrote it.

    also: what else is warned of.
    """
    understood = (
        *_counts(setup.file),
        *_basins(setup),
        *_care(setup.file),
        *_sensors(setup.file),
        *channel_lines(setup.file.channel),
        *reach_lines(setup.file, now),
        *_surroundings(setup),
    )
    return "\n".join((*understood, *(f"Warning: {sentence}" for sentence in (*warnings(setup, now), *also))))


# ---- what is most likely not meant --------------------------------------------------------------------------------


def warnings(setup: Setup, now: Micros) -> Iterator[str]:
    """A sentence for each thing that can be meant as it is but most likely is not; ``now``: from when duties count."""
    file = setup.file
    if not file.basin and not file.cart:
        yield "there is no [[basin]] and no [[cart]]: nothing is watched; add what there is."
    yield from _hasty_labels(setup)
    yield from _missing(file.broker)
    yield from channel_warnings(file.channel)
    yield from _open_screens(file.dashboard)
    if file.broker.url is None and file.broker.port == file.dashboard.port:
        yield f"[broker] and [dashboard] both have port {file.broker.port}; give each its own."
    yield from _idle_sensors(file)
    yield from _still_air(setup)
    yield from reach_warnings(file, (compiled.rule for compiled in setup.book.rules.values()), now)


def _hasty_labels(setup: Setup) -> Iterator[str]:
    for basin in setup.file.basin:
        label = setup.book.labels[basin.label]
        if label.min_minutes < LEAST_MINUTES:
            yield (
                f"basin '{basin.id}': its label '{label.id}' asks for {label.min_minutes:g} min only; min_minutes is in"
                " minutes, copy it from the product's label."
            )


def _missing(broker: BrokerSettings) -> Iterator[str]:
    """What is named and not there; on another machine it may be."""
    for key, path in (("password_file", broker.password_file), ("ca_file", broker.ca_file)):
        if path is not None and not path.is_file():
            yield (
                f"[broker] {key}: there is no file '{path}' on this machine; 'serve' needs it: put it there, or name"
                " another."
            )
    if broker.password_env is not None and not os.environ.get(broker.password_env):
        yield f"[broker] password_env: the environment variable '{broker.password_env}' is not set; 'serve' needs it."


def _open_screens(dashboard: DashboardSettings) -> Iterator[str]:
    for key, path in (("tls_certificate", dashboard.tls_certificate), ("tls_key", dashboard.tls_key)):
        if path is not None and not path.is_file():
            yield (
                f"[dashboard] {key}: there is no file '{path}' on this machine; 'serve' needs it: put it there, or name"
                " another."
            )
    if dashboard.host not in LOOPBACK and not dashboard.is_encrypted:
        yield (
            f"[dashboard] host '{dashboard.host}' lets the network reach the screens, and nothing is encrypted: whoever"
            " listens there reads passwords; name tls_certificate and tls_key, or the proxies that encrypt."
        )


def _idle_sensors(file: SiteFile) -> Iterator[str]:
    """Such as a thermometer whose 'thing' has a typing mistake."""
    strips = {SensorId(f"{basin.id}/strip"): SensorKind.STRIP for basin in file.basin}
    inferred = inferred_kinds(file) | strips
    carts = [cart.id for cart in file.cart]
    for sensor in file.sensor:
        judged = [name for name, kind in inferred.items() if kind is sensor.kind]
        if sensor.kind in TOLD_OF_CARTS and sensor.thing not in carts:
            expected = meant(sensor.thing, carts) if carts else "add the [[cart]]"
            yield f"sensor '{sensor.id}', key 'thing': a {sensor.kind} sensor belongs to a cart; {expected}"
        elif sensor.id not in inferred and sensor.kind in JUDGED_BY:
            expected = f"; {meant(sensor.id, judged)}" if judged else ""
            yield f"sensor '{sensor.id}': no soak and no cart is judged by this {sensor.kind} sensor{expected}"


def _still_air(setup: Setup) -> Iterator[str]:
    changes = setup.file.care.air_changes_per_hour
    if changes is None or changes >= LEAST_AIR_CHANGES_PER_HOUR:
        return
    for basin in setup.file.basin:
        if GLUTARALDEHYDE in setup.book.labels[basin.label].chemistry.casefold():
            yield (
                f"basin '{basin.id}' has glutaraldehyde, and [care] air_changes_per_hour is {changes:g}: at least"
                f" {LEAST_AIR_CHANGES_PER_HOUR} are advised for it (NIOSH 2001-115, secondary); ask whoever answers for"
                " the room's ventilation."
            )


# ---- what was understood ------------------------------------------------------------------------------------------


def _counts(file: SiteFile) -> Iterator[str]:
    yield f"{file.site.name} ({file.site.id}), time zone {file.site.timezone}"
    parts = (("station", file.station), ("basin", file.basin), ("cart", file.cart), ("probe", file.probe))
    counts = [f"{len(entries)} {name}{'' if len(entries) == 1 else 's'}" for name, entries in parts]
    yield ", ".join((*counts, f"{len(file.sensors())} sensors"))


def _basins(setup: Setup) -> Iterator[str]:
    yield "\nBasins: what counts as a soak"
    for basin in setup.file.basin:
        label = setup.book.labels[basin.label]
        needed = f"{label.min_minutes:g} min at {label.min_celsius:g} °C or more"
        yield f"  {basin.id} ({basin.name}): {label.chemistry}, {needed}{_rinses(label)}"
        yield f"      after: {label.source}"
    policy = setup.file.solution
    if not policy.recorded:
        yield "  A verdict tells of time and temperature only: no record of solutions and strips is kept ([solution])."
    else:
        often = f"before each {policy.strip_every_soaks} soaks" if policy.strip_every_soaks else policy.strips
        yield f"  Solutions and strips are recorded; a good strip: {often}."
    for name in unchecked_probes(setup.file):
        yield f"  {name}: the file does not say in which basins it is soaked, so that no limit of it is checked."


def _rinses(label: Label) -> str:
    return "" if label.rinses is None else f", then {label.rinses} rinse{'' if label.rinses == 1 else 's'}"


def _care(file: SiteFile) -> Iterator[str]:
    if file.care.wipes:
        times = file.care.wipes_per_shift
        yield f"\nWipe-downs are due before each shift and {times} x during it, in {file.site.timezone}:"
        for shift in file.shift:
            yield f"  {shift.name}: {shift.start:%H:%M}-{shift.end:%H:%M}"


def _sensors(file: SiteFile) -> Iterator[str]:
    yield "\nSensors and where they speak"
    for sensor in file.sensors().values():
        if sensor.kind not in (SensorKind.LINK, SensorKind.STORE):
            yield f"  {sensor.id} ({sensor.kind}): {file.topic_of(sensor)}{_mapped(sensor)}{_figures(sensor)}"


def _mapped(sensor: Sensor) -> str:
    if sensor.value is None:
        return ""
    unit = f", {sensor.unit} to {KINDS[sensor.kind].unit}" if sensor.unit else ""
    truth = f", true when {' or '.join(map(repr, sensor.true_when))}" if sensor.true_when else ""
    return f" at '{sensor.value}'{unit}{truth}"


def _figures(sensor: Sensor) -> str:
    """What the site file sets of the sensor's figures, as it stands there."""
    given = sensor.model_dump(include=set(_FIGURES), exclude_none=True)
    return "".join(f", {said}" for said in _as_in_toml(given))


def _surroundings(setup: Setup) -> Iterator[str]:
    file = setup.file
    broker = file.broker
    embedded = f"embedded, on {broker.host} port {broker.port}, written to disk: {broker.sync_interval}"
    yield f"\nBroker: {broker.endpoint() or embedded}"
    yield f"Screens: {file.dashboard.scheme}://{file.dashboard.host}:{file.dashboard.port}"
    for name, value in file.thresholds.items():
        figure = setup.book.figures[name]
        yield f"Changed threshold {name}: {value:g} {figure.unit} ({figure.text})"
    for name, change in file.rules.items():
        changes = ", ".join(_as_in_toml(change.model_dump(exclude_unset=True)))
        yield f"Changed rule {name}: {changes}"
    for entry in file.rule:
        yield f"Own rule {entry.id}"


def _as_in_toml(changes: Mapping[str, object], table: str = "") -> Iterator[str]:
    """Each as the site file would have it: ``enabled = false``; what stands in a table as ``limits.name = 3``."""
    for key, value in changes.items():
        if isinstance(value, Mapping):
            yield from _as_in_toml(value, f"{table}{key}.")
        elif isinstance(value, float):
            yield f"{table}{key} = {value:g}"
        else:
            yield f"{table}{key} = {json.dumps(value, ensure_ascii=False)}"

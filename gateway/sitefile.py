"""The site file: TOML read, checked, and every mistake in it named with its line."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from ipaddress import ip_network
from pathlib import Path
from typing import Annotated, Self
from urllib.parse import urlsplit

from pydantic import Field, StringConstraints, ValidationError, field_validator, model_validator

from gateway.alert_topics import alert_topic, signal_topic
from gateway.channel_settings import LOOPBACK, ChannelSettings, EnvName, PathText
from gateway.endpoint import Endpoint
from gateway.mapping import MappingError, mapping_of
from gateway.model_errors import problems_of
from gateway.problems import Problem, named_problems, rendered
from gateway.toml_text import TomlError, read_toml, too_large
from gateway.wire import OWN_THINGS
from rules.part import Array, Part
from rules.readings import SensorId, SensorKind
from rules.ruleset import RuleBook, RuleError, load_book
from rules.site import Sensor, Site


class SiteFileError(ValueError):
    """The site file cannot be used; one line for each thing to mend.

    problems: the lines.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


HostName = Annotated[str, StringConstraints(min_length=1, max_length=253)]


class BrokerSettings(Part):
    """Which MQTT broker is heard.

    url: mqtt://host:port or mqtts://host:port; left out, the broker that comes with Sinkside is started.
    host, port: where that one listens, for the devices; beyond this machine only with username and password.
    username: none = anonymous. The password stands in the environment variable ``password_env`` or on the first line of
        ``password_file``, never in the site file.
    ca_file: PEM file of the authorities to trust for mqtts; left out, those of the system.
    sync_interval: how often the embedded broker writes to disk: 'always' (before it acknowledges), or a time as '2s'.
    Paths are relative to the site file.
    """

    url: str | None = None
    host: HostName = "127.0.0.1"
    port: Annotated[int, Field(ge=0, le=65_535)] = 1883
    username: Annotated[str, StringConstraints(min_length=1, max_length=200)] | None = None
    password_env: EnvName | None = None
    password_file: PathText | None = None
    ca_file: PathText | None = None
    sync_interval: Annotated[str, StringConstraints(pattern=r"^(always|[1-9][0-9]{0,5}(ms|s|m))$")] = "always"

    @field_validator("url")
    @classmethod
    def _is_an_endpoint(cls, url: str | None) -> str | None:
        if url is not None:
            Endpoint.of(url)
        return url

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.password_env is not None and self.password_file is not None:
            raise ValueError("password_env and password_file both say where the password is; keep one of them")
        if (self.password_env or self.password_file) and self.username is None:
            raise ValueError("a password needs a username beside it (MQTT 3.1.1, 3.1.2-22); add username")
        if self.url is None and self.username and not (self.password_env or self.password_file):
            raise ValueError(
                "username without a password would let anybody into the broker; add password_env or password_file"
            )
        if self.url is None and self.host not in LOOPBACK and not (self.password_env or self.password_file):
            raise ValueError(
                f"host '{self.host}' lets the network reach the broker; add username and password_env or password_file"
            )
        if self.ca_file is not None and not (self.url or "").startswith("mqtts:"):
            raise ValueError("ca_file belongs to an url that begins with mqtts://")
        return self

    def endpoint(self) -> Endpoint | None:
        """Where the broker is and as whom we speak to it; None for the embedded one."""
        return None if self.url is None else self.at(self.url)

    def at(self, url: str) -> Endpoint:
        """A broker at ``url``, spoken to with the credentials given here."""
        return Endpoint.of(
            url,
            username=self.username,
            password_env=self.password_env,
            password_file=self.password_file,
            ca_file=self.ca_file,
        )

    def beside(self, folder: Path) -> Self:
        """The same with relative paths taken from ``folder``."""
        paths = {name: getattr(self, name) for name in ("password_file", "ca_file")}
        return self.model_copy(update={name: folder / path for name, path in paths.items() if path is not None})


class DashboardSettings(Part):
    """Where the screens are served: on this machine only, unless told otherwise.

    names: host names by which browsers on the network may call it, besides those of this machine.
    proxies: addresses of proxies, or of networks of them (10.0.0.0/29), that are believed from where something comes
        and whether it came encrypted (X-Forwarded-For, X-Forwarded-Proto); of all others nothing of it is believed.
    tls_certificate, tls_key: PEM files, the first with those up to an authority: browsers call by https then.
    sound: whether walls let alerts be heard; a wall's address may say otherwise (/wall?sound=on, ?sound=off).
    responder_idle_hours, responder_days: so long after it was last used, and after it began, a responder's session
        ends. engineer_idle_minutes, engineer_hours: likewise for engineers and administrators. Defaults and their
        sources: gateway/people/limits.py.
    """

    host: HostName = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65_535)] = 8470
    names: Array[HostName] = ()
    proxies: Array[Annotated[str, StringConstraints(min_length=1, max_length=50)]] = ()
    tls_certificate: PathText | None = None
    tls_key: PathText | None = None
    sound: bool = False
    responder_idle_hours: Annotated[float, Field(ge=0.25, le=168)] = 12
    responder_days: Annotated[float, Field(ge=0.5, le=30)] = 7
    engineer_idle_minutes: Annotated[float, Field(ge=5, le=720)] = 30
    engineer_hours: Annotated[float, Field(ge=0.5, le=24)] = 12

    @field_validator("proxies")
    @classmethod
    def _are_addresses(cls, proxies: tuple[str, ...]) -> tuple[str, ...]:
        for proxy in proxies:
            try:
                everybody = ip_network(proxy).prefixlen == 0
            except ValueError as error:
                raise ValueError(f"'{proxy}' is no address of a proxy; expected 10.0.0.5 or 10.0.0.0/29") from error
            if everybody:
                raise ValueError(f"'{proxy}' would believe everybody; name the proxies, such as 10.0.0.5")
        return proxies

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if (self.tls_certificate is None) != (self.tls_key is None):
            raise ValueError("tls_certificate and tls_key belong together; name both or none")
        return self

    @property
    def scheme(self) -> str:
        """How browsers call this machine."""
        return "http" if self.tls_certificate is None else "https"

    @property
    def is_encrypted(self) -> bool:
        """Whether what goes over the network is encrypted: by itself, or by a proxy."""
        return self.tls_certificate is not None or bool(self.proxies)

    def beside(self, folder: Path) -> Self:
        """The same with relative paths taken from ``folder``."""
        paths = {name: getattr(self, name) for name in ("tls_certificate", "tls_key")}
        return self.model_copy(update={name: folder / path for name, path in paths.items() if path is not None})


class PagingSettings(Part):
    """How pages are answered, and how others notice that none can come any more.

    link_base: where phones reach the screens, as ``https://sinkside.example.org``; none: pages carry no links.
    link_hours: how long a page's link serves. 12: ours, a long shift.
    heartbeat_url: what is called every ``heartbeat_seconds`` while all is heard and stored, so that a watch elsewhere
        can tell when it no longer is. Where it has a secret in it, it stands in the environment variable
        ``heartbeat_url_env`` instead, for a site file is kept in the record. 60 s: ours.
    """

    link_base: Annotated[str, StringConstraints(pattern=r"^https?://[^\s/?#@]{1,255}$")] | None = None
    link_hours: Annotated[float, Field(gt=0, le=72)] = 12
    heartbeat_url: Annotated[str, StringConstraints(pattern=r"^https?://[^\s#@]{1,1000}$")] | None = None
    heartbeat_url_env: EnvName | None = None
    heartbeat_seconds: Annotated[float, Field(ge=10, le=3600)] = 60

    @property
    def link_hosts(self) -> tuple[str, ...]:
        """By which name phones call that follow a link."""
        name = urlsplit(self.link_base).hostname if self.link_base else None
        return (name,) if name else ()

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.heartbeat_url is not None and self.heartbeat_url_env is not None:
            raise ValueError("heartbeat_url and heartbeat_url_env both say what to call; keep one of them")
        return self


class SiteFile(Site):
    """All that a site file can say."""

    channel: Array[ChannelSettings] = ()
    broker: BrokerSettings = BrokerSettings()
    dashboard: DashboardSettings = DashboardSettings()
    paging: PagingSettings = PagingSettings()


@dataclass(frozen=True, slots=True)
class Setup:
    """A site file that can be used.

    text: the file as it stands, standard: the shipped rules as they stood; both are what a replay needs.
    """

    file: SiteFile
    book: RuleBook
    text: str
    standard: str


def load(path: Path) -> Setup:
    """Read and check a site file.

    Raises:
        SiteFileError: it cannot be used; every problem that was found has its line in the message.
    """
    return parse(_read(path), path)


def parse(text: str, path: Path) -> Setup:
    """As ``load``, from the text; ``path`` names the file and is where its relative paths start.

    Raises:
        SiteFileError: as for ``load``.
    """
    data = _toml(text, path)
    try:
        file = SiteFile.model_validate(data)
    except ValidationError as error:
        raise SiteFileError(*rendered(problems_of(error, data, SiteFile), path.name, text)) from error
    standard, labels = shipped("standard.toml"), shipped("labels.csv")
    problems = list(_problems(file))
    try:
        book = load_book(file, standard, labels)
    except RuleError as error:
        problems.extend(named_problems(error, data))
    if problems:
        raise SiteFileError(*rendered(problems, path.name, text))
    beside = {
        "broker": file.broker.beside(path.parent),
        "dashboard": file.dashboard.beside(path.parent),
        "channel": tuple(channel.beside(path.parent) for channel in file.channel),
    }
    return Setup(file.model_copy(update=beside), book, text, standard)


def shipped(name: str) -> str:
    """A data file of rules/."""
    return files("rules").joinpath(name).read_text(encoding="utf-8")


def site_schema() -> str:
    """JSON Schema of the site file, for editors."""
    schema = SiteFile.model_json_schema()
    dialect = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Sinkside site file"}
    return json.dumps(schema | dialect, indent=2)


def _read(path: Path) -> str:
    try:
        with path.open("rb") as file:
            begins = file.read(len(_DATABASE))
        if begins == _DATABASE:
            raise SiteFileError(
                f"{path}: is a database, such as the record in a data folder, and no site file; name the TOML file that"
                " 'sinkside serve' is given. What a record holds, 'sinkside verify' checks by its folder."
            )
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise SiteFileError(f"{path.name}: not UTF-8 text at octet {error.start}; save it as UTF-8") from error
    except OSError as error:
        raise SiteFileError(f"{path}: cannot be read: {error.strerror}; expected a site file in TOML") from error


_DATABASE = b"SQLite format 3\0"
"""How a file of SQLite begins (sqlite.org/fileformat.html, 1.3.1; from memory)."""


def _toml(text: str, path: Path) -> dict[str, object]:
    try:
        data = read_toml(text)
    except TomlError as error:
        where = path.name if error.line is None else f"{path.name}, line {error.line}"
        raise SiteFileError(f"{where}: {error}") from error
    large = tuple(too_large(data))
    if large:
        raise SiteFileError(*rendered(large, path.name, text))
    return data


def _problems(file: SiteFile) -> Iterator[Problem]:
    """What neither the models nor the rules look at: names kept for the gateway, mappings, topics."""
    for table in ("station", "basin", "cart"):
        for position, entry in enumerate(getattr(file, table)):
            if entry.id in OWN_THINGS:
                yield Problem((table, position, "id"), f"'{entry.id}' is kept for the gateway itself; give another id")
    inferred = inferred_kinds(file)
    for position, sensor in enumerate(file.sensor):
        yield from (Problem(("sensor", position, *key), said) for key, said in _sensor_problems(sensor))
        meant_kind = inferred.get(sensor.id, sensor.kind)
        if sensor.kind is not meant_kind:
            said = f"'{sensor.id}' is what soaks or carts are judged by; expected '{meant_kind}'; found '{sensor.kind}'"
            yield Problem(("sensor", position, "kind"), said)
    yield from _topic_problems(file)
    yield from _address_problems(file)


def _address_problems(file: SiteFile) -> Iterator[Problem]:
    """Addresses that the channel of their way cannot use."""
    channels = {channel.id: channel for channel in file.channel}
    for position, contact in enumerate(file.contact):
        for leg, way in enumerate(contact.ways):
            channel = channels.get(way.channel)
            said = None if channel is None else channel.mistake_in(way.address)
            if said is not None:
                yield Problem(("contact", position, "ways", leg, "address"), f"{said}; found {way.address!r}")


def inferred_kinds(file: SiteFile) -> dict[SensorId, SensorKind]:
    """The sensors that basins and carts have without an entry, by which they are judged."""
    return {sensor.id: sensor.kind for sensor in file.model_copy(update={"sensor": ()}).sensors().values()}


def _sensor_problems(sensor: Sensor) -> Iterator[tuple[tuple[str, ...], str]]:
    if sensor.thing in OWN_THINGS:
        yield ("thing",), f"'{sensor.thing}' is kept for the gateway itself; name the thing that the sensor is on"
    if sensor.kind is SensorKind.STORE:
        yield ("kind",), "'store' is the gateway's own; expected another kind"
    if sensor.name == "link":
        yield ("name",), "every thing has its 'link' without an entry; leave this entry out"
    if sensor.value is not None:
        try:
            mapping_of(sensor)
        except MappingError as error:
            yield (error.key,), str(error)


def _speaks_for_us(file: SiteFile, topic: str) -> bool:
    """Whether the gateway tells of its alerts there."""
    return topic == signal_topic(file.site.id) or topic.startswith(alert_topic(file.site.id, ""))


def _topic_problems(file: SiteFile) -> Iterator[Problem]:
    """Two sensors may share a topic only if both point into another maker's JSON, at different places."""
    listed = {sensor.id: position for position, sensor in enumerate(file.sensor)}
    for position, sensor in enumerate(file.sensor):
        if sensor.topic is not None and _speaks_for_us(file, sensor.topic):
            said = f"'{sensor.topic}' is where the gateway tells of its alerts; give the sensor another topic"
            yield Problem(("sensor", position, "topic"), said)
    first: dict[str, list[Sensor]] = {}
    for sensor in file.sensors().values():
        others = first.setdefault(file.topic_of(sensor), [])
        for other in others:
            if other.value == sensor.value or other.value is None or sensor.value is None:
                entry = sensor if sensor.id in listed else other
                place = ("sensor", listed[entry.id]) if entry.id in listed else ()
                yield Problem(
                    place,
                    f"sensors '{other.id}' and '{sensor.id}' both speak on '{file.topic_of(sensor)}'; give each its own"
                    " topic, or each its own 'value' pointer into the JSON there",
                )
        others.append(sensor)

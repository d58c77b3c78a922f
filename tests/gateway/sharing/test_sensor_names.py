"""What a sensor's name says by its words, its kind and its cord, it says under another name, too."""

from pathlib import Path

import pytest

from gateway.anonymise import anonymise
from gateway.bring_in import bring_in
from gateway.law import Law
from gateway.pseudonyms import Kind, Pseudonyms
from gateway.recording import Recording, Writer, gateway_heard
from gateway.sitefile import parse
from rules.alert_events import AlertRaised
from rules.readings import KINDS, Reading, SensorKind
from tests.gateway import quirin
from tests.gateway.quirin import BASIN, CART, said
from tests.gateway.sharing.alerts_of import alerts_of

WHOLE_CART_S = f'[[sensor]]\nthing = "{CART}"\nname = "contact"\nkind = "contact"\n'
"""The only button of the rich record's site."""

CORD, OTHER = "konvexa", "lineara"
SECOND_PROBE = f"""
[[probe]]
id = "schallkopf-cyrill"
name = "Schallkopf Cyrill"
cart = "{CART}"
cord = "{OTHER}"
"""
SILENT_HOOK = f"""
[rules.sensor-silent]
suppressed_when = "name == 'Wagen Kunigund hook-{CORD}' || name == 'luftfleck vapour'"
"""

SENSORS: tuple[tuple[str, SensorKind], ...] = (
    (f"{CART}/hook-{CORD}", SensorKind.HOOK),
    (f"{CART}/hook-gast", SensorKind.HOOK),
    (f"{CART}/motion", SensorKind.MOTION),
    (f"{CART}/mains", SensorKind.MAINS),
    (f"{CART}/shock", SensorKind.SHOCK),
    (f"{CART}/shock-{CORD}", SensorKind.SHOCK),
    (f"{CART}/shock-{OTHER}", SensorKind.SHOCK),
    (f"{CART}/contact-{OTHER}", SensorKind.CONTACT),
    (f"{CART}/wiped", SensorKind.WIPED),
    (f"{CART}/battery", SensorKind.BATTERY),
    (f"{BASIN}/lid", SensorKind.LID),
    (f"{BASIN}/temperature", SensorKind.TEMPERATURE),
    (f"{BASIN}/strip", SensorKind.STRIP),
    (f"{BASIN}/tag-hinten", SensorKind.TAG),
)
"""Beside those that the site has; that of links and of the store is the gateway's own."""


def site(*sensors: tuple[str, SensorKind]) -> str:
    """The site of the rich record, with two probes at one cart and these sensors."""
    listed = "\n".join(
        f'[[sensor]]\nthing = "{thing}"\nname = "{name}"\nkind = "{kind.value}"'
        for (thing, _, name), kind in ((id_.partition("/"), kind) for id_, kind in sensors)
    )
    return f"{quirin.SITE.replace(WHOLE_CART_S, '')}{SECOND_PROBE}{SILENT_HOOK}{listed}"


def record(folder: Path, text: str, inputs: list[Reading]) -> Path:
    """Until all sensors have fallen silent."""
    with Writer.new(folder, Law.of(parse(text, Path("quirin.toml")))) as writer:
        writer.take([*gateway_heard(quirin.at(0)), *sorted(inputs, key=lambda each: each.arrived)])
        writer.advance(quirin.at(4 * 3600))
    return folder


def passed_on(folder: Path) -> Path:
    """The record as it is elsewhere."""
    done = bring_in(anonymise(folder, folder.with_suffix(".gz")).file, folder.with_name(f"{folder.name}-elsewhere"))
    assert done.likeness.differ == 0, list(done.lines())
    return done.folder


def raised(folder: Path) -> list[tuple[str, str]]:
    """Rule and probe of all alerts of probes, the probe's name before or after as that before."""
    before = {"probe-1": "beda", "probe-2": "cyrill", "probe-3": "gallus"}
    alerts = [e for e in alerts_of(folder) if isinstance(e, AlertRaised) and e.subject.startswith("probe ")]
    names = [(alert.rule, alert.subject.removeprefix("probe ").removeprefix("schallkopf-")) for alert in alerts]
    return [(rule, before.get(name, name)) for rule, name in names]


def test_a_site_with_every_kind_of_sensor_raises_the_same_alerts_elsewhere(tmp_path: Path) -> None:
    text = site(*SENSORS)
    known = parse(text, Path("quirin.toml")).file.sensors()
    assert {sensor.kind for sensor in known.values()} == set(SensorKind)
    day: list[Reading] = [
        said(f"{CART}/mains", 5, value=True),
        said(f"{CART}/battery", 6, 4.0),
        said(f"{CART}/hook-{CORD}", 7, value=False),
        said(f"{CART}/hook-gast", 8, value=False),
        *(said(f"{CART}/motion", 10 + second, second < 30) for second in range(0, 60, 5)),
        said(f"{CART}/shock-{CORD}", 100, 900.0),
        said(f"{CART}/contact-{OTHER}", 200, "mucosa"),
        said(f"{CART}/wiped", 210, value=True),
        said(f"{BASIN}/strip", 220, "fail"),
        said(f"{BASIN}/tag-hinten", 230, "TAGQ0815"),
        *(said("luftfleck/vapour", 240 + second, 0.4) for second in range(0, 600, 20)),
        *(said(f"{BASIN}/lid", 300 + second, second < 30) for second in range(0, 60, 5)),
        *(said(f"{BASIN}/temperature", 300 + second, 22.0) for second in range(0, 60, 5)),
        said(f"{CART}/contact-{OTHER}", 3000, "blood"),
    ]
    assert {known[reading.sensor].kind for reading in day} == set(SensorKind) - {SensorKind.LINK, SensorKind.STORE}
    origin = record(tmp_path / "origin", text, day)
    elsewhere = passed_on(origin)
    assert set(raised(origin)) == {
        ("probe-to-inspect", "gallus"),
        ("probe-waits", "cyrill"),
        ("probe-waits-too-long", "cyrill"),
    }
    assert raised(origin) == raised(elsewhere)


@pytest.mark.parametrize("kind", [SensorKind.SHOCK, SensorKind.CONTACT])
@pytest.mark.parametrize("form", ["{kind}", "{kind}-{cord}", "{kind}{cord}", "{cord}", "{kind}-gast", "doppel"])
def test_a_sensor_of_a_cord_is_of_the_same_probe_however_it_names_the_cord(
    tmp_path: Path, kind: SensorKind, form: str
) -> None:
    name = f"{CART}/{form.format(kind=kind, cord=CORD)}"
    value = 900.0 if kind is SensorKind.SHOCK else "mucosa"
    assert isinstance(value, str) is bool(KINDS[kind].words)
    origin = record(
        tmp_path / "origin",
        site((name, kind)),
        [said(name, 100, value), said(name, 3000, value), said(name, 9000, value)],
    )
    assert raised(passed_on(origin)) == raised(origin)


def test_a_rule_goes_on_naming_a_sensor_as_people_read_it(tmp_path: Path) -> None:
    elsewhere = passed_on(record(tmp_path / "origin", site(), []))
    with Recording.open(elsewhere) as days:
        silent = days.laws[0].given.book.rules["sensor-silent"].rule
    assert silent.suppressed_when == "name == 'Cart 4 hook-cord-1' || name == '1-thing vapour'"


def test_only_words_of_the_program_and_cords_are_kept_in_a_sensor_s_name() -> None:
    names = Pseudonyms({})
    names.prepare(Kind.CORD, [CORD, OTHER])
    given = {
        "temperature": "temperature",
        f"hook-{CORD}": "hook-cord-1",
        f"contact{OTHER}": "contactcord-2",
        OTHER: "cord-2",
        "tag-hinten": "tag-sensor-1",
        "taghinten": "sensor-2",
        "hinten": "sensor-1",
    }
    assert {name: names.sensor_name(name) for name in given} == given

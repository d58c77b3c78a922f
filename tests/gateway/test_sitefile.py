"""gateway/sitefile.py and gateway/problems.py: what a site file may say, and how its mistakes are told."""

import json
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from gateway.endpoint import Endpoint
from gateway.sitefile import Setup, SiteFileError, describe, load, missing_files, parse, site_schema
from gateway.wire import Wire
from rules.readings import SensorId

EXAMPLE = files("gateway").joinpath("example.toml").read_text(encoding="utf-8")
FILE = Path("somewhere/site.toml")

SMALL = """\
[site]
id = "mill-lane"
name = "Mill Lane"
"""


def problems(text: str) -> tuple[str, ...]:
    with pytest.raises(SiteFileError) as caught:
        parse(text, FILE)
    assert str(caught.value) == "\n".join(caught.value.problems)
    return caught.value.problems


def problem(text: str) -> str:
    (only,) = problems(text)
    return only


def example_with(before: str, after: str) -> tuple[str, int]:
    """The example with one passage changed, and the line of the change."""
    assert EXAMPLE.count(before) >= 1
    return EXAMPLE.replace(before, after, 1), EXAMPLE[: EXAMPLE.index(before)].count("\n") + 1


def setup_of(extra: str) -> Setup:
    return parse(SMALL + extra, FILE)


# ---- the example ---------------------------------------------------------------------------------------------------


def test_the_example_that_ships_loads_from_its_file(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    setup = load(path)
    assert (len(setup.file.cart), len(setup.file.station), len(setup.file.basin)) == (2, 1, 2)
    assert setup.text == EXAMPLE
    assert setup.book.labels["peroxide-as-on-our-bottle"].min_minutes == 8
    assert "[threshold.max_gap_seconds]" in setup.standard


def test_the_example_s_own_json_is_read_as_its_comment_says() -> None:
    comment = next(line for line in EXAMPLE.splitlines() if line.startswith('#   {"device"'))
    payload = comment.removeprefix("#   ").encode()
    setup = parse(EXAMPLE, FILE)
    sensor = setup.file.sensors()[SensorId("basin-2/temperature")]
    decoded = Wire(setup.file).decode(setup.file.topic_of(sensor), payload, 1_767_225_601_000_000)  # type: ignore[arg-type]  # Micros
    (reading,) = decoded.readings
    assert reading.value == 21.0  # (69.8 - 32) x 5/9
    assert reading.measured == 1_767_225_600_123_000


def test_what_the_example_leaves_commented_out_is_valid_too() -> None:
    text = EXAMPLE
    for key in ("url", "username", "password_env", "ca_file"):
        assert f"\n# {key} = " in text
        text = text.replace(f"\n# {key} = ", f"\n{key} = ")
    endpoint = parse(text, FILE).file.broker.endpoint()
    assert endpoint is not None
    assert endpoint.tls


def test_the_figures_that_the_example_calls_defaults_are_the_defaults() -> None:
    given, bare = parse(EXAMPLE, FILE).file, setup_of("").file
    assert (given.limits, given.broker, given.dashboard) == (bare.limits, bare.broker, bare.dashboard)


def test_check_tells_what_was_understood() -> None:
    text = describe(parse(EXAMPLE, FILE))
    for expected in (
        "Mill Lane ultrasound (mill-lane), time zone Europe/Lisbon",
        "1 station, 2 basins, 2 carts, 3 probes",
        "basin-1 (Basin 1): ortho-phthalaldehyde 0.55 %, 12 min at 20 °C or more",  # rules/labels.csv
        "CDC/HICPAC",
        "basin-2/temperature (temperature): house-net/thermo/0042 at '/probes/0/t', degF to Cel",
        "cart-1/hook-b (hook): sinkside/mill-lane/cart-1/hook-b",
        "Broker: embedded, on 127.0.0.1 port 1883, written to disk: always",
        "Screens: http://127.0.0.1:8470",
        "Changed threshold rolling_after_seconds: 1.5 s",
        "Changed rule lid-open-over-soak: on_delay_seconds = 20",
    ):
        assert expected in text


# ---- mistakes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        (
            'timezone = "Europe/Lisbon"',
            'timezone = "Europe/Nowhere"',
            "[site], key 'timezone': expected the name of an",
        ),
        ('station = "soak-room" ', 'station = "x"', "basin 'basin-1' stands in station 'x', which no [[station]]"),
        (
            "min_minutes = 8",
            "min_minutes = 0",
            "[[label]] number 1, key 'min_minutes': expected greater than 0; found 0",
        ),
        ("min_celsius = 20", 'min_celsius = "warm"', "key 'min_celsius': expected a valid number"),
        ('cords = ["a", "b"]', 'cords = ["a", "B"]', "key 'cords': expected lower-case letters, digits and '-'"),
        ('cord = "b"', 'cord = "z"', "probe 'inner-1' hangs on cord 'z' of cart 'cart-1', which no [[cart]] has"),
        ('kind = "motion"', 'kind = "motoin"', "[[sensor]] number 2, key 'kind': expected 'lid', 'temperature'"),
        ('unit = "degF"', 'unit = "degX"', "[[sensor]] number 1, key 'unit': 'degX' is no unit"),
        ('unit = "degF"', 'unit = "kg"', "key 'unit': 'kg' does not measure what Cel measures"),
        ('value = "/probes/0/t"', 'value = "probes"', "expected a JSON Pointer (RFC 6901)"),
        ("port = 8470", "port = 84700", "[dashboard], key 'port': expected less than or equal to 65535; found 84700"),
        ('sync_interval = "always"', 'sync_interval = "soon"', "[broker], key 'sync_interval': expected"),
        ("rolling_after_seconds = 1.5", "rolling_after = 1.5", "[thresholds] 'rolling_after' is not known"),
        ("rolling_after_seconds = 1.5", "rolling_after_seconds = 99", "threshold 'rolling_after_seconds' is 99 s"),
        ("on_delay_seconds = 20", "on_delay_seconds = 2000", "expected 0 to 120 s"),
        ("on_delay_seconds = 20", 'priority = "urgent"', "[rules.lid-open-over-soak], key 'priority': expected 'high'"),
        ('label = "opa-0.55-manual"', 'label = "opa"', "basin 'basin-1', key 'label': 'opa' is not known"),
        ('label = "opa-0.55-manual"', 'label = "opa-0.55-automated"', "never apply to an open basin"),
        ("internal = true", "intern = true", "[[probe]] number 2, key 'intern': no such key; perhaps 'internal'"),
        ("internal = true", "colour = 1", "no such key; expected one of cart, cord, id, internal, name"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_what_was_expected(before: str, after: str, says: str) -> None:
    text, line = example_with(before, after)
    told = problem(text)
    # Where two entries do not fit together, the line is that of the entry; its key stands below.
    start = next(n for n in range(line, 0, -1) if EXAMPLE.splitlines()[n - 1].startswith("["))
    assert told.startswith((f"site.toml, line {line}: ", f"site.toml, line {start}: "))
    assert says in told
    assert "\n" not in told


def test_a_missing_key_is_told_at_its_table() -> None:
    assert problem('[site]\nid = "a"\n') == "site.toml, line 1: [site], key 'name': missing, but needed"


def test_a_missing_table_has_no_line() -> None:
    assert problem("") == "site.toml: [site]: missing, but needed"


def test_every_mistake_is_told_in_order_of_lines() -> None:
    told = problems(
        '[site]\nid = "A B"\nname = "x"\n\n[[cart]]\nid = "c"\nname = ""\n\n'
        "[dashboard]\nport = 0\n\n[limits]\nspeed = 1\n"
    )
    assert [line.split(":")[0] for line in told] == [f"site.toml, line {n}" for n in (2, 7, 10, 13)]


def test_entries_that_do_not_fit_together_are_each_told() -> None:
    cart = '[[cart]]\nid = "c"\nname = "C"\n'
    basin = '[[basin]]\nid = "b"\nname = "B"\nstation = "x"\nlabel = "opa-0.55-manual"\n'
    told = problems(SMALL + cart + cart + basin)
    assert [line.split(":")[0] for line in told] == ["site.toml, line 7", "site.toml, line 10"]
    assert "'c' is there twice" in told[0]
    assert "which no [[station]] describes" in told[1]


def test_rules_and_mappings_are_told_together() -> None:
    sensor = '[[sensor]]\nthing = "room"\nname = "v"\nkind = "vapour"\nvalue = "/v"\n[thresholds]\nspeed = 1\n'
    told = problems(SMALL + sensor)
    assert ["unit" in told[0], "speed" in told[1]] == [True, True]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[site]\nid = \n", "site.toml, line 2: not TOML at column 6"),
        ('[site]\nid = "a"\nid = "b"\n', "line 3: not TOML"),
        ("[site\n", "line 1: not TOML"),
        ("x = [1,\n2", "not TOML"),
        ("x = " + "[" * 5000, "site.toml"),
    ],
)
def test_what_is_no_toml_is_told_with_its_line(text: str, says: str) -> None:
    told = problem(text)
    assert says in told
    assert "\n" not in told


def test_an_own_rule_s_mistake_is_told_at_the_rule() -> None:
    rule = '[[rule]]\nid = "warm"\nwatches = "basin"\ncondition = "soaking"\npriority = "low"\nsource = "ours"\n'
    assert problem(SMALL + rule).startswith("site.toml, line 4: [[rule]] number 1, key 'text'")


# ---- the file ------------------------------------------------------------------------------------------------------


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(SiteFileError, match=r"no-such\.toml: cannot be read: No such file"):
        load(tmp_path / "no-such.toml")


def test_a_folder_is_no_site_file(tmp_path: Path) -> None:
    with pytest.raises(SiteFileError, match="cannot be read"):
        load(tmp_path)


def test_a_file_that_is_not_utf8_is_told(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_bytes(SMALL.replace("Mill Lane", "M\u00fchle").encode("latin-1"))
    with pytest.raises(SiteFileError, match="not UTF-8 text at octet 33"):
        load(path)


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert load(path).file.site.id == "mill-lane"


# ---- broker and screens --------------------------------------------------------------------------------------------


def test_without_a_url_the_embedded_broker_is_meant() -> None:
    file = setup_of("").file
    assert file.broker.endpoint() is None
    assert (file.broker.sync_interval, file.dashboard.host) == ("always", "127.0.0.1")


@pytest.mark.parametrize(
    ("url", "endpoint"),
    [
        # IANA service names: mqtt 1883, secure-mqtt 8883
        ("mqtt://broker.example", Endpoint("broker.example", 1883)),
        ("mqtts://broker.example", Endpoint("broker.example", 8883, tls=True)),
        ("mqtt://10.0.0.7:1884", Endpoint("10.0.0.7", 1884)),
    ],
)
def test_a_broker_by_url(url: str, endpoint: Endpoint) -> None:
    assert setup_of(f'[broker]\nurl = "{url}"\n').file.broker.endpoint() == endpoint


def test_paths_of_the_broker_start_at_the_site_file() -> None:
    broker = setup_of(
        '[broker]\nurl = "mqtts://b"\nusername = "u"\npassword_file = "secret.txt"\nca_file = "/etc/ca.pem"\n'
    ).file.broker
    assert (broker.password_file, broker.ca_file) == (Path("somewhere/secret.txt"), Path("/etc/ca.pem"))


def test_a_file_that_is_not_there_is_told_and_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "ca.pem").touch()
    named = '[broker]\nurl = "mqtts://b"\nusername = "u"\npassword_file = "secret.txt"\nca_file = "ca.pem"\n'
    setup = parse(SMALL + named, tmp_path / "site.toml")
    (sentence,) = missing_files(setup)
    assert sentence.startswith(f"[broker] password_file: there is no file '{tmp_path / 'secret.txt'}' on this machine")
    assert f"Warning: {sentence}" in describe(setup)
    (tmp_path / "secret.txt").touch()
    assert not list(missing_files(setup))


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ('url = "http://b"', "expected mqtt://host:port or mqtts://host:port"),
        ('url = "mqtt://b:99999"', "no usable port"),
        ('url = "mqtt://"', "expected mqtt://"),
        ('url = "mqtt://u:hush@b"', "password_env"),
        ('password = "hush"', "put it into an environment variable and name that in password_env"),
        ('url = "mqtt://b"\npassword_env = "hush-hush hush"', "password_env"),
        ('url = "mqtt://b"\npassword_env = "P"', "add username"),
        ('url = "mqtt://b"\nusername = "u"\npassword_env = "P"\npassword_file = "f"', "keep one"),
        ('host = "0.0.0.0"', "add username"),
        ('username = "u"', "let anybody into the broker"),
        ('url = "mqtt://b"\nca_file = "ca.pem"', "mqtts://"),
    ],
)
def test_broker_settings_that_cannot_be_meant(settings: str, says: str) -> None:
    told = problem(f"{SMALL}[broker]\n{settings}\n")
    assert says in told
    assert "hush" not in told.removeprefix("site.toml"), "a secret is never repeated"


# ---- names, topics -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["gateway", "alert"])
@pytest.mark.parametrize("table", ["station", "cart"])
def test_the_gateway_s_own_names_are_kept(name: str, table: str) -> None:
    told = problems(f'{SMALL}[[{table}]]\nid = "{name}"\nname = "X"\n')
    assert f"'{name}' is kept for the gateway itself" in told[0]
    assert told[0].startswith("site.toml, line 5: ")


def test_a_sensor_on_the_gateway_is_refused() -> None:
    told = problem(f'{SMALL}[[sensor]]\nthing = "gateway"\nname = "t"\nkind = "temperature"\n')
    assert told.startswith("site.toml, line 5: [[sensor]] number 1, key 'thing': 'gateway' is kept")


@pytest.mark.parametrize(
    ("second", "clash"),
    [
        ('topic = "t"\nvalue = "/a"', True),
        ('topic = "t"\nvalue = "/b"', False),
        ('topic = "t"', True),  # SenML and another maker's JSON on one topic
        ('topic = "u"\nvalue = "/a"', False),
    ],
)
def test_two_sensors_do_not_claim_the_same_value(second: str, clash: bool) -> None:  # noqa: FBT001 - a table
    entry = '[[sensor]]\nthing = "room"\nkind = "lid"\n'
    text = f'{SMALL}{entry}name = "a"\ntopic = "t"\nvalue = "/a"\n{entry}name = "b"\n{second}\n'
    if clash:
        assert "'room/a' and 'room/b' both speak on 't'" in problem(text)
    else:
        parse(text, FILE)


def test_a_sensor_does_not_take_the_topic_of_an_inferred_one() -> None:
    text, line = example_with('topic = "house-net/thermo/0042"', 'topic = "sinkside/mill-lane/cart-1/motion"')
    told = problem(text)
    assert "'basin-2/temperature' and 'cart-1/motion' both speak on" in told
    assert int(told.split("line ")[1].split(":")[0]) < line


# ---- for editors ---------------------------------------------------------------------------------------------------


def test_the_schema_knows_every_table_of_the_example() -> None:
    schema = json.loads(site_schema())
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(tomllib.loads(EXAMPLE)) <= set(schema["properties"])
    assert schema["additionalProperties"] is False
    assert "password" not in schema["$defs"]["BrokerSettings"]["properties"]

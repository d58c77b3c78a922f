"""gateway/sitefile.py: what a site file may say and what is understood of it; mistakes: test_sitefile_mistakes.py."""

import json
import sqlite3
import tomllib
from contextlib import closing
from importlib.resources import files
from pathlib import Path

import pytest

from gateway.endpoint import Endpoint
from gateway.sitefile import PagingSettings, Setup, SiteFileError, load, parse, site_schema
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


# ---- the file ------------------------------------------------------------------------------------------------------


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(SiteFileError, match=r"no-such\.toml: cannot be read: No such file"):
        load(tmp_path / "no-such.toml")


def test_a_folder_is_no_site_file(tmp_path: Path) -> None:
    with pytest.raises(SiteFileError, match="cannot be read"):
        load(tmp_path)


def test_a_record_is_no_site_file_and_the_advice_says_what_to_name(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with closing(sqlite3.connect(path)) as database:
        database.execute("CREATE TABLE t (x)")
    with pytest.raises(
        SiteFileError, match=r"journal\.db: is a database.*; name the TOML file that 'sinkside serve' is"
    ):
        load(path)


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


# ---- names, topics -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("end", ["signal", "alert/alert-1"])
def test_no_sensor_speaks_where_the_gateway_tells_of_its_alerts(end: str) -> None:
    # The site of SMALL is taken from the file itself, so that the test goes on meaning its own topics.
    topic = f"sinkside/{tomllib.loads(SMALL)['site']['id']}/{end}"
    sensor = f'[[sensor]]\nthing = "x"\nname = "y"\nkind = "battery"\ntopic = "{topic}"\n'
    told = problems(SMALL + sensor)
    assert f"'{topic}' is where the gateway tells of its alerts; give the sensor another topic" in told[0]


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


def test_a_record_needs_a_label_that_tells_its_reuse_days() -> None:
    text = EXAMPLE.replace("recorded = false", "recorded = true").replace("reuse_days = 21 ", "# ")
    assert "'peroxide-as-on-our-bottle' gives no reuse_days" in problem(text)


def test_a_sensor_does_not_take_the_topic_of_an_inferred_one() -> None:
    text, line = example_with('topic = "house-net/thermo/0042"', 'topic = "sinkside/mill-lane/cart-1/motion"')
    told = problem(text)
    assert "'basin-2/temperature' and 'cart-1/motion' both speak on" in told
    assert int(told.split("line ")[1].split(":")[0]) < line


def test_a_sensor_by_which_soaks_are_judged_keeps_its_kind() -> None:
    assert problem(f"{EXAMPLE}[[sensor]]\nthing = 'basin-1'\nname = 'lid'\nkind = 'temperature'\n").endswith(
        "key 'kind': 'basin-1/lid' is what soaks or carts are judged by; expected 'lid'; found 'temperature'"
    )


# ---- for editors ---------------------------------------------------------------------------------------------------


def test_the_schema_knows_every_table_of_the_example() -> None:
    schema = json.loads(site_schema())
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(tomllib.loads(EXAMPLE)) <= set(schema["properties"])
    assert schema["additionalProperties"] is False
    assert "password" not in schema["$defs"]["BrokerSettings"]["properties"]


@pytest.mark.parametrize(("base", "hosts"), [("https://pages.example.org:8443", ("pages.example.org",)), (None, ())])
def test_phones_that_follow_a_link_call_by_the_name_in_it(base: str | None, hosts: tuple[str, ...]) -> None:
    assert PagingSettings(link_base=base).link_hosts == hosts

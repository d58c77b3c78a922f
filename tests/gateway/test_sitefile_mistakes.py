"""gateway/sitefile.py, model_errors.py, problems.py and toml_text.py: how the mistakes of a site file are told."""

import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from pydantic import ValidationError
from pydantic_core import ErrorTypeInfo, InitErrorDetails
from pydantic_core._pydantic_core import list_all_errors

from gateway.model_errors import _PATTERNS, problems_of
from gateway.sitefile import SiteFile, SiteFileError, parse, site_schema

EXAMPLE = files("gateway").joinpath("example.toml").read_text(encoding="utf-8")
FILE = Path("somewhere/site.toml")

SMALL = """\
[site]
id = "mill-lane"
name = "Mill Lane"
"""

RULE = """
[[rule]]
id = "warm"
watches = "basin"
condition = "solution_celsius > 30.0"
priority = "low"
text = "{name} is warm"
source = "ours"
"""

CHANNELS = """
[[channel]]
id = "mail"
kind = "smtp"
host = "mail.example.org"
sender = "sinkside@example.org"
username = "sinkside"
password_env = "MAIL_PASSWORD"
timeout_seconds = 15

[[channel]]
id = "pager"
kind = "snpp"
host = "pagers.example.org"
tls = "none"
two_way = true
asks = "delivered"
most_letters = 80
caller_id = "ultrasound"

[[channel]]
id = "house"
kind = "webhook"
url = "https://pages.example.org/sinkside"
secret_env = "PAGES_SECRET"
key_id = "soak-room"

[[channel]]
id = "push"
kind = "apprise"
url_env = "PUSH_URL"
deadline_seconds = 30

[[contact]]
id = "tech-pager"
name = "Tech's pager"
ways = [{ channel = "pager", address = "5551212" }, { channel = "mail", address = "tech@example.org" }]
"""
DUTIES = """
[[shift]]
name = "day"
start = 07:30:00
end = 19:30:00

[[role]]
id = "tech"
name = "Technician"

[[duty]]
role = "tech"
contacts = ["tech-pager"]
days = ["mon", "tue"]
start = 19:30:00
end = 07:30:00

[[duty_change]]
role = "tech"
start = 2026-12-24T07:30:00
end = 2026-12-27T07:30:00
contacts = []

[[route]]
name = "All"
priorities = ["high"]
rules = ["sensor-silent"]
places = ["basin-1"]
shifts = ["day"]
tiers = [{ roles = ["tech"], after_seconds = 0 }]
repeat_seconds = 180
most_repeats = 6
"""
WHOLE = EXAMPLE.replace("[alerts]\n", "[alerts]\ntest_at = 09:00:00\n") + RULE + CHANNELS + DUTIES

MISTAKES = tomllib.loads(Path(__file__).with_name("mistakes.toml").read_text(encoding="utf-8"))["mistake"]


def problems(text: str) -> tuple[str, ...]:
    with pytest.raises(SiteFileError) as caught:
        parse(text, FILE)
    assert str(caught.value) == "\n".join(caught.value.problems)
    return caught.value.problems


def problem(text: str) -> str:
    (only,) = problems(text)
    return only


def told_of(before: str, after: str) -> str:
    """The one problem of the example with one passage changed, without the lines; the first is that of the change."""
    assert WHOLE.count(before) >= 1
    said = problem(WHOLE.replace(before, after, 1))
    number, sentence = re.fullmatch(r"site\.toml, line (\d+): (.*)", said).groups()  # type: ignore[union-attr]  # it fits
    changed = WHOLE[: WHOLE.index(before)].count("\n") + 1
    last = changed + after.count("\n")
    # Where a key is missing, or keys do not fit together, the line is that of their table.
    start = next(n for n in range(changed, 0, -1) if WHOLE.splitlines()[n - 1].startswith("["))
    assert int(number) in {start, *range(changed, last + 1)}
    return re.sub(r" \(the other is on line \d+\)$", "", sentence)


# ---- values ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake["to"])
def test_a_mistake_is_told_with_what_was_found_and_how_to_mend_it(mistake: dict[str, str]) -> None:
    assert told_of(mistake["change"], mistake["to"]) == mistake["says"]


@pytest.mark.parametrize("digits", [20, 400, 5000])
def test_a_number_that_no_machine_has_is_told_with_its_line(digits: int) -> None:
    said = told_of("min_minutes = 8", f"min_minutes = {'9' * digits}")
    assert "18" in said
    assert len(said) < 200


SPOILS = (
    *("true", "3", "-0.5", "nan", '"x"', '""', '"8"', '"7:30"', '"25:00"', '"soon"', '"2024-13-31T07:30:00"'),
    *("2024-01-31", "07:30:00", "2024-01-31T07:30:00Z", "[]", "[1]", "{}", "{ a = 1 }"),
)
"""A value of each type that TOML has, some of them unlikely."""

LIBRARY = re.compile(
    r"\b((?<!mismatched )[Ii]nput|[Vv]alid|should|pydantic|class|dict\w*|tuple|None|True|False|str|float|int)\b"
)
"""Words of the library's messages, and of Python's types; CEL's grammar has a 'mismatched input' of its own."""


def keys_of(lines: list[str]) -> dict[int, str]:
    """Where each key of each kind of table stands first; in a second table of the kind it is read by the same model."""
    found: dict[tuple[str, str], int] = {}
    table = ""
    for number, line in enumerate(lines):
        key, is_key, _ = line.partition(" = ")
        if is_key:
            found.setdefault((table, key), number)
        if not is_key or key == "kind":  # channels of each kind have a model of their own
            table = line
    return {number: key for (_, key), number in found.items()}


@pytest.mark.parametrize("spoil", SPOILS)
def test_whatever_stands_in_place_of_a_value_is_told_in_our_own_words(spoil: str) -> None:
    lines = [line for line in WHOLE.splitlines() if line and not line.startswith("#")]
    refused = 0
    for number, key in keys_of(lines).items():
        try:
            parse("\n".join((*lines[:number], f"{key} = {spoil}", *lines[number + 1 :])), FILE)
        except SiteFileError as error:
            refused += 1
            for said in error.problems:
                assert re.match(r"site\.toml, line \d+: ", said)
                assert not LIBRARY.search(said), said
                assert re.search("expected|missing|no such|perhaps|give|add|leave|let it|write|keep", said), said
    assert refused > 20


@pytest.mark.parametrize("kind", list_all_errors(), ids=lambda kind: kind["type"])
def test_an_error_of_any_kind_that_the_library_has_is_told_in_our_own_words(kind: ErrorTypeInfo) -> None:
    error = InitErrorDetails(
        type=kind["type"], loc=("site", "name"), input="x", ctx=kind.get("example_context") or {"error": "unknown"}
    )
    refused = ValidationError.from_exception_data("site", [error])
    (said,) = (found.sentence for found in problems_of(refused, tomllib.loads(SMALL), SiteFile))
    assert re.search("expected|missing|no such", said), said
    if kind["type"] not in ("literal_error", "enum"):  # they tell the words of the model
        assert not LIBRARY.search(said), said


def test_a_channel_that_is_no_table_is_told() -> None:
    assert (
        problem(f"channel = [1]\n{SMALL}")
        == "site.toml, line 1: [[channel]] number 1: expected a table [[channel]]; found 1"
    )


def test_every_pattern_of_the_models_has_its_plain_words() -> None:
    assert set(re.findall(r'"pattern": ("(?:[^"\\]|\\.)*")', site_schema())) == {
        json.dumps(known) for known in _PATTERNS
    }


# ---- what is missing, and what does not fit together -----------------------------------------------------------------


def test_a_missing_key_is_told_at_its_table() -> None:
    assert (
        problem('[site]\nid = "a"\n')
        == "site.toml, line 1: [site], key 'name': missing; add a line such as name = \"...\""
    )


@pytest.mark.parametrize("table", ["cart", "station"])
def test_what_is_there_twice_is_told_with_both_lines(table: str) -> None:
    entry = 'id = "x-1"\nname = "X"\n'
    assert problem(f"{SMALL}[[station]]\n{entry}[[{table}]]\n{entry}") == (
        "site.toml, line 7: station, basin, cabinet or cart 'x-1' is there twice; give each its own id"
        " (the other is on line 4)"
    )


def test_what_is_there_twice_is_not_taken_for_another_kind_of_thing_of_that_name() -> None:
    cart = '[[cart]]\nid = "x"\nname = "X"\ncords = ["a"]\n'
    probe = '[[probe]]\nid = "x"\nname = "X"\ncart = "x"\ncord = "a"\n'
    assert problem(SMALL + probe + cart + probe) == (
        "site.toml, line 13: probe 'x' is there twice; give each its own id (the other is on line 4)"
    )


def test_a_missing_table_has_no_line() -> None:
    assert problem("") == (
        "site.toml: [site]: missing; add it, with id and name; 'sinkside example' prints a whole site file"
    )


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
    assert [line.split(":")[0] for line in told] == ["site.toml, line 7", "site.toml, line 13"]
    assert "'c' is there twice" in told[0]
    assert "no [[station]] has the id 'x'; add one" in told[1]


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


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ('url = "http://b"', "expected mqtt://host:port or mqtts://host:port"),
        ('url = "mqtt://b:99999"', "no usable host or port"),
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


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ('tls_certificate = "a.pem"', "tls_certificate and tls_key belong together; name both or none"),
        ('tls_key = "a.key"', "tls_certificate and tls_key belong together; name both or none"),
        ('proxies = ["*"]', "'*' is no address of a proxy; expected 10.0.0.5 or 10.0.0.0/29"),
        ('proxies = ["10.0.0.5/8"]', "'10.0.0.5/8' is no address of a proxy"),
        ('proxies = ["::/0"]', "'::/0' would believe everybody; name the proxies, such as 10.0.0.5"),
    ],
)
def test_settings_of_the_screens_that_cannot_be_meant(settings: str, says: str) -> None:
    assert says in problem(f"{SMALL}[dashboard]\n{settings}\n")

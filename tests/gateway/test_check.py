"""gateway/check.py: what was understood of a site file, and what is warned of."""

from importlib.resources import files
from pathlib import Path

import pytest

from gateway.check import describe, warnings
from gateway.sitefile import Setup, parse
from rules.readings import SECOND, Micros
from tests.gateway.sites import site_text

EXAMPLE = files("gateway").joinpath("example.toml").read_text(encoding="utf-8")
FILE = Path("somewhere/site.toml")
SMALL = """\
[site]
id = "mill-lane"
name = "Mill Lane"
"""
NOW = Micros(1_780_315_200 * SECOND)
"""Monday, 1 June 2026, 12:00 UTC."""

CART = '[[cart]]\nid = "cart-1"\nname = "Cart 1"\n'


def ward(more: str = "", *, minutes: float = 1) -> Setup:
    """A site of one basin and one cart."""
    return parse(site_text(minutes=minutes, more=more), FILE)


# ---- what was understood -------------------------------------------------------------------------------------------


def test_check_tells_what_was_understood() -> None:
    text = describe(parse(EXAMPLE, FILE), NOW)
    for expected in (
        "Mill Lane ultrasound (mill-lane), time zone Europe/Lisbon",
        "1 station, 2 basins, 2 carts, 3 probes",
        "basin-1 (Basin 1): ortho-phthalaldehyde 0.55 %, 12 min at 20 °C or more, then 3 rinses\n",  # rules/labels.csv
        "basin-2 (Basin 2): hydrogen peroxide 2.0 %, 8 min at 20 °C or more\n",
        "CDC/HICPAC",
        "basin-2/temperature (temperature): house-net/thermo/0042 at '/probes/0/t', degF to Cel",
        "cart-1/hook-b (hook): sinkside/mill-lane/cart-1/hook-b",
        "Broker: embedded, on 127.0.0.1 port 1883, written to disk: always",
        "Screens: http://127.0.0.1:8470",
        "Changed threshold rolling_after_seconds: 1.5 s",
        "Changed rule lid-open-over-soak: on_delay_seconds = 20",
    ):
        assert expected in text


def test_a_single_rinse_is_no_more_than_one() -> None:
    told = describe(parse(EXAMPLE.replace("# rinses = 3", "rinses = 1"), FILE), NOW)
    assert "8 min at 20 °C or more, then 1 rinse\n" in told


def test_what_the_file_sets_of_a_sensor_is_told() -> None:
    lines = describe(parse(EXAMPLE, FILE), NOW).splitlines()
    thermometer, motion, hook = (
        next(line for line in lines if f"  {name} (" in line)
        for name in ("basin-2/temperature", "cart-2/motion", "cart-2/hook-a")
    )
    assert thermometer.endswith(", degF to Cel, report_seconds = 30, uncertainty_celsius = 0.8")
    assert motion.endswith("/cart-2/motion, true_above = 0.8")
    assert hook.endswith("/cart-2/hook-a")


def test_changes_of_a_rule_are_told_as_the_file_has_them() -> None:
    change = '[rules.lid-open-over-soak]\nenabled = false\npriority = "low"\noff_delay_seconds = 7\n'
    told = describe(ward(change), NOW)
    assert 'Changed rule lid-open-over-soak: off_delay_seconds = 7, priority = "low", enabled = false' in told


ROTA = """
[[channel]]
id = "pager"
kind = "snpp"
host = "pagers.example.org"
tls = "none"
[[channel]]
id = "mail"
kind = "smtp"
host = "mail.example.org"
sender = "sinkside@example.org"
[[role]]
id = "tech"
name = "Technician"
[[role]]
id = "charge"
name = "Charge nurse"
[[contact]]
id = "pager-1"
name = "Duty pager"
ways = [{ channel = "pager", address = "5550101" }, { channel = "mail", address = "tech@example.org" }]
[[duty]]
role = "tech"
contacts = ["pager-1"]
start = 00:00:00
end = 00:00:00
[[duty]]
role = "charge"
contacts = ["pager-1"]
start = 00:00:00
end = 00:00:00
[[duty_change]]
role = "charge"
start = 2001-01-01T00:00:00
end = 2101-01-01T00:00:00
[[route]]
name = "Urgent"
priorities = ["high", "medium"]
places = ["basin-1"]
tiers = [{ roles = ["tech"] }, { roles = ["tech", "charge"], after_seconds = 300 }]
repeat_seconds = 180
[[route]]
name = "Rest"
tiers = [{ roles = ["charge"] }]
"""


def test_who_would_be_paged_is_told() -> None:
    told = describe(ward(ROTA), NOW).splitlines()
    assert "  pager-1 (Duty pager): pager 5550101, then mail tech@example.org" in told
    assert told[told.index("On duty now") + 1 :][:2] == [
        "  tech (Technician): pager-1",
        "  charge (Charge nurse): nobody",
    ]
    routes = told[told.index("Routes: the first that fits an alert is taken") + 1 :][:4]
    assert routes == [
        "  Urgent, high or medium alerts at basin-1:",
        "      tech at once; tech and charge after 300 s; the last again every 180 s, at most 6 x a tier",
        "  Rest, all alerts:",
        "      charge at once",
    ]


def test_that_nobody_is_paged_is_told() -> None:
    assert "No [[route]]: nobody is paged." in describe(ward(), NOW)


# ---- what is warned of ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (
            '[dashboard]\nhost = "0.0.0.0"\n',
            "[dashboard] host '0.0.0.0' lets the network reach the screens, and nothing is encrypted: whoever listens",
        ),
        (
            '[dashboard]\nhost = "0.0.0.0"\ntls_certificate = "/nowhere.pem"\ntls_key = "/etc/hostname"\n',
            "[dashboard] tls_certificate: there is no file '/nowhere.pem' on this machine; 'serve' needs it",
        ),
        ("[broker]\nport = 8470\n", "[broker] and [dashboard] both have port 8470; give each its own."),
        (
            '[broker]\nusername = "u"\npassword_env = "SINKSIDE_NOT_SET_ANYWHERE"\n',
            "[broker] password_env: the environment variable 'SINKSIDE_NOT_SET_ANYWHERE' is not set; 'serve' needs it.",
        ),
    ],
)
def test_what_is_most_likely_not_meant_is_told(more: str, says: str) -> None:
    (sentence,) = warnings(ward(more), NOW)
    assert sentence.startswith(says)


@pytest.mark.parametrize(
    "more",
    [
        "",
        '[dashboard]\nhost = "::1"\n',
        '[broker]\nurl = "mqtt://b"\nport = 8470\n',  # the port of a broker that is not started
        '[broker]\nusername = "u"\npassword_env = "PATH"\n',  # set on every Unix
    ],
)
def test_what_can_well_be_meant_is_not_warned_of(more: str) -> None:
    assert not list(warnings(ward(more), NOW))


def test_a_site_without_basins_and_carts_is_told() -> None:
    (sentence,) = warnings(parse(SMALL, FILE), NOW)
    assert sentence.startswith("there is no [[basin]] and no [[cart]]: nothing is watched")
    assert not list(warnings(parse(SMALL + CART, FILE), NOW))


def test_a_label_of_less_than_a_minute_is_told() -> None:
    (sentence,) = warnings(ward(minutes=0.2), NOW)
    assert sentence.startswith("basin 'basin-1': its label 'short' asks for 0.2 min only")


def test_a_file_that_is_not_there_is_told_and_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "ca.pem").touch()
    named = '[broker]\nurl = "mqtts://b"\nusername = "u"\npassword_file = "secret.txt"\nca_file = "ca.pem"\n'
    setup = parse(SMALL + CART + named, tmp_path / "site.toml")
    (sentence,) = warnings(setup, NOW)
    assert sentence.startswith(f"[broker] password_file: there is no file '{tmp_path / 'secret.txt'}' on this machine")
    assert f"Warning: {sentence}" in describe(setup, NOW)
    (tmp_path / "secret.txt").touch()
    assert not list(warnings(setup, NOW))


@pytest.mark.parametrize(
    ("thing", "name", "kind", "says"),
    [
        ("basin-l", "temperature", "temperature", "perhaps 'basin-1/temperature' or 'basin-2/temperature' is meant"),
        ("basin-1", "temp", "temperature", "perhaps 'basin-1/temperature' is meant"),
        ("cart-1", "hook-c", "hook", "perhaps 'cart-1/hook-a' or 'cart-1/hook-b' or 'cart-2/hook-a' is meant"),
        ("basin-1", "stripe", "strip", "perhaps 'basin-1/strip' or 'basin-2/strip' is meant"),
        ("basin-1", "strip", "strip", None),
        ("room", "vapour", "vapour", None),
        ("basin-1", "temperature", "temperature", None),
    ],
)
def test_a_sensor_that_nothing_is_judged_by_is_told(thing: str, name: str, kind: str, says: str | None) -> None:
    entry = f'[[sensor]]\nthing = "{thing}"\nname = "{name}"\nkind = "{kind}"\n'
    told = list(warnings(parse(EXAMPLE + entry, FILE), NOW))
    if says is None:
        assert not told
    else:
        assert told == [f"sensor '{thing}/{name}': no soak and no cart is judged by this {kind} sensor; {says}"]


def test_the_description_tells_what_is_not_checked_of_solutions_and_probes() -> None:
    told = describe(parse(EXAMPLE, FILE), NOW)
    assert "A verdict tells of time and temperature only" in told
    assert "Inner 1: the file does not say in which basins it is soaked, so that no limit of it is checked." in told
    assert "Curved 1: the file" not in told
    kept = describe(parse(EXAMPLE.replace("recorded = false", "recorded = true"), FILE), NOW)
    assert "Solutions and strips are recorded; a good strip: each use." in kept


# ---- carts and air -------------------------------------------------------------------------------------------------

SHIFTS = """
[care]
wipes = true
wipes_per_shift = 2

[[shift]]
name = "night"
start = 19:30:00
end = 07:30:00
"""


def test_wipe_downs_are_told_with_the_shifts_by_which_they_are_due() -> None:
    text = describe(ward(SHIFTS), NOW)
    assert "Wipe-downs are due before each shift and 2 x during it, in UTC:\n  night: 19:30-07:30\n" in text
    assert "Wipe-downs" not in describe(ward(), NOW)


@pytest.mark.parametrize("kind", ["wiped", "mains"])
def test_a_button_of_no_cart_is_warned_of(kind: str) -> None:
    entry = f'[[sensor]]\nthing = "crat-1"\nname = "button"\nkind = "{kind}"\n'
    assert list(warnings(ward(entry), NOW)) == [
        f"sensor 'crat-1/button', key 'thing': a {kind} sensor belongs to a cart; perhaps 'cart-1' is meant"
    ]
    assert list(warnings(ward(entry.replace("crat", "cart")), NOW)) == []


def test_too_little_air_for_glutaraldehyde_is_remarked() -> None:
    # NIOSH 2001-115 (secondary): at least 10 air changes an hour
    file = EXAMPLE.replace('chemistry = "hydrogen peroxide 2.0 %"', 'chemistry = "Glutaraldehyde 2.4 %"').replace(
        "# air_changes_per_hour = 10 ", "air_changes_per_hour = {} "
    )
    said = [list(warnings(parse(file.replace("{}", changes), FILE), NOW)) for changes in ("9.9", "10")]
    assert [len([sentence for sentence in sentences if "NIOSH 2001-115" in sentence]) for sentences in said] == [1, 0]
    assert said[0][-1].startswith(
        "basin 'basin-2' has glutaraldehyde, and [care] air_changes_per_hour is 9.9: at least 10"
    )
    other = EXAMPLE.replace("# air_changes_per_hour = 10 ", "air_changes_per_hour = 5 ")
    assert list(warnings(parse(other, FILE), NOW)) == []


# ---- whom to tell ----------------------------------------------------------------------------------------------------

REACH = """
[[channel]]
id = "pager"
kind = "snpp"
host = "127.0.0.1"
[[role]]
id = "tech"
name = "Technician"
[[contact]]
id = "tech-pager"
name = "Technician's pager"
ways = [{ channel = "pager", address = "5551212" }]
[[duty]]
role = "tech"
contacts = ["tech-pager"]
days = ["mon", "tue", "wed", "thu", "fri"]
start = 00:00:00
end = 00:00:00
[[route]]
name = "All"
tiers = [{ roles = ["tech"] }]
"""


def reach_warnings(more: str) -> list[str]:
    told = warnings(ward(more), NOW)
    return [sentence for sentence in told if "on duty" in sentence or "[[route]]" in sentence]


def test_gaps_of_duty_in_the_next_fortnight_are_warned_of() -> None:
    (told,) = reach_warnings(REACH)
    assert told == (
        "nobody is on duty as 'tech' from 2026-06-06 00:00 to 2026-06-08 00:00 and from 2026-06-13 00:00 to"
        " 2026-06-15 00:00; add a [[duty]] for it."
    )


def test_a_holiday_without_anybody_on_purpose_is_not_warned_of() -> None:
    away = """
[[duty_change]]
role = "tech"
start = 2026-06-05T00:00:00
end = 2026-06-17T00:00:00
"""
    assert reach_warnings(REACH + away) == []


def test_urgent_alerts_that_no_route_takes_are_warned_of() -> None:
    told = reach_warnings(REACH.replace('name = "All"', 'name = "All"\nplaces = ["basin-1"]'))
    assert any(
        sentence.startswith("rule 'no-channel-works' is of high priority, and no [[route]]") for sentence in told
    )
    assert not any("'sensor-silent'" in sentence for sentence in told)


def test_a_route_behind_one_that_takes_all_is_warned_of() -> None:
    behind = '[[route]]\nname = "Urgent"\npriorities = ["high"]\ntiers = [{ roles = ["tech"] }]\n'
    whole = REACH.replace('days = ["mon", "tue", "wed", "thu", "fri"]\n', "")
    (told,) = reach_warnings(whole + behind)
    assert told == (
        "[[route]] number 2, 'Urgent', is never taken: 'All' before it takes every alert; put it before that one, or"
        " leave it out."
    )
    assert reach_warnings(whole.replace("[[route]]", f"{behind}[[route]]")) == []


def test_a_contact_that_is_on_duty_twice_at_once_is_warned_of() -> None:
    twice = REACH.replace('contacts = ["tech-pager"]', 'contacts = ["tech-pager", "tech-pager"]')
    told = warnings(ward(twice), NOW)
    assert "[[duty]] number 1, key 'contacts': 'tech-pager' is there 2 times, and is paged once; name it once." in told


def test_a_site_that_pages_nobody_is_not_warned_of_anything() -> None:
    assert reach_warnings(REACH[: REACH.index("[[duty]]")]) == []


def test_what_the_example_says_of_whom_to_tell_is_right_once_it_is_no_comment_any_more() -> None:
    begins = EXAMPLE.index("# [[channel]]")
    told = EXAMPLE[begins : EXAMPLE.index("\n\n", begins)]
    uncommented = "\n".join(line.removeprefix("#").removeprefix(" ") for line in told.splitlines())
    setup = parse(f"{EXAMPLE}\n{uncommented}\n", FILE)
    assert [route.name for route in setup.file.route] == ["Urgent"]
    assert any("nobody is on duty as 'tech'" in sentence for sentence in warnings(setup, NOW))

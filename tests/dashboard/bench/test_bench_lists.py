"""The bench's lists: runs, figures, situations, the best settings and what would change, each as its address asks."""

import csv
import re
from html import unescape
from io import StringIO

import pytest
from httpx import Client

from tests.dashboard.bench.forms import asked, ended, token, words
from tests.dashboard.benches import BenchSite
from tests.gateway.answers import FIGURE, RULE

AS_A_BROWSER = {"Accept": "text/html"}


def firsts(client: Client, path: str, heading: str) -> list[str]:
    """What stands under a heading, row by row, wherever on the page that list is."""
    cells = re.findall(rf'<td data-heading="{re.escape(heading)}"[^>]*>(.*?)</td>', client.get(path).text, re.DOTALL)
    return [" ".join(unescape(re.sub(r"<[^>]*>", " ", cell)).split()) for cell in cells]


@pytest.fixture(scope="module")
def tried(site: BenchSite, client: Client, done: int) -> int:
    """The number of a run of situations, after that of a question."""
    assert done
    path = "/bench/situations"
    return ended(site, client.post(path, data={"token": token(client, path), "situation": "*"}))


@pytest.mark.parametrize(
    ("address", "newest_first"),
    [
        ("", [True, False]),
        ("?sort=run", [False, True]),
        ("?kind=situations", [True]),
        ("?text=TRIED", [True]),
        ("?stands=failed", []),
    ],
)
def test_runs_are_found_and_ordered(
    client: Client, done: int, tried: int, address: str, newest_first: list[bool]
) -> None:
    wanted = [f"Run {tried if newer else done}" for newer in newest_first]
    assert firsts(client, f"/bench{address}", "Run") == wanted
    assert ("No run fits:" in words(client.get(f"/bench{address}"))) is (not wanted)


@pytest.mark.parametrize(
    ("address", "found"),
    [
        ("", ["cord down", "quiet night"]),
        ("?sort=outcome", ["quiet night", "cord down"]),
        ("?outcome=no", ["cord down"]),
        ("?text=missed+at", ["cord down"]),
    ],
)
def test_what_was_not_as_meant_stands_first(client: Client, tried: int, address: str, found: list[str]) -> None:
    assert firsts(client, f"/bench/job/{tried}{address}", "Situation") == found


def test_situations_are_found_by_what_they_raise(client: Client) -> None:
    page = words(client.get(f"/bench/situations?raised={RULE}"))
    assert "1 of 2 situations." in page
    assert ("A cord lies on the floor." in page, "Nobody examines anybody." in page) == (True, False)
    assert "Try all 2, shown or not" in page
    turned = client.get("/bench/situations?sort=-name").text
    assert turned.index("quiet night") < turned.index("A cord lies on the floor.")
    assert "No situation fits:" in words(client.get("/bench/situations?text=nothing+such"))


def test_figures_are_found_by_rule_and_keep_which_is_to_be_changed(client: Client) -> None:
    path = f"/bench/figures?of={RULE}&sort=-name&figure={FIGURE}"
    page = client.get(path).text
    names = firsts(client, path, "Figure")
    assert set(firsts(client, path, "Rule")) == {RULE}
    assert names == sorted(names, reverse=True)
    assert f'href="/bench/figures?figure={FIGURE}&amp;of={RULE}#every"' in page  # the order taken off
    assert f'href="/bench/figures?figure={FIGURE}&amp;of={RULE}&amp;sort=-name#change"' in page
    assert set(firsts(client, "/bench/figures?of=trackers", "Rule")) == {"trackers"}


def test_figures_of_rules_come_first_rule_by_rule(client: Client) -> None:
    rules = [rule for page in (1, 2) for rule in firsts(client, f"/bench/figures?page={page}", "Rule")]
    named = [rule for rule in rules if rule != "trackers"]
    assert (named, rules[len(named) :]) == (sorted(named), ["trackers"] * (len(rules) - len(named)))


# Of the invented settings every second one of 0 to 29 s is best: 15; the fewest false alerts have the longest delay.
def test_the_best_settings_are_turned_page_by_page_and_put_in_another_order(client: Client, done: int) -> None:
    where = f"/bench/job/{done}"
    every = [setting for page in (1, 2) for setting in firsts(client, f"{where}?best.page={page}", "Setting")]
    assert every[0] == f"on-delay of {RULE} 0 s"  # all keep the goal, and with that most is detected
    assert len(set(every)) == len(every) == 15
    fewest = firsts(client, f"{where}?best.sort=false", "Setting")
    assert fewest[0] == f"on-delay of {RULE} 28 s"
    least = firsts(client, f"{where}?best.sort=detected", "Setting")
    assert least[0] == f"on-delay of {RULE} 28 s"
    assert len(firsts(client, f"{where}?best.goal=kept&best.text=2", "Setting")) == 7  # 2, 12, 20 to 28 s
    assert "No setting fits: the goal is not kept." in words(client.get(f"{where}?best.goal=missed"))


@pytest.mark.parametrize(
    ("address", "found"),
    [
        ("", ["cart-1", "cart-2", "<img"]),
        ("?change.sort=-alert", ["cart-2", "cart-1", "<img"]),
        ("?change.real=unknown", ["<img"]),
        ("?change.becomes=moves", ["cart-2"]),
        ("?change.text=CART-1", ["cart-1"]),
        ("?change.text=cart-7", []),
    ],
)
def test_alerts_that_would_change_are_found_and_ordered(
    client: Client, done: int, address: str, found: list[str]
) -> None:
    shown = firsts(client, f"/bench/job/{done}{address}", "Alert")
    assert [name.split()[0] for name in shown] == sorted(found, key=found.index)


def test_the_file_of_changes_has_what_the_list_has(client: Client, done: int) -> None:
    page = client.get(f"/bench/job/{done}?change.sort=-told&change.real=yes&best.sort=false").text
    (file,) = re.findall(r'href="([^"]+changes\.csv[^"]*)"', page)
    assert unescape(file) == f"/bench/job/{done}/changes.csv?change.real=yes&change.sort=-told"
    rows = list(csv.DictReader(StringIO(client.get(unescape(file)).text, newline="")))
    assert [row["subject"] for row in rows] == ["cart-2"]


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/bench?stands=well", 422, "A run never stands so; choose from the list."),
        ("/bench?sort=kind", 422, "This list cannot be sorted so; it can by run, about, stands, asked"),
        ("/bench?page=9", 404, "This list has one page; there is no page 9."),
        ("/bench/figures?figure=none", 404, "There is no such figure; choose one from the list at /bench/figures."),
        ("/bench/figures?of=none", 422, "There is no such rule; choose one from the list."),
        ("/bench/situations?raised=none", 422, "No situation here raises such an alert; choose one from the list."),
        ("/bench/job/{}?best.sort=which", 422, "This list cannot be sorted so; it can by worth, detected, false, told"),
        ("/bench/job/{}?sort=worth", 422, "This page cannot be asked for 'sort'; it takes best.text, best.goal, best."),
        ("/bench/job/{}?change.page=2", 404, "This list has one page; there is no page 2."),
        ("/bench/job/{}/changes.csv?best.sort=false", 422, "This list cannot be asked for 'best.sort'"),
    ],
)
def test_what_the_address_has_wrong_is_said_in_a_sentence(
    client: Client, done: int, path: str, status: int, said: str
) -> None:
    answer = client.get(path.format(done), headers=AS_A_BROWSER)
    assert (answer.status_code, said in words(answer)) == (status, True), words(answer)


def test_asked_twice_as_by_a_double_tap_it_is_one_run(site: BenchSite, client: Client) -> None:
    site.hold()
    sent = asked(client)
    try:
        assert asked(client).headers["location"] == sent.headers["location"]
    finally:
        site.let_go()
        ended(site, sent)
    ended(site, again := asked(client))
    assert again.headers["location"] != sent.headers["location"]


def test_a_run_that_goes_on_takes_the_same_address_as_once_it_is_over(site: BenchSite, client: Client) -> None:
    site.hold()
    sent = asked(client)
    try:
        assert client.get(f"{sent.headers['location']}?best.sort=false").status_code == 200
    finally:
        site.let_go()
        ended(site, sent)

"""Asking the bench over a real engine, journal and processes: forms, what is refused, and how far a run is."""

import re
import tomllib
from importlib.resources import files
from itertools import chain
from pathlib import Path

import pytest
from httpx import Client

from dashboard.bench.tracker_figures import BEARS_ON, ON_ALL
from gateway.tuned import THIS_RECORD, Asked
from rules.board import SubjectKind
from tests.dashboard.bench.forms import ASKED, LONG, OFF_DELAY, asked, ended, token, words
from tests.dashboard.benches import BenchSite, bench_site
from tests.dashboard.visitors import signed_in
from tests.gateway.answers import FIGURE, HOSTILE, RULE


def test_the_bench_leads_to_what_it_has_and_to_what_is_elsewhere(client: Client) -> None:
    page = client.get("/bench").text
    for path in (
        "/bench/tune",
        "/bench/situations",
        "/bench/hands",
        "/bench/figures",
        "/bench/traces",
        "/live",
        "/load",
    ):
        assert f'href="{path}"' in page
    assert "promises nothing" in page


def test_the_form_offers_the_figures_of_the_rules_chosen_with_range_and_source(client: Client) -> None:
    page = words(client.get(f"/bench/tune?rule={RULE}&rule=no-such"))
    assert "on-delay: now 0 s" in page
    assert "May be 0 to 30 s" in page
    assert "Source: ours; the tracker has already waited" in page
    assert "no-such" not in page
    assert f'name="from:{FIGURE}"' not in client.get("/bench/tune").text


def test_figures_of_the_trackers_that_the_rules_build_on_come_before_the_others(client: Client) -> None:
    near, others = "Figures of the trackers that these rules build on: ", "Other figures of the trackers"
    page = words(client.get(f"/bench/tune?rule={RULE}"))
    assert page.index(near) < page.index("rolling after: now") < page.index(others) < page.index("max gap: now")
    soaks = words(client.get("/bench/tune?rule=soak-cold"))
    assert soaks.index(near) < soaks.index("max gap: now") < soaks.index(others) < soaks.index("rolling after: now")


def test_every_figure_of_a_tracker_bears_on_something() -> None:
    shipped = tomllib.loads(files("rules").joinpath("standard.toml").read_text("utf-8"))["threshold"]
    assert set(shipped) == {*ON_ALL, *chain.from_iterable(BEARS_ON.values())}
    assert set(BEARS_ON) == set(SubjectKind)


def test_at_first_the_form_asks_of_days_whose_truth_is_known_so_that_something_can_be_suggested(client: Client) -> None:
    page = client.get(f"/bench/tune?rule={RULE}").text
    assert '<input type="checkbox" name="population" value="yes" checked>' in page
    assert "Alone they suggest nothing" in page


def test_a_question_reaches_the_process_as_it_was_asked(site: BenchSite, done: int) -> None:
    sent = Asked.model_validate_json((site.jobs.folder(done) / "asked.json").read_text())
    assert sent.rules == (RULE,)
    assert (sent.vary[0].figure, sent.vary[0].values) == (FIGURE, tuple(float(n) for n in range(30)))
    assert (sent.on, sent.last_days) == ((THIS_RECORD,), 30)
    assert (sent.goal.most_false_per_cart_week, sent.held_out, sent.seed) == (1, 0.5, 7)


def test_situations_and_generated_days_are_asked_by_name(site: BenchSite, client: Client) -> None:
    fields = {"record": "", "population": "yes", "days": "3", "carts": "5", "situation": "every situation"}
    number = ended(site, asked(client, **fields, held_out_percent="20", least_percent="90", most_false="0.5"))
    sent = Asked.model_validate_json((site.jobs.folder(number) / "asked.json").read_text())
    assert sent.on == ("quiet night", f"cord down {HOSTILE}", "population:3x5")
    assert (sent.held_out, sent.goal.least_detected, sent.goal.most_false_per_cart_week) == (0.2, 0.9, 0.5)
    assert sent.last_days is None
    assert "on 2 situations, 3 days of 5 generated carts" in words(client.get(f"/bench/job/{number}"))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"rule": "no-such"}, "Choose at least one rule."),
        ({f"from:{FIGURE}": "", f"to:{FIGURE}": "", f"step:{FIGURE}": ""}, "Give at least one figure values"),
        ({f"to:{FIGURE}": "31"}, "on-delay of cord-down-rolling: expected from and to within 0 to 30 s"),
        ({f"from:{FIGURE}": "20", f"to:{FIGURE}": "10"}, "the smaller one first"),
        ({f"step:{FIGURE}": "0"}, "on-delay of cord-down-rolling: expected a step of more than 0."),
        ({f"step:{FIGURE}": "0.001"}, "expected at most 1000 values; take larger steps."),
        ({f"step:{FIGURE}": "nan"}, "in which steps? Expected a number such as 12 or 0.5."),
        ({f"from:{FIGURE}": "x"}, "from which value on? Expected a number"),
        (
            {f"step:{FIGURE}": "0.03", f"from:{OFF_DELAY}": "0", f"to:{OFF_DELAY}": "120", f"step:{OFF_DELAY}": "0.2"},
            "That makes 581167 settings; at most 100000 are tried. Take larger steps.",
        ),
        ({"record": ""}, "Choose on what it is tried"),
        ({"last_days": "0"}, "The last days of this record: a whole number from 1"),
        ({"most_false": "inf"}, "False alerts of a cart in a week: a number from 0"),
        ({"held_out_percent": "95"}, "Share held out: from 0 to 90 %."),
    ],
)
def test_what_cannot_be_asked_is_said_in_a_sentence_and_what_was_typed_stays(
    client: Client, fields: dict[str, str], said: str
) -> None:
    refused = asked(client, **{"seed": "4242", **fields})
    assert refused.status_code == 422
    assert said in words(refused)
    if fields.get("rule") != "no-such":
        assert 'value="4242"' in refused.text


@pytest.mark.parametrize(
    ("fields", "amiss"),
    [
        ({f"from:{FIGURE}": "x"}, [f"from:{FIGURE}"]),
        ({f"to:{FIGURE}": "31", "days": "0"}, [f"to:{FIGURE}", "days"]),
        ({f"step:{FIGURE}": "-1", "seed": "x", "most_false": "-1"}, [f"step:{FIGURE}", "seed", "most_false"]),
        ({"record": ""}, ["tried_on"]),
    ],
)
def test_what_is_wrong_stands_beside_its_field_which_the_summary_leads_to(
    client: Client, fields: dict[str, str], amiss: list[str]
) -> None:
    refused = asked(client, **fields).text
    for name in amiss:
        assert f'href="#field:{name}"' in refused
        assert f'id="amiss:{name}"' in refused
        assert f'id="field:{name}"' in refused
    assert refused.count('id="amiss:') == len(amiss)
    assert re.findall(r'aria-describedby="amiss:([^"]+)"', refused) == [n for n in amiss if n != "tried_on"]


def test_rules_that_watch_sinkside_itself_are_not_offered_and_that_is_said(client: Client) -> None:
    page = client.get("/bench/tune")
    offered = re.findall(r'name="rule" value="([^"]+)"', page.text)
    assert RULE in offered
    assert not any(rule.startswith("gateway-") for rule in offered)
    assert "Rules that watch Sinkside itself cannot be tried" in words(page)
    assert "gateway-cut-off" in words(page)
    assert f"{RULE} cart rolls, cord off hook" in words(page)
    assert "{" not in page.text


def test_a_question_is_asked_again_as_it_was(site: BenchSite, client: Client) -> None:
    fields = {"each_rule": "yes", "least_percent": "62.5", "situation": "quiet night", "seed": "4242", "last_days": "9"}
    number = ended(site, asked(client, **fields))
    page = client.get(f"/bench/tune?run={number}").text
    for name, value in {**ASKED, **fields}.items():
        if name not in ("record", "each_rule", "situation"):
            assert re.search(rf'name="{re.escape(name)}"[^>]* value="{re.escape(value)}"', page), name
    assert 'name="record" value="yes" checked' in page
    assert 'name="situation" value="quiet night" checked' in page
    assert f'name="rule" value="{RULE}" checked' in page
    assert f'href="/bench/tune?run={number}"' in client.get(f"/bench/job/{number}").text
    assert client.get("/bench/tune?run=999999").status_code == 404


def test_a_figure_that_is_chosen_from_its_list_is_the_one_to_be_changed(client: Client) -> None:
    page = client.get("/bench/figures").text
    assert f'href="/bench/figures?figure={FIGURE}#change"' in page
    chosen = client.get(f"/bench/figures?figure={FIGURE}").text
    assert f'<option value="{FIGURE}" selected>' in chosen
    assert f'<input type="hidden" name="figure" value="{FIGURE}">' in chosen  # the list keeps it


def test_a_comma_serves_as_a_decimal_point_and_one_value_alone_is_tried(site: BenchSite, client: Client) -> None:
    number = ended(site, asked(client, **{f"from:{FIGURE}": "2,5", f"to:{FIGURE}": "", f"step:{FIGURE}": ""}))
    sent = Asked.model_validate_json((site.jobs.folder(number) / "asked.json").read_text())
    assert sent.vary[0].values == (2.5,)


@pytest.mark.parametrize("path", ["tune", "job/{}/apply", "job/{}/cancel", "hands", "situations", "figures/set"])
def test_a_form_that_is_not_ours_does_nothing(site: BenchSite, client: Client, done: int, path: str) -> None:
    path = f"/bench/{path.format(done)}"
    before = len(site.jobs.all())
    assert client.post(path, data={"rule": RULE, **ASKED, "do": "open-lid", "basin": "basin-1"}).status_code == 403
    assert client.post(path, data={"token": "guessed"}).status_code == 403
    assert (len(site.jobs.all()), site.hands.done, site.desk.entered) == (before, [], [])


def test_a_form_that_is_too_long_is_not_read(client: Client) -> None:
    assert client.post("/bench/tune", data={"token": "x" * 70_000}).status_code == 413


# ---- how far it is --------------------------------------------------------------------------------------------------


def test_a_run_tells_how_far_it_is_renews_itself_without_javascript_and_is_cancelled(tmp_path: Path) -> None:
    with bench_site(tmp_path) as site, signed_in(site.served.url, timeout=LONG) as client:
        site.hold()
        sent = asked(client)
        number = int(sent.headers["location"].rpartition("/")[2])
        with site.gate.open("w"):  # it has told how far it is, and waits
            while "30 %" not in (page := client.get(f"/bench/job/{number}")).text:
                pass
            assert "30 %. day 3 of 10 of this record. About" in words(page)
            assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in page.text
            part = client.get(f"/bench/job/{number}/state")
            assert (part.headers["x-sinkside-over"], "30 %" in part.text) == ("no", True)
            assert re.search(r"runs, \d+ s so far", words(part))
            assert str(tmp_path) not in page.text
            assert "runs" in words(client.get("/bench"))
            assert client.get(f"/bench/job/{number}/answer.json").status_code == 404
            client.post(f"/bench/job/{number}/cancel", data={"token": token(client, f"/bench/tune?rule={RULE}")})
            page = client.get(f"/bench/job/{number}")
        assert "cancelled" in words(page)
        assert "refresh" not in page.text


def test_a_run_that_failed_says_why(tmp_path: Path) -> None:
    with bench_site(tmp_path) as site, signed_in(site.served.url, timeout=LONG) as client:
        site.prepared.unlink()
        number = ended(site, asked(client))
        page = words(client.get(f"/bench/job/{number}"))
    assert "failed" in page
    assert "FileNotFoundError" in page


def test_a_run_that_is_not_there_gets_a_plain_page(client: Client) -> None:
    gone = client.get("/bench/job/999")
    assert gone.status_code == 404
    assert "There is no such run any more" in words(gone)


def test_a_count_is_worth_a_try_in_whole_steps(client: Client) -> None:
    page = words(client.get(f"/bench/tune?rule={RULE}"))
    found = re.search(r"flapping losses: now 3 losses .*?Worth a try: \d+ to \d+ in steps of (\S+)\. ", page)
    assert found
    assert found[1] == "1"

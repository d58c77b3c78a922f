"""What a shared record tells all the same: the same alerts, one by one, moved in time or not."""

import gzip
import shutil
from pathlib import Path

from gateway.anonymise import Shared, anonymise
from gateway.bring_in import BroughtIn, bring_in
from gateway.cli_truth import keep_truth, simulated_truth
from gateway.law import Law
from gateway.record_check import check_record
from gateway.recording import Recording, Writer, gateway_heard
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.shared_file import lines
from gateway.sitefile import load, parse
from rules.alert_events import AlertRaised
from rules.board import Subject, SubjectKind
from rules.readings import DAY, KINDS, Micros, Reading, Shape
from sim_devices.demo import SITE_FILE
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.table import TRUTH_FILE, Run, read_truth, write_truth
from tests.gateway import quirin
from tests.gateway.sharing.alerts_of import alerts_of


def test_the_same_alerts_are_raised_one_by_one(origin: Path, elsewhere: BroughtIn) -> None:
    was, now = alerts_of(origin), alerts_of(elsewhere.folder)
    assert (len(was), elsewhere.likeness.differ) == (elsewhere.likeness.same, 0)
    assert [(e.kind, e.at) for e in was] == [(e.kind, e.at) for e in now]
    for one, other in zip(was, now, strict=True):
        if isinstance(one, AlertRaised) and isinstance(other, AlertRaised):
            assert (one.alert, one.priority) == (other.alert, other.priority)
            assert anew(one.subject) == other.subject
            if one.rule != "kaltwacht-rosalia":
                assert (one.rule, anew(one.text)) == (other.rule, other.text)


ANEW = (
    ("wagen-kunigund", "4-cart"),
    ("wagen-tuotilo", "5-cart"),
    ("wagen-afra", "3-cart"),
    ("wanne-rosalia", "6-basin"),
    ("schallkopf-gallus", "probe-2"),
    ("schallkopf-beda", "probe-1"),
    ("luftfleck", "1-thing"),
    ("badfuehler-zwei", "sensor-1"),
    ("hook-konvexa", "hook-cord-1"),
    ("hook-lineara", "hook-cord-2"),
    ("konvexa", "cord-1"),
    ("lineara", "cord-2"),
    ("Wagen Kunigund", "Cart 4"),
    ("Wagen Tuotilo", "Cart 5"),
    ("Wagen Afra", "Cart 3"),
    ("Wanne Rosalia", "Basin 6"),
    ("Schallkopf Gallus", "Probe 2"),
    ("Schallkopf Beda", "Probe 1"),
    ("piepser", "channel-1"),
    ("Funk Walburga", "Contact 1"),
)


def anew(text: str) -> str:
    """By hand: all places numbered in the order of their ids, and each kind of what is none."""
    for name, pseudonym in ANEW:
        text = text.replace(name, pseudonym)
    return text


def test_what_happens_at_one_instant_comes_in_the_same_order(tmp_path: Path) -> None:
    department = load(SITE_FILE)
    at = Micros(quirin.START)
    spoken = [
        Reading(sensor, at, at, value=True)
        for sensor, known in department.file.sensors().items()
        if Shape.TRUTH in KINDS[known.kind].shapes and known.thing != "gateway"
    ]
    with Writer.new(tmp_path / "data", Law.of(department)) as writer:
        writer.take([*gateway_heard(at), *spoken])
        writer.advance(Micros(at + DAY // 24))
    silent = [event.at for event in alerts_of(tmp_path / "data") if event.kind == "alert raised"]
    assert len(silent) > 2 * len(set(silent))  # many at one instant
    done = bring_in(anonymise(tmp_path / "data", tmp_path / "a.gz").file, tmp_path / "elsewhere")
    assert (done.likeness.same, done.likeness.differ) == (len(alerts_of(tmp_path / "data")), 0)


def test_the_same_person_goes_by_the_same_name(shared: Shared) -> None:
    people = {line.command.who for line in lines(shared.file) if line.line == "command"}
    assert people == {"person-1", "person-2", "gateway"}


def test_what_is_made_of_it_is_a_sound_record_of_its_own(origin: Path, elsewhere: BroughtIn) -> None:
    path = elsewhere.folder / DATABASE
    assert verify(path).is_sound
    assert check_record(path, [elsewhere.head]).is_sound
    assert not check_record(origin / DATABASE, [elsewhere.head]).is_sound


def test_its_site_file_can_be_used(elsewhere: BroughtIn) -> None:
    text = (elsewhere.folder / "site.toml").read_text(encoding="utf-8")
    setup = parse(text, Path("site.toml"))
    with Recording.open(elsewhere.folder) as days:
        assert days.laws[-1].given.book.thresholds == setup.book.thresholds
        assert days.laws[-1].given.text == text


def test_a_site_file_judges_the_same_without_names(origin: Path, elsewhere: BroughtIn) -> None:
    with Recording.open(origin) as here, Recording.open(elsewhere.folder) as there:
        for was, now in zip(here.laws, there.laws, strict=True):
            assert was.law.book.thresholds == now.law.book.thresholds
            assert figures(was.law) == figures(now.law)
            assert len(was.law.site.sensors()) == len(now.law.site.sensors())


def figures(law: Law) -> list[object]:
    """All that a rule is judged by but for names, rule by rule."""
    rules = [compiled.rule for compiled in law.book.rules.values()]
    own = [
        (r.on_delay_seconds.value, r.off_delay_seconds.value, r.deadband.value, r.priority, r.watches) for r in rules
    ]
    return [*own, *([figure.value for figure in rule.limits.values()] for rule in rules)]


# ---- a simulated record ---------------------------------------------------------------------------------------------


def test_what_really_went_wrong_goes_along_with_other_names(origin: Path, tmp_path: Path) -> None:
    copy = tmp_path / "simulated"
    shutil.copytree(origin, copy)
    cart, room = Subject(SubjectKind.CART, "wagen-kunigund"), Subject(SubjectKind.ROOM, "luftfleck")
    sensor = Subject(SubjectKind.SENSOR, "wanne-rosalia/lid")
    start, end = Micros(quirin.START), Micros(quirin.START + DAY)
    episodes = [
        Episode(Trouble.CORD_DOWN_ROLLING, cart, start, end),
        Episode(Trouble.VAPOUR, room, start, None),
        Episode(Trouble.SENSOR_SILENT, sensor, end, None),
    ]
    write_truth(copy / TRUTH_FILE, Run(site="quirinhaus", seed=3, since=start, until=end, made_by="Tuotilo"), episodes)
    done = anonymise(copy, tmp_path / "a.gz", -52, simulated_truth(copy))
    text = gzip.decompress(done.file.read_bytes()).decode().casefold()
    assert [word for word in quirin.SECRET_WORDS if word.casefold() in text] == []
    bring_in(done.file, tmp_path / "data", keep_truth)
    run, found = read_truth(tmp_path / "data" / TRUTH_FILE)
    by = 52 * 7 * DAY
    assert (run.site, run.seed, run.since, run.until) == ("site-1", 3, start - by, end - by)
    assert [(e.trouble, *e.subject, e.start, e.end) for e in found] == [
        (Trouble.CORD_DOWN_ROLLING, "cart", "4-cart", start - by, end - by),
        (Trouble.VAPOUR, "room", "1-thing", start - by, None),
        (Trouble.SENSOR_SILENT, "sensor", "6-basin/lid", end - by, None),
    ]


def test_a_simulated_record_in_which_nothing_went_wrong_says_so_elsewhere(origin: Path, tmp_path: Path) -> None:
    copy = tmp_path / "simulated"
    shutil.copytree(origin, copy)
    write_truth(copy / TRUTH_FILE, Run(site="s", seed=3, since=Micros(1), until=Micros(2)), [])
    bring_in(anonymise(copy, tmp_path / "a.gz", 0, simulated_truth(copy)).file, tmp_path / "data", keep_truth)
    assert read_truth(tmp_path / "data" / TRUTH_FILE).episodes == ()


# ---- moved in time --------------------------------------------------------------------------------------------------


def test_all_of_it_moves_by_whole_weeks(origin: Path, shared: Shared, tmp_path: Path) -> None:
    moved = bring_in(anonymise(origin, tmp_path / "moved.gz", weeks=-52).file, tmp_path / "moved")
    assert moved.likeness.differ == 0
    by = 52 * 7 * DAY
    was, now = alerts_of(origin), alerts_of(moved.folder)
    assert [Micros(event.at - by) for event in was] == [event.at for event in now]
    assert moved.moved
    assert not next(line for line in lines(shared.file) if line.line == "begin").moved
    assert "52" not in gzip.decompress((tmp_path / "moved.gz").read_bytes()).splitlines()[0].decode()


def test_where_summer_time_makes_a_difference_that_is_said(origin: Path, tmp_path: Path) -> None:
    # Vienna: CET on 25 February 2026, CEST 20 weeks later (EU: last Sundays of March and October), CET after 52.
    for weeks, differs in ((20, True), (52, False)):
        done = anonymise(origin, tmp_path / f"{weeks}.gz", weeks=weeks)
        assert done.clocks_differ is differs
        assert any("For summer time" in line for line in done.lines()) is differs

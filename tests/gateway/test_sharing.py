"""A record is shared without names: nothing in the file tells them, and elsewhere it raises the same alerts."""

import gzip
import json
import shutil
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from typing import Any, get_args

import cel
import pytest
from pydantic import BaseModel

from gateway.anonymise import Shared, anonymise
from gateway.bring_in import BroughtIn, bring_in
from gateway.cli_truth import keep_truth, simulated_truth
from gateway.export import ExportError
from gateway.law import Law
from gateway.pseudonyms import Kind, Pseudonyms
from gateway.record_check import check_record
from gateway.recording import JournalError, Recording, Writer, gateway_heard
from gateway.renamed_commands import ALERTS, COMMANDS
from gateway.renamed_condition import renamed_condition
from gateway.renamed_site import SITE, kept_names
from gateway.renaming import Act, Removal, RenamingError
from gateway.replay import verify
from gateway.schema import DATABASE
from gateway.shared_file import MOST_LINE_BYTES, SharedFileError, lines
from gateway.sitefile import load, parse
from rules.alert_events import AlertEvent, AlertRaised
from rules.board import Subject, SubjectKind
from rules.commands import Command
from rules.readings import DAY, KINDS, Micros, Reading, Shape
from rules.site import Site
from sim_devices.demo import SITE_FILE
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.table import TRUTH_FILE, Run, read_truth, write_truth
from tests.gateway import quirin
from tests.gateway.called import told


@pytest.fixture(scope="module")
def origin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("origin") / "data"
    quirin.record(folder)
    return folder


@pytest.fixture(scope="module")
def shared(origin: Path) -> Shared:
    return anonymise(origin, origin.parent / "shared.gz")


@pytest.fixture(scope="module")
def elsewhere(shared: Shared) -> BroughtIn:
    return bring_in(shared.file, shared.file.with_name("elsewhere"))


def alerts(folder: Path) -> list[AlertEvent]:
    with Recording.open(folder) as days:
        return list(days.alerts())


def everything(folder: Path) -> str:
    """All bytes of a folder's files, as text, in small letters."""
    return "\n".join(
        path.read_bytes().decode("utf-8", "replace") for path in folder.iterdir() if path.is_file()
    ).casefold()


# ---- what the file does not tell ------------------------------------------------------------------------------------


def test_the_record_is_rich_in_names_and_in_commands(origin: Path) -> None:
    known = everything(origin)
    assert [word for word in quirin.SECRET_WORDS if word.casefold() not in known] == []
    with Recording.open(origin) as days:
        entered = {type(item) for item in chain(*days.inputs()) if not isinstance(item, Reading)}
    assert entered == set(commands())


def test_no_name_and_no_word_of_people_is_in_any_byte_of_the_file(shared: Shared) -> None:
    raw = shared.file.read_bytes()
    texts = (raw.decode("latin-1").casefold(), gzip.decompress(raw).decode().casefold())
    assert [word for word in quirin.SECRET_WORDS if any(word.casefold() in text for text in texts)] == []


def test_no_name_is_in_what_is_made_of_it(elsewhere: BroughtIn) -> None:
    known = everything(elsewhere.folder)
    assert "4-cart/hook-cord-1" in known  # what it is searched for is there to be found
    assert [word for word in quirin.SECRET_WORDS if word.casefold() in known] == []


def test_what_is_kept_is_said_plainly(shared: Shared) -> None:
    said = "\n".join(shared.lines())
    assert "Times of day, days of the week, the time zone (Europe/Vienna), temperatures and prices are kept." in said
    assert "Dates are kept, too" in said
    assert "Decide whether that may be shared" in said


def commands() -> tuple[type[BaseModel], ...]:
    union, *_ = get_args(Command)
    return get_args(union)


def models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """A model and all that its fields are made of."""

    def inside(annotation: Any) -> Iterator[type[BaseModel]]:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            yield from models(annotation)
        for part in get_args(annotation):
            yield from inside(part)

    yield model
    for field in model.model_fields.values():
        yield from inside(field.annotation)


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        (SITE, {model for model in models(Site) if model.__name__ != "Figure"}),
        (COMMANDS, set(commands())),
        (ALERTS, set(get_args(AlertEvent))),
    ],
)
def test_it_is_said_of_every_field_what_becomes_of_it(
    table: dict[type[BaseModel], dict[str, Act]], expected: set[type[BaseModel]]
) -> None:
    assert {model: set(acts) for model, acts in table.items()} == {model: set(model.model_fields) for model in expected}


def test_a_field_that_nobody_has_looked_at_does_not_go_out() -> None:
    class Newcomer(BaseModel):
        who: str = "Notkera"

    with pytest.raises(RenamingError, match="Names cannot be taken out of a 'Newcomer'"):
        Removal(Pseudonyms({})).renamed(Newcomer(), {Newcomer: {}})


# ---- what it tells all the same -------------------------------------------------------------------------------------


def test_the_same_alerts_are_raised_one_by_one(origin: Path, elsewhere: BroughtIn) -> None:
    was, now = alerts(origin), alerts(elsewhere.folder)
    assert (len(was), elsewhere.differ) == (elsewhere.same, 0)
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
    silent = [event.at for event in alerts(tmp_path / "data") if event.kind == "alert raised"]
    assert len(silent) > 2 * len(set(silent))  # many at one instant
    done = bring_in(anonymise(tmp_path / "data", tmp_path / "a.gz").file, tmp_path / "elsewhere")
    assert (done.same, done.differ) == (len(alerts(tmp_path / "data")), 0)


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


def test_conditions_go_on_naming_what_they_named(elsewhere: BroughtIn) -> None:
    with Recording.open(elsewhere.folder) as days:
        rules = days.laws[0].given.book.rules
    assert rules["rule-1"].rule.condition.startswith("name == 'Basin 6' && temperature_known")
    assert rules["cord-left-off"].rule.suppressed_when == "name == 'Cart 3'"


def test_what_people_enter_where_a_number_or_a_figure_belongs_is_a_name_too() -> None:
    names = Pseudonyms(kept_names([quirin.law().book]))
    assert names.figure("threshold.reclose_seconds") == "threshold.reclose_seconds"
    assert names.figure("rule.soak-cold.on_delay_seconds") == "rule.soak-cold.on_delay_seconds"
    for made in (
        names.figure("threshold.notker"),
        names.figure("rule.notker"),
        names.figure("rule.soak-cold.notker"),
        names.soak("wanne.notker"),
        names.numbered(Kind.ALERT, "alert-notker"),
        names.numbered(Kind.PAGE, "notker-1"),
    ):
        assert "notker" not in made
    assert names.numbered(Kind.ALERT, "alert-12") == "alert-12"


@pytest.mark.parametrize(
    ("condition", "without"),
    [
        ("soaking && 1.5e3 < 0x1F // Notker\n && over_soak", "soaking && 1.5e3 < 0x1F  \n && over_soak"),
        ("name == 'Notker'", "name == '?'"),
        (r"name == 'O\'Notker' || soaking", "name == '?' || soaking"),
        (r"name == r'\' || name == 'Notker'", "name == '?' || name == '?'"),
        ('name == """it\'s "Notker" there"""', "name == '?'"),
        ("b'Notker' == b'a'", "b'?' == b'?'"),
        ("name == 'a//b' || soaking", "name == '?' || soaking"),
        ("[1].exists(notker, notker > 0)", "[1].exists(limit_1, limit_1 > 0)"),
        ("outcome in ['', 'too short']", "outcome in ['', 'too short']"),
    ],
)
def test_a_condition_tells_no_names_however_they_are_written(condition: str, without: str) -> None:
    assert renamed_condition(condition, Pseudonyms({})) == without
    cel.compile(without)


def test_shipped_conditions_are_kept_to_the_letter() -> None:
    rules = [compiled.rule for compiled in quirin.law().book.rules.values() if compiled.rule.id != "kaltwacht-rosalia"]
    names = Pseudonyms(kept_names([quirin.law().book]))
    for rule in rules:
        assert renamed_condition(rule.condition, names) == rule.condition


def test_a_shared_site_file_reaches_nobody(shared: Shared, tmp_path: Path) -> None:
    whole = gzip.decompress(shared.file.read_bytes()).splitlines(keepends=True)
    (number,) = [n for n, line in enumerate(whole) if b'"law"' in line][1:]
    law = json.loads(whole[number])
    law["site"] += '\n[broker]\nurl = "mqtts://mallory.example"\n# mallory was here\n'
    law["site"] = law["site"].replace('host = "127.0.0.1"', 'host = "mallory.example"')
    whole[number] = json.dumps(law).encode() + b"\n"
    (tmp_path / "mallory.gz").write_bytes(gzip.compress(b"".join(whole)))
    bring_in(tmp_path / "mallory.gz", tmp_path / "data")
    text = (tmp_path / "data" / "site.toml").read_text(encoding="utf-8")
    assert "mallory" not in text
    assert parse(text, Path("site.toml")).file.channel


def test_a_record_is_taken_into_the_empty_folder_where_one_stands(
    shared: Shared, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "data").mkdir()
    monkeypatch.chdir(tmp_path / "data")
    assert bring_in(shared.file.absolute(), Path()).differ == 0
    assert (tmp_path / "data" / DATABASE).is_file()


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
    assert moved.differ == 0
    by = 52 * 7 * DAY
    was, now = alerts(origin), alerts(moved.folder)
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


# ---- what cannot be used --------------------------------------------------------------------------------------------


def test_a_file_is_not_written_over(origin: Path, shared: Shared) -> None:
    with pytest.raises(ExportError, match="is there already"):
        anonymise(origin, shared.file)


def test_a_folder_that_holds_something_is_not_touched(shared: Shared, tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("dear", encoding="utf-8")
    with pytest.raises(JournalError, match="is not empty"):
        bring_in(shared.file, tmp_path)


Edit = Callable[[list[bytes]], list[bytes]]

_ORDER_TO_A_TERMINAL = b'{"line": "end", "inputs": 1, "until": 1, "\\u001b[2J": 1}\n'
_MANY_SENSORS = json.dumps({"line": "sensors", "ids": ["a"] * 10_000}).encode() + b"\n"


def changed(number: int, **values: object) -> Edit:
    """One line with other values."""

    def edit(whole: list[bytes]) -> list[bytes]:
        line = {**json.loads(whole[number]), **values}
        return [*whole[:number], json.dumps(line).encode() + b"\n", *whole[number:][1:]]

    return edit


def more(line: str) -> Edit:
    """One more line before the end."""
    return lambda whole: [*whole[:-1], line.encode() + b"\n", whole[-1]]


def row(values: str) -> Edit:
    """One more reading before the end."""
    return more(f'{{"line": "readings", "rows": [[{values}]]}}')


@pytest.mark.parametrize(
    ("edit", "said"),
    [
        (changed(0, version=2), "expected 'sinkside recording', version 1"),
        (changed(0, form="other"), "expected 'sinkside recording', version 1"),
        (lambda whole: whole[1:], "line 1: expected 'begin' there"),
        (lambda whole: [whole[0], *whole], "line 2: expected 'begin' there and nowhere else"),
        (lambda whole: whole[:-1], "ends in the middle"),
        (lambda _: [], "ends in the middle"),
        (lambda whole: [*whole, whole[-1]], "nothing comes after the end"),
        (lambda whole: [whole[0], *whole[2:]], "inputs before the site file"),
        (lambda whole: [whole[0], b"{not json\n", *whole[1:]], "line 2: the line: Invalid JSON"),
        (lambda whole: [whole[0], b'{"line": "song"}\n', *whole[1:]], "line 2: the line: Input tag 'song'"),
        (lambda whole: [whole[0], b"[" * 100_000 + b"\n"], "Invalid JSON"),
        (lambda whole: [whole[0], b"\0" * (MOST_LINE_BYTES + 1)], "has a line of more than 8000000 bytes"),
        (lambda whole: [whole[0], b"\xff\xfe\n", *whole[1:]], "Invalid JSON"),
        (changed(1, site="[site]\nid = 7"), "cannot be read by this version"),
        (changed(1, site="= ="), "cannot be read by this version"),
        (changed(-1, inputs=3), "should have 3 inputs, but has"),
        (changed(-1, until=5), "stands before what came earlier"),
        (changed(-1, until=1 << 61), "is of more than 20 years, or of a time to come"),
        (changed(1, site="a = " + "[" * 100_000), "cannot be read by this version"),
        (changed(1, standard="a = " + "[" * 100_000), "cannot be read by this version"),
        (changed(1, labels="x,y\n1"), "cannot be read by this version"),
        (row("0, 3000000000000000000, 0, true, true"), "is of more than 20 years, or of a time to come"),
        (row("0, 0, -4611686018427387904, true, true"), "is no reading of"),
        (row(f'0, 0, 0, "{"loud" * 1000}", true'), "is no reading of"),
        (
            lambda whole: [whole[0], b'{"line": "end", "inputs": 1, "until": 1, "\\u001b[2J": 1}\n', *whole[1:]],
            "\\x1b[2J",
        ),
        (lambda whole: [*whole[:-1], *[_MANY_SENSORS] * 101, whole[-1]], "names more than 1000000 sensors"),
        (row("10000, 0, 0, 20.0, true"), "is of sensor 10000, which is not named before it"),
        (row("0, -5, 0, true, true"), "stands before what came earlier"),
        (row("0, 0, 2000000000000000000, true, true"), "is no reading of"),
        (row('0, 0, 0, "loud", true'), "is no reading of"),
        (row('0, 0, 0, {"a": 1}, true'), "rows.0.3"),
        (row("0, 0, 0, NaN, true"), "rows.0.3"),
        (more('{"line": "command", "command": {"kind": "dance"}}'), "command"),
    ],
)
def test_a_file_that_is_wrong_is_refused_in_a_sentence_and_leaves_nothing(
    shared: Shared, tmp_path: Path, edit: Edit, said: str
) -> None:
    whole = gzip.decompress(shared.file.read_bytes()).splitlines(keepends=True)
    file = tmp_path / "wrong.gz"
    file.write_bytes(gzip.compress(b"".join(edit(whole))))
    with pytest.raises(SharedFileError) as refusal:
        bring_in(file, tmp_path / "data")
    assert said in str(refusal.value)
    assert "\n" not in str(refusal.value)
    assert len(str(refusal.value)) < 400
    assert [path.name for path in tmp_path.iterdir()] == ["wrong.gz"]


@pytest.mark.parametrize("share", [0.0, 0.01, 0.5, 0.999])
def test_a_file_that_was_cut_off_is_refused(shared: Shared, tmp_path: Path, share: float) -> None:
    raw = shared.file.read_bytes()
    (tmp_path / "cut.gz").write_bytes(raw[: round(len(raw) * share)])
    with pytest.raises(SharedFileError, match=r"ends in the middle|is no gzip file"):
        bring_in(tmp_path / "cut.gz", tmp_path / "data")
    assert not (tmp_path / "data").exists()


def test_a_file_of_something_else_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(SharedFileError, match="is no gzip file"):
        bring_in(tmp_path / "a.txt", tmp_path / "data")


def test_a_file_that_was_changed_on_its_way_is_refused(shared: Shared, tmp_path: Path) -> None:
    raw = bytearray(shared.file.read_bytes())
    raw[len(raw) // 2] ^= 0xFF
    (tmp_path / "changed.gz").write_bytes(raw)
    with pytest.raises(SharedFileError):
        bring_in(tmp_path / "changed.gz", tmp_path / "data")


def test_what_comes_out_otherwise_is_told(shared: Shared, tmp_path: Path) -> None:
    whole = gzip.decompress(shared.file.read_bytes()).splitlines(keepends=True)
    law = json.loads(whole[1])
    law["site"] = law["site"].replace("min_celsius = 20.0", "min_celsius = 15.0")
    whole[1] = json.dumps(law).encode() + b"\n"
    (tmp_path / "other.gz").write_bytes(gzip.compress(b"".join(whole)))
    done = bring_in(tmp_path / "other.gz", tmp_path / "data")
    assert done.differ > 0
    assert f"{done.differ} otherwise; the first is" in "\n".join(done.lines())


# ---- the command line -----------------------------------------------------------------------------------------------


def test_the_command_line_writes_it_and_takes_it_in(origin: Path, tmp_path: Path) -> None:
    written = told("export", origin, "--anonymise", "--weeks", "4", "--out", tmp_path / "a.gz")
    assert written.returncode == 0, written.stderr
    assert "All is moved by +4 weeks" in written.stdout
    taken = told("import", tmp_path / "a.gz", "--data", tmp_path / "data")
    assert taken.returncode == 0, taken.stderr
    assert "came out as at its origin." in taken.stdout


def test_names_that_come_with_the_program_are_kept() -> None:
    kept = kept_names([quirin.law().book])
    assert "soak-cold" in kept[Kind.RULE]
    assert "engineer" in kept[Kind.ROLE]

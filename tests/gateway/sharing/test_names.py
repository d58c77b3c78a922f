"""A record is shared without names: nothing in the file tells them, nor what is made of it elsewhere."""

import gzip
import json
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any, get_args

import cel
import pytest
from pydantic import BaseModel

from gateway.anonymise import Shared
from gateway.bring_in import BroughtIn, bring_in
from gateway.pseudonyms import Kind, Pseudonyms
from gateway.recording import Recording
from gateway.renamed_commands import ALERTS, COMMANDS
from gateway.renamed_condition import renamed_condition
from gateway.renamed_site import SITE, kept_names
from gateway.renaming import Act, Removal, RenamingError
from gateway.schema import DATABASE
from gateway.sitefile import parse
from rules.alert_events import AlertEvent
from rules.commands import Command
from rules.readings import Reading
from rules.site import Site
from tests.gateway import quirin


def everything(folder: Path) -> str:
    """All bytes of a folder's files, as text, in small letters."""
    return "\n".join(
        path.read_bytes().decode("utf-8", "replace") for path in folder.iterdir() if path.is_file()
    ).casefold()


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
    assert bring_in(shared.file.absolute(), Path()).likeness.differ == 0
    assert (tmp_path / "data" / DATABASE).is_file()

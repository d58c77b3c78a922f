"""The file in which a record is shared: what cannot be used is refused in a sentence; the command line."""

import gzip
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from gateway.anonymise import Shared, anonymise
from gateway.bring_in import bring_in
from gateway.export import ExportError
from gateway.pseudonyms import Kind
from gateway.recording import JournalError
from gateway.renamed_site import kept_names
from gateway.shared_file import MOST_LINE_BYTES, SharedFileError
from tests.gateway import quirin
from tests.gateway.called import told


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
    assert done.likeness.differ > 0
    _, differs, why = done.lines()
    assert (
        "came out here only; the first difference: at 2026-02-25 07:23:25, rule-1 of basin 6-basin was raised"
        in differs
    )
    assert "have it exported and sent once more" in why


def test_a_file_of_another_version_names_it_where_it_comes_out_otherwise(shared: Shared, tmp_path: Path) -> None:
    whole = gzip.decompress(shared.file.read_bytes()).splitlines(keepends=True)
    whole[0] = json.dumps(json.loads(whole[0]) | {"program": "0.0.7"}).encode() + b"\n"
    without = [line for line in whole if json.loads(line)["line"] != "alerts"]
    (tmp_path / "other.gz").write_bytes(gzip.compress(b"".join(without)))
    _, differs, why = bring_in(tmp_path / "other.gz", tmp_path / "data").lines()
    assert differs.startswith("Of 0 events of alerts at its origin 0 came out here, 0 did not, and ")
    assert differs.endswith("here, and not at its origin.")
    assert "written by version 0.0.7, and judged here by version" in why


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

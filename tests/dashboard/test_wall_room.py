"""What a site's own rules say is never cut on the wall without a word before."""

from pathlib import Path

import pytest

from dashboard.wall_room import room_warnings
from gateway.sitefile import parse
from tests.gateway.called import told
from tests.gateway.sites import site_text

SHORT = "{name}: look at it"
RULE = '[[rule]]\nid = "mine"\nwatches = "basin"\ncondition = "true"\npriority = "medium"\nsource = "ours"\n'


def file_of(text: str, advice: str = "Go there.") -> str:
    return site_text(more=f'{RULE}text = "{text}"\nadvice = "{advice}"\n')


def test_what_has_room_is_not_warned_of() -> None:
    assert list(room_warnings(parse(file_of(SHORT, "Go there. " * 30), Path("site.toml")).file)) == []


@pytest.mark.parametrize("key", ["text", "advice"])
def test_what_has_no_room_is_told_with_how_much_has(key: str, tmp_path: Path) -> None:
    long = " ".join(["word"] * 30)
    path = tmp_path / "site.toml"
    path.write_text(file_of(long) if key == "text" else file_of(SHORT, f"{long}. Then go."), encoding="utf-8")
    answer = told("check", path)
    (sentence,) = (line for line in answer.stdout.splitlines() if "a busy wall has room" in line)
    assert sentence.startswith(f"Warning: rule 'mine', key '{key}': a busy wall has room for some ")
    letters = int(sentence.partition("for some ")[2].partition(" ")[0])
    assert 20 < letters < len(long)
    fitting = long[:letters].rstrip()
    file = file_of(fitting) if key == "text" else file_of(SHORT, fitting)
    assert list(room_warnings(parse(file, Path("site.toml")).file)) == []

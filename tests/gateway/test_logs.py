"""The program's own log."""

import logging
import stat
from pathlib import Path

from gateway.logs import PrivateFile


def test_every_file_of_the_log_is_for_its_owner_only(tmp_path: Path) -> None:
    handler = PrivateFile(tmp_path / "a.log", maxBytes=100, backupCount=2)
    for number in range(9):
        handler.emit(logging.LogRecord("x", logging.INFO, "x", 1, f"{number}" * 60, None, None))
    handler.close()
    files = sorted(tmp_path.iterdir())
    assert [file.name for file in files] == ["a.log", "a.log.1", "a.log.2"]
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
    assert files[0].read_text() == "8" * 60 + "\n"

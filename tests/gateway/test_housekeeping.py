"""Chores by the clock."""

from pathlib import Path

import pytest

from gateway import housekeeping as chores
from gateway.schema import DATABASE


def test_a_disk_with_room_needs_no_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chores, "LEAST_FREE", 0.0)
    assert chores.disk_warning(tmp_path) is None


def test_a_nearly_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chores, "LEAST_FREE", 1.1)
    assert "nearly full" in (chores.disk_warning(tmp_path) or "")


def test_a_log_that_does_not_shrink_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(chores, "LEAST_FREE", 0.0)
    with (tmp_path / f"{DATABASE}-wal").open("wb") as log:
        log.truncate(chores.MOST_LOG_BYTES + 1)
    assert "has grown to 100 MB" in (chores.disk_warning(tmp_path) or "")


def test_a_late_chore_is_done_once_and_not_dropped(tmp_path: Path) -> None:
    scheduler = chores.housekeeping(tmp_path, lambda: None)
    scheduler.start(paused=True)
    jobs = scheduler.get_jobs()
    scheduler.shutdown()
    assert [(job.misfire_grace_time, job.coalesce, job.max_instances) for job in jobs] == [(None, True, 1)] * 2

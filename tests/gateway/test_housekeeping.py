"""Chores by the clock."""

import threading
from datetime import time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_EXECUTED, EVENT_JOB_MISSED
from apscheduler.schedulers.background import BackgroundScheduler

from gateway import housekeeping as chores
from gateway.schema import DATABASE

OVER = EVENT_JOB_EXECUTED | EVENT_JOB_ERROR | EVENT_JOB_MISSED


def test_a_disk_with_room_needs_no_word(tmp_path: Path) -> None:
    assert chores.disk_warning(tmp_path, least_free=0.0) is None


def test_a_nearly_full_disk_is_told(tmp_path: Path) -> None:
    assert "nearly full" in (chores.disk_warning(tmp_path, least_free=1.1) or "")


def test_a_log_that_does_not_shrink_is_told(tmp_path: Path) -> None:
    with (tmp_path / f"{DATABASE}-wal").open("wb") as log:
        log.truncate(chores.MOST_LOG_BYTES + 1)
    assert "has grown to 100 MB" in (chores.disk_warning(tmp_path, least_free=0.0) or "")


def test_a_late_chore_is_done_once_and_not_dropped(tmp_path: Path) -> None:
    scheduler = chores.housekeeping(tmp_path, lambda: None, lambda _warning: None)
    scheduler.start(paused=True)
    jobs = scheduler.get_jobs()
    scheduler.shutdown()
    assert [(job.misfire_grace_time, job.coalesce, job.max_instances) for job in jobs] == [(None, True, 1)] * 2


def test_what_the_disk_lacks_is_handed_on_until_it_has_it_again(tmp_path: Path) -> None:
    said: list[str | None] = []
    scheduler = chores.housekeeping(tmp_path, lambda: None, said.append, least_free=0.0)
    log = tmp_path / f"{DATABASE}-wal"
    with log.open("wb") as file:
        file.truncate(chores.MOST_LOG_BYTES + 1)
    run_now(scheduler, "look at the disk")
    log.unlink()
    run_now(scheduler, "look at the disk")
    scheduler.shutdown()
    assert "has grown to 100 MB" in (said[0] or "")
    assert said[1:] == [None]


def test_a_chore_that_fails_is_told_in_a_sentence(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    def fail() -> None:
        raise OSError("no such luck")

    scheduler = chores.housekeeping(tmp_path, fail, lambda _warning: None)
    run_now(scheduler, "shorten the log")
    scheduler.shutdown()
    assert "The chore 'shorten the log' failed (no such luck); it is tried again" in caplog.text


def test_a_chore_that_is_passed_over_is_told(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    scheduler = chores.housekeeping(tmp_path, lambda: None, lambda _warning: None)
    scheduler.modify_job("shorten the log", misfire_grace_time=1)
    run_now(scheduler, "shorten the log")
    scheduler.shutdown()
    assert "The chore 'shorten the log' was passed over" in caplog.text


def test_the_test_page_comes_at_a_time_of_the_sites_clock_or_not_at_all(tmp_path: Path) -> None:
    asked = threading.Event()
    scheduler = chores.housekeeping(tmp_path, lambda: None, lambda _warning: None)
    chores.add_test_page(scheduler, time(7, 30), ZoneInfo("Asia/Kolkata"), asked.set)
    scheduler.start(paused=True)
    job = scheduler.get_job("send the daily test page")
    assert job.next_run_time.astimezone(ZoneInfo("Asia/Kolkata")).time() == time(7, 30)
    soon = scheduler.get_job("shorten the log").next_run_time  # in a quarter of an hour
    for minutes_late, comes in ((65, False), (55, True)):
        scheduler.modify_job(job.id, next_run_time=soon)
        run_now(scheduler, job.id, minutes=15 + minutes_late)
        assert asked.is_set() is comes
    scheduler.shutdown()


def test_the_sign_of_life_comes_every_so_often(tmp_path: Path) -> None:
    beaten = threading.Event()
    scheduler = chores.housekeeping(tmp_path, lambda: None, lambda _warning: None)
    chores.add_heartbeat(scheduler, 45, beaten.set)
    scheduler.start(paused=True)
    assert scheduler.get_job("tell the watch elsewhere").trigger.interval == timedelta(seconds=45)
    run_now(scheduler, "tell the watch elsewhere")
    scheduler.shutdown()
    assert beaten.is_set()


def run_now(scheduler: BackgroundScheduler, chore: str, minutes: float = 67.5) -> None:
    """Runs a chore that has been due for an hour, and waits until it is over."""
    over = threading.Event()
    scheduler.add_listener(lambda event: over.set() if event.job_id == chore else None, OVER)
    if not scheduler.running:
        scheduler.start(paused=True)
    scheduler.modify_job(chore, next_run_time=scheduler.get_job(chore).next_run_time - timedelta(minutes=minutes))
    scheduler.resume()
    assert over.wait(20)
    scheduler.pause()

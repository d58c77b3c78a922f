"""Chores by the clock: nothing here may matter to safety, for a scheduler may be late."""

import logging
import shutil
from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

from apscheduler.events import (
    EVENT_JOB_ERROR,
    EVENT_JOB_MAX_INSTANCES,
    EVENT_JOB_MISSED,
    JobEvent,
    JobExecutionEvent,
)
from apscheduler.schedulers.background import BackgroundScheduler

from gateway.daily import Daily
from gateway.schema import DATABASE

log = logging.getLogger(__name__)

SHORTEN_MINUTES = 15
DISK_MINUTES = 1
SECRETS_MINUTES = 1
LEAST_FREE = 0.1
"""Below this part of the disk free, somebody is told. Ours."""

TEST_PAGE_LATE_SECONDS = 3600
"""After a machine that slept, a test page may come so late, and not in the night. Ours."""

MOST_LOG_BYTES = 100_000_000
"""A write-ahead log above this is held up by some reader. Ours."""


def disk_warning(folder: Path, least_free: float = LEAST_FREE) -> str | None:
    """One plain sentence where less than ``least_free`` of the disk is free or the log does not shrink, else None."""
    usage = shutil.disk_usage(folder)
    if usage.free < least_free * usage.total:
        free = f"{usage.free / 1e9:.1f} of {usage.total / 1e9:.1f} GB"
        return f"The disk of data folder {folder} is nearly full, {free} are free; make room or move the folder."
    wal = folder / f"{DATABASE}-wal"
    if wal.exists() and (size := wal.stat().st_size) > MOST_LOG_BYTES:
        return f"{wal} has grown to {size / 1e6:.0f} MB; end whatever has been reading the journal for so long."
    return None


def housekeeping(
    folder: Path,
    shorten_log: Callable[[], None],
    warn_of_disk: Callable[[str | None], None],
    least_free: float = LEAST_FREE,
) -> BackgroundScheduler:
    """The chores of a data folder, not yet started: shorten the write-ahead log, look at the disk."""
    scheduler = BackgroundScheduler(
        timezone="UTC", job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
    )
    scheduler.add_job(shorten_log, "interval", minutes=SHORTEN_MINUTES, id="shorten the log")
    scheduler.add_job(
        _look_at_disk, "interval", minutes=DISK_MINUTES, args=[folder, warn_of_disk, least_free], id="look at the disk"
    )
    scheduler.add_listener(_tell, EVENT_JOB_MISSED | EVENT_JOB_ERROR | EVENT_JOB_MAX_INSTANCES)
    return scheduler


def add_test_page(chores: BackgroundScheduler, at: time, zone: ZoneInfo, try_pages: Callable[[], None]) -> None:
    """Have whoever is on duty paged each day at a time of the site's clock; not at all rather than much too late."""
    late = TEST_PAGE_LATE_SECONDS
    chores.add_job(try_pages, Daily(at, zone), id="send the daily test page", misfire_grace_time=late)


def add_heartbeat(chores: BackgroundScheduler, every_seconds: float, beat: Callable[[], None]) -> None:
    """Have a watch elsewhere told every so often that the gateway lives."""
    chores.add_job(beat, "interval", seconds=every_seconds, id="tell the watch elsewhere")


def add_channel_watch(chores: BackgroundScheduler, look: Callable[[], None]) -> None:
    """Have the secrets of the ways out of the house looked for, now and every so often."""
    look()
    chores.add_job(look, "interval", minutes=SECRETS_MINUTES, id="look for the channels' secrets")


def _look_at_disk(folder: Path, warn: Callable[[str | None], None], least_free: float) -> None:
    warning = disk_warning(folder, least_free)
    if warning is not None:
        log.warning("%s", warning)
    warn(warning)


def _tell(event: JobEvent) -> None:
    """What became of a chore that was not done as planned."""
    if event.code == EVENT_JOB_ERROR and isinstance(event, JobExecutionEvent):
        log.error(
            "The chore '%s' failed (%s); it is tried again when it next comes round.", event.job_id, event.exception
        )
    else:
        log.warning("The chore '%s' was passed over this time; it is done when it next comes round.", event.job_id)

"""What all tests share."""

import os

import pytest
from hypothesis import settings

# How long an example takes tells of the machine, not of the code.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with slow tests come first, so that at the end no core waits long for another."""
    slow = {item.path for item in items if item.get_closest_marker("slow") is not None}
    items.sort(key=lambda item: item.path not in slow)


def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """In CI nothing may be skipped: what a test needs is installed there."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if os.environ.get("SINKSIDE_NONE_SKIPPED") and skipped and exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"{len(skipped)} tests were skipped, none may be here", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED

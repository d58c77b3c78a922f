"""The commands that the bench starts as processes of their own: tuning takes long, and may fail or be stopped alone."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from dashboard.bench.workbench import ASKED, RUNS


def tuning(record: Path, folder: Path) -> list[str]:
    """The command that answers the question in a folder of the bench; a core is left to what watches the department.

    record: the data folder, which the question and its answer do not name.
    """
    cores = max(1, (os.cpu_count() or 1) - 1)
    asked = ["--question", str(folder / ASKED), "--this-record", str(record), "--out", str(folder), "--no-pictures"]
    return [sys.executable, "-m", "gateway.cli", "tune", *asked, "--workers", str(cores), "--progress", "json"]


def trying(folder: Path, names: Sequence[str]) -> list[str]:
    """The command that tries situations by name and writes what came of them into a folder of the bench."""
    return [sys.executable, "-m", "gateway.cli", "scenario", "--out", str(folder / RUNS), *names]

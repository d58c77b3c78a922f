"""The command line as a process of its own."""

import subprocess
import sys
from pathlib import Path

SINKSIDE = (sys.executable, "-m", "gateway.cli")


def told(*words: str | Path) -> "subprocess.CompletedProcess[str]":
    """What a command answered once it ended."""
    return subprocess.run(  # noqa: S603 - our own program
        [*SINKSIDE, *map(str, words)], capture_output=True, text=True, timeout=60, check=False
    )

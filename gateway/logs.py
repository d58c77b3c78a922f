"""The program's own log: plain sentences to the terminal, everything to a bounded file in the data folder."""

import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path

from gateway.schema import make_folder

FILE = "sinkside.log"
FILE_BYTES = 1_000_000
FILES_KEPT = 3


class Plain(logging.Formatter):
    """One line a message; a traceback is for the file, not for whoever watches the terminal."""

    def format(self, record: logging.LogRecord) -> str:
        """Time, and for what is more than information the level, then the message."""
        grave = "" if record.levelno <= logging.INFO else f"{record.levelname}: "
        return f"{self.formatTime(record, '%H:%M:%S')} {grave}{record.getMessage()}"


class PrivateFile(RotatingFileHandler):
    """A bounded log for its owner only, each new file of it too."""

    def _open(self) -> TextIOWrapper:
        descriptor = os.open(self.baseFilename, os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o600)
        return open(descriptor, "a", encoding=self.encoding)  # noqa: PTH123 - a descriptor; the handler closes it


@contextmanager
def logged_to(folder: Path) -> Iterator[None]:
    """Warnings and worse to standard error, information and tracebacks too to ``folder/sinkside.log``.

    Raises:
        gateway.schema.JournalError: the folder cannot be made.
    """
    make_folder(folder)
    terminal = logging.StreamHandler()
    terminal.setLevel(logging.WARNING)
    terminal.setFormatter(Plain())
    file = PrivateFile(folder / FILE, maxBytes=FILE_BYTES, backupCount=FILES_KEPT, encoding="utf-8")
    file.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[terminal, file], force=True)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    yield
    file.close()

"""The library that reads and writes the journal, loaded without what it takes along where that is installed.

sqlite-utils loads numpy and pandas if it finds them, only to know the column types of their numbers, which nothing
here stores. That takes most of a second, and what watches a department needs neither.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["Database", "Migrations", "sqlite3"]


@contextmanager
def _without(*names: str) -> Iterator[None]:
    """Modules that are not loaded yet cannot be found meanwhile: None in sys.modules says so to an import."""
    hidden = [name for name in names if name not in sys.modules]
    sys.modules.update(dict.fromkeys(hidden))  # type: ignore[arg-type]  # its types know of modules alone
    try:
        yield
    finally:
        for name in hidden:
            del sys.modules[name]


with _without("numpy", "pandas"):
    from sqlite_utils import Database, Migrations
    from sqlite_utils.utils import sqlite3  # type: ignore[attr-defined]  # re-exported, which its types do not say

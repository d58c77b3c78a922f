"""What watches a department, and commands people wait for, load none of the libraries of tuning and drawing."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.gateway.sites import site_text

HEAVY = ("numpy", "scipy", "pandas", "matplotlib", "dask", "distributed", "simpy", "pint", "sim_devices.running.fleet")

LOADED = f"""
import sys
from gateway.cli import main
try:
    main(sys.argv[1:], standalone_mode=False)
finally:
    print("loaded:", *(name for name in {HEAVY} if sys.modules.get(name) is not None))
"""

SERVED = f"""
import sys
from pathlib import Path
from gateway.cli import main
from gateway.service import Service
from gateway.sitefile import load
with Service(load(Path(sys.argv[1])), Path(sys.argv[2])):
    print("loaded:", *(name for name in {HEAVY} if sys.modules.get(name) is not None))
"""


def _loaded(program: str, *words: str | Path) -> list[str]:
    done = subprocess.run(  # noqa: S603 - our own text
        [sys.executable, "-c", program, *map(str, words)], capture_output=True, text=True, timeout=60, check=True
    )
    return done.stdout.rpartition("loaded:")[2].split()


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("plain") / "site.toml"
    path.write_text(site_text(), encoding="utf-8")
    return path


def test_help_is_told_without_them() -> None:
    assert _loaded(LOADED, "--help") == []


def test_a_plain_site_is_checked_without_them(plain: Path) -> None:
    assert _loaded(LOADED, "check", plain) == []


def test_a_gateway_serves_without_them(plain: Path, tmp_path: Path) -> None:
    assert _loaded(SERVED, plain, tmp_path / "data") == []

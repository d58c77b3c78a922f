"""The demo's site file, kept in its folder for whoever works the department by hand."""

from pathlib import Path

from gateway.endpoint import Endpoint

KEPT = "site.toml"
"""Its name in the demo's folder."""

_ANY_PORT = "port = 0 "


def keep_site_file(text: str, endpoint: Endpoint, folder: Path) -> None:
    """Write it down with the port of the broker of this run, in place of the one of the run before.

    text: of the demo's site file, whose broker takes any free port.
    """
    kept, fresh = folder / KEPT, folder / f"{KEPT}.new"
    fresh.write_text(text.replace(_ANY_PORT, f"port = {endpoint.port} ", 1), encoding="utf-8")
    fresh.replace(kept)


def by_hand(folder: Path) -> str:
    """What the start says of it, a line."""
    return f"  by hand sinkside hand {folder / KEPT} --list   tells what can be done there, as /bench/hands does"

"""The pictures of README and guides, of the demo as it is: ``python -m tests.guide_pictures [FOLDER]``.

Starts `sinkside demo` on free ports, signs its people in as they would, waits until what a picture is to show stands on
the screen, and writes the files, of 64 colours, into FOLDER or where the guides look for them. Takes about a minute and
a half: a soak has to end first.
"""

import re
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from paho.mqtt import publish
from PIL import Image
from playwright.sync_api import sync_playwright

from gateway.endpoint import Endpoint
from tests.browser.conftest import ARGUMENTS, CHROMIUM

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PICTURES = Path(__file__).parent.parent / "dashboard" / "guide" / "pictures"
NAMES = ("wall", "alert", "basin", "probes", "soak", "live", "rejected")
"""What is written, each with ``.png``."""

MOST_BYTES = 200_000
MOST_BYTES_OF_ALL = 1_500_000

_COLOURS = 64
_WALL = (1920, 1080)
_PHONE = (390, 844)
_DESK = (1280, 960)
_WITHIN_MS = 150_000
"""Everything that is waited for happens in the demo's first three minutes."""

_TECH, _NURSE, _ENGINEER = "tessa", "nell", "emil"

_A_BUSY_WALL = """() => {
  const counting = [...document.querySelectorAll(".figure[data-until-ms]")].filter((one) => one.checkVisibility());
  const words = document.body.innerText.toLowerCase();
  return counting.length >= 2 && ["stop cart", "too cold"].every((one) => words.includes(one))
    && !words.includes("not known");
}"""
"""A cart that rolls with a cord down, a solution that is too cold, and soaks that go on."""

_FOREIGN_TOPIC = "plant/fluids/bath-7/state"
_MISSPELT = b'{"probe": {"value": 71.6}}'
"""What a device of another maker would say if its number stood elsewhere than the demo's site file says."""

_ALL_DRAWN = "() => [...document.images].every((one) => one.complete && one.naturalWidth > 0)"

_UNTIL_A_SOAK_ENDED = """async (tries) => {
  for (let left = tries; left > 0; left -= 1) {
    const list = await fetch("/logbook/soaks?text=basin-1");
    if ((await list.text()).includes('href="/logbook/soak/basin-1.')) return;
    await new Promise((resolve) => setTimeout(resolve, 1000));
  }
  throw new Error("no soak of basin-1 has ended");
}"""
"""The list is no live page, and so asked for again once a second."""


@dataclass(frozen=True)
class Demo:
    """A running demo: its screens, the address that lets a display in, its broker; passwords by sign-in name."""

    screens: str
    display: str
    broker: Endpoint
    passwords: dict[str, str]


@contextmanager
def running_demo() -> Iterator[Demo]:
    """The demo with data of its own; ended as by Ctrl-C.

    Raises:
        SystemExit: it ended before it named its people.
    """
    with tempfile.TemporaryDirectory() as folder:
        words = [sys.executable, "-m", "gateway.cli", "demo", "--data", folder, "--port", "0"]
        process = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)  # noqa: S603 - our own program
        try:
            yield _told(process)
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(timeout=60)


def _told(process: "subprocess.Popen[str]") -> Demo:
    """What the demo prints of itself; what comes after that is read and dropped, so that it never waits."""
    lines: list[str] = []
    for line in process.stdout or ():
        lines.append(line)
        if line.startswith("  data "):
            threading.Thread(target=lambda: [*(process.stdout or ())], daemon=True).start()
            break
    said = "".join(lines)
    display = re.search(r"\S+/display#\S+", said)
    passwords = dict(re.findall(r"^ +([a-z]+) +([a-z]{4}(?:-[a-z]{4}){3}) ", said, re.MULTILINE))
    broker = re.search(r"mqtt://\S+", said)
    if display is None or broker is None or not {_TECH, _NURSE, _ENGINEER} <= passwords.keys():
        raise SystemExit(f"The demo did not say who may look at it:\n{said}")
    return Demo(display[0].partition("/display")[0], display[0], Endpoint.of(broker[0]), passwords)


@dataclass(frozen=True)
class Photographer:
    """Takes the pictures of a demo."""

    demo: Demo
    browser: "Browser"
    folder: Path

    def all(self) -> None:
        """Each picture, in the order in which what it shows comes about."""
        wall = self._page(_WALL)
        wall.goto(self.demo.display)
        wall.wait_for_url("**/wall")
        wall.wait_for_function(_A_BUSY_WALL)
        self._keep(wall, "wall")
        self._phones()
        self._live()
        self._soak()

    def _phones(self) -> None:
        nurse = self._signed_in(_NURSE, _PHONE)
        nurse.goto(f"{self.demo.screens}/alerts")
        nurse.locator("a.alert-row.high:not(.taken)").filter(has_not_text="ended").first.click()
        nurse.locator("#go button").first.wait_for()
        self._keep(nurse, "alert")
        tech = self._signed_in(_TECH, _PHONE)
        tech.goto(f"{self.demo.screens}/basins")
        tech.locator("ul.choose a").first.click()
        tech.locator("#deeds").wait_for()
        self._keep(tech, "basin")
        tech.goto(f"{self.demo.screens}/probes")
        tech.locator("ul.choose a").first.wait_for()
        self._keep(tech, "probes")

    def _live(self) -> None:
        engineer = self._signed_in(_ENGINEER, _DESK)
        engineer.goto(f"{self.demo.screens}/live?text=basin-2")
        engineer.get_by_text("sensors fit").wait_for()
        self._keep(engineer, "live")
        publish.single(_FOREIGN_TOPIC, _MISSPELT, qos=1, hostname=self.demo.broker.host, port=self.demo.broker.port)
        engineer.goto(f"{self.demo.screens}/live")
        engineer.get_by_text(_FOREIGN_TOPIC).first.wait_for()
        engineer.goto(f"{self.demo.screens}/logbook/rejected")
        self._keep(engineer, "rejected")

    def _soak(self) -> None:
        """Of the soak that met all that is asked; by then it has ended."""
        tech = self._signed_in(_TECH, _DESK)
        tech.evaluate(_UNTIL_A_SOAK_ENDED, _WITHIN_MS // 1000)
        tech.goto(f"{self.demo.screens}/logbook/soaks")
        tech.locator("a[href^='/logbook/soak/basin-1.']").first.click()
        tech.locator(".verdict").wait_for()
        tech.wait_for_function(_ALL_DRAWN)
        self._keep(tech, "soak")

    def _signed_in(self, name: str, size: tuple[int, int]) -> "Page":
        page = self._page(size)
        page.goto(f"{self.demo.screens}/sign-in")
        page.locator("[name=name]").fill(name)
        page.locator("[name=password]").fill(self.demo.passwords[name])
        page.locator("main form button").click()
        page.wait_for_url(lambda url: "/sign-in" not in url)
        return page

    def _page(self, size: tuple[int, int]) -> "Page":
        width, height = size
        context = self.browser.new_context(viewport={"width": width, "height": height}, color_scheme="light")
        page = context.new_page()
        page.set_default_timeout(_WITHIN_MS)
        return page

    def _keep(self, page: "Page", name: str) -> None:
        picture = Image.open(BytesIO(page.screenshot(animations="disabled"))).convert("RGB")
        picture.quantize(_COLOURS).save(self.folder / f"{name}.png", optimize=True)


def main(folder: Path) -> None:
    """Take all pictures into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with running_demo() as demo, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        Photographer(demo, browser, folder).all()
        browser.close()
    for name in NAMES:
        sys.stdout.write(f"{name}.png  {(folder / f'{name}.png').stat().st_size:>7} bytes\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if sys.argv[1:] else PICTURES)

"""Starts the demo as a user would, is let in as its wall, waits for a living one, ends the demo with Ctrl-C.

Standard library only: it also shows that no test extra is needed. Usage: smoke.py PATH/TO/sinkside
"""

import re
import signal
import subprocess
import sys
import tempfile
import threading
import urllib.parse
import urllib.request

WITHIN_SECONDS = 20


def main() -> int:
    """Exit code of the demo, 0 where all went well."""
    with tempfile.TemporaryDirectory() as folder:
        demo = subprocess.Popen(  # noqa: S603 - the program under test
            [sys.argv[1], "demo", "--data", folder, "--port", "0"], stdout=subprocess.PIPE, text=True
        )
        watchdog = threading.Timer(WITHIN_SECONDS * 3, demo.kill)
        watchdog.start()
        try:
            wall = _living_wall(*_display(demo))
        finally:
            demo.send_signal(signal.SIGINT)
            code = demo.wait(timeout=WITHIN_SECONDS)
            watchdog.cancel()
    sys.stdout.write(f"a living wall of {len(wall)} characters; the demo ended with code {code}\n")
    return code


def _display(demo: "subprocess.Popen[str]") -> tuple[str, str]:
    """Where the screens are, and the key of the wall."""
    if demo.stdout is None:
        raise SystemExit("no output to read the address from")
    for line in demo.stdout:
        sys.stdout.write(f"   {line}")
        if found := re.search(r"(http://127\.0\.0\.1:\d+)/display#(\S+)", line):
            threading.Thread(target=demo.stdout.read, daemon=True).start()
            return found[1], found[2]
    raise SystemExit("the demo ended without naming its wall")


def _let_in(address: str, key: str) -> urllib.request.OpenerDirector:
    """A browser that holds what a display is let in by: the form's token first, then the key."""
    browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    with browser.open(f"{address}/display", timeout=5) as answer:
        token = re.search(r'name="token" value="([^"]+)"', answer.read().decode())
    form = urllib.parse.urlencode({"display": key, "token": token[1] if token else ""})
    browser.open(f"{address}/display", form.encode(), timeout=5).close()
    return browser


def _living_wall(address: str, key: str) -> str:
    """The wall once a soak is counting down."""
    browser, pause = _let_in(address, key), threading.Event()
    for _ in range(WITHIN_SECONDS * 4):
        with browser.open(f"{address}/wall", timeout=5) as answer:
            wall = answer.read().decode()
        if "data-until-ms" in wall:
            return wall
        pause.wait(0.25)
    raise SystemExit(f"no soak was counting down on the wall within {WITHIN_SECONDS} s")


if __name__ == "__main__":
    sys.exit(main())

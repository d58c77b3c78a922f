"""Starts the demo as a user would, waits for a living wall, ends it with Ctrl-C, and sees that nothing is left running.

Standard library only: it also shows that no test extra is needed. Usage: smoke.py PATH/TO/sinkside
"""

import re
import signal
import subprocess
import sys
import tempfile
import threading
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
            address = _address(demo)
            wall = _living_wall(address)
        finally:
            demo.send_signal(signal.SIGINT)
            code = demo.wait(timeout=WITHIN_SECONDS)
            watchdog.cancel()
    sys.stdout.write(f"a living wall of {len(wall)} characters; the demo ended with code {code}\n")
    return code


def _address(demo: "subprocess.Popen[str]") -> str:
    if demo.stdout is None:
        raise SystemExit("no output to read the address from")
    for line in demo.stdout:
        sys.stdout.write(f"   {line}")
        if found := re.search(r"http://127\.0\.0\.1:\d+", line):
            threading.Thread(target=demo.stdout.read, daemon=True).start()
            return found[0]
    raise SystemExit("the demo ended without naming its address")


def _living_wall(address: str) -> str:
    """The wall once a soak is counting down."""
    pause = threading.Event()
    for _ in range(WITHIN_SECONDS * 4):
        with urllib.request.urlopen(f"{address}/wall", timeout=5) as answer:  # noqa: S310 - our own address
            wall = answer.read().decode()
        if "data-until-ms" in wall:
            return wall
        pause.wait(0.25)
    raise SystemExit(f"no soak was counting down on the wall within {WITHIN_SECONDS} s")


if __name__ == "__main__":
    sys.exit(main())

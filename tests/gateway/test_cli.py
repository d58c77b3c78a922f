"""The command line as its users meet it: real processes, real broker, real disk."""

import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import httpx
import pytest

from gateway.replay import verify
from gateway.schema import DATABASE

if sys.platform != "linux":
    pytest.skip("looks at /proc to see what a program leaves running", allow_module_level=True)

SINKSIDE = (sys.executable, "-m", "gateway.cli")
END_SECONDS = 20


def told(*words: str | Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(  # noqa: S603 - our own program
        [*SINKSIDE, *map(str, words)], capture_output=True, text=True, timeout=60, check=False
    )


class Running:
    """A `sinkside demo` or `serve` that has named its address."""

    def __init__(self, words: Sequence[str | Path]) -> None:
        self.process = subprocess.Popen(  # noqa: S603 - our own program
            [*SINKSIDE, *map(str, words)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        assert self.process.stdout is not None
        self.said: list[str] = []
        for line in self.process.stdout:
            self.said.append(line)
            if "data    " in line:
                break
        self.address = re.findall(r"(http://\S+)/wall", "".join(self.said))[0]

    def children(self) -> list[int]:
        """Process ids of what it started."""
        listed = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text(encoding="ascii")
        return [int(pid) for pid in listed.split()]

    def wall_with(self, words: str) -> str:
        """The wall, once it shows the words; its stream tells when to look."""
        with httpx.Client(timeout=END_SECONDS) as client, client.stream("GET", f"{self.address}/stream/wall") as news:
            for _ in news.iter_lines():
                wall = client.get(f"{self.address}/wall").text
                if words in wall:
                    return wall
        raise AssertionError(f"the stream ended before the wall showed {words!r}")

    def end(self, how: signal.Signals = signal.SIGINT) -> int:
        self.process.send_signal(how)
        code = self.process.wait(timeout=END_SECONDS)
        assert self.process.stdout is not None
        self.said += self.process.stdout.readlines()
        self.process.stdout.close()
        return code


@pytest.fixture
def start() -> Iterator[type[Running]]:
    begun: list[Running] = []

    class Tracked(Running):
        def __init__(self, *words: str | Path) -> None:
            super().__init__(words)
            begun.append(self)

    yield Tracked
    for one in begun:
        if one.process.poll() is None:
            one.process.kill()
            one.process.wait()
        if one.process.stdout is not None:
            one.process.stdout.close()


def is_alive(pid: int) -> bool:
    status = Path(f"/proc/{pid}/status")
    return status.exists() and "State:\tZ" not in status.read_text(encoding="ascii")


@pytest.mark.slow
def test_the_demo_lives_ends_with_ctrl_c_and_goes_on_where_it_stopped(tmp_path: Path, start: type[Running]) -> None:
    demo = start("demo", "--data", tmp_path / "d", "--port", "0")
    assert "Room, left" in demo.wall_with("data-until-ms")
    children = demo.children()
    assert children
    assert demo.end() == 0
    assert not any(is_alive(pid) for pid in children)
    assert "Traceback" not in "".join(demo.said)
    first = verify(tmp_path / "d" / DATABASE)
    assert first.is_sound

    again = start("demo", "--data", tmp_path / "d", "--port", "0")
    again.wall_with("data-until-ms")
    assert again.end(signal.SIGTERM) == 0
    second = verify(tmp_path / "d" / DATABASE)
    assert second.is_sound
    assert second.inputs > first.inputs


def test_a_busy_port_gets_one_clear_sentence(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        answer = told("demo", "--data", tmp_path / "d", "--port", str(port))
    assert answer.returncode == 1
    assert answer.stderr.count("\n") == 1
    assert f"port {port}" in answer.stderr
    assert "--port" in answer.stderr


@pytest.mark.slow
def test_two_gateways_on_one_folder_are_refused_in_one_sentence(tmp_path: Path, start: type[Running]) -> None:
    start("demo", "--data", tmp_path / "d", "--port", "0")
    answer = told("demo", "--data", tmp_path / "d", "--port", "0")
    assert answer.returncode == 1
    assert answer.stderr.startswith("Error: Another gateway")
    assert answer.stderr.count("\n") == 1


def test_check_says_what_to_mend(tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    site.write_text('[site]\nid = "a b"\nname = "x"\n', encoding="utf-8")
    answer = told("check", site)
    assert answer.returncode == 1
    assert answer.stderr.startswith("Error: site.toml, line 2: [site], key 'id'")


def test_the_example_can_be_checked(tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    site.write_text(told("example").stdout, encoding="utf-8")
    answer = told("check", site)
    assert answer.returncode == 0
    assert "ortho-phthalaldehyde 0.55 %, 12 min at 20 °C" in answer.stdout


def test_a_folder_without_a_journal_is_told(tmp_path: Path) -> None:
    answer = told("verify", tmp_path)
    assert answer.returncode == 1
    assert answer.stderr.startswith("Error: There is no journal in")


@pytest.mark.slow
def test_replay_tells_what_another_site_file_would_have_said(tmp_path: Path, start: type[Running]) -> None:
    demo = start("demo", "--data", tmp_path / "d", "--port", "0")
    demo.wall_with("Too cold")
    demo.end()
    text = (Path(__file__).parents[2] / "sim_devices" / "demo.toml").read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(text + "\n[exposure]\ninterruptions_restart = false\n", encoding="utf-8")
    answer = told("replay", tmp_path / "d", "--site", other)
    assert answer.returncode == 0, answer.stderr
    assert re.search(r"^\d+ events would be the same\.$", answer.stdout, re.MULTILINE)

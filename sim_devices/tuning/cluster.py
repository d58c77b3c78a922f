"""Where the work is done: on each core of this machine, or on a Dask cluster that is there already."""

import asyncio
import logging
import os
from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import contextmanager
from importlib.metadata import version
from tempfile import TemporaryDirectory

import dask.config
from distributed import Client, KilledWorker, LocalCluster
from distributed.comm.addressing import parse_address, parse_host_port
from distributed.comm.core import CommClosedError, connect
from distributed.security import Security

CONNECT_SECONDS = 15
ANSWER_SECONDS = 4
"""So long whatever is at an address has to take a call (ours): there is a network in between, but no work."""

_NO_PAGES: dict[str, list[str]] = {"distributed.scheduler.http.routes": [], "distributed.worker.http.routes": []}
"""Dask opens a port for web pages in any case: nothing is served there."""


class ClusterError(OSError):
    """There is nobody to do the work; one sentence says why, and what was expected."""


@contextmanager
def workers(scheduler: str | None = None, count: int | None = None) -> Iterator[Client]:
    """Those who do the work.

    The cluster of this machine is reached from this machine only, by connections that are encrypted and need a
    certificate made for this run: whoever may give a worker work may do anything in its place. It shows no web pages.
    A cluster by address is as open as whoever runs it has made it.

    Args:
        scheduler: address of a Dask scheduler, such as 'tls://10.0.0.5:8786'; None: a cluster of this machine.
        count: processes on this machine; None: as many as it has cores.

    Raises:
        ClusterError: nobody answers at the address, or can do the work; or, while it is done, all are lost.
    """
    for name in ("distributed", "tornado"):  # what fails is told by whoever asked, in a sentence
        logging.getLogger(name).setLevel(logging.CRITICAL)
    with _here(count) if scheduler is None else _at(scheduler) as client:
        try:
            yield client
        except KilledWorker as error:
            raise ClusterError(
                "Workers were lost again and again over the same piece of work, as where memory is short; try fewer"
                " carts or settings at once, or fewer --workers."
            ) from error
        except (CancelledError, CommClosedError) as error:
            where = "of this machine" if scheduler is None else f"at '{scheduler}'"
            raise ClusterError(f"The Dask scheduler {where} was lost before the work was done; ask again.") from error


@contextmanager
def _here(count: int | None) -> Iterator[Client]:
    security = Security.temporary()
    with (
        dask.config.set(_NO_PAGES),
        TemporaryDirectory(prefix="sinkside-tune-") as spilled,
        LocalCluster(
            n_workers=count or len(os.sched_getaffinity(0)),
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            protocol="tls",
            security=security,
            dashboard_address="127.0.0.1:0",
            scheduler_kwargs={"dashboard": False},
            local_directory=spilled,
            silence_logs=logging.CRITICAL,
        ) as cluster,
        Client(cluster, security=security) as client,
    ):
        yield client


@contextmanager
def _at(scheduler: str) -> Iterator[Client]:
    try:
        security = _secured(scheduler)
        asyncio.run(_knock(scheduler, security))  # a client that finds nobody complains once more when it is let go of
        client = Client(scheduler, security=security, timeout=CONNECT_SECONDS, set_as_default=False)
    except ClusterError:
        raise
    except (OSError, ValueError, TypeError) as error:
        said = "nobody answers the call" if isinstance(error, TimeoutError) else str(error).rstrip(".")
        raise ClusterError(
            f"No Dask scheduler answers at '{scheduler}': {said}; expected the address of one that"
            " runs, such as tls://10.0.0.5:8786, or leave --scheduler out."
        ) from error
    except Exception as error:  # whatever comes of reading what another program sends
        raise ClusterError(
            f"What answers at '{scheduler}' is no Dask scheduler of this version; expected the address of one, such as"
            " tls://10.0.0.5:8786, or leave --scheduler out."
        ) from error
    with client:
        _check_workers(client, scheduler)
        yield client


def _secured(scheduler: str) -> Security:
    """With the certificate that Dask's own configuration names, in its files or in the environment."""
    security = Security()
    if scheduler.startswith("tls://") and security.get_connection_args("client")["ssl_context"] is None:
        raise ClusterError(
            f"For '{scheduler}' no certificate is known; name its files in the environment:"
            " DASK_DISTRIBUTED__COMM__TLS__CA_FILE, DASK_DISTRIBUTED__COMM__TLS__CLIENT__CERT and"
            " DASK_DISTRIBUTED__COMM__TLS__CLIENT__KEY, or in the configuration of Dask."
        )
    return security


async def _knock(scheduler: str, security: Security) -> None:
    """Whether anybody answers; Dask itself calls again and again where nobody does."""
    if scheduler.startswith(("tcp://", "tls://")):
        host, port = parse_host_port(parse_address(scheduler)[1])
        _, calling = await asyncio.wait_for(asyncio.open_connection(host, port), ANSWER_SECONDS)
        calling.close()
        await calling.wait_closed()
    comm = await connect(scheduler, timeout=CONNECT_SECONDS, **security.get_connection_args("client"))
    await comm.close()


def _check_workers(client: Client, scheduler: str) -> None:
    """Whoever waits for workers that cannot work waits for ever."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_SECONDS)
        told = client.run(_version)
    except TimeoutError as error:
        raise ClusterError(
            f"The Dask scheduler at '{scheduler}' has no workers; start some, then ask again."
        ) from error
    except Exception as error:  # whatever another version, or none, makes of our code
        raise ClusterError(
            f"A worker of the Dask scheduler at '{scheduler}' has not this Sinkside ({error}); install the same there."
        ) from error
    for worker, found in told.items():
        if found != _version():
            raise ClusterError(
                f"Worker {worker} of the Dask scheduler at '{scheduler}' has version {found} of Sinkside; expected"
                f" {_version()} as here: install the same there."
            )


def _version() -> str:
    return version("sinkside")

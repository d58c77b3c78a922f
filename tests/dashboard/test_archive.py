"""Reading the record for the pages: beside the event loop, and by no more at once than it bears."""

import asyncio
import threading
from pathlib import Path

import pytest

from dashboard.archive import MOST_READERS, MOST_WAITING, Archive, NotShownError
from dashboard.premises import Premises
from gateway.hub import Feed, Hub
from gateway.logbook import Logbook
from tests.dashboard.conftest import LISBON
from tests.dashboard.logbooks import written
from tests.dashboard.pictures import NOON, basin, picture
from tests.dashboard.serving import Desk


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return written(tmp_path_factory.mktemp("book"))


def archive(journal: Path) -> Archive:
    return Archive(
        Logbook(journal), Hub(Feed(picture(basin())), Desk().ask), "North Hall", LISBON, Premises(), lambda: NOON
    )


def test_the_journal_is_read_beside_the_event_loop(journal: Path) -> None:
    async def reads() -> int:
        return await archive(journal).read(lambda _: threading.get_ident())

    assert asyncio.run(reads()) != threading.get_ident()


def test_who_comes_when_too_many_wait_is_asked_to_come_again(journal: Path) -> None:
    held = threading.Event()

    async def crowd() -> list[object]:
        shelves, many = archive(journal), MOST_READERS + MOST_WAITING
        first = [asyncio.create_task(shelves.read(lambda _: held.wait(20))) for _ in range(many)]
        await asyncio.sleep(0)  # each takes its place
        with pytest.raises(NotShownError, match="read by many at once"):
            await shelves.read(lambda _: True)
        held.set()
        return await asyncio.gather(*first)

    assert all(asyncio.run(crowd()))

"""Who took something out of the record, and who had the bench run something, is told to the record."""

import json
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import Receive, Scope, Send

from dashboard.acting import Acting
from gateway.people import Access, Act, Visitor
from tests.gateway.people.staff import Staff

VISITOR = Visitor(Access.ENGINEER, "emil", "Emil", (), "0123", "csrf")


@pytest.fixture
def staff(tmp_path: Path) -> Iterator[Staff]:
    found = Staff(tmp_path)
    yield found
    found.people.close()


async def pages(scope: Scope, receive: Receive, send: Send) -> None:
    """Answers as the screens do: what is sent leads on, ``bad`` is refused, all else is given."""
    request = Request(scope)
    answer: Response = PlainTextResponse("a,b")
    if "bad" in request.url.query:
        answer = PlainTextResponse("no", status_code=422)
    elif request.method == "POST":
        answer = RedirectResponse("/bench/job/7", status_code=303)
    await answer(scope, receive, send)


async def asked(staff: Staff, method: str, address: str, visitor: Visitor | None = VISITOR) -> httpx.Response:
    async def with_visitor(scope: Scope, receive: Receive, send: Send) -> None:
        scope["state"] = {"visitor": visitor}
        await Acting(pages, staff.people)(scope, receive, send)

    async with httpx.AsyncClient(transport=httpx.ASGITransport(with_visitor), base_url="http://here") as client:
        return await client.request(method, address)


@pytest.mark.parametrize(
    ("method", "address", "told"),
    [
        ("GET", "/logbook/soaks.csv?verdict=too%20short", (Act.EXPORTED, "/logbook/soaks.csv?verdict=too short")),
        ("GET", "/logbook/soak/basin-1.3/record.pdf", (Act.EXPORTED, "/logbook/soak/basin-1.3/record.pdf")),
        ("POST", "/bench/tune", (Act.RUN_STARTED, "/bench/job/7")),
        ("POST", "/bench/job/7/cancel", (Act.RUN_CANCELLED, "/bench/job/7")),
        (
            "POST",
            "/bench/hands",
            (Act.SIMULATOR_USED, "/bench/job/7"),
        ),  # where the answer leads: what was done, filled in
        ("GET", "/load.csv?find=%E2%80%AEcod%0Aexe", (Act.EXPORTED, r"/load.csv?find=\u202ecod\nexe")),
        ("GET", "/logbook/soaks", None),
        ("GET", "/logbook/soaks.csv?bad", None),
        ("HEAD", "/logbook/soaks.csv", None),
        ("GET", "/static/names.json", None),
        ("POST", "/bench/tune?bad", None),
        ("POST", "/basin/basin-1/pour", None),
    ],
)
@pytest.mark.anyio
async def test_what_is_taken_away_and_what_is_run_is_told(
    staff: Staff, method: str, address: str, told: tuple[Act, str] | None
) -> None:
    await asked(staff, method, address)
    expected = [] if told is None else [("Emil", told[0].value, told[1])]
    assert staff.acts() == expected


@pytest.mark.anyio
async def test_it_is_told_with_the_access_of_whoever_did_it(staff: Staff) -> None:
    await asked(staff, "GET", "/load.csv")
    assert json.loads(json.dumps(staff.bodies()))[0]["access"] == "engineer"


@pytest.mark.anyio
async def test_nobody_is_told_of_where_nobody_has_signed_in(staff: Staff) -> None:
    assert (await asked(staff, "GET", "/load.csv", None)).status_code == 200
    assert staff.acts() == []


@pytest.mark.anyio
async def test_what_cannot_be_told_is_not_given(staff: Staff) -> None:
    staff.people.close()
    with pytest.raises(Exception, match="closed"):
        await asked(staff, "GET", "/load.csv")
    staff.people = staff.opened()

"""The routes at which simulated devices are worked by hand; where devices are real, nothing is offered."""

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from urllib.parse import quote, urlencode

from fastapi import FastAPI, Request
from starlette.responses import RedirectResponse, Response

from dashboard.bench.shown import Bench
from gateway.hands import Hands, HandsError, Offer

MOST_SAID = 20
"""So many deeds are told of on the page (ours)."""


@dataclass(frozen=True, slots=True)
class _Group:
    things: str
    offers: tuple[Offer, ...]


@dataclass(frozen=True, slots=True)
class _Done:
    """What was done by hand since the gateway started."""

    did: deque[str] = field(default_factory=lambda: deque(maxlen=MOST_SAID))


def add_hands(app: FastAPI, bench: Bench) -> None:
    """Put the routes into the application."""
    archive, hands, done = bench.archive, bench.workbench.hands, _Done()

    async def show(refusal: str = "", status: int = 200, texts: Mapping[str, str] | None = None) -> Response:
        offers = [] if hands is None else await archive.readers.take(hands.offers)
        return bench.page(
            "bench_hands.html",
            "By hand",
            status=status,
            is_simulated=hands is not None,
            groups=_grouped(offers),
            did=list(done.did),
            refusal=refusal,
            texts=texts or {},
        )

    @app.get("/bench/hands")
    async def page(request: Request) -> Response:
        return await show(texts=request.query_params)

    @app.post("/bench/hands")
    async def do(request: Request) -> Response:
        texts = dict(await bench.sent(request))
        if hands is None:
            return await show("No simulated ward of this program is behind these pages: nothing was done.", 409)
        try:
            deed = await archive.readers.take(lambda: _deed(hands, texts))
            said = await archive.readers.take(lambda: hands.do(deed))
        except HandsError as why:
            return await show(str(why), 422, texts)
        done.did.appendleft(said)
        # The form as it was filled in, for whoever does the same again, or undoes it.
        return RedirectResponse(f"/bench/hands?{urlencode(deed)}#{quote(deed['do'])}", status_code=303)


def _deed(hands: Hands, texts: Mapping[str, str]) -> dict[str, str]:
    """What is to be done: of what was sent that which the deed asks for, without what was left empty."""
    offer = next((one for one in hands.offers() if one.do == texts.get("do")), None)
    if offer is None:
        raise HandsError("There is no such deed; choose one from the list.")
    keys = {key.name: texts.get(key.name, "").strip() for key in offer.keys}
    return {"do": offer.do, **{name: value for name, value in keys.items() if value}}


def _grouped(offers: Sequence[Offer]) -> list[_Group]:
    things = dict.fromkeys(offer.things for offer in offers)
    return [_Group(name, tuple(offer for offer in offers if offer.things == name)) for name in things]

"""The page on which somebody says that an entry was wrong: who, and why; what is right is entered anew elsewhere."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated

from fastapi import Depends, FastAPI, Path, Request
from pydantic import BaseModel, ConfigDict, StringConstraints
from starlette.responses import RedirectResponse, Response

from dashboard.archive import Archive, NotShownError
from dashboard.asking import NotWrittenError, ask, short_body
from dashboard.entries import fields_of
from dashboard.forms import DeedError, Text, filled
from dashboard.moments import moment_of
from gateway.entry_reading import LoggedEntry
from rules.commands import Contact, Entry, Strike, StripRead
from rules.events import EntryStruck

_NO_ENTRY = "The record has no entry of that number; an entry is found by way of the soak, the probe or the day."
_STRUCK_ALREADY = "It was struck already, or cannot be struck any more: look at what stands here."
EXPECTED = {
    "why": "Say why it was wrong, in at most 200 characters: it is kept with the correction.",
}


_MOST_WHY = 200
_WITHOUT_CONTACT = (
    "Without this contact the probe may stand as ready, and be used on the next patient. Strike it only if the probe"
    " never touched that. If it was another probe, enter the contact there first."
)
_WITHOUT_STRIP = (
    "Without this strip, soaks before and after it may count that did not count before, and probes that are held may"
    " stand as ready. Strike it only if no such strip was read."
)
_FRAIL: tuple[tuple[type[Entry], str], ...] = ((Contact, _WITHOUT_CONTACT), (StripRead, _WITHOUT_STRIP))
"""What may look sound once an entry is gone that speaks against it."""
Number = Annotated[int, Path(ge=1, lt=1 << 53)]


class CorrectionForm(BaseModel):
    """Who corrects the record, and why."""

    model_config = ConfigDict(extra="ignore")

    who: Text
    why: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=_MOST_WHY)]


@dataclass(frozen=True, slots=True)
class Corrections:
    """Where the record is corrected."""

    archive: Archive

    async def entry(self, number: int) -> LoggedEntry:
        """The entry, or a plain 404."""
        found = await self.archive.read(lambda logbook: logbook.entry(number))
        if found is None:
            raise NotShownError(_NO_ENTRY)
        return found

    async def show(self, number: int, refusal: str = "", status: int = 200, why: str = "") -> Response:
        """The page of an entry; why: what was typed, where it was refused."""
        entry = await self.entry(number)
        return self.archive.page(
            "logbook_entry.html",
            "An entry",
            status=status,
            moments=[replace(moment_of(entry.told, self.archive.telling), strike="")],
            number=number,
            anew=_anew(entry.entry),
            is_struck=entry.told.struck is not None,
            caution=next((said for kind, said in _FRAIL if isinstance(entry.entry, kind)), ""),
            entered_by=entry.entry.who,
            refusal=refusal,
            why=why,
        )

    async def strike(self, number: int, fields: Mapping[str, str]) -> Response:
        """Strike it, once that is on disk, or say why not."""
        try:
            form = filled(CorrectionForm, fields, EXPECTED)
        except DeedError as wrong:
            return await self.show(number, str(wrong), 422, fields.get("why", "")[:_MOST_WHY])
        entry = (await self.entry(number)).entry
        command = Strike(arrived=self.archive.now(), who=form.who, entry=entry, why=form.why)
        try:
            events = await ask(self.archive.hub, command)
        except NotWrittenError as why:
            return await self.show(number, str(why), 503, form.why)
        if not any(isinstance(event, EntryStruck) for event in events):
            return await self.show(number, _STRUCK_ALREADY, 409, form.why)
        return RedirectResponse(f"/logbook/entry/{number}", status_code=303)


def _anew(entry: Entry) -> str:
    """Where what is right is entered."""
    kinds = ("basin", "probe", "cart")
    return next(f"/{kind}/{getattr(entry, kind)}" for kind in kinds if hasattr(entry, kind))


def add_strikes(app: FastAPI, corrections: Corrections) -> None:
    """Put the routes into the application."""

    @app.get("/logbook/entry/{number}")
    async def entry(number: Number) -> Response:
        return await corrections.show(number)

    @app.post("/logbook/entry/{number}/strike", dependencies=[Depends(short_body)])
    async def strike(request: Request, number: Number) -> Response:
        return await corrections.strike(number, await fields_of(request))

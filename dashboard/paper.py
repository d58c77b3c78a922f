"""A soak's sheet as PDF (A4): the same input and the same time of printing give the same bytes."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from html import escape
from io import BytesIO
from zoneinfo import ZoneInfo

from reportlab.lib.colors import Color, black
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, LongTable, PageTemplate, Paragraph, Spacer, TableStyle
from reportlab.platypus.doctemplate import BaseDocTemplate
from reportlab.platypus.frames import Frame

from dashboard.sheet import CAUTION, Fact, Footing, Section, Table
from dashboard.soak_sheet import SoakSheet
from dashboard.trace import PAPER, draw
from gateway.typeface import PLAIN, SLANTED, composed, drawable, embedded

_WIDE, _HIGH = A4
_SIDE, _TOP, _FOOT = 18 * mm, 22 * mm, 30 * mm
_ROOM = _WIDE - 2 * _SIDE
_NAME_SHARE = 0.27
_LEAST_HIGH = 28 * mm
"""A section does not begin with less than this left on the page, so that no heading stands alone."""

_RULE = Color(0.55, 0.55, 0.55)

_BODY = ParagraphStyle("body", fontName=PLAIN, fontSize=9, leading=12)
_MISSING = ParagraphStyle("missing", _BODY, fontName=SLANTED)
_SMALL = ParagraphStyle("small", _BODY, fontSize=7.5, leading=9.5)
_TITLE = ParagraphStyle("title", _BODY, fontSize=16, leading=20, spaceAfter=6)
_SECTION = ParagraphStyle("section", _BODY, fontSize=12, leading=15, spaceBefore=10, spaceAfter=3)
_LARGE = ParagraphStyle("large", _BODY, fontSize=20, leading=25)

NOT_DRAWN = (
    "Characters that this print has no letters for stand as their Unicode numbers, such as [U+5C71]; the screen shows"
    " them."
)


@dataclass(slots=True)
class _Ink:
    """Text for the print; missed: whether there were characters that it cannot draw."""

    missed: bool = False

    def paragraph(self, words: str, style: ParagraphStyle = _BODY) -> Paragraph:
        return Paragraph(escape(self.line(words)), style)

    def line(self, words: str) -> str:
        drawn = drawable(words)
        self.missed |= drawn != composed(words)
        return drawn


@dataclass(slots=True)
class _Print:
    """One printing of a sheet; pages: how many there are, known after a first printing."""

    sheet: SoakSheet
    site_name: str
    zone: ZoneInfo
    footing: Footing
    pages: int | None = None
    ink: _Ink = field(default_factory=_Ink)

    def run(self) -> tuple[bytes, int]:
        """The PDF, and how many pages it has."""
        file = BytesIO()
        document = BaseDocTemplate(
            file,
            pagesize=A4,
            title=self.sheet.title,
            subject=f"Record of a soak, {self.site_name}",
            author="Sinkside",
            creator="Sinkside",
            lang="en",
            invariant=1,
        )
        frame = Frame(_SIDE, _FOOT, _ROOM, _HIGH - _TOP - _FOOT, 0, 0, 0, 0)
        document.addPageTemplates([PageTemplate(frames=[frame], onPage=self._around)])
        document.build(list(self._story()))
        return file.getvalue(), document.page

    def _story(self) -> Iterator[Flowable]:
        sheet, ink = self.sheet, self.ink
        yield ink.paragraph(sheet.title, _TITLE)
        yield self._verdict()
        yield Spacer(1, 8)
        yield draw(sheet.drawn, self.zone, PAPER)
        for section in sheet.sections:
            yield from self._section(section)
        if ink.missed:
            yield Spacer(1, 8)
            yield ink.paragraph(NOT_DRAWN, _SMALL)

    def _verdict(self) -> Flowable:
        lines = [self.ink.paragraph(self.sheet.outcome, _LARGE)]
        lines += [self.ink.paragraph(words) for words in (*self.sheet.reasons, self.sheet.says, CAUTION)]
        box = TableStyle([("BOX", (0, 0), (-1, -1), 1.6, black), ("LEFTPADDING", (0, 0), (-1, -1), 8)])
        return LongTable([[line] for line in lines], colWidths=[_ROOM], style=box)

    def _section(self, section: Section) -> Iterator[Flowable]:
        yield CondPageBreak(_LEAST_HIGH)
        yield self.ink.paragraph(section.title, _SECTION)
        yield from map(self.ink.paragraph, section.sentences)
        if section.facts:
            yield self._facts(section.facts)
        if section.table is not None:
            yield self._table(section.table)

    def _facts(self, facts: Sequence[Fact]) -> Flowable:
        """A row for each line, so that a long list may run over a page's end."""
        rows: list[list[Flowable]] = []
        ruled: list[int] = []
        for fact in facts:
            ruled.append(len(rows))
            style = _MISSING if fact.is_missing else _BODY
            names = (fact.name, *[""] * (len(fact.lines) - 1))
            rows += [
                [self.ink.paragraph(name), self.ink.paragraph(line, style)]
                for name, line in zip(names, fact.lines, strict=True)
            ]
        lines = [("LINEABOVE", (0, row), (-1, row), 0.4, _RULE) for row in ruled]
        widths = [_ROOM * _NAME_SHARE, _ROOM * (1 - _NAME_SHARE)]
        return LongTable(rows, colWidths=widths, style=TableStyle([*lines, *_CELLS]))

    def _table(self, table: Table) -> Flowable:
        rows = [[self.ink.paragraph(cell, _SMALL) for cell in row] for row in (table.headings, *table.rows)]
        widths = [_ROOM * share / sum(table.shares) for share in table.shares]
        lines = [("LINEBELOW", (0, 0), (-1, 0), 1, black), ("LINEBELOW", (0, 1), (-1, -1), 0.4, _RULE)]
        return LongTable(rows, colWidths=widths, repeatRows=1, style=TableStyle([*lines, *_CELLS]))

    def _around(self, canvas: Canvas, document: BaseDocTemplate) -> None:
        """Head and foot of a page."""
        made, head = self.footing.words(self.zone)
        of = f" of {self.pages}" if self.pages is not None else ""
        canvas.setFont(PLAIN, 9)
        canvas.drawString(_SIDE, _HIGH - 14 * mm, self.ink.line(self.site_name))
        canvas.drawRightString(_WIDE - _SIDE, _HIGH - 14 * mm, f"Record of a soak, {self.sheet.id}")
        canvas.line(_SIDE, _HIGH - 16 * mm, _WIDE - _SIDE, _HIGH - 16 * mm)
        canvas.line(_SIDE, _FOOT - 4 * mm, _WIDE - _SIDE, _FOOT - 4 * mm)
        canvas.drawRightString(_WIDE - _SIDE, _FOOT - 9 * mm, f"page {document.page}{of}")
        canvas.setFont(PLAIN, 7.5)
        canvas.drawString(_SIDE, _FOOT - 9 * mm, made)
        canvas.drawString(_SIDE, _FOOT - 13 * mm, head)
        canvas.drawString(_SIDE, _FOOT - 17 * mm, _NOT_A_PROOF)


_NOT_A_PROOF = "Time and temperature only: not proof of disinfection. 'sinkside verify --head' shows later changes."
_CELLS = (
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (0, -1), 0),
    ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
)


def printed(sheet: SoakSheet, site_name: str, zone: ZoneInfo, footing: Footing) -> bytes:
    """The sheet as PDF. It is laid out twice, as each page tells how many there are."""
    embedded()
    _, pages = _Print(sheet, site_name, zone, footing).run()
    return _Print(sheet, site_name, zone, footing, pages).run()[0]

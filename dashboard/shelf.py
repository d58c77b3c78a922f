"""Which basins have a cell on the wall, how the cells stand, and what each has room for.

Heights are those of wall.css on a 1920x1080 screen, in px; the browser tests measure that they hold.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dashboard.basins import NOT_CONFIRMED, BasinView, Tone, held_rows, summary
from dashboard.measure import BOLD, PLAIN, Face, Room, lines
from dashboard.names import MINOR_PX, SECOND_PX, Name, written
from dashboard.panel import GAP_PX, LYING, Panel
from dashboard.readiness import inside_row
from dashboard.rest import rest_line
from dashboard.solution import DO_NOT_USE, Standing
from dashboard.tied import LAST, TIE_PX

BOARD_PX = 8
WIDE_PX = 460
"""From this width on a cell says its state in full."""

MARK_PX = 44
"""The mark between a temperature and what it needs on one row, and what stands around it."""

REST_PX = 56
SURE_CELLS = 8
"""So many basins have a cell before alerts have more than their least room."""

MOST_EARLIER, EARLIER_PX = 3, 24.8
"""So many verdicts of soaks before, in letters of this size (wall.css)."""


@dataclass(frozen=True, slots=True)
class Measures:
    """How a cell is drawn: heights in px, and the width of the glass beside its words.

    style: its style name. pad, name, double: above the name, the name on one line, on two of the second size.
    figure: the countdown; digits: sizes of its letters with their style names, the largest first.
    big, big_pad: a line of large words, and around them.
    row: a short line.
    warmth: temperature and what it needs. held, held_pad: a line of what is held, and around it.
    minor: a line of small letters. earlier, earlier_pad: an earlier verdict, and above the first.
    """

    style: str
    glass: float
    pad: int
    name: int
    double: int
    figure: int
    digits: tuple[tuple[float, str], ...]
    big: int
    big_pad: int
    row: int
    warmth: int
    held: int = 46
    held_pad: int = 8
    minor: int = 32
    earlier: int = 32
    earlier_pad: int = 12


_LESS, _LEAST = (104.0, "less"), (83.2, "least")
GRAND = Measures("grand", 70.4, 18, 62, 92, 214, ((224.0, ""), _LESS), 82, 8, 48, 108)
TALL = Measures("tall", 70.4, 16, 62, 92, 134, ((134.4, ""), _LESS, _LEAST), 58, 8, 48, 108)
DENSE = Measures("dense", 56, 5, 46, 46, 73, (_LEAST,), 55, 2, 44, 46, held=44, held_pad=2)

TO_GO = " to go"
"""Behind every countdown, under its unit (wall.css): without them one can be read as a time of day."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A basin in its place: what it must show, and of the rest that for which there is room.

    big: its state in large words, a line each; rows: short lines under them. held: what is said of a last soak that
        fell short, a line each. solution: how the solution stands, a line each. celsius, need: its temperature and what
        it needs, in words; '' where they give way, as nothing soaks. inside: which probes are in it.
    lead: above large words that tell of what is past. digits: style name of the size of its countdown.
    """

    basin: BasinView
    name: Name
    big: tuple[str, ...]
    held: tuple[str, ...]
    solution: tuple[str, ...]
    rows: tuple[str, ...]
    celsius: str
    need: str
    inside: str = ""
    lead: str = ""
    digits: str = ""
    why: str = ""
    label: str = ""
    chemistry: str = ""
    credit: str = ""
    earlier: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ShelfView:
    """Basins in cells, and those without a cell counted by urgency; style: how large the cells are drawn."""

    style: str
    columns: int
    cells: tuple[Cell, ...]
    rest: str


@dataclass(frozen=True, slots=True)
class _Plan:
    measures: Measures
    columns: int
    places: int
    shelf_px: float

    @property
    def rows(self) -> int:
        return -(-self.places // self.columns)

    @property
    def width_px(self) -> float:
        return (self.shelf_px - GAP_PX * (self.columns - 1)) / self.columns - self.measures.glass


def least_px(basins: Sequence[BasinView], panel: Panel = LYING, rows: int = SURE_CELLS) -> int:
    """The height in which that many rows of basins can show what each must; fewer where the basins need no more."""
    plan = _plans(len(basins), panel)[-1]
    sure = min(rows, -(-min(plan.places, SURE_CELLS) // plan.columns))
    return sure * _tallest_px(basins, plan) + BOARD_PX + (_rest_px(panel) if len(basins) > sure * plan.columns else 0)


def largest_px(basins: Sequence[BasinView], panel: Panel) -> int:
    """The height in which every basin that has a place is drawn as large as their number allows."""
    plan = _plans(len(basins), panel)[0]
    return plan.rows * _tallest_px(basins, plan) + BOARD_PX + (_rest_px(panel) if len(basins) > plan.places else 0)


def shelf(basins: Sequence[BasinView], room_px: int, panel: Panel = LYING) -> ShelfView:
    """The basins in the site's order, in the largest way that fits; where not all have a place, the most urgent.

    Of those the ones come first of which alerts tell. Where all have a place each keeps its own, whatever happens.
    """
    plans = _plans(len(basins), panel)
    for plan in plans:
        if plan.places < len(basins):
            break
        if _tallest_px(basins, plan) * plan.rows <= room_px - BOARD_PX:
            return _placed(basins, plan, room_px - BOARD_PX, panel)
    plan, room = plans[-1], room_px - BOARD_PX - _rest_px(panel)
    rows = max(1, min(plan.rows, room // max(1, _tallest_px(basins, plan))))
    return _placed(basins, replace(plan, places=rows * plan.columns), room, panel)


def _rest_px(panel: Panel) -> int:
    return REST_PX * panel.rest_lines


def _tallest_px(basins: Sequence[BasinView], plan: _Plan) -> int:
    return max((_least_px(_cell(basin, plan), plan) for basin in basins), default=0)


def _plans(count: int, panel: Panel) -> tuple[_Plan, ...]:
    """Ways to place so many basins, the largest first."""
    ways = _UPRIGHT_WAYS if panel.stacks else _LYING_WAYS
    way = next(way for most, way in ways if count <= most)
    cells = max(1, count)
    return tuple(_Plan(measures, min(columns, cells), min(cells, most), panel.inner) for measures, columns, most in way)


_MANY = 10**6
_LYING_WAYS: tuple[tuple[int, tuple[tuple[Measures, int, int], ...]], ...] = (
    (2, ((GRAND, 2, 2), (TALL, 2, 2), (DENSE, 2, 2))),
    (4, ((TALL, 4, 4), (DENSE, 4, 4))),
    (6, ((DENSE, 3, 6),)),
    (_MANY, ((DENSE, 4, 8),)),
)
_UPRIGHT_WAYS: tuple[tuple[int, tuple[tuple[Measures, int, int], ...]], ...] = (
    (2, ((GRAND, 1, 2), (TALL, 2, 2), (DENSE, 2, 2))),
    (_MANY, ((TALL, 2, 12), (DENSE, 2, 12))),
)
"""Up to so many basins: how large, beside how many others, and how many at most; the largest way first."""


def _place(basin: BasinView) -> int:
    return basin.tied.place if basin.tied else LAST


def _placed(basins: Sequence[BasinView], plan: _Plan, room_px: int, panel: Panel) -> ShelfView:
    first = sorted(range(len(basins)), key=lambda n: _urgency(basins[n]))
    chosen = sorted(first[: plan.places])
    if left := sorted(first[plan.places :]):
        chosen.sort(key=lambda n: _place(basins[n]))
    height = room_px // plan.rows
    cells = tuple(_filled(_cell(basins[n], plan), plan, height) for n in chosen)
    rest = rest_line(summary([basins[n] for n in left]), panel.line_ems, "basin", panel.rest_lines)
    return ShelfView(plan.measures.style, plan.columns, cells, rest)


def _urgency(basin: BasinView) -> tuple[int, bool, int, int]:
    """What an urgent alert tells of that nobody has answered comes first."""
    calm = basin.say.tone >= Tone.MET and not basin.held and basin.solution.standing is not Standing.BAD
    return _place(basin), calm, basin.say.tone, basin.countdown.until_ms if basin.countdown else 0


def _cell(basin: BasinView, plan: _Plan) -> Cell:
    """The cell with what it must show."""
    dense, name_px = plan.measures is DENSE, plan.width_px - (TIE_PX if basin.tied else 0)
    name = (
        written(basin.name, name_px, largest_px=SECOND_PX, minor_rows=1)
        if dense
        else written(basin.name, name_px, double=True)
    )
    wide = plan.width_px >= WIDE_PX
    celsius, need = _warmth_on_a_row(basin, plan.width_px) if dense else _warmth(basin, plan.width_px)
    if dense and basin.say.tone is Tone.ENDED_MET:
        celsius, need = "", ""
    return Cell(
        basin=basin,
        name=name,
        big=basin.say.big if wide else basin.say.brief or basin.say.big,
        held=() if _forbids_use(basin) else held_rows(basin, plan.width_px),
        solution=_solution_rows(basin, plan) if _must_tell_solution(basin) else (),
        rows=basin.say.rows[:1] if not dense or _says_too_little(basin) else (),
        celsius=celsius,
        need=need,
        inside="" if dense else inside_row(basin.inside, plan.width_px),
        lead=_lead(basin, plan) if basin.say.tone is Tone.ENDED_MET else "",
        digits=_digits(basin, plan),
    )


def _lead(basin: BasinView, plan: _Plan) -> str:
    leads = basin.say.leads
    return next((lead for lead in leads if PLAIN.ems(lead) * SECOND_PX <= plan.width_px), leads[-1] if leads else "")


def _digits(basin: BasinView, plan: _Plan) -> str:
    """The largest size of the countdown that leaves room for the words behind it."""
    if basin.countdown is None:
        return ""
    room, sizes = plan.width_px - PLAIN.ems(TO_GO) * SECOND_PX, plan.measures.digits
    ems = BOLD.ems(basin.countdown.text)
    return next((style for px, style in sizes if ems * px <= room), sizes[-1][1])


def _must_tell_solution(basin: BasinView) -> bool:
    """Where the probe is to be held anyway it may be left out, unless it forbids to use the solution.

    In large words the state tells of it already.
    """
    if basin.say.tone is Tone.FELL_SHORT:
        return False
    return basin.solution.standing is Standing.BAD and (basin.held == "" or _forbids_use(basin))


def _forbids_use(basin: BasinView) -> bool:
    """Whether no probe may go into this solution, which comes before what became of an earlier one."""
    return basin.solution.then == DO_NOT_USE


def _solution_rows(basin: BasinView, plan: _Plan) -> tuple[str, ...]:
    return basin.solution.rows(plan.width_px, most=1 if plan.measures is DENSE else 2)


def _warmth(basin: BasinView, width_px: float) -> tuple[str, str]:
    """Temperature and, on a row of its own, what it has to be."""
    fitting = (need for need in _needs(basin) if _face(basin).ems(need) * SECOND_PX + MARK_PX <= width_px)
    return _celsius(basin), next(fitting, basin.threshold)


def _celsius(basin: BasinView) -> str:
    return f"temp. {basin.celsius}" if basin.warm == "not-known" else basin.celsius


def _needs(basin: BasinView) -> tuple[str, ...]:
    """In the fullest words first."""
    least = basin.threshold
    return f"at least {least} °C", f"at least {least}", f"needs {least}", f"need {least}", f"≥ {least}"


def _face(basin: BasinView) -> Face:
    """In which it is written (wall.css)."""
    return BOLD if basin.warm == "no" else PLAIN


def _warmth_on_a_row(basin: BasinView, width_px: float) -> tuple[str, str]:
    """Temperature and what it needs, as fully as the row holds."""
    celsius = _celsius(basin)
    if basin.warm == "not-known":
        return celsius, ""
    for need in _needs(basin):
        if (PLAIN.ems(celsius) + _face(basin).ems(need)) * SECOND_PX + MARK_PX <= width_px:
            return celsius, need
    return celsius, basin.threshold


def _says_too_little(basin: BasinView) -> bool:
    """Whether its large words say too little without the line under them."""
    return basin.say.tone in _TELLING or basin.say.big == NOT_CONFIRMED


_TELLING = frozenset({Tone.UNCONFIRMED, Tone.COUNTING, Tone.FELL_SHORT})


def _least_px(cell: Cell, plan: _Plan) -> int:
    """The height of what a cell must show."""
    size = plan.measures
    state = size.figure if cell.basin.countdown else size.big * len(cell.big) + size.big_pad
    held = size.held * len(cell.held) + size.held_pad if cell.held else 0
    solution = size.held * len(cell.solution) + size.held_pad if cell.solution else 0
    note = size.minor * lines(cell.basin.note, plan.width_px / MINOR_PX, PLAIN) if cell.basin.note else 0
    name = size.double if cell.name.size == "double" else size.name
    rows = len(cell.rows) + (cell.inside != "") + (cell.lead != "")
    warmth = size.warmth if cell.celsius else 0
    return size.pad + name + state + size.row * rows + held + solution + note + warmth


def _filled(cell: Cell, plan: _Plan, height_px: int) -> Cell:
    """The cell with as much more as its height allows, the most useful first."""
    basin, size = cell.basin, plan.measures
    room = Room(height_px - _least_px(cell, plan))
    small = plan.width_px / MINOR_PX
    celsius, need = cell.celsius, cell.need
    if not celsius and room.takes(size.warmth):
        celsius, need = _warmth_on_a_row(basin, plan.width_px)
    solution = cell.solution or _solution_rows(basin, plan)
    if not cell.solution and solution and not room.takes(size.held * len(solution) + size.held_pad):
        solution = ()
    held = cell.held or held_rows(basin, plan.width_px)
    if not cell.held and held and not room.takes(size.held * len(held) + size.held_pad):
        held = ()
    inside = cell.inside or inside_row(basin.inside, plan.width_px)
    if not cell.inside and inside and not room.takes(size.row):
        inside = ""
    lead = cell.lead or _lead(basin, plan)
    if not cell.lead and lead and not room.takes(size.row):
        lead = ""
    why = basin.why if celsius and room.takes(size.minor) else ""
    rows = (*cell.rows, *(row for row in basin.say.rows[len(cell.rows) :] if room.takes(size.row)))
    label = basin.label if room.takes(size.minor) else ""
    chemistry = basin.chemistry if room.takes(size.minor * lines(basin.chemistry, small, PLAIN)) else ""
    credit = basin.credit if basin.credit and room.takes(size.minor) else ""
    room.takes(size.earlier_pad)
    past = (past.words(plan.width_px / EARLIER_PX) for past in basin.earlier[:MOST_EARLIER])
    earlier = tuple(words for words in past if room.takes(size.earlier))
    more = replace(cell, why=why, label=label, chemistry=chemistry, credit=credit, earlier=earlier)
    return replace(more, celsius=celsius, need=need, held=held, solution=solution, rows=rows, inside=inside, lead=lead)

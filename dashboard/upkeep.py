"""The page of a basin's solution: what is in it, for how long it is good, what was entered, and by which policy."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dashboard.head import StateView, state_view
from dashboard.live_listings import BasinNow
from dashboard.live_lists import Sieve, Sifted
from dashboard.solution import Standing, solution_view
from dashboard.words import moment, until
from gateway.hub import Feed
from rules.agenda import NEVER
from rules.picture import BasinPicture, Picture, SolutionPicture
from rules.readings import SECOND, Micros
from rules.solution import Terms

SITE_FILE = "site file, [solution]"


@dataclass(frozen=True, slots=True)
class ClockRow:
    """One of the three clocks: until when, and whether it is the earliest; ``binds`` in words."""

    name: str
    until: str
    binds: str


@dataclass(frozen=True, slots=True)
class PolicyRow:
    """What is asked, and who says so."""

    asks: str
    source: str


@dataclass(frozen=True, slots=True)
class UpkeepView:
    """What is recorded of a basin's solution.

    standing: 'good', 'due', 'bad' or 'not-recorded', the style; said: the same in words.
    contents, strip: what is in the basin and the last strip, a line each; next_strip: which strip is needed.
    """

    recorded: bool
    standing: str
    said: str
    chemistry: str
    contents: tuple[str, ...]
    clocks: tuple[ClockRow, ...]
    strip: str
    next_strip: str
    policy: tuple[PolicyRow, ...]


@dataclass(frozen=True, slots=True)
class FormView:
    """What the forms are filled with: the bottles of the newest entries, to be compared with those at hand.

    asks_dip: whether the time from dip to reading is asked for; dip_words: when a strip is to be read.
    """

    lot: str
    strip_lot: str
    strip_expiry: str
    asks_dip: bool
    dip_words: str


@dataclass(frozen=True, slots=True)
class BasinRow:
    """A basin in the list: how its solution stands, as style and in words."""

    id: str
    name: str
    chemistry: str
    standing: str
    said: str


@dataclass(frozen=True, slots=True)
class BasinListView:
    """All basins, or those that are asked for."""

    state: StateView
    recorded: bool
    sifted: Sifted[BasinRow]


def basin_of(picture: Picture, name: str) -> BasinPicture | None:
    """The basin with this id."""
    return next((basin for basin in picture.basins if basin.id == name), None)


def basin_list_view(feed: Feed, site_name: str, now: Micros, zone: ZoneInfo, sieve: Sieve[BasinNow]) -> BasinListView:
    """The list of basins at an instant, as it is asked for."""
    basins = feed.picture.basins
    there = [BasinNow(b, place, solution_view(b, now, zone).standing) for place, b in enumerate(basins, 1)]
    recorded = any(basin.solution.recorded for basin in basins)
    sifted = sieve.rows(there, now, lambda row: _basin_row(row.basin, now, zone))
    return BasinListView(state_view(feed, site_name, now, zone), recorded, sifted)


def _basin_row(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> BasinRow:
    return BasinRow(basin.id, basin.name, basin.chemistry, *_standing(basin, now, zone))


def upkeep_view(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> UpkeepView:
    """The page of one basin at an instant."""
    solution = basin.solution
    standing, said = _standing(basin, now, zone)
    return UpkeepView(
        recorded=solution.recorded,
        standing=standing,
        said=said,
        chemistry=basin.chemistry,
        contents=_contents(solution, now, zone),
        clocks=_clocks(solution, now, zone),
        strip=_strip(basin, now, zone),
        next_strip=_next_strip(solution),
        policy=_policy(solution.terms, basin.label_source),
    )


def form_view(basin: BasinPicture) -> FormView:
    """The forms of one basin, filled with what is known."""
    solution, terms = basin.solution, basin.solution.terms
    strip = solution.strip
    return FormView(
        lot=solution.lot.lot if solution.lot else "",
        strip_lot=(strip.lot or "") if strip else "",
        strip_expiry=strip.expiry.isoformat() if strip and strip.expiry else "",
        asks_dip=_is_timed(terms),
        dip_words=_dip_words(terms),
    )


def _standing(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> tuple[str, str]:
    view = solution_view(basin, now, zone)
    if view.standing is Standing.NOT_RECORDED:
        return view.standing.word, "not recorded"
    return view.standing.word, view.words


def _contents(solution: SolutionPicture, now: Micros, zone: ZoneInfo) -> tuple[str, ...]:
    lot = solution.lot
    if lot is None:
        return ("Nothing is recorded to be in this basin.",)
    topped = solution.topped_up
    return (
        f"Lot {lot.lot}, poured {moment(lot.at, now, zone)} by {lot.who}.",
        *([f"Topped up {moment(topped, now, zone)}, which extends nothing."] if topped is not None else []),
    )


def _clocks(solution: SolutionPicture, now: Micros, zone: ZoneInfo) -> tuple[ClockRow, ...]:
    if solution.lot is None:
        return ()
    names = ("Printed expiry", "Opened bottle", "In the basin since the pour")
    earliest = solution.clocks.until
    return tuple(
        ClockRow(name, _clock_words(clock, now, zone), _binds(clock, earliest, now))
        for name, clock in zip(names, solution.clocks, strict=True)
    )


def _clock_words(clock: Micros | None, now: Micros, zone: ZoneInfo) -> str:
    if clock is None:
        return "date missing"
    return "for one soak" if clock == NEVER else f"until {until(clock, now, zone)}"


def _binds(clock: Micros | None, earliest: Micros | None, now: Micros) -> str:
    if clock is None:
        return "so nothing is shown to be good"
    if clock <= now:
        return "over: do not use"
    return "the first to end: good until then" if clock == earliest else ""


def _strip(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> str:
    strip = basin.solution.strip
    if strip is None:
        return "No strip of this solution is recorded."
    who = f" by {strip.who}" if strip.who else " by a strip reader"
    return f"Last strip: {strip.result.value}, read {moment(strip.read, now, zone)}{who}.{_entered(basin, now, zone)}"


def _entered(basin: BasinPicture, now: Micros, zone: ZoneInfo) -> str:
    """That the strip of the soak under way, or of the last one, was entered only after it had begun."""
    if basin.soak is not None:
        which, entered = "this", basin.soak.strip_entered
    else:
        check = basin.ended[0].solution if basin.ended else None
        which, entered = "the last", None if check is None else check.check_entered
    if entered is None:
        return ""
    return f" The strip that counts for {which} soak was entered at {moment(entered, now, zone)}, after it had begun."


def _next_strip(solution: SolutionPicture) -> str:
    due = [reason.value for reason in solution.lacking if reason.value.startswith("strip")]
    if not due:
        return "The next soak needs no further strip."
    if due[0] == "strip failed":
        return "No strip mends this: discard the solution and pour a fresh one."
    return f"A strip that passes is needed before the next soak ({due[0]})."


def _policy(terms: Terms, label_source: str) -> tuple[PolicyRow, ...]:
    label = f"label {terms.label}: {label_source}"
    reuse = {None: "How long it may be reused is not known", 0: "For one soak only"}.get(
        terms.reuse_days, f"Reused for at most {terms.reuse_days} days of 24 h from the pour"
    )
    rows = [PolicyRow(reuse, label), PolicyRow(_how_often(terms), SITE_FILE)]
    if terms.bottle_days is not None:
        rows.append(PolicyRow(f"An opened bottle is good for {terms.bottle_days} days", label))
    elif terms.default_bottle_days is not None:
        rows.append(PolicyRow(f"An opened bottle is good for {terms.default_bottle_days} days", SITE_FILE))
    else:
        rows.append(PolicyRow("How long an opened bottle is good is to be entered with each pour", SITE_FILE))
    if _is_timed(terms):
        rows.append(PolicyRow(_dip_words(terms), label))
    if terms.strip_expiry_required:
        rows.append(PolicyRow("A strip counts only with the expiry of its bottle", SITE_FILE))
    return tuple(rows)


def _how_often(terms: Terms) -> str:
    if terms.policy.daily:
        return "A strip that passes on each day, before the soak"
    if terms.policy.every == 1:
        return "A strip that passes before each soak"
    return f"A strip that passes before every {terms.policy.every} soaks"


def _is_timed(terms: Terms) -> bool:
    return terms.strip_after > 0 or terms.strip_within < NEVER


def _dip_words(terms: Terms) -> str:
    after, within = max(0, terms.strip_after) // SECOND, terms.strip_within
    last = f" and no later than {within // SECOND} s" if within < NEVER else ""
    return f"A strip is read {after} s after its dip{last}" if _is_timed(terms) else ""

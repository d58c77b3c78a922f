"""Figures that people have changed by command: what they are over the site file's, since when, by whom."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rules.figure_commands import FigureCommand, SetFigures
from rules.figure_events import FigureChange, FigureEvent, FiguresChanged, FiguresRefused
from rules.figure_picture import FigureOrdered, FigurePicture
from rules.figures import FigureError, figures_of, judged_by
from rules.part import meant
from rules.readings import Micros
from rules.rule import Figure
from rules.ruleset import RuleBook
from rules.site import Site


@dataclass(frozen=True, slots=True)
class Order:
    """A figure is ``value`` instead of ``over``, which the site file said then."""

    value: float
    over: float
    who: str
    role: str
    why: str
    since: Micros


class FigureOrders:
    """The figures in force: those of the site file with what was ordered over them.

    The newest word counts: an order is over once the site file gives that very figure another value than the one that
    the order was given over, or has no such figure any more. Another change of the site file leaves it in force.
    """

    def __init__(self, site: Site, given: RuleBook, orders: Mapping[str, Order]) -> None:
        self._site = site
        self._given = given
        self.orders, self.book = _standing(site, given, orders)
        self._gone = {name: order for name, order in orders.items() if name not in self.orders}
        self._drawn: tuple[FigurePicture, ...] | None = None

    def obey(self, command: FigureCommand) -> FigureEvent | None:
        """What comes of a command, which takes effect where figures change; None where it is so already."""
        names = tuple(command.values) if isinstance(command, SetFigures) else command.names
        try:
            orders = self._after(command)
            book = judged_by(self._site, self._given, _values(orders))
        except FigureError as error:
            return FiguresRefused(at=command.arrived, names=names, problem=f"{error}.", who=command.who)
        changes = _changes(self.book, book)
        self.orders, self.book, self._drawn = orders, book, None
        if not changes:
            return None
        cause = "set" if isinstance(command, SetFigures) else "withdrawn"
        return FiguresChanged(
            at=command.arrived, changes=changes, cause=cause, who=command.who, role=command.role, why=command.why
        )

    def lapsed(self, now: Micros) -> FiguresChanged | None:
        """What of the orders that were taken up does not stand any more."""
        if not self._gone:
            return None
        given = figures_of(self._given)
        changes = tuple(_lapse(name, order, given) for name, order in self._gone.items())
        return FiguresChanged(at=now, changes=changes, cause="site file")

    def pictures(self) -> tuple[FigurePicture, ...]:
        """Every figure as it is in force, and by whose order; drawn anew only where that has changed."""
        if self._drawn is None:
            self._drawn = tuple(self._draw())
        return self._drawn

    def _draw(self) -> Iterator[FigurePicture]:
        given = figures_of(self._given)
        yield from (
            FigurePicture(name, f.value, f.unit, f.low, f.high, f.text, f.source, given[name].value, self._by(name))
            for name, f in figures_of(self.book).items()
        )

    def _by(self, name: str) -> FigureOrdered | None:
        order = self.orders.get(name)
        return None if order is None else FigureOrdered(order.who, order.role, order.why, order.since)

    def _after(self, command: FigureCommand) -> dict[str, Order]:
        """All orders with what the command changes of them; raises FigureError."""
        roles = self._site.alerts.maintenance_roles
        if command.role not in roles:
            raise FigureError(f"As '{command.role}' nobody may change figures; expected one of {', '.join(roles)}")
        if not isinstance(command, SetFigures):
            if unknown := [name for name in command.names if name not in self.orders]:
                raise FigureError(f"'{unknown[0]}' is what the site file says; nothing of it was changed by command")
            return {name: order for name, order in self.orders.items() if name not in command.names}
        given, present = figures_of(self._given), figures_of(self.book)
        orders = dict(self.orders)
        for name, value in command.values.items():
            if name not in given:
                raise FigureError(f"'{name}' is no figure; {meant(name, given)}")
            over = given[name].value
            if value == over:
                orders.pop(name, None)
            elif value != present[name].value:
                orders[name] = Order(value, over, command.who, command.role, command.why, command.arrived)
        return orders


def _values(orders: Mapping[str, Order]) -> dict[str, float]:
    return {name: order.value for name, order in orders.items()}


def _standing(site: Site, given: RuleBook, orders: Mapping[str, Order]) -> tuple[dict[str, Order], RuleBook]:
    """The orders that the site file has not overtaken and that fit it, and the book with them."""
    if not orders:
        return {}, given
    figures = figures_of(given)
    kept = {name: order for name, order in orders.items() if name in figures and figures[name].value == order.over}
    try:
        return kept, judged_by(site, given, _values(kept))
    except FigureError:
        return _one_by_one(site, given, kept)


def _one_by_one(site: Site, given: RuleBook, orders: Mapping[str, Order]) -> tuple[dict[str, Order], RuleBook]:
    """As many as fit what else the site file says by now, the oldest first."""
    kept: dict[str, Order] = {}
    book = given
    for name, order in orders.items():
        try:
            book = judged_by(site, given, {**_values(kept), name: order.value})
        except FigureError:
            continue
        kept[name] = order
    return kept, book


def _changes(before: RuleBook, after: RuleBook) -> tuple[FigureChange, ...]:
    was, now = figures_of(before), figures_of(after)
    return tuple(
        FigureChange(name=name, unit=figure.unit, before=was[name].value, after=figure.value)
        for name, figure in now.items()
        if figure.value != was[name].value
    )


def _lapse(name: str, order: Order, given: Mapping[str, Figure]) -> FigureChange:
    figure = given.get(name)
    unit, after = ("", None) if figure is None else (figure.unit, figure.value)
    return FigureChange(name=name, unit=unit, before=order.value, after=after)

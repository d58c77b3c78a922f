"""Changed figures in words."""

from rules.figure_events import FigureChange, FigureEvent, FiguresChanged, FiguresRefused

_OVER = "the site file gives another value by now"


def figure_words(event: FigureEvent) -> str:
    """What the event says, its kind and when it was told left out."""
    match event:
        case FiguresRefused(problem=problem, who=who):
            return f"asked for by {who}: {problem}"
        case FiguresChanged(changes=changes, cause="site file"):
            return f"{_all(changes)}: {_OVER}"
        case FiguresChanged(changes=changes, cause=cause, who=who, role=role, why=why):
            back = "back to the site file's, " if cause == "withdrawn" else ""
            return f"{back}{_all(changes)} by {who}, {role}: {why}"


def _all(changes: tuple[FigureChange, ...]) -> str:
    return ", ".join(map(change_words, changes))


def change_words(change: FigureChange) -> str:
    """A figure with its values before and after."""
    if change.after is None:
        return f"{change.name} is no figure any more"
    unit = change.unit and f" {change.unit}"
    return f"{change.name} {change.before:g}{unit} -> {change.after:g}{unit}"

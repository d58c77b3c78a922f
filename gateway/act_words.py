"""What each command was about, in words: things and probes by their names, times in the site's zone."""

from dataclasses import dataclass

from gateway.alert_telling import because
from gateway.event_words import EventWords
from rules.acts import Acted
from rules.alert_commands import (
    Acknowledge,
    AlertCommand,
    AlertDeed,
    Decline,
    HandOver,
    PageTold,
    PauseSound,
    PutBack,
    Settle,
    Shelve,
    TakeOut,
    TakeOver,
    TryPages,
    Unshelve,
)
from rules.commands import (
    BasinEntry,
    CartEntry,
    Claim,
    Command,
    Contact,
    Discard,
    Entry,
    GelDiscarded,
    GelOpened,
    Inspected,
    Placed,
    Pour,
    ProbeEntry,
    SensorFoundOff,
    StepsDone,
    Strike,
    StripRead,
    TopUp,
    Vouch,
    WipedDown,
)
from rules.figure_commands import FigureCommand, SetFigures, WithdrawFigures


@dataclass(frozen=True, slots=True)
class ActWords:
    """With the names and the zone of ``words``."""

    words: EventWords

    def about(self, command: Command) -> str:
        """What the command says besides its kind and who gave it."""
        if isinstance(command, Entry):
            return self._entry(command)
        if isinstance(command, AlertDeed):
            return _of_alert(command)
        if isinstance(command, AlertCommand):
            return self._of_service(command)
        return self._of_record(command)

    def _of_service(self, command: TakeOut | PutBack | PauseSound | TryPages | PageTold) -> str:
        match command:
            case TakeOut(thing=thing, rule=rule, why=why):
                return f"{self.words.name(thing)}, {rule or 'all rules'}: {why}"
            case PutBack(thing=thing, rule=rule):
                return f"{self.words.name(thing)}, {rule or 'all rules'}"
            case PauseSound(minutes=minutes):
                return f"for {minutes:g} minutes"
            case TryPages():
                return ""
            case PageTold(page=page, outcome=outcome, detail=detail):
                return f"{page} {outcome}{because(detail)}"

    def _of_record(self, command: Acted | Strike | SensorFoundOff | FigureCommand) -> str:
        match command:
            case Acted(about=about):
                return about
            case Strike(entry=entry, why=why):
                return f"{entry.kind}, {self._entry(entry)}, entered by {entry.who}: {why}"
            case SensorFoundOff(sensor=sensor, error_celsius=error, since=since, why=why):
                return f"{sensor} read {error:+g} °C too much from {self.words.time(since)} on: {why}"
            case SetFigures(values=values, why=why):
                return f"{', '.join(f'{name} = {value:g}' for name, value in values.items())}: {why}"
            case WithdrawFigures(names=names, why=why):
                return f"{', '.join(names)}: {why}"

    def _entry(self, entry: Entry) -> str:
        thing, what = _of_basin(entry) if isinstance(entry, BasinEntry) else self._of_others(entry)
        when = "" if entry.happened == entry.arrived else self.words.time(entry.happened)
        return ", ".join(filter(None, (self.words.name(thing), what, when)))

    def _of_others(self, entry: ProbeEntry | CartEntry) -> tuple[str, str]:
        if isinstance(entry, CartEntry):
            return entry.cart, _of_cart(entry)
        return entry.probe, self._of_probe(entry)

    def _of_probe(self, entry: ProbeEntry) -> str:
        match entry:
            case Contact(surface=surface, exam=exam):
                return f"{surface}{f', exam {exam}' if exam else ''}"
            case StepsDone(steps=steps, times=times, remark=remark):
                return f"{', '.join(steps)}{f', {times} times' if times > 1 else ''}{because(remark)}"
            case Placed(place=place, thing=thing):
                return f"{place} {self.words.name(thing)}".rstrip()
            case Claim(soak=soak, role=role):
                return f"soak {soak}, as {role}"
            case Vouch(role=role, why=why):
                return f"as {role}: {why}"
            case Inspected(sound=sound, remark=remark):
                return f"{'no damage found' if sound else 'damage found'}{because(remark)}"


def _of_alert(command: AlertDeed) -> str:
    match command:
        case HandOver(role=role):
            return f"{command.alert} to {role}"
        case TakeOver(holder=holder):
            return f"{command.alert} from {holder}"
        case Settle(why=why):
            return f"{command.alert}: {why}"
        case Shelve(minutes=minutes, one_shot=one_shot, why=why):
            until = "until it is over, at most" if one_shot else "for"
            return f"{command.alert} {until} {minutes:g} minutes: {why}"
        case Acknowledge() | Decline() | Unshelve():
            return command.alert


def _of_basin(entry: BasinEntry) -> tuple[str, str]:
    match entry:
        case Pour(lot=lot, label=label):
            what = f"lot {lot}, {label}"
        case TopUp(lot=lot):
            what = f"lot {lot}"
        case StripRead(result=result, lot=lot):
            what = f"{result}{f', lot {lot}' if lot else ''}"
        case Discard():
            what = ""
    return entry.basin, what


def _of_cart(entry: CartEntry) -> str:
    match entry:
        case GelOpened(opened=opened, lot=lot):
            return f"opened {opened}{f', lot {lot}' if lot else ''}"
        case GelDiscarded() | WipedDown():
            return ""

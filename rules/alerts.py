"""The life of an alert: raised after its on-delay, acknowledged by a person, over after its off-delay.

After IEC 62682 / ISA-18.2; a subset for now (no shelving, no suppression).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import cel

from rules.agenda import Task
from rules.alert_events import AlertAcknowledged, AlertOver, AlertRaised
from rules.alert_words import Priority
from rules.board import Board, Fact, Subject, SubjectKind
from rules.desk import Desk
from rules.health import Ears
from rules.picture import AlertPicture
from rules.readings import NO_TIME, Micros, micros
from rules.rule import Rule
from rules.ruleset import Compiled, RuleBook

DELAY = "alert delay"
"""Work of the agenda: a condition has held, or been clear, for its whole delay."""

PASSED_ADVICE = "Look again before you act, and acknowledge this. What it tells of is known otherwise by now."
FAILED_ADVICE = "Watch it yourself, and tell the engineer. The condition of the rule cannot be worked out."


class Phase(StrEnum):
    """Where an alert stands; ``rising`` and ``clearing`` wait for a delay."""

    NORMAL = "normal"
    RISING = "rising"
    RAISED = "raised"
    CLEARING = "clearing"


@dataclass(slots=True)
class Alert:
    """One rule on one subject, and the alert that it raised.

    id, raised, text, advice: of the alert that stands now, empty while none does.
    told: the texts among the facts that it tells of, by name, as they were when it was last told.
    failed: it tells only that its condition cannot be worked out.
    passed: it waits for a person only: its condition holds no longer.
    done: the condition still holds, but a person has answered for what happened.
    """

    rule: str
    subject: Subject
    phase: Phase = Phase.NORMAL
    id: str = ""
    raised: Micros = NO_TIME
    text: str = ""
    advice: str = ""
    acknowledged_by: str | None = None
    acknowledged_at: Micros | None = None
    told: dict[str, str] = field(default_factory=dict)
    failed: bool = False
    passed: bool = False
    done: bool = False

    @property
    def stands(self) -> bool:
        """Whether somebody has to know of it."""
        return self.phase in (Phase.RAISED, Phase.CLEARING)


@dataclass(slots=True)
class AlertsState:
    """Every alert that is not at rest, by task name; ``counter`` numbers the raised ones."""

    counter: int = 0
    alerts: dict[str, Alert] = field(default_factory=dict)


class _Eye:
    """Looks at one subject with one rule: keeps the values that the condition reads at hand for CEL."""

    def __init__(self, compiled: Compiled, facts: Mapping[str, Fact], *, stands: bool) -> None:
        self.compiled = compiled
        limits = {name: figure.value for name, figure in compiled.rule.limits.items()}
        self._context = cel.Context({**limits, **{name: facts[name] for name in compiled.reads}})
        self.stands(stands)

    def see(self, name: str, value: Fact) -> None:
        self._context.add_variable(name, value)

    def stands(self, stands: bool) -> None:  # noqa: FBT001 - the state itself
        if self.compiled.uses_deadband:
            self._context.add_variable("deadband", self.compiled.rule.deadband.value if stands else 0.0)

    def answer(self) -> bool | None:
        """Whether the condition holds; None where nobody can say, so that a person has to look, too."""
        return self.compiled.holds(self._context)


class Alerts:
    """Watches the board with the rules of a book."""

    def __init__(self, book: RuleBook, desk: Desk, ears: Ears, state: AlertsState | None = None) -> None:
        self._book = book
        self._desk = desk
        self._ears = ears
        self.state = state or AlertsState()
        self._by_fact: dict[tuple[SubjectKind, str], list[Compiled]] = {}
        for compiled in book.rules.values():
            for name in compiled.looked_at:
                self._by_fact.setdefault((compiled.rule.watches, name), []).append(compiled)
        self._eyes: dict[Subject, dict[str, _Eye]] = {}

    def look(self, now: Micros) -> None:
        """Evaluate the rules that read a fact which has changed.

        While the gateway hears nothing only what it says of itself is judged: of all else nothing is known.
        """
        board = self._desk.board
        while board.changed:
            changed, board.changed = board.changed, {}
            seen: dict[tuple[Subject, str], _Eye] = {}
            for subject, name in changed:
                if subject in board.facts:
                    self._note(board, subject, name, seen)
                else:
                    self._gone(subject, now)
            for (subject, rule_id), eye in seen.items():
                if self._ears.hearing or subject.kind is SubjectKind.GATEWAY:
                    self._judge(subject, rule_id, eye, now)

    def hold(self) -> None:
        """Nothing is heard any more: no delay runs on, and what stands goes on standing."""
        for key, alert in list(self.state.alerts.items()):
            if alert.subject.kind is SubjectKind.GATEWAY:
                continue
            if alert.phase is Phase.RISING:
                self._rest(key)
            else:
                self._stand_on(key, alert)

    def _stand_on(self, key: str, alert: Alert) -> None:
        """An off-delay that runs is of no matter any more."""
        if alert.phase is Phase.CLEARING:
            self._desk.agenda.cancel(Task(DELAY, key))
            alert.phase = Phase.RAISED

    def _note(self, board: Board, subject: Subject, name: str, seen: dict[tuple[Subject, str], _Eye]) -> None:
        value = board.facts[subject][name]
        for compiled in self._by_fact.get((subject.kind, name), ()):
            eye = self._eye(compiled, subject)
            eye.see(name, value)
            seen[subject, compiled.rule.id] = eye

    def _eye(self, compiled: Compiled, subject: Subject) -> _Eye:
        eyes = self._eyes.setdefault(subject, {})
        eye = eyes.get(compiled.rule.id)
        if eye is None:
            alert = self.state.alerts.get(_key(compiled.rule.id, subject))
            stands = alert is not None and alert.stands
            eye = eyes[compiled.rule.id] = _Eye(compiled, self._desk.board.facts[subject], stands=stands)
        return eye

    def _judge(self, subject: Subject, rule_id: str, eye: _Eye, now: Micros) -> None:
        key = _key(rule_id, subject)
        alert = self.state.alerts.get(key)
        answer = eye.answer()
        holds = answer is not False
        if alert is None:
            if not holds:
                return
            alert = self.state.alerts[key] = Alert(rule_id, subject)
        rule = eye.compiled.rule
        if alert.stands and rule.stands_until == "acknowledged":
            self._tell_anew(alert, eye, answer)
        elif holds and alert.stands:
            self._stand_on(key, alert)
            if alert.failed is not (answer is None):
                self._tell(alert, eye, answer)
        elif holds and alert.phase is Phase.NORMAL and not (alert.done and self._is_as_told(alert, eye)):
            alert.done = False
            self._wait(alert, Phase.RISING, rule.on_delay_seconds.value, now)
        elif not holds and alert.phase in (Phase.NORMAL, Phase.RISING):
            self._rest(key)
        elif not holds and alert.phase is Phase.RAISED:
            self._wait(alert, Phase.CLEARING, rule.off_delay_seconds.value, now)

    def _wait(self, alert: Alert, phase: Phase, seconds: float, now: Micros) -> None:
        alert.phase = phase
        if seconds > 0:
            task = Task(DELAY, _key(alert.rule, alert.subject))
            self._desk.agenda.set(task, Micros(now + micros(seconds)))
        else:
            self._delay_over(alert, now)

    def fall_due(self, key: str, due: Micros) -> None:
        """A delay is over: a condition held or was clear all the time."""
        alert = self.state.alerts.get(key)
        if alert is not None:
            self._delay_over(alert, due)

    def _delay_over(self, alert: Alert, now: Micros) -> None:
        if alert.phase is Phase.RISING:
            self._raise(alert, now)
        elif alert.phase is Phase.CLEARING:
            self._over(alert, now, "cleared")
            self._rest(_key(alert.rule, alert.subject))

    def _raise(self, alert: Alert, now: Micros) -> None:
        rule = self._book.rules[alert.rule].rule
        eye = self._eye(self._book.rules[alert.rule], alert.subject)
        self.state.counter += 1
        alert.phase, alert.id, alert.raised = Phase.RAISED, f"alert-{self.state.counter}", now
        alert.acknowledged_by = alert.acknowledged_at = None
        self._tell(alert, eye, eye.answer())
        eye.stands(True)  # noqa: FBT003 - the state itself
        self._desk.say(
            AlertRaised(
                at=now,
                alert=alert.id,
                rule=rule.id,
                subject=f"{alert.subject.kind.value} {alert.subject.id}",
                priority=rule.priority,
                text=alert.text,
                advice=alert.advice,
            )
        )

    def _tell(self, alert: Alert, eye: _Eye, answer: bool | None) -> None:  # noqa: FBT001 - what the condition gives
        """Text and advice by the facts of now; of a rule that fails they claim nothing but that."""
        rule, facts = eye.compiled.rule, self._desk.board.facts[alert.subject]
        alert.told, alert.failed, alert.passed = self._texts(alert, eye), answer is None, False
        if alert.failed:
            alert.text, alert.advice = f"{facts['name']}: rule '{rule.id}' fails", FAILED_ADVICE
        else:
            alert.text, alert.advice = rule.text.format_map(facts), rule.advice.format_map(facts)

    def _tell_anew(self, alert: Alert, eye: _Eye, answer: bool | None) -> None:  # noqa: FBT001 - as above
        """What happened is known otherwise now, as a verdict was amended; somebody still has to answer for it."""
        told_nothing = alert.passed or (alert.failed and answer is not None)
        if answer is not False and (told_nothing or alert.told != self._texts(alert, eye)):
            self._tell(alert, eye, answer)
        elif answer is False and not alert.passed:
            alert.text, alert.advice, alert.passed = f"{alert.text} (no longer so)", PASSED_ADVICE, True

    def _texts(self, alert: Alert, eye: _Eye) -> dict[str, str]:
        """Not the numbers: a number that wanders does not make it another thing that happened."""
        facts = self._desk.board.facts[alert.subject]
        names = sorted(eye.compiled.looked_at)
        return {name: value for name in names if isinstance(value := facts[name], str)}

    def _is_as_told(self, alert: Alert, eye: _Eye) -> bool:
        """Whether what a person has answered for is still what the condition tells of."""
        facts = self._desk.board.facts[alert.subject]
        return all(facts[name] == text for name, text in alert.told.items() if name in eye.compiled.reads)

    def _over(self, alert: Alert, now: Micros, why: str) -> None:
        self._desk.say(AlertOver.model_validate({"at": now, "alert": alert.id, "why": why}))

    def _rest(self, key: str) -> None:
        self._desk.agenda.cancel(Task(DELAY, key))
        alert = self.state.alerts.pop(key)
        eye = self._eyes.get(alert.subject, {}).get(alert.rule)
        if eye is not None:
            eye.stands(False)  # noqa: FBT003 - the state itself

    def _gone(self, subject: Subject, now: Micros) -> None:
        """Nobody watches the subject any more: what it raised is over."""
        self._eyes.pop(subject, None)
        for key, alert in [(k, a) for k, a in self.state.alerts.items() if a.subject == subject]:
            self._let_go(key, alert, now)

    def _let_go(self, key: str, alert: Alert, now: Micros) -> None:
        if self._waits_for_a_person(alert):
            return  # It tells of something that happened: that its subject is long forgotten does not undo it.
        if alert.stands:
            self._over(alert, now, "no longer watched")
        self._rest(key)

    def _rule_behind(self, alert: Alert) -> Rule | None:
        """The rule in force; None where it is gone, or watches another kind of thing by now."""
        compiled = self._book.rules.get(alert.rule)
        return compiled.rule if compiled is not None and compiled.rule.watches is alert.subject.kind else None

    def _waits_for_a_person(self, alert: Alert) -> bool:
        rule = self._rule_behind(alert)
        return alert.stands and rule is not None and rule.stands_until == "acknowledged"

    def come_under_new_law(self, now: Micros) -> None:
        """After a change of site file or rules: end what nothing stands behind any more, or was answered for before."""
        facts = self._desk.board.facts
        for key, alert in list(self.state.alerts.items()):
            if alert.subject not in facts or self._rule_behind(alert) is None:
                self._let_go(key, alert, now)
        for key, alert in list(self.state.alerts.items()):
            if self._waits_for_a_person(alert):
                self._stand_on(key, alert)
                if alert.acknowledged_by is not None:
                    self._answered(alert, now)

    def acknowledge(self, alert_id: str, who: str, now: Micros) -> bool:
        """A person answers for an alert; False where none of that name stands, or somebody already has."""
        alert = next((a for a in self.state.alerts.values() if a.id == alert_id and a.stands), None)
        if alert is None or alert.acknowledged_by is not None:
            return False
        alert.acknowledged_by, alert.acknowledged_at = who, now
        self._desk.say(AlertAcknowledged(at=now, alert=alert.id, who=who))
        if self._book.rules[alert.rule].rule.stands_until == "acknowledged":
            self._answered(alert, now)
        return True

    def _answered(self, alert: Alert, now: Micros) -> None:
        self._over(alert, now, "acknowledged")
        alert.phase, alert.done = Phase.NORMAL, True
        if not self._still_holds(alert):
            self._rest(_key(alert.rule, alert.subject))

    def _still_holds(self, alert: Alert) -> bool:
        """Whether the condition of an alert that does not stand any more holds on, its deadband no longer counting."""
        if alert.subject not in self._desk.board.facts:
            return False
        eye = self._eye(self._book.rules[alert.rule], alert.subject)
        eye.stands(False)  # noqa: FBT003 - the state itself
        return eye.answer() is not False

    def pictures(self) -> tuple[AlertPicture, ...]:
        """Alerts that stand, most urgent first, then oldest first."""
        return tuple(sorted(self._pictures(), key=lambda a: (_URGENCY[a.priority], a.raised, a.id)))

    def _pictures(self) -> Iterable[AlertPicture]:
        for alert in self.state.alerts.values():
            if alert.stands:
                yield AlertPicture(
                    id=alert.id,
                    rule=alert.rule,
                    subject=f"{alert.subject.kind.value} {alert.subject.id}",
                    priority=self._book.rules[alert.rule].rule.priority,
                    text=alert.text,
                    advice=alert.advice,
                    raised=alert.raised,
                    acknowledged_by=alert.acknowledged_by,
                    acknowledged_at=alert.acknowledged_at,
                )


_URGENCY = {Priority.HIGH: 0, Priority.MEDIUM: 1, Priority.LOW: 2}


def _key(rule: str, subject: Subject) -> str:
    return f"{rule} {subject.kind.value} {subject.id}"

"""Watches the board: whether a rule's condition begins or ends to hold, after its delays, and suppresses it or not."""

from dataclasses import replace

from rules.agenda import Task
from rules.alert_eye import Eye
from rules.alert_life import Life, begins, come_under, ends, suppress, unwatched
from rules.alert_register import DELAY, PASSED_ADVICE, Alert, AlertRegister, Wait, key_of
from rules.belonging import Belonging
from rules.board import Board, Subject, SubjectKind
from rules.desk import Desk
from rules.health import Ears
from rules.onlooker import Onlooker
from rules.readings import Micros, micros
from rules.ruleset import Compiled, RuleBook


class Alerts:
    """Watches the board with the rules of a book; what it finds is entered in the register."""

    def __init__(
        self,
        book: RuleBook,
        desk: Desk,
        ears: Ears,
        belonging: Belonging,
        register: AlertRegister,
        onlooker: Onlooker | None = None,
    ) -> None:
        self._book = book
        self._desk = desk
        self._ears = ears
        self._belonging = belonging
        self._register = register
        self._alerts = register.state.alerts
        self._onlooker = onlooker
        self._by_fact: dict[tuple[SubjectKind, str], list[Compiled]] = {}
        for compiled in book.rules.values():
            for name in compiled.looked_at:
                self._by_fact.setdefault((compiled.rule.watches, name), []).append(compiled)
        self._eyes: dict[Subject, dict[str, Eye]] = {}

    def look(self, now: Micros) -> None:
        """Evaluate the rules that read a fact which has changed.

        While the gateway hears nothing only what it says of itself is judged: of all else nothing is known.
        """
        board = self._desk.board
        while board.changed:
            changed, board.changed = board.changed, {}
            seen: dict[tuple[Subject, str], Eye] = {}
            for subject, name in changed:
                if subject in board.facts:
                    self._note(board, subject, name, seen)
                else:
                    self._gone(subject, now)
            for (subject, rule_id), eye in seen.items():
                if self._ears.hearing or subject.kind is SubjectKind.GATEWAY:
                    self._judge(subject, rule_id, eye, now)

    def hold(self) -> None:
        """Nothing is heard any more: no delay runs on, and what stands goes on standing.

        What people have set runs on: the time on a shelf, and until an acknowledged alert asks anew.
        """
        if self._onlooker is not None:
            self._onlooker.held()
        for alert in list(self._alerts.values()):
            if alert.subject.kind is not SubjectKind.GATEWAY:
                self._wait_no_longer(alert)
                self._register.drop_at_rest(alert)

    def _note(self, board: Board, subject: Subject, name: str, seen: dict[tuple[Subject, str], Eye]) -> None:
        value = board.facts[subject][name]
        for compiled in self._by_fact.get((subject.kind, name), ()):
            eye = self._eye(compiled, subject)
            eye.see(name, value)
            seen[subject, compiled.rule.id] = eye

    def _eye(self, compiled: Compiled, subject: Subject) -> Eye:
        eyes = self._eyes.setdefault(subject, {})
        eye = eyes.get(compiled.rule.id)
        if eye is None:
            eye = eyes[compiled.rule.id] = Eye(compiled, self._desk.board.facts[subject])
        return eye

    # ---- what the conditions say -----------------------------------------------------------------------------------

    def _judge(self, subject: Subject, rule_id: str, eye: Eye, now: Micros) -> None:
        if self._onlooker is not None:
            self._onlooker.judged(rule_id, subject, self._desk.board.facts[subject], now)
        alert = self._alerts.get(key_of(rule_id, subject))
        answer = eye.answer(active=alert is not None and alert.life.active)
        if alert is None:
            if answer is False:
                return
            alert = self._first_seen(subject, eye)
        suppressed = eye.suppresses()
        if suppressed:
            self._suppress(alert, now, suppressed=True)
        self._follow(alert, eye, answer, now)
        if not suppressed:  # last, so that what ends at the same instant is not told once more
            self._suppress(alert, now, suppressed=False)
        self._register.drop_at_rest(alert)

    def _first_seen(self, subject: Subject, eye: Eye) -> Alert:
        rule = eye.compiled.rule
        out = self._register.out_of(rule.id, self._belonging.of(subject)) is not None
        alert = Alert(rule.id, subject, Life(rule.stands_until, suppressed=eye.suppresses(), out=out))
        self._alerts[alert.key] = alert
        return alert

    def _suppress(self, alert: Alert, now: Micros, *, suppressed: bool) -> None:
        if alert.life.suppressed is not suppressed:
            self._register.live(alert, suppress(alert.life, suppressed=suppressed), now)

    def _follow(self, alert: Alert, eye: Eye, answer: bool | None, now: Micros) -> None:  # noqa: FBT001 - what it gives
        rule, holds = eye.compiled.rule, answer is not False
        if alert.life.announced and rule.stands_until == "settled":
            self._tell_anew(alert, eye, answer)
        elif holds and alert.life.active and alert.failed is not (answer is None):
            alert.failed = answer is None
            self._register.tell(alert)
        if holds is alert.life.active:
            self._wait_no_longer(alert)
            alert.done = alert.done and holds
        elif not holds and alert.wait is Wait.NOTHING:
            self._wait(alert, Wait.CLEARING, rule.off_delay_seconds.value, now)
        elif holds and alert.wait is Wait.NOTHING and not (alert.done and self._is_as_told(alert, eye)):
            alert.done = False
            self._wait(alert, Wait.RISING, rule.on_delay_seconds.value, now)

    def _wait(self, alert: Alert, wait: Wait, seconds: float, now: Micros) -> None:
        alert.wait = wait
        if seconds > 0:
            self._desk.agenda.set(Task(DELAY, alert.key), Micros(now + micros(seconds)))
        else:
            self._delay_over(alert, now)

    def _wait_no_longer(self, alert: Alert) -> None:
        if alert.wait is not Wait.NOTHING:
            self._desk.agenda.cancel(Task(DELAY, alert.key))
            alert.wait = Wait.NOTHING

    def fall_due(self, key: str, due: Micros) -> None:
        """A delay is over: a condition held or was clear all the time."""
        alert = self._alerts[key]
        self._delay_over(alert, due)
        self._register.drop_at_rest(alert)

    def _delay_over(self, alert: Alert, now: Micros) -> None:
        rises, alert.wait = alert.wait is Wait.RISING, Wait.NOTHING
        if not rises:
            self._register.live(alert, ends(alert.life), now)
            return
        if not alert.life.announced:
            alert.raised = now
        if not (alert.life.announced and alert.life.until == "settled"):  # that has been told anew by now
            eye = self._eye(self._book.rules[alert.rule], alert.subject)
            alert.failed = eye.answer(active=False) is None
            self._register.tell(alert)
        self._register.live(alert, begins(alert.life), now)

    # ---- what happened is told anew --------------------------------------------------------------------------------

    def _tell_anew(self, alert: Alert, eye: Eye, answer: bool | None) -> None:  # noqa: FBT001 - what it gives
        """What happened is known otherwise now, as a verdict was amended; somebody still has to settle it."""
        told_nothing = alert.passed or (alert.failed and answer is not None)
        changed = alert.told != self._register.texts(alert, eye.compiled)
        if answer is not False and (told_nothing or changed):
            alert.failed = answer is None
            self._register.tell(alert)
        elif answer is False and not alert.passed:
            alert.text, alert.advice, alert.passed = f"{alert.text} (no longer so)", PASSED_ADVICE, True

    def _is_as_told(self, alert: Alert, eye: Eye) -> bool:
        """Whether what a person has settled is still what the condition tells of."""
        facts = self._desk.board.facts[alert.subject]
        return all(facts[name] == text for name, text in alert.told.items() if name in eye.compiled.reads)

    # ---- what nobody watches any more, or judges otherwise ---------------------------------------------------------

    def _gone(self, subject: Subject, now: Micros) -> None:
        self._eyes.pop(subject, None)
        if self._onlooker is not None:
            self._onlooker.gone(subject, now)
        for alert in [alert for alert in self._alerts.values() if alert.subject == subject]:
            self._let_go(alert, now)

    def _let_go(self, alert: Alert, now: Micros) -> None:
        """What it raised is over, but for what happened: that its subject is long forgotten does not undo it."""
        self._wait_no_longer(alert)
        alert.done = False
        self._register.live(alert, unwatched(alert.life), now)
        self._register.drop_at_rest(alert)

    def come_under_new_law(self, now: Micros) -> None:
        """After a change of site file or rules: end what nothing stands behind any more, and what hides no longer."""
        for alert in list(self._alerts.values()):
            rule = self._register.rule_behind(alert)
            is_watched = rule is not None and alert.subject in self._desk.board.facts
            if not is_watched:
                alert.life = replace(alert.life, until="seen" if rule is None else rule.stands_until)
                self._let_go(alert, now)
            if rule is not None:
                suppressed = is_watched and self._eye(self._book.rules[rule.id], alert.subject).suppresses()
                out = self._register.out_of(rule.id, self._belonging.of(alert.subject)) is not None
                change = come_under(alert.life, rule.stands_until, suppressed=suppressed, out=out)
                self._register.live(alert, change, now)
                self._register.keep_time_anew(alert)
                self._register.drop_at_rest(alert)

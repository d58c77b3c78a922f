"""What a scenario asks for held against what came of it: a sentence for each misfit."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rules.readings import Micros
from sim_devices.scenarios.kept import Alert
from sim_devices.scenarios.scenario import NotRaised, Raised, Scenario, Verdict, Wrong
from sim_devices.scenarios.stage import Played
from sim_devices.troubles.episode import Episode
from sim_devices.troubles.found import FOR


def misfits(scenario: Scenario, played: Played) -> list[str]:
    """All that is otherwise than the scenario says; empty where everything is as meant."""
    return _Judge(scenario, played).misfits()


class _Judge(NamedTuple):
    scenario: Scenario
    played: Played

    def misfits(self) -> list[str]:
        tables = self.scenario.tables
        return [
            *(said for wanted in tables.raised for said in self._raised(wanted)),
            *(said for refused in tables.not_raised for said in self._not_raised(refused)),
            *self._unlisted(),
            *(said for wrong in tables.wrong for said in self._wrong(wrong)),
            *self._unlisted_wrongs(),
            *(said for verdict in tables.verdict for said in self._verdict(verdict)),
        ]

    # ---- alerts -----------------------------------------------------------------------------------------------------

    def _raised(self, wanted: Raised) -> Iterator[str]:
        what = f"'{wanted.rule}'{_about(wanted.thing)}"
        found = [a for a in self._alerts(wanted) if self._is_in(wanted.between, a.raised)]
        if len(found) != wanted.times:
            times = "once" if wanted.times == 1 else f"{wanted.times} times"
            yield (
                f"{what} should be raised {times} between {self._span(wanted.between)}, and was raised"
                f" {self._times(self._alerts(wanted))}"
            )
            return
        yield from (f"{what} {said}" for alert in found if (said := self._truly(wanted, alert)))
        if wanted.over is not None:
            for alert in found:
                if alert.over is None or not self._is_in(wanted.over, alert.over):
                    is_over = "is not over" if alert.over is None else f"is over at {self.scenario.time(alert.over)}"
                    yield f"{what} should be over between {self._span(wanted.over)}, and {is_over}"

    def _truly(self, wanted: Raised, alert: Alert) -> str:
        """What is wrong with what the file says of whether it is true, '' where that is right."""
        troubles = FOR.get(alert.rule, ())
        alike = [e for e in self.played.episodes if e.trouble in troubles and e.subject.id == alert.subject.id]
        # A guard band has it raised a little before; a delay, after it was over already.
        is_true = not troubles or any(alert.over is None or e.start <= alert.over for e in alike)
        if is_true and wanted.falsely:
            return "is no false alert, for it really goes wrong; leave 'falsely' out"
        if not is_true and not wanted.falsely:
            return "is a false alert, for nothing of that kind really goes wrong; say why with the key 'falsely'"
        return ""

    def _not_raised(self, refused: NotRaised) -> Iterator[str]:
        for alert in self._alerts(refused):
            why = f" ({refused.why})" if refused.why else ""
            yield f"'{alert.rule}' about {alert.subject.id} should not be raised{why}, and was at {self._at(alert)}"

    def _unlisted(self) -> Iterator[str]:
        tables = self.scenario.tables
        for alert in self.played.alerts:
            if alert.rule not in tables.scenario.besides and not self._is_listed(alert):
                yield (
                    f"'{alert.rule}' about {alert.subject.id} is raised at {self._at(alert)}: {alert.text}; the"
                    " scenario lists no such alert"
                )

    def _is_listed(self, alert: Alert) -> bool:
        """Whether it is one that should be raised then, or one of which it is told that it should not."""
        tables = self.scenario.tables
        wanted = any(_fits(entry, alert) and self._is_in(entry.between, alert.raised) for entry in tables.raised)
        return wanted or any(_fits(entry, alert) for entry in tables.not_raised)

    def _alerts(self, entry: Raised | NotRaised) -> list[Alert]:
        return [alert for alert in self.played.alerts if _fits(entry, alert)]

    # ---- what really went wrong -------------------------------------------------------------------------------------

    def _wrong(self, wrong: Wrong) -> Iterator[str]:
        alike = [episode for episode in self.played.episodes if _is_meant(wrong, episode)]
        found = [e for e in alike if self._is_in(wrong.between, e.start) and self._ends(wrong, e)]
        if len(found) != 1:
            told = ", ".join(map(self._episode, alike)) or "never"
            over = "" if wrong.over is None else f" and end between {self._span(wrong.over)}"
            yield (
                f"'{wrong.trouble}'{_about(wrong.thing)} should really begin between {self._span(wrong.between)}{over},"
                f" and it was so: {told}"
            )

    def _ends(self, wrong: Wrong, episode: Episode) -> bool:
        return wrong.over is None or (episode.end is not None and self._is_in(wrong.over, episode.end))

    def _unlisted_wrongs(self) -> Iterator[str]:
        tables = self.scenario.tables
        for episode in self.played.episodes if tables.people is None else ():
            if not any(_is_meant(w, episode) and self._is_in(w.between, episode.start) for w in tables.wrong):
                said = f"{episode.trouble.value}: {episode.subject.id}, {self._episode(episode)}"
                yield f"it really goes wrong, and the scenario does not list it: {said}"

    def _episode(self, episode: Episode) -> str:
        end = "the end" if episode.end is None else self.scenario.time(episode.end)
        return f"from {self.scenario.time(episode.start)} to {end}"

    # ---- verdicts ---------------------------------------------------------------------------------------------------

    def _verdict(self, verdict: Verdict) -> Iterator[str]:
        soaks = [soak for soak in self.played.soaks if soak.basin == verdict.basin]
        outcome = next((soak.outcome for soak in soaks if soak.number == verdict.soak), None)
        if outcome is not verdict.outcome:
            told = "there is none" if outcome is None else f"it is '{outcome}'"
            yield f"the verdict on soak {verdict.soak} of {verdict.basin} should be '{verdict.outcome}', and {told}"

    # ---- times ------------------------------------------------------------------------------------------------------

    def _is_in(self, between: tuple[float, float], at: Micros) -> bool:
        return self.scenario.instant(between[0]) <= at <= self.scenario.instant(between[1])

    def _span(self, between: tuple[float, float]) -> str:
        return " and ".join(self.scenario.time(self.scenario.instant(seconds)) for seconds in between)

    def _at(self, alert: Alert) -> str:
        return self.scenario.time(alert.raised)

    def _times(self, alerts: Sequence[Alert]) -> str:
        return ", ".join(f"at {self._at(alert)}" for alert in alerts) or "never"


def _fits(entry: Raised | NotRaised, alert: Alert) -> bool:
    return entry.rule == alert.rule and entry.thing in ("", alert.subject.id)


def _is_meant(wrong: Wrong, episode: Episode) -> bool:
    return wrong.meant is episode.trouble and wrong.thing in ("", episode.subject.id)


def _about(thing: str) -> str:
    return f" about {thing}" if thing else ""

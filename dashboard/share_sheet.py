"""What a soak's sheet says of each probe in it: before, during and after."""

from dashboard.fitness import why_words
from dashboard.happening import Telling, place_words, steps_words, touch_words, verdict_words
from dashboard.sheet import Fact, Section, fact, known
from dashboard.words import running
from gateway.soak_log import Disposition, ProbeShare
from rules.evidence import Handling, Touch


def share_section(share: ProbeShare, telling: Telling) -> Section:
    """One probe's share of a soak."""
    probe = share.probe
    return Section(
        f"probe-{probe.id}",
        f"Probe {probe.name}",
        facts=(
            fact("Probe", f"{probe.name} ({probe.id})"),
            fact("Serial number", probe.serial),
            fact("Known to be in it", _known(share, telling)),
            fact("In the basin", f"{telling.time(share.put_in)} to {telling.time(share.taken_out)}"),
            fact("Disinfected by (put in)", share.put_in_by),
            fact("Verdict on its share", _verdict(share)),
            fact("Contacts before", *(_touch(touch, telling) for touch in share.contacts)),
            fact("Exam", *(touch.exam for touch in share.contacts)),
            fact("Cleaned before", *(_handling(done, telling) for done in share.cleaned)),
            _delay(share),
            _inspected(share, telling),
            fact("Done after", *(_handling(done, telling) for done in share.after)),
            *_disposed(share.disposition, telling),
        ),
    )


def _known(share: ProbeShare, telling: Telling) -> str:
    if share.entered_by is not None:
        return f"entered by {share.entered_by}, no tag was read (No. {share.number}, {telling.time(share.told)})"
    if share.claimed_by is None:
        return f"its tag was read (No. {share.number}, {telling.time(share.told)})"
    role = f", {share.role}" if share.role else ""
    return f"claimed by {share.claimed_by}{role} (No. {share.number}, {telling.time(share.told)})"


def _verdict(share: ProbeShare) -> str:
    words = verdict_words(share.verdict)
    return f"counts for nothing: {share.elsewhere} ({words})" if share.elsewhere else words


def _touch(touch: Touch, telling: Telling) -> str:
    words = touch_words(touch.surface, covered=touch.covered)
    return f"{telling.time(touch.at)}: {words}, owes {touch.level.value}; marked by {touch.who or 'a button'}"


def _handling(done: Handling, telling: Telling) -> str:
    return f"{telling.time(done.at)}: {steps_words(done.steps, done.times)}, by {done.who}"


def _delay(share: ProbeShare) -> Fact:
    seconds = share.cleaning_delay_seconds
    return fact(
        "From exam to cleaning",
        None if seconds is None else f"{running(seconds)} (from the last contact's mark to the first washing)",
        missing="not known: no contact or no washing was entered",
    )


def _inspected(share: ProbeShare, telling: Telling) -> Fact:
    look = share.inspected
    if look is None:
        return fact("Damage check")
    found = "no damage found" if look.sound else "DAMAGE FOUND"
    return fact("Damage check", f"{telling.time(look.at)}: {found}, by {look.who}")


def _disposed(then: Disposition, telling: Telling) -> tuple[Fact, ...]:
    stood = then.fitness and f"{then.fitness.value}{f' ({why_words(then.why)})' if then.why else ''}"
    where = then.place and place_words(telling, then.place, then.thing)
    since = "" if then.since is None else f" since {telling.time(then.since)}"
    use = known(then.next_use, lambda touch: _touch(touch, telling))
    until = "before its next contact or soak" if then.next_use or then.next_soak else "as known now"
    return (
        fact(f"Disposition, {until}", stood, missing="nothing was told of it after the soak"),
        fact(f"Place, {until}", where and f"{where}{since}", missing="seen nowhere after the soak"),
        fact("Next contact", use, missing="none recorded yet"),
        fact("Next soak", then.next_soak, missing="none recorded yet"),
    )

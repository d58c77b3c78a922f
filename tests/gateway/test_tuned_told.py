"""What is said beside a suggestion, and which changes are named."""

from itertools import product

from gateway.tuned import Change, Point, of_both
from gateway.tuned_told import exposure_words, few_words, lines
from tests.gateway.answers import FIGURE, answer, changes, judged


def test_that_a_suggestion_rests_on_too_few_events_stands_beside_it() -> None:
    # The interval of 1 in 2 after Wilson, by statsmodels' proportion_confint: 0.0945 to 0.9055
    few = answer().model_copy(
        update={
            "points": (Point(values={FIGURE: 4}, judged=judged(1, 0, of=2), best=True),),
            "suggested": 0,
            "why_chosen": "It is the only setting of those tried that keeps the goal.",
        }
    )
    assert few_words(few).startswith("It rests on 2 events, of which it detects 1: that is too few to tell by.")
    assert "from 9% to 91%" in few_words(few)
    told = list(lines(few))
    assert few_words(few) in told
    assert few.why_chosen in told


def test_a_suggestion_that_rests_on_many_events_is_not_doubted() -> None:
    assert few_words(answer()) == ""
    assert few_words(answer(keeps=False)) == ""


def test_the_share_that_really_was_held_out_is_said_with_the_one_that_was_asked_for() -> None:
    asked = answer().asked.model_copy(update={"held_out": 0.2})
    told = exposure_words(answer().model_copy(update={"asked": asked}))
    assert "held out were 420 others, 50 % of what is known; asked for were 20 %" in told


def test_of_many_changes_those_that_can_be_judged_and_the_others_both_have_their_place() -> None:
    known, _, unknown = changes()

    def many(count: int, one: Change) -> list[Change]:
        return [one.model_copy(update={"subject": f"cart-{number}"}) for number in range(count)]

    for count, other, most in product((0, 1, 4, 9), (0, 1, 4, 9), (5, 6)):
        kept = of_both([*many(count, known), *many(other, unknown)], most)
        of_known = sum(change.real is not None for change in kept)
        assert len(kept) == min(most, count + other)
        assert of_known >= min(count, most // 2)
        assert len(kept) - of_known >= min(other, most // 2)

"""The laws of paging once more, on two alerts among three people with low limits, where rare meetings are common.

On wide stories two of three alerts are over before anything is held back, handed over or told a second time.
"""

from collections.abc import Callable

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.alert_words import Confirmation, PageEnd, Priority
from rules.site import Site
from tests.rules import test_paging_law as wide
from tests.rules.house import ROUTE, House, duty, manned
from tests.rules.test_paging_law import (
    CONTACTS,
    ROLES,
    Step,
    come_back,
    decline,
    end,
    of_known,
    raise_one,
    remind,
    steps,
    tell,
)

NAMES = st.sampled_from(["a0", "a1"])
DEEDS: dict[str, Callable[[House, float, str], object]] = {
    "acknowledge": House.acknowledged,
    "over": House.over,
    "shelve": House.shelved,
    "decline": decline,
    "end": end,
    "come back": come_back,
}
RAISED = st.builds(
    raise_one, NAMES, st.sampled_from(Priority), st.sampled_from(["alone", "quiet", "dark"]), st.just("cart cart-1")
)
HANDED_OVER = st.builds(
    lambda alert, role: of_known(role, lambda house, at, known: house.handed_over(at, known, role))(alert),
    NAMES,
    st.sampled_from(ROLES),
)
STEPS = steps(
    st.one_of(
        RAISED,
        st.builds(lambda name, alert: of_known(name, DEEDS[name])(alert), st.sampled_from(sorted(DEEDS)), NAMES),
        NAMES.map(remind),
        HANDED_OVER,
        st.builds(tell, st.integers(1, 5), st.sampled_from([*Confirmation, *PageEnd])),
    )
)
DUTIES = [
    [duty("tech", "phone"), duty("charge", "nurse")],
    [duty("tech", "phone", "second"), duty("charge", "nurse")],
    [duty("charge", "phone")],
    [duty("tech", "phone"), duty("charge", "phone", "nurse")],
]
SITES = st.builds(
    lambda duties, repeat, most, pages: manned(
        contact=CONTACTS,
        duty=duties,
        route=[{**ROUTE, "repeat_seconds": repeat, "most_repeats": most}],
        alerts={"most_pages": pages},
    ),
    st.sampled_from(DUTIES),
    st.sampled_from([0, 60, 300]),
    st.integers(0, 3),
    st.sampled_from([2, 4, 10]),
)
law = wide.test_whatever_happens_the_laws_of_paging_hold.hypothesis.inner_test  # type: ignore[attr-defined]


@settings(max_examples=100)
@given(SITES, RAISED, st.lists(STEPS, min_size=3, max_size=20))
def test_whatever_happens_among_few_the_laws_of_paging_hold(
    site: Site, first: tuple[str, object], story: list[Step]
) -> None:
    law(site, [Step(0, first[1], first[0]), *story])  # type: ignore[arg-type]

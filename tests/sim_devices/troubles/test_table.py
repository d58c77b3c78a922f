from collections.abc import Mapping
from pathlib import Path

import pytest

from rules.board import Subject, SubjectKind
from rules.readings import Micros
from rules.site import Label
from sim_devices.troubles.episode import Episode, Trouble
from sim_devices.troubles.table import Run, TruthError, read_truth, write_truth
from tests.sim_devices.small_ward import EPOCH, HOUR, SmallWard, instant

RUN = Run(site="small", seed=7, since=EPOCH, until=instant(HOUR), made_by="a test")


def test_what_was_written_is_read_with_what_made_it(labels: Mapping[str, Label], tmp_path: Path) -> None:
    ward = SmallWard(labels).do(10, "spend", basin="basin-2").do(20, "drop", probe="a-1").do(90, "inspect", probe="a-1")
    write_truth(tmp_path / "truth.db", RUN, ward.all(HOUR))
    assert read_truth(tmp_path / "truth.db") == (RUN, tuple(ward.all(HOUR)))
    assert len(ward.all(HOUR)) == 2


def test_a_run_in_which_nothing_went_wrong_is_written_too(tmp_path: Path) -> None:
    write_truth(tmp_path / "truth.db", RUN, [])
    assert read_truth(tmp_path / "truth.db").episodes == ()


def test_a_truth_is_never_overwritten(tmp_path: Path) -> None:
    cart = Subject(SubjectKind.CART, "cart-1")
    write_truth(tmp_path / "truth.db", RUN, [Episode(Trouble.CORD_LEFT_OFF, cart, Micros(1), None)])
    with pytest.raises(TruthError, match=r"truth\.db: is there already"):
        write_truth(tmp_path / "truth.db", RUN, [])
    assert len(read_truth(tmp_path / "truth.db").episodes) == 1


def test_what_is_no_truth_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(TruthError, match=r"truth\.db: is not there; expected"):
        read_truth(tmp_path / "truth.db")
    (tmp_path / "text.db").write_text("something else" * 100)
    with pytest.raises(TruthError, match=r"text\.db: is no table of what really happened"):
        read_truth(tmp_path / "text.db")

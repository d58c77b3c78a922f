from pathlib import Path

import pytest

from rules.readings import Micros
from sim_devices.diary import FILE_NAME, MOST_BY_HAND, Diary, DiaryError
from sim_devices.ward.deeds import OpenLid


def test_the_second_start_finds_the_epoch_of_the_first(tmp_path: Path) -> None:
    first = Diary.opened(tmp_path / "data", Micros(1_000), seed=7)
    assert Diary.opened(tmp_path / "data", Micros(9_000), seed=8) == first
    assert (first.seed, first.epoch, first.heard) == (7, 1_000, None)


def test_what_was_heard_is_remembered(tmp_path: Path) -> None:
    first = Diary.opened(tmp_path, Micros(1_000), seed=7)
    first.model_copy(update={"heard": Micros(5_000)}).keep(tmp_path)
    assert Diary.opened(tmp_path, Micros(9_000), seed=7).heard == 5_000
    assert [path.name for path in tmp_path.iterdir()] == [FILE_NAME]


def test_what_was_done_by_hand_is_remembered_up_to_a_bound(tmp_path: Path) -> None:
    diary, deed = Diary.opened(tmp_path, Micros(1_000), seed=7), OpenLid(basin="basin-1")
    for count in range(MOST_BY_HAND + 1):
        diary = diary.with_deed(Micros(2_000 + count), deed)
    diary.keep(tmp_path)
    found = Diary.opened(tmp_path, Micros(9_000), seed=7).by_hand
    assert (len(found), found[0].at, found[0].deed) == (MOST_BY_HAND, 2_000, deed)


@pytest.mark.parametrize("spoilt", ["", "[]", '{"version": 2, "seed": 7, "epoch": 1}', '{"seed": 7}'])
def test_a_diary_that_cannot_be_read_is_named(tmp_path: Path, spoilt: str) -> None:
    (tmp_path / FILE_NAME).write_text(spoilt)
    with pytest.raises(DiaryError, match=f"{FILE_NAME} is not a diary .* remove it"):
        Diary.opened(tmp_path, Micros(1_000), seed=7)

"""gateway/secret.py: where a secret stands, and what is said where it does not."""

from pathlib import Path

import pytest

from gateway.secret import LONGEST, Secret, SecretError, without


def from_file(path: Path, octets: bytes) -> str | None:
    path.write_bytes(octets)
    return Secret("password", file=path).read()


@pytest.mark.parametrize(
    "octets",
    [
        b"rosebud-7",
        b"rosebud-7\n",
        b"rosebud-7\r\nand more\n",
        b"\xef\xbb\xbfrosebud-7\n",  # as some editors write UTF-8
    ],
)
def test_the_first_line_of_a_file_is_the_secret(tmp_path: Path, octets: bytes) -> None:
    assert from_file(tmp_path / "password", octets) == "rosebud-7"


def test_nothing_but_the_end_of_a_line_ends_a_secret(tmp_path: Path) -> None:
    assert from_file(tmp_path / "password", "rose\u2028bud\x0c7\n".encode()) == "rose\u2028bud\x0c7"


@pytest.mark.parametrize(
    ("octets", "says"),
    [
        (b"", "has no password"),
        (b"\nrosebud-7", "has no password"),
        (b"\xff\xfe", "it is not UTF-8 text"),
        (b"x" * (LONGEST + 1), "has a first line of more than 4096 letters"),
        (b"x" * 10 * LONGEST, "has a first line of more than 4096 letters"),
    ],
)
def test_a_file_that_holds_no_secret_is_told_without_what_it_holds(tmp_path: Path, octets: bytes, says: str) -> None:
    with pytest.raises(SecretError, match=says) as caught:
        from_file(tmp_path / "password", octets)
    assert "rosebud" not in str(caught.value)


def test_the_longest_secret_is_one(tmp_path: Path) -> None:
    assert from_file(tmp_path / "password", b"x" * LONGEST + b"\n") == "x" * LONGEST


def test_a_variable_that_is_no_text_is_told_without_what_it_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PAGES_SECRET", "rosebud-\udcff")  # as an octet that is not UTF-8 comes from the environment
    with pytest.raises(SecretError, match="'PAGES_SECRET', which is not UTF-8 text") as caught:
        Secret("secret", env="PAGES_SECRET").read()
    assert "rosebud" not in str(caught.value)


def test_a_secret_is_taken_out_of_what_is_said() -> None:
    assert without("tulip", "no tulip, no Tulip") == "no ***, no Tulip"
    assert without(None, "as it is") == "as it is"

"""`sinkside people`, and what a new site and the demo are told of people at the start."""

import re
import stat
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from gateway import people_words
from gateway.cli_people import people as command
from gateway.demo_staff import STAFF, staff_demo
from gateway.people import Access, People, SignInError
from gateway.people.tables import PEOPLE
from gateway.people_words import first_steps
from gateway.sitefile import parse
from gateway.staffing import house_in, roles_of
from tests.gateway.books import Book, site_text
from tests.gateway.people.staff import CHEAP, HERE, PASSWORD, Staff, Watch

SCREENS = "http://127.0.0.1:8470"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(command, [str(word) for word in words])


def secret_in(said: str) -> str:
    return re.findall(r"#(\S+)", said)[0]


def test_the_first_administrator_is_invited_before_any_gateway_ran(tmp_path: Path) -> None:
    said = run("first", tmp_path / "d").output
    assert f"{SCREENS}/invited#invitation-" in said
    staff = Staff(tmp_path / "d")
    with staff.people as people:
        who = people.visitor(people.redeem(secret_in(said), PASSWORD, HERE, name="quirin", called="Quirin"))
    assert who is not None
    assert who.access is Access.ADMINISTRATOR
    assert "There is an administrator already" in run("first", tmp_path / "d").output


def test_the_folder_that_is_made_is_for_its_owner_alone(tmp_path: Path) -> None:
    run("first", tmp_path / "d")
    for path in (tmp_path / "d", tmp_path / "d" / PEOPLE):
        assert path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO) == 0


def test_a_person_is_added_listed_disabled_and_enabled(tmp_path: Path) -> None:
    added = run("add", tmp_path, "mara", "--called", "Mara K.", "--access", "engineer")
    assert "An invitation for 'mara', until" in added.output
    assert re.fullmatch(r"mara  Mara K\., engineer; invited until \S+ \S+\n", run("list", tmp_path).output)
    assert "signed out everywhere" in run("disable", tmp_path, "mara").output
    assert run("list", tmp_path).output == "mara  Mara K., engineer; disabled\n"
    assert "may sign in again" in run("enable", tmp_path, "mara").output
    assert "no password yet" in run("list", tmp_path).output
    assert secret_in(run("invite", tmp_path, "mara").output) != secret_in(added.output)


def test_a_display_is_let_in_and_revoked(tmp_path: Path) -> None:
    said = run("display", "add", tmp_path, "Wall in the soak room").output
    assert f"{SCREENS}/display#display-" in said
    line = run("display", "list", tmp_path).output
    assert line.endswith("  Wall in the soak room; added by machine, seen never\n")
    assert run("display", "revoke", tmp_path, line.split()[0]).exit_code == 0
    assert "No display is let in yet" in run("display", "list", tmp_path).output


@pytest.mark.parametrize(
    "words", [("list",), ("invite", "mara"), ("disable", "mara"), ("display", "list"), ("display", "revoke", "x")]
)
def test_a_folder_without_people_is_told_in_one_sentence(tmp_path: Path, words: tuple[str, ...]) -> None:
    at = 2 if words[0] == "display" else 1
    said = run(*words[:at], tmp_path, *words[at:])
    assert said.exit_code == 1
    assert said.output.startswith("Error: There is nobody in")
    assert said.output.count("\n") == 1
    assert not (tmp_path / PEOPLE).exists()


def test_roles_are_those_of_the_site_file_that_the_record_has(tmp_path: Path) -> None:
    more = '[dashboard]\nnames = ["sinkside.example.org"]\nport = 9000\n[[role]]\nid = "night"\nname = "Night"\n'
    Book(tmp_path / "d", site_text(more=more)).closed()
    said = run("add", tmp_path / "d", "mara", "--called", "Mara", "--role", "nigt")
    assert said.exit_code == 1
    assert "no role 'nigt': it has charge nurse, engineer, night, technician" in said.output
    assert "http://sinkside.example.org:9000/invited#" in (
        run("add", tmp_path / "d", "mara", "--called", "Mara", "--role", "night").output
    )


def test_invitations_lead_to_the_port_on_which_the_screens_are_served(tmp_path: Path) -> None:
    more = '[dashboard]\nnames = ["sinkside.example.org"]\nport = 9000\n'
    Book(tmp_path / "d", site_text(more=more)).closed()
    staff = Staff(tmp_path / "d")
    staff.people.served_on(9001)  # as 'serve --port 9001' does
    staff.people.close()
    said = run("first", tmp_path / "d").output + run("display", "add", tmp_path / "d", "Wall").output
    assert re.findall(r"http://\S+?#", said) == [
        "http://sinkside.example.org:9001/invited#",
        "http://sinkside.example.org:9001/display#",
    ]


def test_where_phones_reach_the_screens_is_where_invitations_lead(tmp_path: Path) -> None:
    more = '[paging]\nlink_base = "https://sinkside.example.org"\n'
    Book(tmp_path / "d", site_text(zone="Europe/Lisbon", more=more)).closed()
    house = house_in(tmp_path / "d")
    assert (house.screens(9001), house.zone.key, house.name) == (
        "https://sinkside.example.org",
        "Europe/Lisbon",
        "Here",
    )


def test_no_password_and_no_secret_is_taken_as_an_argument() -> None:
    # What stands among a process's arguments every user of the machine can read (CWE-214)
    named = {parameter.name for one in command.commands.values() for parameter in one.params}
    assert named & {"password", "secret", "token"} == set()


# ---- the start ------------------------------------------------------------------------------------------------------


def test_a_new_site_is_told_on_a_terminal_how_its_first_administrator_comes_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    staff = Staff(tmp_path)
    monkeypatch.setattr(people_words.sys.stdout, "isatty", lambda: True)
    said = "\n".join(first_steps(staff.people, SCREENS, tmp_path))
    assert staff.people.invited(secret_in(said)) is not None
    again = "\n".join(first_steps(staff.people, SCREENS, tmp_path))
    assert staff.people.invited(secret_in(said)) is None  # what scrolled by once serves no more
    staff.people.redeem(secret_in(again), PASSWORD, HERE, name="quirin", called="Quirin")
    assert "invited#" not in "\n".join(first_steps(staff.people, SCREENS, tmp_path))
    staff.people.close()


def test_what_is_not_a_terminal_is_told_no_secret(tmp_path: Path) -> None:
    staff = Staff(tmp_path)
    (line,) = first_steps(staff.people, SCREENS, tmp_path)
    assert f"'sinkside people first {tmp_path}'" in line
    assert staff.read("SELECT * FROM invitation") == []
    staff.people.close()


def test_the_demos_people_have_passwords_of_this_start_alone(tmp_path: Path) -> None:
    with People(tmp_path, Watch().now, passwords=CHEAP) as people:
        first, second = staff_demo(people), staff_demo(people)
        signed_in = [people.visitor(people.sign_in(name, word, HERE)) for name, word in second.passwords.items()]
        assert [who and (who.called, who.access) for who in signed_in] == [(d.called, d.access) for d in STAFF]
        with pytest.raises(SignInError):
            people.sign_in("ada", first.passwords["ada"], HERE)
        assert people.visitor(first.wall) is None
        assert people.visitor(second.wall) is not None
    kept = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    assert not any(word.encode() in kept for word in (*second.passwords.values(), second.wall))


def test_the_demos_people_act_in_roles_of_its_site_file() -> None:
    site = Path(str(files("sim_devices").joinpath("demo.toml")))
    known = roles_of(parse(site.read_text(encoding="utf-8"), site).file)
    assert [draft.name for draft in STAFF if not set(draft.roles) <= known] == []

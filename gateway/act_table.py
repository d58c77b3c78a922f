"""What people did as a table: a row for each act."""

from zoneinfo import ZoneInfo

from gateway.act_log import ActLine
from gateway.csv_text import Cell
from gateway.when import written_whole

ACT_COLUMNS = ("told", "by", "access", "what", "about", "times", "input")


def act_row(line: ActLine, zone: ZoneInfo) -> list[Cell]:
    """A cell for each of ``ACT_COLUMNS``."""
    access = None if line.access is None else line.access.value
    return [written_whole(line.at, zone), line.who, access, line.what, line.about, line.times, line.number]

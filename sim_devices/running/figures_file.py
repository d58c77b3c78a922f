"""Files of habits: TOML read and checked, and every mistake in them named with its line."""

from pathlib import Path

from pydantic import ValidationError

from gateway.model_errors import problems_of
from gateway.problems import rendered
from gateway.sitefile import SiteFileError
from gateway.toml_text import TomlError, read_toml, too_large
from rules.part import MistakesError
from rules.site import Site
from sim_devices.running.figures import Figures


def load_figures(path: Path, site: Site) -> Figures:
    """What a file of habits says, for a site; what it leaves out is as usual.

    Raises:
        SiteFileError: it cannot be used; one line for each thing to mend.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise SiteFileError(f"{path.name}: not UTF-8 text at octet {error.start}; save it as UTF-8") from error
    except OSError as error:
        raise SiteFileError(f"{path}: cannot be read: {error.strerror}; expected a file of habits in TOML") from error
    try:
        data = read_toml(text)
    except TomlError as error:
        where = path.name if error.line is None else f"{path.name}, line {error.line}"
        raise SiteFileError(f"{where}: {error}") from error
    if large := list(too_large(data)):
        raise SiteFileError(*rendered(large, path.name, text))
    try:
        figures = Figures.model_validate(data)
        figures.departments_of(site)
    except ValidationError as error:
        raise SiteFileError(*rendered(problems_of(error, data, Figures), path.name, text)) from error
    except MistakesError as error:
        raise SiteFileError(*(f"{path.name}: {problem}" for problem in error.problems)) from error
    return figures

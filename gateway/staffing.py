"""Who may use the screens of a site: people with the roles, contacts and limits that its file names."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from gateway.journal import Epoch, JournalView
from gateway.law import recorded_site
from gateway.people import Passwords, People, SessionLimits
from gateway.people.limits import HOUR, MINUTE
from gateway.schema import DATABASE, JournalError
from gateway.sitefile import DashboardSettings, PagingSettings, SiteFile
from rules.readings import DAY, Micros
from rules.site import Site


def people_of(file: SiteFile, folder: Path, now: Callable[[], Micros], passwords: Passwords | None = None) -> People:
    """Those of a site, in its data folder; raises PeopleError."""
    return People(
        folder,
        now,
        site_name=file.site.name,
        roles=roles_of(file),
        contacts=contacts_of(file),
        limits=limits_of(file.dashboard),
        passwords=passwords,
    )


def roles_of(site: Site) -> frozenset[str]:
    """In which people may act: those that are asked for with an entry, and those that are on duty."""
    asked = (*site.reprocessing.claim_roles, *site.reprocessing.vouch_roles, *site.alerts.maintenance_roles)
    return frozenset((*asked, *(role.id for role in site.role)))


def contacts_of(site: Site) -> frozenset[str]:
    """Ids of the contacts that may be somebody's own."""
    return frozenset(contact.id for contact in site.contact)


def limits_of(settings: DashboardSettings) -> SessionLimits:
    """How long sessions last there."""
    return SessionLimits(
        responder_idle=Micros(round(settings.responder_idle_hours * HOUR)),
        responder_lasts=Micros(round(settings.responder_days * DAY)),
        keeper_idle=Micros(round(settings.engineer_idle_minutes * MINUTE)),
        keeper_lasts=Micros(round(settings.engineer_hours * HOUR)),
    )


@dataclass(frozen=True, slots=True)
class House:
    """A site as its record tells of it.

    settings, paging: what the site file says of where people reach the screens. roles, contacts: None where no site is
    recorded.
    """

    settings: DashboardSettings
    paging: PagingSettings
    zone: ZoneInfo
    roles: frozenset[str] | None = None
    contacts: frozenset[str] | None = None
    name: str = ""

    def screens(self, port: int | None) -> str:
        """Where people reach the screens; port: on which they are served, None where nobody knows better."""
        settings = self.settings if port is None else self.settings.model_copy(update={"port": port})
        return screens_of(settings, self.paging)


def house_in(folder: Path) -> House:
    """By the newest site file of the record in a data folder; before there is one, as if it said nothing.

    Raises:
        JournalError: the journal cannot be read.
    """
    if not (folder / DATABASE).is_file():
        return _unknown()
    view = JournalView.open(folder / DATABASE)
    try:
        epochs = view.epochs()
    finally:
        view.close()
    return _recorded(epochs[-1]) if epochs else _unknown()


def _unknown() -> House:
    return House(DashboardSettings(), PagingSettings(), ZoneInfo("UTC"))


def _recorded(epoch: Epoch) -> House:
    try:
        site, document = recorded_site(epoch), tomllib.loads(epoch.site)
        settings = DashboardSettings.model_validate(document.get("dashboard", {}))
        paging = PagingSettings.model_validate(document.get("paging", {}))
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        text = "The newest site file of the record cannot be read by this version"
        raise JournalError(f"{text}; use version {epoch.program}, which wrote it.") from error
    return House(settings, paging, site.site.zone, roles_of(site), contacts_of(site), site.site.name)


def screens_of(settings: DashboardSettings, paging: PagingSettings) -> str:
    """Where people reach the screens: as phones do, by the first name that the site file gives, or on this machine."""
    if paging.link_base is not None:
        return paging.link_base
    host = settings.names[0] if settings.names else f"[{settings.host}]" if ":" in settings.host else settings.host
    return f"{settings.scheme}://{host}:{settings.port}"

"""Who is looking: set by the doors for each request, so that every page can say who is signed in and what they may."""

from contextvars import ContextVar

from gateway.people import Visitor

VISITING: ContextVar[Visitor | None] = ContextVar("visiting", default=None)
"""The visitor of the request that is being answered; None for whoever has not signed in."""

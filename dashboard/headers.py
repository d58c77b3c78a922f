"""The headers of every answer, whoever gives it: pages, refusals, files, and what is said where something broke."""

from dataclasses import dataclass

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboard.asking import refused

Headers = tuple[tuple[bytes, bytes], ...]

_ALWAYS: Headers = (
    (
        b"content-security-policy",
        b"; ".join(
            (
                b"default-src 'none'",
                b"script-src 'self'",
                b"style-src 'self'",
                b"img-src 'self'",
                b"connect-src 'self'",
                b"base-uri 'none'",
                b"form-action 'self'",
                b"frame-ancestors 'none'",
                b"require-trusted-types-for 'script'",
                b"trusted-types sinkside",
            )
        ),
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # Not "no-referrer": with that a browser hides from us, too, from where a form comes (Fetch standard, section 3.2).
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-embedder-policy", b"require-corp"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
)

_OVER_TLS: Headers = ((b"strict-transport-security", b"max-age=31536000"),)
"""A year; of this host alone, for others under the same name are not ours. RFC 6797."""

_KEPT_NOWHERE: Headers = ((b"cache-control", b"no-store"),)

_BROKEN = "Something is broken here, and is written down in the log. What you sent may not have been taken."


@dataclass(frozen=True, slots=True)
class SafeHeaders:
    """Puts the security headers on every answer; what no route says may be kept is kept nowhere.

    files: beginning of the addresses of what is the same for everybody.
    """

    app: ASGIApp
    files: str

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; add the headers as the answer starts."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        added = [*_ALWAYS, *(_OVER_TLS if scope["scheme"] == "https" else ())]
        started = False

        async def send_with_headers(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                own = list(message.get("headers", ()))
                is_said = any(name.lower() == b"cache-control" for name, _ in own)
                kept = () if is_said or scope["path"].startswith(self.files) else _KEPT_NOWHERE
                message["headers"] = [*own, *added, *kept]
            await send(message)

        try:
            await self.app(scope, receive, send_with_headers)
        except Exception:
            if not started:
                await refused(500, _BROKEN)(scope, receive, send_with_headers)
            raise

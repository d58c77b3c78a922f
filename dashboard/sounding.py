"""Serves what alerts sound like."""

from hashlib import sha256

from fastapi import FastAPI, HTTPException
from starlette.responses import Response

from dashboard.signal_tone import wav
from rules.alert_words import Priority

_FOR_EVER = {"Cache-Control": "public, max-age=31536000, immutable"}
"""An address names what it holds, so that no browser keeps an old sound."""


def burst_addresses() -> dict[str, str]:
    """Where the sound of each priority is."""
    return {one.value: f"/sound/{one.value}.wav?v={sha256(wav(one)).hexdigest()[:12]}" for one in Priority}


def add_sounds(app: FastAPI) -> None:
    """One WAV file for each priority."""

    @app.get("/sound/{name}.wav")
    async def burst(name: str) -> Response:
        if name not in {one.value for one in Priority}:
            raise HTTPException(404, f"There are sounds of {', '.join(one.value for one in Priority)}.")
        return Response(wav(Priority(name)), media_type="audio/wav", headers=_FOR_EVER)

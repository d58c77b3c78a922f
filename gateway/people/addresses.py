"""Where browsers take secrets: behind the # of an address, which no browser sends, logs or tells other pages."""

from urllib.parse import quote

INVITED_PATH = "/invited"
DISPLAY_PATH = "/display"


def invitation_address(screens: str, secret: str) -> str:
    """Where an invitation is used; screens: such as 'https://sinkside.example.org'."""
    return f"{screens}{INVITED_PATH}#{quote(secret)}"


def display_address(screens: str, secret: str) -> str:
    """What a wall's browser opens once; it keeps its secret from then on."""
    return f"{screens}{DISPLAY_PATH}#{quote(secret)}"

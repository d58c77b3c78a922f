"""What a page says on a device that has room for so much."""

from dataclasses import replace

from anyascii import anyascii

from gateway.channel import Message


def worded(message: Message, most_letters: int | None) -> str:
    """The longer text with the link if there is room for both, else the brief one with it.

    A link that leaves no room for the brief text is left out, for one cut short leads nowhere. The brief text is cut
    where even that is too long.
    """
    if most_letters is None:
        return _joined(message.text, message.link)
    wordings = (
        _joined(message.text, message.link),
        _joined(message.brief, message.link),
        one_line(message.text),
    )
    fitting = (words for words in wordings if len(words) <= most_letters)
    return next(fitting, one_line(message.brief)[:most_letters])


def _joined(words: str, link: str | None) -> str:
    return one_line(words) if link is None else f"{one_line(words)} {link}"


def one_line(words: str) -> str:
    """The same on one line, and nothing in it that a protocol takes for an order or a terminal for a sign."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in words).split())


def in_ascii(words: str) -> str:
    """The same in the letters that every pager has: 'Müller, 21 °C' as 'Muller, 21 degC'."""
    return one_line(anyascii(words))


def in_ascii_message(message: Message) -> Message:
    """The message with its texts in ASCII, before they are measured: a letter may become several."""
    return replace(message, brief=in_ascii(message.brief), text=in_ascii(message.text))

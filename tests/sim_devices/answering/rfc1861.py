"""The dialogues that RFC 1861 prints in its section 4.1: what the client says, and what it is answered."""

from typing import NamedTuple


class Turn(NamedTuple):
    """A line of the client, and the server's answer; none to a line of DATA."""

    said: str
    answer: str = ""


LEVEL_ONE = (
    Turn("PAGE 5551212", "250 Pager ID Accepted"),
    Turn("MESS Your network is hosed", "250 Message OK"),
    Turn("SEND", "250 Message Sent OK"),
    Turn("QUIT", "221 OK, Goodbye"),
)
"""4.1.1, greeted with "220 SNPP Gateway Ready"."""

LEVEL_TWO = (
    Turn("COVE 2", "250 Alternate Area Selected"),
    Turn("PAGE 5551212 FOOBAR", "250 Pager ID Accepted"),
    Turn("HOLD 9401152300 -0600", "250 Delayed Message OK"),
    Turn("PAGE 5552323 XYZZY", "250 Pager ID Accepted"),
    Turn("SUBJ Seattle Meeting", "250 Message Subject OK"),
    Turn("DATA", "354 Begin Input, End With '.'"),
    Turn("Please meet me tomorrow at"),
    Turn("the Seattle office"),
    Turn(".", "250 DATA Accepted"),
    Turn("SEND", "250 Message Sent OK"),
    Turn("QUIT", "221 OK, Goodbye"),
)
"""4.1.2, greeted with "220 SNPP Server Ready"; the line that ends the input is not printed there (4.4.1)."""

LEVEL_THREE = (
    Turn("2WAY", "250 Two-Way Mode Enabled"),
    Turn("NOQUEUE", "250 Msg will either be Sent or Rejected"),
    Turn("PAGER SHIRLEY", "850 Unit online; Don't call me Shirley!"),
    Turn("ACKRead 1", "250 Read Acknowledgment Requested"),
    Turn("DATA", "354 Begin Input, End With '.'"),
    Turn("Little Bo Binary has lost"),
    Turn("her Sparcstation and doesn't"),
    Turn("know where to find it. Have"),
    Turn("you seen it recently?"),
    Turn(".", "250 DATA Accepted"),
    Turn("RTYPE MULTICHOICE", "250 Multichoice Responses Enabled"),
    Turn("MCRESP 01 In the West Pasture", "250 MCR Code Accepted"),
    Turn("MCRESP 02 GoldiFLOCKs has it", "250 MCR Code Accepted"),
    Turn("MCRESP 03 Haven't a clue", "250 MCR Code Accepted"),
    Turn("MCRESP 04 Haven't a life", "250 MCR Code Accepted"),
    Turn("MCRESP 05 Oh, GO AWAY!", "250 MCR Code Accepted"),
    Turn("SEND", "860 00321 1234 Message Delivered"),
    Turn("QUIT", "221 OK, Goodbye"),
)
"""4.1.3, greeted with "220 SNPP (V3) Gateway Ready"; the line that ends the input is not printed there (4.4.1)."""


def answers_of(dialogue: tuple[Turn, ...]) -> dict[str, str]:
    """What the dialogue's server says, by the command's first four letters (section 4)."""
    return {turn.said[:4].upper(): turn.answer for turn in dialogue if turn.answer}

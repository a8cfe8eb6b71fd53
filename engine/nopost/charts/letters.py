"""How wide letters are, for a drawing whose font nobody knows.

A viewer shows the generic family "sans-serif" in a font of its own. Counted here are the widest of the common ones, so that text
stays in its box with the others too.
"""

from __future__ import annotations

import unicodedata
from typing import Protocol

from nopost.page import shown

_PLAIN = {
    28: "'ijlìíîï", 30: "IÌÍÎÏ", 32: " ,.\xa0·\u2018\u2019", 34: "/:;\\|¦", 36: "f", 38: "-", 40: "()[]t", 42: "!r¡²³¹",
    46: "\"", 48: "ªº", 50: "*J`¨¯°\u00b4\u00b8", 52: "“”", 54: "sz", 56: "?L_c§ç–", 58: "k", 60: "vxyýÿ•",
    62: "FTaeo«»¿àáâãäåèéêëðòóôõöø", 64: "$0123456789bdghnpqu{}¢£¤¥µ¶ßñùúûüþ€", 68: "EKPSYÈÉÊËÝÞ", 70: "ABVXZÀÁÂÃÄÅ",
    74: "CRUÇÙÚÛÜ", 76: "HNÑ", 78: "&DGÐ", 80: "OQÒÓÔÕÖØ", 82: "w", 84: "#+<=>^~¬±×÷", 88: "M", 96: "%", 98: "m¼½¾",
    100: "W©®Ææ—…", 102: "@",
}  # fmt: skip
_BOLD = {
    32: "'", 36: " ijl\xa0ìíîï", 38: ",./I\\|¦·ÌÍÎÏ\u2018\u2019", 40: ":;", 42: "-", 44: "f²³¹", 46: "!()[]¡", 48: "t",
    50: "`r¨¯°\u00b4\u00b8", 54: "\"*", 56: "J_§–", 58: "ªº", 60: "cszç", 62: "?¿", 64: "L¤¶•", 66: "vxy«»ýÿ“”",
    68: "aekàáâãäåèéêë", 70: "$0123456789EFTo¢£¥ÈÉÊËðòóôõöø€", 72: "bdghnpqu{}ßñùúûüþ", 74: "CPSYZµÇÝÞ", 78: "ABKRVXÀÁÂÃÄÅ",
    82: "UÙÚÛÜ", 84: "#+<=>DGHN^~¬±ÐÑ×÷", 86: "OQÒÓÔÕÖØ", 88: "&", 94: "w", 100: "@M©®—…", 102: "%", 104: "¼½¾", 106: "mæ",
    110: "Æ", 112: "W",
}  # fmt: skip
"""Hundredths of the size -> letters: the wider of an open sans-serif font and of the standard Helvetica, rounded up."""
OTHER, WIDEST = 1.12, 1.5
"""Share of the size for all other characters, and for pictures."""

_SHARES = {
    bold: {letter: width / 100 for width, letters in table.items() for letter in letters}
    for bold, table in ((False, _PLAIN), (True, _BOLD))
}


class Metrics(Protocol):
    """What can be shown, and how wide it is."""

    def shown(self, text: str) -> str:
        """The text with what cannot be shown replaced by something visible."""

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Points that shown text takes."""


class AnySans:
    """Metrics of the generic family."""

    def shown(self, text: str) -> str:
        """Everything but what controls."""
        return shown(text)

    def width(self, text: str, size: float, bold: bool = False) -> float:
        """Points, rather too many."""
        shares = _SHARES[bold]
        return size * sum(shares[c] if c in shares else _other(c) for c in text)


def _other(letter: str) -> float:
    return WIDEST if unicodedata.category(letter) == "So" or ord(letter) > 0xFFFF else OTHER

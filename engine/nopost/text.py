"""Text from outside, and amounts in words for people.

Text from files, tables, logs and keys is shown in terminals, pages and drawings. There a character that controls a terminal or
turns the direction of writing moves the cursor, starts an escape sequence, breaks a line where nobody sees a break, or makes a
line read otherwise than it is written. Which these are is taken from the Unicode Standard 16.0 (published source for each below).
Amounts are said the same in all faces: chances, working times, money, efforts, weights of evidence.
"""

from __future__ import annotations

import re
from functools import cache
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nopost.knowledge.model import Effort


def percent(probability: float) -> str:
    """A probability (0 to 1) in percent; the ends are never said to be certain."""
    if probability >= 0.995:
        return ">99 %"
    if 0 < probability <= 0.005:
        return "<1 %"
    return f"{probability * 100:.0f} %"


def minutes(count: float) -> str:
    """A working time of so many minutes, in seconds, minutes or hours."""
    if count < 1:
        return f"{round(count * 60)} s"
    return f"{count:.0f} min" if count < 120 else f"{count / 60:.1f} h"


def money(amount: float, currency: str) -> str:
    """An amount with its currency, or in units where none is named."""
    number = f"{amount:.0f}" if amount >= 10 or amount == int(amount) else f"{amount:.1f}"
    return f"{number} {currency or ('unit' if number == '1' else 'units')}"


def effort(value: Effort, currency: str) -> str:
    """An effort: time, money, and a word on risk when it is worth one."""
    parts = [minutes(value.minutes)]
    if value.money:
        parts.append(money(value.money, currency))
    if value.risk >= 1:
        parts.append(f"risk worth {money(value.risk, currency)}")
    return ", ".join(parts)


def decibans(value: float) -> str:
    """A weight of evidence in decibans, with its sign."""
    return f"{value:+.0f}" if abs(value) > 0.5 else "0"


REPLACEMENT = "\ufffd"
"""U+FFFD REPLACEMENT CHARACTER: what stands where a character cannot be shown (Unicode Standard, section 23.8)."""
_UNFIT = (
    "\x00-\x1f\x7f-\x9f"  # general category Cc: the C0 and C1 controls and DELETE (section 23.1; ISO/IEC 6429)
    "\u2028\u2029"  # categories Zl and Zp: line and paragraph separator (section 23.2)
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # property Bidi_Control (PropList.txt; UAX #9, section 2)
    "\ud800-\udfff"  # category Cs: surrogates, halves of a character (section 23.6)
    "\ufffe\uffff"  # noncharacters that XML 1.0 (production 2, Char) and YAML 1.2 (production 1, c-printable) have no place for
)

_BLANKS = str.maketrans("\t\n\r", "   ")


def find_control(text: str, keep: str = "") -> re.Match[str] | None:
    """The first character that is unfit to be shown, or None; those of `keep` (such as tab and line feed) are passed over."""
    return _pattern(keep).search(text)


def without_controls(text: str, keep: str = "", instead: str = REPLACEMENT) -> str:
    """The text with `instead` for each character that is unfit to be shown; those of `keep` stay as they are."""
    return _pattern(keep).sub(lambda _: instead, text)


@cache
def _pattern(keep: str) -> re.Pattern[str]:
    """Looks behind rather than ahead for what is kept, so that the search for a character of the set stays quick."""
    return re.compile(f"[{_UNFIT}]" + (f"(?<![{re.escape(keep)}])" if keep else ""))


def escaped(text: str) -> str:
    """Text for any place in HTML or XML: shown as it is, markup escaped."""
    return escape(without_controls(text))


def escaped_markdown(text: str) -> str:
    """Text that Markdown (CommonMark) shows as it is, in one line."""
    line = " ".join(without_controls(text.translate(_BLANKS)).split())
    line = "".join("\\" + c if c in "\\`*_[]<>#|&~!" else c for c in line)
    return re.sub(r"^(\d*)([-+.)=])", r"\1\\\2", line)  # else it would begin a list or a line across


def comma_parts(text: str, *, once: bool = False) -> list[str]:
    """What stands between commas, without blanks around it; empty parts are left out. `once`: what stands there twice too."""
    found = [part for each in text.split(",") if (part := each.strip())]
    return list(dict.fromkeys(found)) if once else found

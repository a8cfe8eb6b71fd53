"""Amounts in words, the same in all faces: chances, working times, money, efforts, weights of evidence."""

from __future__ import annotations

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

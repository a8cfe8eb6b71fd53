"""The facts that board and CPU records can establish; rules test them, `nopost.firmware.facts` computes them."""

from __future__ import annotations

from types import MappingProxyType

FACTS = MappingProxyType(
    {
        "firmware-knows-cpu": ("yes", "no"),
        "firmware-dropped-cpu": ("yes",),
        "cpu-fits-socket": ("yes", "no"),
        "image-variant": ("exact", "other"),
        "slots-by-manual": ("first-choice", "other"),
        "memory-type-fits": ("yes", "no"),
        "cpu-graphics": ("yes", "no"),
        "board-video": ("yes", "no"),
        "has-stage-lamps": ("yes", "no"),
        "has-code-display": ("yes", "no"),
        "has-speaker": ("yes", "no"),
        "has-standby-lamp": ("yes", "no"),
        "has-write-button": ("yes", "no"),
        "button-needs-cpu-plug": ("yes", "no"),
        "button-reads": ("fat-only", "newer-too"),
        "has-second-chip": ("yes", "no"),
    }
)
"""Fact -> the values it can have. A fact that the records do not settle is simply not there."""

"""The questions of a board record by name, for changing one answer."""

from __future__ import annotations


def step_names() -> dict[str, str]:
    """Name of each question -> what it is about, for changing one."""
    return {
        "variant": "exact variant",
        "revision": "revision",
        "id": "id of the record",
        "title": "title",
        "identifiers": "other names",
        "look_alikes": "variants easily mistaken for it",
        "socket": "CPU socket",
        "memory_type": "memory type",
        "slots": "memory slots",
        "order": "slots by the manual",
        "cpu_power": "CPU power sockets",
        "video_outputs": "display sockets",
        "indicators": "lamps, display, speaker",
        "code_table": "code table",
        "first_families": "CPU families of the oldest release",
        "releases": "firmware releases",
        "recovery": "ways to write without starting",
        "source": "source",
    }

"""Sentences of release notes: what they tell, and what they do not. The phrases are common practice, no source."""

from __future__ import annotations

import pytest

from nopost.firmware.release_list.list_reader import read_list
from nopost.firmware.release_list.prose import Families

VERSIONS = ("1.4", "1.9", "1.12", "1.15", "2.0")
FAMILIES = Families(frozenset({"kelp-1", "kelp-2", "kelp-3", "wrack-1"}), {"kelp-240": "kelp-2"})


def told(sentence: str, at: str = "1.12") -> set[str]:
    """What a note at a release tells, as "release field value"."""
    rows = [
        f"{version}\t{2031 + index}-05-17\t{sentence if version == at else 'Faster start'}"
        for index, version in enumerate(VERSIONS)
    ]
    found = read_list("\n".join(["Version\tDate\tNotes", *rows]).encode(), "list", FAMILIES)
    told = {f"{entry.version} {guess.field} {guess.value}" for entry in found.releases for guess in entry.guesses}
    return told | {f"first {guess.value}" for guess in found.guessed_first}


FIRST = (
    "Please update to 1.9 before installing this version.",
    "Update to version 1.9 first.",
    "Update to 1.9 first, then to this release",
    "Requires 1.9.",
    "Requires firmware version 1.9",
    "Prerequisite: 1.9",
    "Version 1.9 must be installed first.",
    "v1.9 has to be on the board before",
    "Firmware 1.9 needs to be installed before updating to this version.",
    "Before updating to this release, please install version 1.9.",
    "Before updating to 1.12, you must update to 1.9.",
    "If the board has a release older than 1.9, update to 1.9 first.",
    "Install 1.9 prior to this update",
    "Cannot be installed unless 1.9 is on the board.",
    "You must first update to ver. 1.9",
    "First install 1.9.",
    "Release 1.9 is required before updating to this version",
    "Flash 1.9 before flashing 1.12",
    "Do not install it without 1.9.",
    "Version 1.9 (2032-05-17) must be installed first.",
)
LEAST = (
    "Requires version 1.9 or later.",
    "Requires 1.9 or newer",
    "Requires at least version 1.9.",
    "Can only be installed from 1.9 or later.",
    "Can only be updated from version 1.9.",
    "Minimum version: 1.9",
    "Minimum firmware version required: 1.9",
    "Version 1.9 or above is required.",
    "Accepted only from 1.9 on.",
    "1.9 or later must be installed first.",
    "Requires 1.9+",
    "Cannot be updated unless version 1.9 or later is installed",
)
LATER = (
    "Every later release needs it on the board first.",
    "This version must be installed before updating to any later version.",
    "Must be installed before updating to newer versions.",
    "Please update to this version before installing any later release.",
    "Install this release before updating to later releases",
    "All later versions require this version.",
    "Later firmware versions require this release",
)
ONE_WAY = (
    "No older release can be written afterwards.",
    "You cannot go back to an older version after this update.",
    "Downgrade is not possible.",
    "Downgrading is not supported after this update",
    "Cannot be rolled back.",
    "This update can not be rolled back to an earlier version.",
    "Once updated, it is not possible to return to previous versions",
    "Rolling back to earlier versions is no longer possible.",
    "Earlier versions can no longer be installed.",
    "Older releases cannot be flashed after it",
    "After this update you will not be able to roll back.",
    "Rollback to 1.9 or earlier is blocked.",
    "This is a one-way update.",
    "Does not allow downgrades",
    "Prevents rollback to older firmware.",
    "No downgrade possible",
    "The update is irreversible.",
    "Reverting to previous versions is disabled",
    "Can't be downgraded.",
    "Introduces a one-way update: after it, no roll back",
    "Flashing back to an older BIOS is not allowed.",
    "It will not be possible to downgrade after this release",
)
GAINED = {
    "Adds support for Kelp 3 series processors.": ("kelp-3",),
    "Add support for the new Kelp 3 CPUs": ("kelp-3",),
    "Added support for Kelp 2 and Kelp 3 series": ("kelp-2", "kelp-3"),
    "New CPU support: Kelp 3": ("kelp-3",),
    "Supports Kelp 3 series": ("kelp-3",),
    "Support Kelp-3 and Kelp-7 processors": ("kelp-3", "kelp-7"),
    "Now supports 3rd generation Kelp processors": ("kelp-3",),
    "Introduces support for Kelp 2 and 3 series CPUs": ("kelp-2", "kelp-3"),
    "Support for Kelp 3 CPUs has been added.": ("kelp-3",),
    "Knows Kelp 3 as well": ("kelp-3",),
    "Beta support for Kelp 3 processors": ("kelp-3",),
    "Adds initial support for upcoming Sargasso 5 processors": ("sargasso-5",),
    "Adds Kelp 240 support for CPUs with six cores": ("kelp-2",),
    "Adds Kelp 3 CPU support": ("kelp-3",),
    "Enables support for Kelp 240": ("kelp-2",),
    "Adds support for Kelp 3 CPUs, improves memory stability": ("kelp-3",),
}
LOST = {
    "Removes support for Kelp 1 series.": ("kelp-1",),
    "No longer supports Kelp 1 processors": ("kelp-1",),
    "Drops Kelp 1 CPUs to make room": ("kelp-1",),
    "Kelp 1 CPUs are no longer supported.": ("kelp-1",),
    "Support for Kelp 1 has been removed": ("kelp-1",),
    "Does not support Kelp 1 CPUs any more.": ("kelp-1",),
    "Dropped support for Kelp 1 and Kelp 2 processors": ("kelp-1", "kelp-2"),
    "Discontinues support for Sargasso 5 CPUs": ("sargasso-5",),
}
NOTHING = (
    "Does not require 1.9.",
    "No longer requires 1.9 to be installed first.",
    "It is not necessary to update to 1.9 first.",
    "You do not need to update to 1.9 first",
    "Requires flash tool version 1.9 or later.",
    "Requires version 1.9 of the flash tool",
    "The flash utility 1.9 must be installed first",
    "Requires 2.0 GB of free space",
    "Requires 2 modules",
    "Improves compatibility with Kelp 3 series CPUs.",
    "Improve system compatibility",
    "Enhanced support for Kelp 3 processors",
    "Fixes support for Kelp 3 CPUs",
    "Fixed an issue where Kelp 3 CPUs are not supported any more",
    "Adds support for 64 GB memory modules",
    "Adds support for new memory kits",
    "Adds support for more languages",
    "Adds support for large USB drives of the Brine 3 series",
    "Does not add support for Kelp 3 CPUs",
    "No support for Kelp 3 CPUs yet",
    "Updates microcode for Kelp 3 CPUs",
    "Fixes an issue where downgrading was not possible",
    "Downgrade is possible.",
    "You can go back to 1.9 at any time.",
    "Fixed: cannot return to the previous menu",
    "Cannot go back to the setup screen from the boot menu",
    "This update is not irreversible.",
    "Beta version",
    "Update of the start-up logo",
    "Performance improvements for 1.9",
    "No older release is needed",
    "For boards sold as of 1.9",
    "Adds support for CPUs",
    "Adds support for processors of more than 64 MB cache",
    "Support for the new cooler series",
    "Removes the old start-up logo",
    "Requires a restart before 2031",
    "The update can be installed from 1.9 and from any other release",
    "",
)
BOTH = {
    "Adds support for Kelp 3 series and removes support for Kelp 1 series": {
        "1.12 adds kelp-3",
        "1.12 drops kelp-1",
        "first kelp-1",
    },
    "Adds support for Kelp 3; Kelp 1 is no longer supported; requires 1.9 or later; cannot be rolled back": {
        "1.12 adds kelp-3",
        "1.12 drops kelp-1",
        "first kelp-1",
        "1.12 accepts_from 1.9",
        "1.12 one_way true",
    },
    "1.15 requires 1.12": {"1.15 requires 1.12"},
    "Must be installed before updating to 2.0": {"2.0 requires 1.12"},
    "Update to 1.4 first, then update to 1.9 first": {"1.12 requires 1.4"},
}


@pytest.mark.parametrize("sentence", FIRST)
def test_needs_first(sentence: str) -> None:
    """A release that has to be on the board before."""
    assert told(sentence) == {"1.12 requires 1.9"}


@pytest.mark.parametrize("sentence", LEAST)
def test_lowest_accepted(sentence: str) -> None:
    """The lowest release from which it is accepted."""
    assert told(sentence) == {"1.12 accepts_from 1.9"}


@pytest.mark.parametrize("sentence", LATER)
def test_needed_by_later_ones(sentence: str) -> None:
    """A note about the releases after it."""
    assert told(sentence, "1.9") == {f"{version} requires 1.9" for version in VERSIONS[2:]}


@pytest.mark.parametrize("sentence", ONE_WAY)
def test_no_way_back(sentence: str) -> None:
    """One-way steps."""
    assert told(sentence) == {"1.12 one_way true"}


@pytest.mark.parametrize(("sentence", "families"), GAINED.items())
def test_gained(sentence: str, families: tuple[str, ...]) -> None:
    """CPU families gained."""
    assert told(sentence) == {f"1.12 adds {family}" for family in families}


@pytest.mark.parametrize(("sentence", "families"), LOST.items())
def test_lost(sentence: str, families: tuple[str, ...]) -> None:
    """CPU families lost; the oldest release must have known them."""
    assert told(sentence) == {f"{what}{family}" for family in families for what in ("1.12 drops ", "first ")}


@pytest.mark.parametrize("sentence", NOTHING)
def test_traps(sentence: str) -> None:
    """Words that look like it and tell nothing."""
    assert told(sentence) == set()


@pytest.mark.parametrize(("sentence", "expected"), BOTH.items())
def test_several(sentence: str, expected: set[str]) -> None:
    """Several things in one note, and notes about other releases."""
    assert told(sentence) == expected

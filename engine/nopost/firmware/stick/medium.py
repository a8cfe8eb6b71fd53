"""What was found on a stick, as frozen values; what a board's button asks for; and how much may be read of a stick."""

from __future__ import annotations

from dataclasses import dataclass, field

FAT_KINDS = ("FAT12", "FAT16", "FAT32")
UNKNOWN = "unknown"
"""File system that no signature names."""


@dataclass(frozen=True, slots=True)
class DirectoryEntry:
    """A file or folder. `folder`: path of the folder it lies in, empty at the top; `short`: its 8.3 name where there is one;
    `whole`: whether the clusters or the valid length cover its size, None when that was not looked at."""

    name: str
    size: int = 0
    folder: str = ""
    is_folder: bool = False
    short: str = ""
    hidden: bool = False
    whole: bool | None = None

    @property
    def path(self) -> str:
        """Name with the folder before it, parted by a slash."""
        return f"{self.folder}/{self.name}" if self.folder else self.name


@dataclass(frozen=True, slots=True)
class Partition:
    """One entry of a partition table; start and size in bytes. `kind`: type byte in hex, or type GUID."""

    number: int
    kind: str
    start: int
    size: int
    hidden: bool = False
    active: bool = False
    logical: bool = False
    title: str = ""


@dataclass(frozen=True, slots=True)
class PartitionTable:
    """`kind`: MBR, GPT or none; `problems`: what is wrong with the table itself, `doubts`: with its backup."""

    kind: str
    partitions: tuple[Partition, ...] = ()
    problems: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FileSystem:
    """`kind`: by the cluster-count rule for FAT, by signature else. `says`: the text in the boot sector, which proves nothing."""

    kind: str
    says: str = ""
    size: int = 0
    sector: int = 0
    cluster: int = 0
    clusters: int = 0
    dirty: bool = False
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StickVolume:
    """A file system and what lies at its top and in the folders there. `listed`: whether the listing could be read."""

    file_system: FileSystem
    entries: tuple[DirectoryEntry, ...] = ()
    label: str = ""
    listed: bool = True
    partition: Partition | None = None
    problems: tuple[str, ...] = ()

    @property
    def top(self) -> tuple[DirectoryEntry, ...]:
        """Files and folders at the top of the volume."""
        return tuple(entry for entry in self.entries if not entry.folder)


@dataclass(frozen=True, slots=True)
class Stick:
    """`form`: folder, image or device. `top_of_medium`: False for a folder that is not the top of a mounted medium."""

    path: str
    form: str
    size: int
    table: PartitionTable
    volumes: tuple[StickVolume, ...] = ()
    top_of_medium: bool = True
    unreadable: bool = False


@dataclass(frozen=True, slots=True)
class ButtonRequirements:
    """What the button of a board wants, as far as it is known. `button`: None when no record says; `sizes`: of the releases;
    `released`: names that the images have in their archives."""

    file: str = ""
    file_systems: tuple[str, ...] = ()
    socket: str = ""
    sizes: tuple[int, ...] = ()
    chip_size: int = 0
    button: bool | None = None
    released: tuple[str, ...] = ()


@dataclass(slots=True)
class ReadBudget:
    """What may still be read of a whole stick: bytes of folders, links of cluster chains, entries. Crafted sticks cannot ask
    for more."""

    folder_bytes: int = 4 << 20
    links: int = 400_000
    entries: int = 20_000
    spent: set[str] = field(default_factory=set)

    def take(self, what: str, count: int = 1) -> bool:
        """Take so many; False, and noted, when there are not enough."""
        left = getattr(self, what)
        if left < count:
            self.spent.add(what)
            return False
        setattr(self, what, left - count)
        return True

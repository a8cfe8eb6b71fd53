"""What the records settle: every fact, and what is left open. Boards and CPUs are invented."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import pytest

from nopost.errors import RecordError, UnknownNameError
from nopost.firmware.record_facts import is_variant, known_families, record_facts, release_index
from nopost.firmware.records import Records
from nopost.knowledge.model import Knowledge
from nopost.knowledge.reference_records import FACTS, Board, Cpu, Release

SUPPORT = ("firmware-knows-cpu", "firmware-dropped-cpu")


def small_board(*releases: Release, first: Iterable[str] = ("old",), slots: Iterable[str] = ("A1", "A2", "B1", "B2")) -> Board:
    """A board of four slots with these releases."""
    return Board(
        id="small-1",
        title="Small 1",
        variant="Small 1",
        socket="s1",
        memory_type="DDR4",
        slots=tuple(slots),
        slot_order={1: ("A2",), 2: ("A2", "B2")},
        video_outputs=False,
        indicators={"stage_lamps": False, "code_display": False, "speaker": False, "standby_lamp": False},
        first_families=tuple(first),
        releases=releases or (Release("1", "2030-01-01"),),
        recovery={"button": False, "second_chip": False},
    )


def with_button(**recovery: object) -> Board:
    """A small board whose record tells this of its write button."""
    return replace(small_board(Release("1", "2030-01-01")), recovery={"button": True, "second_chip": False, **recovery})


def small_cpu(family: str = "old", socket: str = "s1") -> Cpu:
    """A CPU without graphics."""
    return Cpu("small-cpu", "Small CPU", family, socket, 2, 4, False, ("DDR4",))


def gained_then_lost() -> Board:
    """Knows "old" at first, gains "mid" with the second release, and loses both one after the other."""
    return small_board(
        Release("9", "2030-01-01"),
        Release("10", "2030-02-01", adds=("mid",)),
        Release("8", "2030-03-01", drops=("old",)),
        Release("A", "2030-04-01", drops=("mid",), adds=("new",)),
        Release("B", "2030-05-01", adds=("mid",)),
    )


def support(board: Board, family: str, version: str = "") -> dict[str, str]:
    """The facts on support alone."""
    facts = record_facts(Records(board, small_cpu(family), version))
    return {name: facts[name] for name in SUPPORT if name in facts}


BREAKWATER = {
    "board-video",
    "has-stage-lamps",
    "has-code-display",
    "has-standby-lamp",
    "has-write-button",
    "button-needs-cpu-plug",
}


def test_nothing_is_known_of_nothing() -> None:
    """Without records there are no facts."""
    assert record_facts(Records()) == {}


def test_cpu_alone() -> None:
    """A CPU alone settles whether it has graphics."""
    assert record_facts(Records(cpu=small_cpu())) == {"cpu-graphics": "no"}
    assert record_facts(Records(cpu=replace(small_cpu(), graphics=True))) == {"cpu-graphics": "yes"}


def test_board_alone() -> None:
    """A board alone settles what it carries and which generation of memory it takes, and nothing on CPU, image or modules."""
    assert record_facts(Records(small_board())) == {
        "board-video": "no",
        "has-stage-lamps": "no",
        "has-code-display": "no",
        "has-speaker": "no",
        "has-standby-lamp": "no",
        "has-write-button": "no",
        "has-second-chip": "no",
        "memory-generation": "ddr4",
    }


@pytest.mark.parametrize(
    ("board", "yes"),
    [
        ("tb-breakwater-x1", BREAKWATER),
        ("tb-harbour-m2", {"board-video", "has-stage-lamps", "has-standby-lamp"}),
        ("tb-mooring-d7", {"has-code-display", "has-speaker", "has-standby-lamp", "has-second-chip"}),
        ("tb-slipway-a1", {"board-video", "has-speaker"}),
    ],
)
def test_what_the_demo_boards_carry(knowledge: Knowledge, board: str, yes: set[str]) -> None:
    """Each yes of the record is a yes of the facts, and the rest is no."""
    facts = record_facts(Records(knowledge.boards[board]))
    assert {name for name, value in facts.items() if value == "yes"} == yes
    assert {value for name, value in facts.items() if name not in ("button-reads", "memory-generation")} <= {"yes", "no"}
    assert facts["memory-generation"] == knowledge.boards[board].memory_type.lower()


def test_every_fact_and_value_is_declared(knowledge: Knowledge) -> None:
    """Whatever the demo records are combined to, rules can ask for it; and together they reach every value."""
    reached: dict[str, set[str]] = {name: set() for name in FACTS}
    older = replace(small_board(), memory_type="DDR3")
    for board in (*knowledge.boards.values(), older, with_button(button_needs=["main"], button_file_systems=["FAT32", "exFAT"])):
        for cpu in knowledge.cpus.values():
            for version in ("", *(r.version for r in board.releases)):
                for image in ("", board.variant, f"{board.variant}X"):
                    for slots in ((), board.slots[:1], board.slots[1:2]):
                        for name, value in record_facts(Records(board, cpu, version, image, slots, "DDR4")).items():
                            reached[name].add(value)
    assert {name: tuple(sorted(values)) for name, values in reached.items()} == {n: tuple(sorted(v)) for n, v in FACTS.items()}


def test_socket() -> None:
    """The socket's name decides whether the CPU fits."""
    assert record_facts(Records(small_board(), small_cpu(socket="s1")))["cpu-fits-socket"] == "yes"
    assert record_facts(Records(small_board(), small_cpu(socket="s2")))["cpu-fits-socket"] == "no"


@pytest.mark.parametrize(
    ("cpu", "version", "expected"),
    [
        ("kelp-120", "0.90", {"firmware-knows-cpu": "yes"}),
        ("kelp-120", "0.98", {"firmware-knows-cpu": "yes"}),
        ("kelp-120", "0.102", {"firmware-knows-cpu": "yes"}),
        ("kelp-120", "0.110", {"firmware-knows-cpu": "no", "firmware-dropped-cpu": "yes"}),
        ("kelp-240", "0.90", {"firmware-knows-cpu": "no"}),
        ("kelp-240", "0.94", {"firmware-knows-cpu": "yes"}),
        ("kelp-240", "0.110", {"firmware-knows-cpu": "yes"}),
        ("kelp-450", "0.98", {"firmware-knows-cpu": "no"}),
        ("kelp-450", "0.102", {"firmware-knows-cpu": "no"}),
        ("kelp-450", "0.110", {"firmware-knows-cpu": "yes"}),
    ],
)
def test_order_of_releases_is_the_records(knowledge: Knowledge, cpu: str, version: str, expected: Mapping[str, str]) -> None:
    """0.102 and 0.110 come after 0.98 because the record says so; sorted as text or as numbers they come before it."""
    facts = record_facts(Records(knowledge.boards["tb-harbour-m2"], knowledge.cpus[cpu], version))
    assert {name: facts[name] for name in SUPPORT if name in facts} == expected


@pytest.mark.parametrize(
    ("version", "families"),
    [("9", {"old"}), ("10", {"old", "mid"}), ("8", {"mid"}), ("A", {"new"}), ("B", {"new", "mid"})],
)
def test_families_gained_and_lost(version: str, families: set[str]) -> None:
    """A release knows what was gained up to it and not lost since; what was lost can come back."""
    board = gained_then_lost()
    assert known_families(board, release_index(board, version)) == families


@pytest.mark.parametrize(
    ("family", "version", "expected"),
    [
        ("old", "10", {"firmware-knows-cpu": "yes"}),
        ("old", "8", {"firmware-knows-cpu": "no", "firmware-dropped-cpu": "yes"}),
        ("mid", "9", {"firmware-knows-cpu": "no"}),
        ("mid", "A", {"firmware-knows-cpu": "no", "firmware-dropped-cpu": "yes"}),
        ("mid", "B", {"firmware-knows-cpu": "yes"}),
        ("new", "8", {"firmware-knows-cpu": "no"}),
        ("other", "B", {"firmware-knows-cpu": "no"}),
    ],
)
def test_dropped_is_told_from_never_known(family: str, version: str, expected: Mapping[str, str]) -> None:
    """Only a family that an earlier release knew counts as dropped."""
    assert support(gained_then_lost(), family, version) == expected


def test_first_release_that_drops_a_first_family() -> None:
    """A family of the first sale that the oldest listed release already drops is dropped as well."""
    board = small_board(Release("1", "2030-01-01", drops=("old",)))
    assert support(board, "old", "1") == {"firmware-knows-cpu": "no", "firmware-dropped-cpu": "yes"}


@pytest.mark.parametrize(("family", "expected"), [("old", {}), ("mid", {}), ("new", {}), ("other", {"firmware-knows-cpu": "no"})])
def test_without_a_version_only_what_always_holds(family: str, expected: Mapping[str, str]) -> None:
    """Without a version a family that some releases know and some do not is left open."""
    assert support(gained_then_lost(), family) == expected


def test_without_a_version_known_by_all() -> None:
    """Every release knows it, so the fitted one does."""
    board = small_board(Release("1", "2030-01-01"), Release("2", "2030-02-01", adds=("new",)))
    assert support(board, "old") == {"firmware-knows-cpu": "yes"}
    assert support(board, "new") == {}


@pytest.mark.parametrize("with_cpu", [False, True])
def test_unknown_version_names_the_nearest(knowledge: Knowledge, with_cpu: bool) -> None:
    """A version that the record does not list is refused, whether or not a CPU is compared with it."""
    cpu = knowledge.cpus["kelp-120"] if with_cpu else None
    with pytest.raises(UnknownNameError, match="did you mean") as caught:
        record_facts(Records(knowledge.boards["tb-harbour-m2"], cpu, "0.11"))
    assert "0.110" in caught.value.nearest


@pytest.mark.parametrize("version", ["0.9", "0.90 ", "0.900", "v0.90", ".90"])
def test_versions_are_texts(knowledge: Knowledge, version: str) -> None:
    """No version is taken for another that looks like the same number."""
    with pytest.raises(UnknownNameError):
        record_facts(Records(knowledge.boards["tb-harbour-m2"], firmware=version))


@pytest.mark.parametrize(
    ("slots", "expected"),
    [
        (("A2",), "first-choice"),
        (("A1",), "other"),
        (("A2", "B2"), "first-choice"),
        (("B2", "A2"), "first-choice"),
        (("A1", "B1"), "other"),
        (("A2", "B1"), "other"),
        (("A1", "A2", "B1"), None),
        ((), None),
    ],
)
def test_slots_by_the_manuals_order(slots: tuple[str, ...], expected: str | None) -> None:
    """The manual's slots in any order are the first choice; a number of modules that it does not name is left open."""
    assert record_facts(Records(small_board(), slots=slots)).get("slots-by-manual") == expected


def test_the_manual_decides_and_no_habit(knowledge: Knowledge) -> None:
    """One module goes to A2 on one demo board and to B2 on another."""
    for name, slot in {"tb-breakwater-x1": "A2", "tb-mooring-d7": "B2", "tb-slipway-a1": "M1"}.items():
        board = knowledge.boards[name]
        chosen = {s: record_facts(Records(board, slots=(s,)))["slots-by-manual"] for s in board.slots}
        assert [s for s, value in chosen.items() if value == "first-choice"] == [slot]


def test_slot_that_is_not_there() -> None:
    """A slot that the board has not is refused with the nearest names."""
    with pytest.raises(UnknownNameError, match="did you mean"):
        record_facts(Records(small_board(), slots=("A2", "A3")))


def test_slot_named_twice() -> None:
    """Two modules cannot be in one slot."""
    with pytest.raises(RecordError, match="twice"):
        record_facts(Records(small_board(), slots=("A2", "A2")))


def test_memory_type() -> None:
    """The modules' type is compared with the board's."""
    assert record_facts(Records(small_board(), memory_type="DDR4"))["memory-type-fits"] == "yes"
    assert record_facts(Records(small_board(), memory_type="DDR5"))["memory-type-fits"] == "no"


@pytest.mark.parametrize(
    ("image", "expected"),
    [
        ("TB-Harbour M2 rev 1.1", "exact"),
        ("tb-harbour  m2 REV 1.1", "exact"),
        ("Harbour M2", "exact"),
        ("TBH-M2-11", "exact"),
        ("TB-Harbour M2W", "other"),
        ("Harbour M2W", "other"),
        ("TBH-M2-11W", "other"),
        ("TB-Harbour M2 rev 1.1W", "other"),
        ("TB-Harbour M2 rev 2.0", "other"),
        ("TB-Harbour M2 rev 1.10", "other"),
        ("Harbour M", "other"),
        ("TB-Harbour M2", "other"),
    ],
)
def test_image_variant(knowledge: Knowledge, image: str, expected: str) -> None:
    """Letter case and spaces do not count; one letter more or less makes it another board's image."""
    assert record_facts(Records(knowledge.boards["tb-harbour-m2"], image_for=image))["image-variant"] == expected


def test_look_alikes_are_other_boards(knowledge: Knowledge) -> None:
    """What a record lists as look-alikes is never taken for the board itself."""
    for board in knowledge.boards.values():
        assert board.look_alikes
        assert not [name for name in board.look_alikes if is_variant(board, name)]
        assert is_variant(board, board.variant)


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ({}, {}),
        ({"button_needs": ["main", "cpu"]}, {"button-needs-cpu-plug": "yes"}),
        ({"button_needs": ["main"]}, {"button-needs-cpu-plug": "no"}),
        ({"button_file_systems": ["FAT12", "FAT16", "FAT32"]}, {"button-reads": "fat-only"}),
        ({"button_file_systems": ["FAT32", "NTFS"]}, {"button-reads": "newer-too"}),
        ({"button": False, "button_needs": ["main"]}, {}),
    ],
)
def test_what_the_button_asks_for(told: dict[str, object], expected: Mapping[str, str]) -> None:
    """Plugs and file systems of the write button, as far as the record tells them."""
    facts = record_facts(Records(with_button(**told)))
    assert {name: value for name, value in facts.items() if name.startswith("button-")} == expected


def test_a_record_that_leaves_the_oldest_release_open() -> None:
    """Without first_families only what the releases say of a family is a fact."""
    board = small_board(Release("1", "2030-01-01"), Release("2", "2030-02-01", adds=("new",)), first=())
    assert not set(SUPPORT) & set(record_facts(Records(board, small_cpu("old"), "1")))
    assert record_facts(Records(board, small_cpu("new"), "1"))["firmware-knows-cpu"] == "no"
    assert record_facts(Records(board, small_cpu("new"), "2"))["firmware-knows-cpu"] == "yes"
    with pytest.raises(UnknownNameError):
        record_facts(Records(board, small_cpu("old"), "3"))

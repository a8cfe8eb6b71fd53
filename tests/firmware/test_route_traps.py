"""The traps of firmware routes. Common practice, no source; the boards are invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firmware.route_boards import PRICES, board, cpu, release
from nopost.errors import RecordError, UnknownNameError
from nopost.firmware.route.moves import prices_of
from nopost.firmware.route.route_plan import FirmwarePlan, make_plan, plan_data
from nopost.firmware.route.route_search import StateSpace
from nopost.firmware.route.task import Way, make_task
from nopost.knowledge.model import Knowledge
from nopost.knowledge.record_faults import board_faults
from nopost.knowledge.reference_records import Board, Cpu
from nopost.render.route_checklist import checklist_blocks, why_not_lines

ALONE = (Way.SHOP, Way.BORROW)
OLD, MID, NEW = cpu("old-cpu", "old"), cpu("mid-cpu", "mid"), cpu("new-cpu", "new")
THREE_STEPS = board(
    (
        release("0.9"),
        release("0.10", requires="0.9"),
        release("0.11", requires="0.10"),
        release("0.100", adds=("new",), requires="0.11"),
    ),
    button=True,
)


def written(plan: FirmwarePlan) -> list[str]:
    """Releases in the order in which they are written."""
    return [step.to for step in plan.steps if str(step.way).startswith("write")]


def plan(b: Board, version: str, target: object = NEW, fitted: object = NEW, **more: object) -> FirmwarePlan:
    """A plan; fitted is the new CPU when nothing else is said."""
    return make_plan(make_task(b, version, target, fitted, **more), PRICES)  # type: ignore[arg-type]


def test_pass_through_with_donor(knowledge: Knowledge) -> None:
    """0.90, 0.94, 0.98, 0.102, 0.110: each asks for the one before; the donor goes in first and the new CPU last."""
    task = make_task(
        knowledge.boards["tb-harbour-m2"],
        "0.90",
        knowledge.cpus["kelp-450"],
        knowledge.cpus["kelp-450"],
        [knowledge.cpus["kelp-120"]],
        ["stick"],
        without=ALONE,
    )
    found = make_plan(task, prices_of(knowledge.base))
    assert [(str(step.way), step.to) for step in found.steps] == [
        ("swap-cpu", "kelp-120"),
        ("write-inside", "0.94"),
        ("write-inside", "0.98"),
        ("write-inside", "0.102"),
        ("write-inside", "0.110"),
        ("swap-cpu", "kelp-450"),
    ]
    drop = found.steps[4]
    assert any("It drops family kelp-1" in line for line in drop.before)
    assert any("no longer knows Kelp 120" in line for line in drop.after)
    assert any("one-way" in line for line in found.steps[3].before)
    assert any("TB-Harbour M2W" in line for line in drop.before), "the look-alike is named beside the image"


def test_three_steps_with_the_button() -> None:
    """The button needs no CPU that is known, but what has to be passed through is passed through."""
    assert written(plan(THREE_STEPS, "0.9", without=ALONE)) == ["0.10", "0.11", "0.100"]


def test_one_step_over_many() -> None:
    """Without anything asked for, one write jumps over all."""
    many = board((release("1"), *(release(str(n)) for n in range(2, 40)), release("40", adds=("new",))), button=True)
    assert written(plan(many, "1")) == ["40"]


def test_newest_of_those_that_are_alike() -> None:
    """Of releases that know the same and ask the same, the newest is written."""
    alike = board((release("1"), release("2", adds=("new",)), release("3"), release("4")), button=True)
    assert written(plan(alike, "1")) == ["4"]
    assert written(plan(alike, "1", to="3")) == ["3"]


def test_dropped_donor() -> None:
    """The newest release drops the donor's family: with the donor fitted it stays at the release that knows both."""
    b = board((release("1"), release("2", adds=("mid",)), release("3", adds=("new",), drops=("old",), requires="2")))
    assert written(plan(b, "1", MID, OLD, without=ALONE)) == ["2"]
    refused = why_not_lines(plan(b, "1", MID, OLD, without=ALONE))
    assert any("2 or a later release has to be on the board before it" in line for line in refused)
    stuck = plan(b, "2", OLD, OLD, to="3", without=ALONE)
    assert [each.kind for each in stuck.missing] == ["release"]


def test_never_stranded() -> None:
    """A release that drops the fitted CPU is refused while no CPU that it knows is at hand."""
    b = board((release("1"), release("2", adds=("new",), drops=("old",)), release("3", adds=("old", "mid"), drops=("new",))))
    found = plan(b, "1", MID, OLD, without=(Way.SHOP, Way.BORROW))
    assert written(found) == ["3"]
    reasons = {(r.way, r.targets): r.reason for r in found.refused}
    assert reasons[Way.INSIDE, (1,)] == "it does not know old-cpu, which is fitted, and no CPU that it knows is at hand"


def test_stopped_and_written_on() -> None:
    """A release that knows no CPU may be passed through where the recovery block can write the next one."""
    passed = release("2", drops=("old",))
    b = board((release("1"), passed, release("3", adds=("old", "new"), requires="2")), recovery_block=True)
    found = plan(b, "1", NEW, OLD, without=ALONE)
    assert [step.way for step in found.steps] == [Way.INSIDE, Way.RECOVERY, Way.SWAP]
    without = (*ALONE, Way.RECOVERY)
    stuck = plan(b, "1", NEW, OLD, without=without)
    assert stuck.routes == ()
    assert any("no CPU that it knows is at hand" in each.reason for each in stuck.refused)


def test_accepts_from() -> None:
    """The lowest version that a release accepts is passed through too."""
    b = board((release("1"), release("2"), release("3", adds=("new",), accepts_from="2")), button=True)
    assert written(plan(b, "1", without=ALONE)) == ["2", "3"]


def test_one_way() -> None:
    """The only release that knew it lies before a one-way one: even a workshop cannot help, and that is said."""
    b = board((release("1"), release("2", drops=("old",), adds=("new",), one_way=True)), button=True, socketed_chip=True)
    found = plan(b, "2", OLD, NEW)
    assert found.routes == ()
    assert [each.kind for each in found.missing] == ["release"]
    assert "one-way" in found.missing[0].what
    assert any("2 is one-way" in line for line in why_not_lines(found))


def test_no_release_knows_it() -> None:
    """A family that no release knows."""
    found = plan(board((release("1"),), button=True), "1")
    assert [(each.kind, bool(each.ways)) for each in found.missing] == [("release", True)]
    assert "family new" in found.missing[0].what


def test_a_donor_is_missing() -> None:
    """No button, no workshop, nobody lends: the families that would do are named."""
    b = board((release("1"), release("2", adds=("mid",)), release("3", adds=("new",))), ("old", "older"))
    kinds = {each.kind: each.what for each in plan(b, "1", without=ALONE).missing}
    assert kinds["donor"] == "a CPU to lend of family old or older"
    assert "shop" in kinds


def test_an_asked_release_that_the_record_lacks() -> None:
    """It is a fault of the record, with its place, and no missing image."""
    for more in ({"accepts_from": "1a"}, {"requires": "1a"}, {"requires": "2"}):
        faults = list(board_faults(board((release("1"), release("2", **more)))))
        assert [(fault.where, fault.code.name) for fault in faults] == [(("firmware", "releases", 1, *more), "unknown-name")]


def test_only_accepted_releases_are_written() -> None:
    """Of releases that know the same, the newest that is accepted, never one that asks for more."""
    chain = board(
        (release("1"), release("2"), release("3", requires="2"), release("4", adds=("new",), requires="3")), button=True
    )
    assert written(plan(chain, "1", without=ALONE)) == ["2", "3", "4"]


def test_many_releases() -> None:
    """Sixty releases, six families, each asks for the fifth before it, a board with all means: few states are looked at."""
    names = [f"f{number}" for number in range(6)]
    releases = [
        release(str(i), adds=tuple(names[i // 10 : i // 10 + 1]) if i % 10 == 5 else (), requires=str(i - 5) if i >= 5 else "")
        for i in range(60)
    ]
    everything = {"button": True, "second_chip": True, "recovery_block": True, "socketed_chip": True}
    big = board(tuple(releases), ("f0",), **everything)
    task = make_task(big, "3", cpu("t", "f5"), cpu("o", "f0"), ["f1", "f2"], ["stick"], second="2")
    space = StateSpace(task, PRICES)
    assert space.shortest("") is not None
    assert space.seen < 2000


def test_socket() -> None:
    """No firmware changes the socket; a donor for another one is a mistake."""
    task = make_task(THREE_STEPS, "0.9", cpu("x", "new", "t"), None)
    assert [each.kind for each in make_plan(task, PRICES, "t").missing] == ["socket"]
    with pytest.raises(RecordError):
        make_task(THREE_STEPS, "0.9", NEW, cpu("x", "old", "t"))
    with pytest.raises(UnknownNameError):
        make_task(THREE_STEPS, "0.99", NEW, None)


def test_why_not_covers_every_route() -> None:
    """Start and each state of each route; what holds for the board is said once."""
    found = plan(THREE_STEPS, "0.9", NEW, OLD, donors=[MID])
    assert len(found.routes) > 1
    passed = {found.task.start, *(move.after for route in found.routes for move in route.moves[:-1])}
    assert {each.state for each in found.refused} == passed
    lines = why_not_lines(found)
    assert sum("recovery block" in line for line in lines) == 1
    assert len(set(lines)) == len(lines)


@pytest.mark.parametrize(
    ("way", "version", "cpu_", "to"),
    [(Way.INSIDE, "0.9", OLD, "0.10"), (Way.BUTTON, "0.9", NEW, ""), (Way.RECOVERY, "0.100", OLD, "")],
)
def test_stick_is_said_once(way: Way, version: str, cpu_: Cpu, to: str) -> None:
    """One line of a step says how the stick is formatted, whatever the way."""
    changed = (*THREE_STEPS.releases[:3], release("0.100", adds=("new",), drops=("old",)))
    b = replace(THREE_STEPS, releases=changed, recovery={**THREE_STEPS.recovery, "recovery_block": True})
    without = (*ALONE, *({Way.INSIDE, Way.BUTTON, Way.RECOVERY} - {way}))
    step = plan(b, version, cpu_, cpu_, without=without, to=to).steps[0]
    assert step.way is way
    assert sum("format" in line for line in step.before) == 1


def test_nothing_to_do() -> None:
    """The release knows the fitted CPU."""
    found = plan(THREE_STEPS, "0.100")
    assert found.ready
    assert (found.steps, found.refused, found.missing) == ((), (), ())


def test_recovery_block_and_second_chip() -> None:
    """The block helps a CPU that the board first knew; the second chip when it is known what it holds."""
    b = board((release("1"), release("2", drops=("old",), adds=("new",))), recovery_block=True, second_chip=True)
    assert [step.way for step in plan(b, "2", OLD, OLD, without=(Way.SHOP,)).steps] == [Way.RECOVERY]
    assert [step.way for step in plan(b, "2", OLD, OLD, second="1").steps] == [Way.SECOND]
    assert any("nobody knows which release" in line for line in why_not_lines(plan(b, "2", OLD, OLD)))


def test_record_comes_first() -> None:
    """Socket, name, minutes, file systems and size of the record stand in the step."""
    b = board(
        (release("1"), release("2", adds=("new",), size=4096, sha256="ab" * 32, file="IMG.CAP")),
        button=True,
        button_socket="the red one",
        button_minutes=3.5,
        button_file="NAME.ROM",
        button_file_systems=["FAT16"],
        button_needs=["main"],
    )
    step = plan(b, "1").steps[0]
    text = "\n".join((*step.before, *step.see))
    for part in (
        "the red one",
        "NAME.ROM",
        "FAT16",
        "4096 bytes",
        "ab" * 32,
        "IMG.CAP",
        "about 3.5 minutes",
        "the main plug must",
    ):
        assert part in text
    assert "FAT32" not in text


def test_hazards_exist(knowledge: Knowledge) -> None:
    """Each way has cautions in the shipped knowledge; writing warns of a power cut, CPU work of contacts."""
    hazards = prices_of(knowledge.base).hazards
    assert all(hazards[way] for way in Way)
    assert all("no-power-cut" in hazards[way] for way in (Way.INSIDE, Way.BUTTON, Way.RECOVERY))
    assert all({"unplug", "esd", "socket-contacts"} <= set(hazards[way]) for way in (Way.SWAP, Way.BORROW))


def test_blocks_and_data_agree(knowledge: Knowledge) -> None:
    """What is shown has each step of the data."""
    found = plan(THREE_STEPS, "0.9", without=ALONE)
    titles = [block.title for block in checklist_blocks(knowledge, found)]
    assert all(f"Step {n}: {step['title']}" in titles for n, step in enumerate(plan_data(found)["steps"], 1))


def test_first_start_after_the_button() -> None:
    """The step after which it runs says to start it and what is normal then; one in between does not."""
    steps = plan(THREE_STEPS, "0.9").steps
    starts = [any("plug in and start" in line for line in step.action) for step in steps]
    assert starts == [False] * (len(steps) - 1) + [True]
    assert any("memory is trained anew" in line for line in steps[-1].see)


def test_a_record_that_leaves_the_oldest_release_open() -> None:
    """Without first_families nobody can say that no release knows the CPU: the record is what is missing."""
    open_ = board((release("1"), release("2", adds=("mid",))), (), button=True)
    found = plan(open_, "1")
    assert [each.kind for each in found.missing] == ["record"]
    assert "first_families" in found.missing[0].ways[0]
    assert [step.to for step in plan(open_, "1", MID, MID).steps] == ["2"]

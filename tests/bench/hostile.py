"""`python -m tests.bench.hostile`: damaged input for every reader; a table of how many inputs, crashes, hangs, and the most
memory.

Each reader runs in a process of its own on inputs that are cut, spliced, flipped, repeated and stuffed from good ones. A
refusal is one of our exceptions or a problem; any other exception is a crash, and more than five seconds a hang.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import FrameType

from rich.console import Console

from bench.__main__ import drawn
from bench.hostile_readers import READERS, Reader
from bench.section import Section
from nopost.errors import NopostError

LIMIT = 5
"""Seconds for one input."""
NASTY = (
    b"\0",
    b"\xff" * 9,
    b"\x1b[31m",
    b"<script>",
    b"{{{{",
    b"[[[[",
    b"- - - -",
    b"\r\n\r\n",
    b"9" * 400,
    b"\xe2\x80\xae",
    b"&a *a",
)
SHOWN = 200


class Hang(Exception):
    """An input took too long."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run and print; 1 when anything crashed or hung."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.hostile", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--inputs", type=int, default=10_000, help="inputs for each reader (default 10000)")
    parser.add_argument("--seed", type=int, default=1, help="to repeat a run")
    parser.add_argument("--reader", choices=sorted(READERS), help="only this one, in this process, as JSON")
    asked = parser.parse_args(arguments)
    if asked.reader:
        print(json.dumps(tried(asked.reader, asked.inputs, asked.seed)))
        return 0
    table = Section(f"Damaged input, seed {asked.seed}", ("reader", "inputs", "refused", "crashes", "hangs", "MiB at most"))
    for name in READERS:
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "tests.bench.hostile",
                "--reader",
                name,
                "--inputs",
                str(asked.inputs),
                "--seed",
                str(asked.seed),
            ],
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            table.add(name, asked.inputs, None, 1, 0, None)
            table.notes.append(f"{name}: the process ended with {done.returncode}: {done.stderr[-SHOWN:]}")
            continue
        row = json.loads(done.stdout)
        table.add(name, asked.inputs, row["refused"], len(row["crashes"]), len(row["hangs"]), row["memory"])
        table.notes += [f"{name}: {said}" for said in (*row["crashes"], *row["hangs"])][:5]
    console = Console()
    console.print(drawn(table))
    for note in table.notes:
        console.print(note, style="dim", highlight=False, markup=False)
    return int(any(row[3] or row[4] for row in table.rows))


def tried(name: str, inputs: int, seed: int) -> dict[str, object]:
    """What one reader made of its inputs; each crash and hang names the number of its input and what it was."""
    rng = random.Random(f"{name} {seed}")
    refused, crashes, hangs = 0, list[str](), list[str]()
    signal.signal(signal.SIGALRM, _too_long)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["NOPOST_HOME"] = folder
        reader: Reader = READERS[name](Path(folder))
        for number, data in enumerate(damaged(reader.good, rng, inputs)):
            signal.alarm(LIMIT)
            try:
                refused += bool(reader.read(data))
            except NopostError:
                refused += 1
            except Hang:
                hangs.append(f"input {number}: {data[:SHOWN]!r}")
            except Exception as error:  # whatever it is, it is a crash
                crashes.append(f"input {number}: {type(error).__name__}: {error}: {data[:SHOWN]!r}")
            finally:
                signal.alarm(0)
    return {"refused": refused, "crashes": crashes, "hangs": hangs, "memory": memory()}


def _too_long(number: int, frame: FrameType | None) -> None:
    raise Hang


def damaged(good: Sequence[bytes], rng: random.Random, count: int) -> Iterator[bytes]:
    """Good inputs first, then each damaged one to four times."""
    yield from good[:count]
    for _ in range(count - len(good)):
        data = rng.choice(good)
        for _ in range(rng.randint(1, 4)):
            data = rng.choice(DAMAGE)(data, rng, good)
        yield data


def _cut(data: bytes, rng: random.Random, good: Sequence[bytes]) -> bytes:
    first, last = sorted((rng.randint(0, len(data)), rng.randint(0, len(data))))
    return data[:first] + data[last:] if rng.random() < 0.5 else data[first:last]


def _flip(data: bytes, rng: random.Random, good: Sequence[bytes]) -> bytes:
    changed = bytearray(data)
    for _ in range(min(len(changed), rng.randint(1, 12))):
        changed[rng.randrange(len(changed))] = rng.choice((0, 1, 0x7F, 0x80, 0xFF, rng.randrange(256)))
    return bytes(changed)


def _splice(data: bytes, rng: random.Random, good: Sequence[bytes]) -> bytes:
    other = rng.choice(good)
    return data[: rng.randint(0, len(data))] + other[rng.randint(0, len(other)) :]


def _repeat(data: bytes, rng: random.Random, good: Sequence[bytes]) -> bytes:
    first = rng.randint(0, len(data))
    piece = data[first : first + rng.randint(1, 200)]
    return data[:first] + piece * rng.randint(2, 40) + data[first:]


def _stuff(data: bytes, rng: random.Random, good: Sequence[bytes]) -> bytes:
    place = rng.randint(0, len(data))
    return data[:place] + rng.choice(NASTY) + data[place:]


DAMAGE: tuple[Callable[[bytes, random.Random, Sequence[bytes]], bytes], ...] = (_cut, _flip, _splice, _repeat, _stuff)


def memory() -> float | None:
    """MiB that this process held at most; None where the system does not tell."""
    status = Path("/proc/self/status")
    if not status.exists():
        return None
    words = status.read_text(encoding="utf-8").split()
    return int(words[words.index("VmHWM:") + 1]) / 1024


if __name__ == "__main__":
    sys.exit(main())

"""What a typed line means."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost_cli.shared.prompts import Choice, Understood, understand

CHOICES = (
    Choice("no-signal", "No signal"),
    Choice("no-picture", "Nothing, the screen is black"),
    Choice("picture", "A picture"),
    Choice("stripes", "Stripes or blocks"),
)
KEYS = {"?": "help", "s": "skip", "u": "undo", "q": "leave"}
choices = st.lists(st.builds(Choice, st.text(min_size=1, max_size=12), st.text(min_size=1, max_size=20)), max_size=6)


@pytest.mark.parametrize(
    ("typed", "choice"),
    [
        ("1", "no-signal"),
        (" 4 ", "stripes"),
        ("04", "stripes"),
        ("٣", "picture"),
        ("no s", "no-signal"),
        ("NO  SIGNAL", "no-signal"),
        ("st", "stripes"),
        ("a", "picture"),
        ("pic", "picture"),
        ("black", "no-picture"),
        ("picture", "picture"),
        ("screen black", "no-picture"),
    ],
)
def test_choices(typed: str, choice: str) -> None:
    """A number, the first letters of the text, or a part of it that only one choice has."""
    assert understand(typed, CHOICES, KEYS) == Understood(choice=choice)


@pytest.mark.parametrize(("typed", "key"), [("?", "?"), ("S", "s"), (" u", "u"), ("q\t", "q")])
def test_keys(typed: str, key: str) -> None:
    """A key wins over first letters, in either case."""
    assert understand(typed, CHOICES, KEYS) == Understood(key=key)


@pytest.mark.parametrize("typed", ["no idea", "I don't know.", "I don\u2019t know", "dont know", "not sure", "Can't tell"])
def test_who_cannot_tell_skips(typed: str) -> None:
    """In the words that people use; without the key these are words like others."""
    assert understand(typed, CHOICES, KEYS) == Understood(key="s")
    assert understand(typed, CHOICES, {}).reply
    assert understand("no idea", (Choice("none", "No idea at all"),), {}) == Understood(choice="none")


def test_key_that_is_not_offered() -> None:
    """Where there are no keys, the letter is one of a choice."""
    assert understand("s", CHOICES, {}) == Understood(choice="stripes")


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "Type a number"),
        ("   ", "Type a number"),
        ("0", "from 1 to 4"),
        ("5", "from 1 to 4"),
        ("9" * 5000, "from 1 to 4"),
        ("-1", "fits no choice"),
        ("1.5", "fits no choice"),
        ("no", "fits several: No signal; Nothing, the screen is black"),
        ("zzz", "fits no choice"),
        ("\x1b[A", "fits no choice"),
        ("²", "fits no choice"),
    ],
)
def test_replies(typed: str, said: str) -> None:
    """What is not understood gets a short reply that says what can be typed."""
    reply = understand(typed, CHOICES, KEYS).reply
    assert said in reply
    assert len(reply) < 250


def test_nothing_to_number() -> None:
    """A number where nothing has one."""
    assert understand("1", (), KEYS).reply


@pytest.mark.slow
@given(st.text(max_size=60), choices)
def test_never_raises(typed: str, offered: list[Choice]) -> None:
    """Whatever is typed, exactly one of choice, key and reply comes of it."""
    meant = understand(typed, offered, KEYS)
    assert [bool(meant.choice), bool(meant.key), bool(meant.reply)].count(True) == 1
    assert meant.choice in ("", *(choice.id for choice in offered))


@pytest.mark.slow
@given(st.integers(1, 6), choices)
def test_every_number_is_its_choice(number: int, offered: list[Choice]) -> None:
    """The number beside a choice chooses it, and none beyond."""
    meant = understand(str(number), offered, KEYS)
    assert meant.choice == (offered[number - 1].id if number <= len(offered) else "")


@pytest.mark.slow
@given(
    st.lists(st.text("abcdef ", min_size=2, max_size=12).map(str.strip).filter(bool), min_size=1, max_size=6, unique=True),
    st.data(),
)
def test_unique_first_letters(texts: list[str], data: st.DataObject) -> None:
    """First letters that only one choice has mean that choice; those that several have are asked back."""
    offered = [Choice(f"#{n}", " ".join(text.split())) for n, text in enumerate(texts)]
    target = data.draw(st.sampled_from(offered))
    typed = target.text[: data.draw(st.integers(1, len(target.text)))].strip()
    exact = [choice for choice in offered if choice.text == typed]
    fitting = exact or [choice for choice in offered if choice.text.startswith(typed)]
    meant = understand(typed, offered, {})
    assert meant.choice == (fitting[0].id if len(fitting) == 1 else "")

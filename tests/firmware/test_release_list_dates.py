"""Dates in all writings, and which of day and month comes first."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nopost.firmware.release_list.cell_values import day_order, find_dates, first_date, read_as, whole_date

DAYS = st.dates(date(1990, 1, 1), date(2099, 12, 31))
PLAIN = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d.%m.%Y", "%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y", "%d-%b-%Y", "%B %d %Y")


@pytest.mark.slow
@given(DAYS, st.sampled_from(PLAIN), st.sampled_from(("", "Released: ", "Date: ", "(")))
def test_writings(day: date, form: str, before: str) -> None:
    """Checked against the standard library's strftime."""
    found = whole_date(before + day.strftime(form))
    assert found is not None
    assert read_as(found, day_order([found])) == day


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("17th May 2031", date(2031, 5, 17)),
        ("May 17th, 2031", date(2031, 5, 17)),
        ("Sept. 3, 2031", date(2031, 9, 3)),
        ("2031-05-17T10:20:00Z", date(2031, 5, 17)),
        ("17 may 2031", date(2031, 5, 17)),
        ("20310517", date(2031, 5, 17)),
        ("2031-5-7", date(2031, 5, 7)),
    ],
)
def test_more_writings(text: str, day: date) -> None:
    """Ordinals, abbreviations, ISO 8601 with time and in its basic form."""
    found = whole_date(text)
    assert found is not None
    assert read_as(found, day_order([found])) == day


@pytest.mark.parametrize(
    "text", ["", "1.12", "May 2031", "2031-13-01", "2031-02-30", "31/31/2031", "1.2.3.2031", "10.0.2031.5", "16777216", "F5"]
)
def test_no_dates(text: str) -> None:
    """Versions, months and days that do not exist."""
    assert whole_date(text) is None


@pytest.mark.slow
@given(st.lists(DAYS, min_size=1, max_size=5), st.booleans())
def test_one_date_settles_the_list(days: list[date], day_first: bool) -> None:
    """Any day over 12 settles which comes first."""
    form = "%d/%m/%Y" if day_first else "%m/%d/%Y"
    days = [*days, date(2031, 5, 17)]
    found = [whole_date(day.strftime(form)) for day in days]
    order = day_order(each for each in found if each)
    assert order.because == "sure"
    assert [read_as(each, order) for each in found if each] == days


@pytest.mark.slow
@given(st.dates(date(2000, 1, 1), date(2050, 1, 1)), st.lists(st.integers(20, 50), min_size=5, max_size=7), st.booleans())
def test_order_settles_the_list(begin: date, steps: list[int], day_first: bool) -> None:
    """Where every day could be a month, the reading that keeps the order is taken, or it is called a guess."""
    days = [begin.replace(day=1)]
    for step in steps:
        later = days[-1] + timedelta(step)
        days.append(later.replace(day=1 + later.day % 12))
    days.sort()
    form = "%d/%m/%Y" if day_first else "%m/%d/%Y"
    found = [each for each in (whole_date(day.strftime(form)) for day in days) if each]
    order = day_order(found)
    read = [read_as(each, order) for each in found]
    assert read == days or order.because == "guess" or read == sorted(read)


@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    """Never an error; what is found lies in the text and is a day."""
    for found in find_dates(text):
        assert text[found.start : found.end] == found.text
        assert found.day_first or found.month_first
    assert (first_date(text) is None) == (not list(find_dates(text)))

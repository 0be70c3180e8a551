"""Lengths, times and resolutions."""

from datetime import time

import pytest

from filmhand import units


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("0.15 mm", 0.15),
        ("28cm", 280),
        ("3 m", 3000),
        ("22 in", 558.8),
        ('22"', 558.8),
        ("72 pt", 25.4),
        ("0,4 mm", 0.4),
        (" 7 MM ", 7),
    ],
)
def test_lengths_are_read_with_their_unit(text: str, mm: float) -> None:
    """Inch: 25.4 mm exactly (international yard and pound agreement, 1959). Point: 1/72 inch (ISO 32000-2 section 8.3.2.3)."""
    assert units.parse_length_mm(text) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize("text", ["0.15", "mm", "-3 mm", "3 ft", "3 mm mm", "1e3 mm", "", 3, 0.15, None])
def test_a_length_without_a_known_unit_is_refused_with_an_example(text: object) -> None:
    """The refusal says what is expected and what was written."""
    with pytest.raises(ValueError, match="expected a length with its unit") as refusal:
        units.parse_length_mm(text)
    assert repr(text) in str(refusal.value)


@pytest.mark.parametrize(("text", "seconds"), [("3 s", 3), ("45 min", 2700), ("1.5 h", 5400), ("14 d", 1_209_600)])
def test_times_are_read_with_their_unit(text: str, seconds: float) -> None:
    """Seconds, minutes, hours, days."""
    assert units.parse_seconds(text) == seconds


@pytest.mark.parametrize("text", ["45", "45 m", "3 mm", 45, None])
def test_a_time_without_a_known_unit_is_refused(text: object) -> None:
    """A bare number is no time, and "m" means metres, not minutes."""
    with pytest.raises(ValueError, match="expected a time with its unit"):
        units.parse_seconds(text)


@pytest.mark.parametrize(
    ("text", "clock"), [("22:00", time(22)), ("6:05", time(6, 5)), ("00:00", time(0)), ("23:59", time(23, 59))]
)
def test_times_of_day(text: str, clock: time) -> None:
    """Hours and minutes, the hour with one digit or two."""
    assert units.parse_clock(text) == clock


@pytest.mark.parametrize("text", ["24:00", "22:60", "22", "22:0", 22, None])
def test_what_no_clock_shows_is_refused(text: object) -> None:
    """The refusal says what is expected."""
    with pytest.raises(ValueError, match="expected a time of day"):
        units.parse_clock(text)


def test_pixels_and_millimetres_are_inverse() -> None:
    """720 dots an inch are 0.0353 mm a dot; there and back gives the same."""
    assert units.px_to_mm(1, 720) == pytest.approx(25.4 / 720)
    assert units.mm_to_px(units.px_to_mm(17008, 720), 720) == pytest.approx(17008)
    assert units.ppi_of(2205, 280) == pytest.approx(2205 / 280 * 25.4)

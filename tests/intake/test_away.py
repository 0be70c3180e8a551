"""Which folders are offline: from what listing them came to, and what is remembered."""

from datetime import UTC, datetime, timedelta

from filmhand.intake.away import MARKER_GONE, SLOW, Away, Heard, Known, judge

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
LATER = NOW + timedelta(minutes=1)
THERE = Heard(has_marker=True)


def test_a_marker_once_seen_is_missed() -> None:
    """A folder that never had one may do without; one that had is offline without it."""
    assert judge(Known(), {"in/dark": Heard()}, now=NOW) == Known()
    known = judge(Known(), {"in/dark": THERE}, now=NOW)
    assert judge(known, {"in/dark": Heard()}, now=NOW).away == {"in/dark": Away(MARKER_GONE, NOW)}


def test_silence_and_errors_are_offline() -> None:
    """A listing still under way, and one that failed, whose reason is said."""
    away = judge(Known(), {"in/dark": None, "in/light": Heard(problem="Stale file handle"), "out": THERE}, now=NOW).away
    assert away["in/dark"].why == SLOW
    assert "Stale file handle" in away["in/light"].why
    assert "out" not in away


def test_it_stays_since_when_and_comes_back() -> None:
    """Also where the reason changes; once back, the time of that is kept."""
    known = judge(Known(), {"out": None}, now=NOW)
    known = judge(known, {"out": Heard(problem="no route")}, now=LATER)
    assert known.away["out"].since == NOW
    known = judge(known, {"out": THERE}, now=LATER)
    assert (known.away, known.back) == ({}, {"out": LATER})
    assert judge(known, {"out": THERE}, now=LATER + timedelta(days=1)) == known


def test_what_is_silent_keeps_its_marker_and_what_is_gone_is_forgotten() -> None:
    """Silence takes nothing away; a folder whose rule a person removed is none of ours."""
    known = judge(Known(), {"in/dark": THERE, "in/light": THERE}, now=NOW)
    known = judge(known, {"in/dark": None}, now=LATER)
    assert known.marked == {"in/dark"}
    assert judge(known, {}, now=LATER) == Known()

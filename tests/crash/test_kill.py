"""kill -9 at system calls that touch the shop, and calls that fail: after a restart the six invariants hold.

Here samples; every N-th call by `PYTHONPATH=tests python tests/crash/test_kill.py --every N`, likewise with `--errors`, and with
`--control` for a filmhand that publishes by copying, which must be found out.
"""

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from harness import (
    ERRORS,
    PUBLISHED_BY_COPY,
    Customer,
    Point,
    kill_points,
    make_warm_shop,
    needs_strace,
    owned,
    run_batch,
    run_failing,
    run_killed,
    take_away,
    violations,
)

pytestmark = [
    pytest.mark.outside,
    pytest.mark.slow,
    needs_strace,
]

FILMHAND = ("-m", "filmhand")


def trial(template: Path, point: Point, number: int, *, program: Sequence[str] = FILMHAND) -> list[str]:
    """Kill once, disturb, restart; what is wrong afterwards."""
    return _trial(template, number, lambda shop: run_killed(shop, point, program=program), program=program)


def trial_of_error(template: Path, point: Point, number: int) -> list[str]:
    """Let one call fail, disturb, restart without; what is wrong afterwards."""
    return _trial(template, number, lambda shop: run_failing(shop, point, error_at(point, number)))


def error_at(point: Point, number: int) -> str:
    """Every error of a call in turn."""
    return ERRORS[point.call][number % len(ERRORS[point.call])]


def _trial(template: Path, number: int, disturbed: Callable[[Path], int], *, program: Sequence[str] = FILMHAND) -> list[str]:
    with tempfile.TemporaryDirectory(prefix="filmhand-kill-") as folder:
        shop, taken = Path(folder) / "shop", Path(folder) / "taken"
        shutil.copytree(template, shop, symlinks=True)
        customer = Customer(shop)
        customer.drop_all()
        disturbed(shop)
        found = list(violations(shop, taken, customer, at_rest=False))
        if number % 2:
            take_away(shop, taken)
        if number % 3 == 0:
            customer.send_again(number, owned=owned(shop))
        if run_batch(shop, program=program) != 0:
            found.append("the batch after it did not end well")
        return found + list(violations(shop, taken, customer, at_rest=True))


def learn(folder: Path, *, program: Sequence[str] = FILMHAND) -> tuple[Path, list[Point]]:
    """A template shop with warm tables, and the kill points of a batch in it."""
    template = make_warm_shop(folder)
    traced = folder / "traced" / "shop"
    shutil.copytree(template, traced)
    Customer(traced).drop_all()
    return template, kill_points(traced, folder / "trace", program=program)


def while_publishing(points: Sequence[Point]) -> list[Point]:
    """Those that touch a sheet under its name in the output folder."""
    return [point for point in points if "/out/small/" in point.line]


@pytest.fixture(scope="module")
def learnt(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Point]]:
    """A template shop and the calls of a batch in it."""
    template, points = learn(tmp_path_factory.mktemp("learnt"))
    assert len(points) > 100, "the trace shows too little of the shop"
    return template, points


def test_killed_anywhere_nothing_is_lost_or_doubled(learnt: tuple[Path, list[Point]]) -> None:
    """Nine points spread over the whole batch."""
    template, points = learnt
    step = len(points) // 9
    found = {point.line: wrong for n, point in enumerate(points[step // 2 :: step]) if (wrong := trial(template, point, n))}
    assert not found


def test_failing_calls_lose_and_double_nothing(learnt: tuple[Path, list[Point]]) -> None:
    """Rows 25 and 26: disk full or broken, quota, busy file, lost server, a call each; a restart without mends all."""
    template, points = learnt
    chosen = [points[len(points) * share // 16] for share in (3, 7, 10, 13)]
    found = {point.line: wrong for n, point in enumerate(chosen) if (wrong := trial_of_error(template, point, n))}
    assert not found


def test_the_harness_finds_out_who_publishes_by_copying(learnt: tuple[Path, list[Point]], tmp_path: Path) -> None:
    """Negative control: killed in the midst of its copying, such a filmhand leaves half a sheet, and the harness says so."""
    template, _ = learnt
    traced = tmp_path / "shop"
    shutil.copytree(template, traced)
    Customer(traced).drop_all()
    points = while_publishing(kill_points(traced, tmp_path / "trace", program=PUBLISHED_BY_COPY))
    wrong = trial(template, points[len(points) // 2], 0, program=PUBLISHED_BY_COPY)
    assert any(line.startswith("3 complete") for line in wrong)


def main() -> None:
    """Every N-th point, with what was found; ends with how many points there are, how many were tried, how many went wrong."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--every", type=int, default=7)
    parser.add_argument("--first", type=int, default=0, help="where to begin: --every 7 with 0 to 6 tries all, in seven passes")
    parser.add_argument("--at-once", type=int, default=1, help="trials side by side")
    parser.add_argument("--errors", action="store_true", help="let the calls fail instead of killing before them")
    parser.add_argument("--control", action="store_true", help="kill a filmhand that publishes by copying, while it does")
    chosen = parser.parse_args()
    program = PUBLISHED_BY_COPY if chosen.control else FILMHAND
    with tempfile.TemporaryDirectory(prefix="filmhand-kill-") as folder:
        template, points = learn(Path(folder), program=program)
        points = while_publishing(points) if chosen.control else points
        touching = len(points)
        points = points if chosen.errors else [point for point in points if not point.changes_nothing]
        tried = points[chosen.first :: chosen.every]
        bad = _try_all(template, tried, chosen, program)
        done = "let fail" if chosen.errors else "killed before"
        sys.stdout.write(
            f"{touching} calls touch the shop, {len(points)} count; {done} {len(tried)} of them; violations after {bad}\n"
        )
    sys.exit(not bad if chosen.control else bool(bad))


def _try_all(template: Path, points: Sequence[Point], chosen: argparse.Namespace, program: Sequence[str]) -> int:
    """How many points were followed by a violation."""

    def one(numbered: tuple[int, Point]) -> bool:
        number, point = numbered
        if chosen.errors:
            how, wrong = error_at(point, number), trial_of_error(template, point, number)
        else:
            how, wrong = "killed", trial(template, point, number, program=program)
        sys.stdout.write(f"{number + 1}/{len(points)} {how} {point.line[:100]}: {wrong or 'holds'}\n")
        sys.stdout.flush()
        return bool(wrong)

    with ThreadPoolExecutor(chosen.at_once) as pool:
        return sum(pool.map(one, enumerate(points)))


if __name__ == "__main__":
    main()

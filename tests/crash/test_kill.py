"""kill -9 at system calls that touch the shop: after a restart the six invariants hold.

Here a sample; every N-th call by `PYTHONPATH=tests python tests/crash/test_kill.py --every N`.
"""

import argparse
import shutil
import sys
import tempfile
from pathlib import Path

import pytest
from harness import Customer, Point, kill_points, make_shop, owned, run_batch, run_killed, take_away, violations

pytestmark = [
    pytest.mark.outside,
    pytest.mark.slow,
    pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace (Debian strace)"),
]


def trial(template: Path, point: Point, number: int) -> list[str]:
    """Kill once, disturb, restart; what is wrong afterwards."""
    with tempfile.TemporaryDirectory(prefix="filmhand-kill-") as folder:
        shop, taken = Path(folder) / "shop", Path(folder) / "taken"
        shutil.copytree(template, shop, symlinks=True)
        customer = Customer(shop)
        customer.drop_all()
        run_killed(shop, point)
        found = list(violations(shop, taken, customer, at_rest=False))
        if number % 2:
            take_away(shop, taken)
        if number % 3 == 0:
            customer.send_again(number, owned=owned(shop))
        assert run_batch(shop) == 0
        return found + list(violations(shop, taken, customer, at_rest=True))


def learn(folder: Path) -> tuple[Path, list[Point]]:
    """A template shop with warm tables, and the kill points of a batch in it."""
    template = make_shop(folder / "template")
    warm = folder / "warm"
    shutil.copytree(template, warm)
    Customer(warm).drop_all()
    assert run_batch(warm) == 0
    (template / ".filmhand").mkdir(exist_ok=True)
    shutil.copytree(warm / ".filmhand" / "cache", template / ".filmhand" / "cache", dirs_exist_ok=True)
    traced = folder / "traced" / "shop"
    shutil.copytree(template, traced)
    Customer(traced).drop_all()
    return template, kill_points(traced, folder / "trace")


def test_killed_anywhere_nothing_is_lost_or_doubled(tmp_path: Path) -> None:
    """A dozen points spread over the whole batch."""
    template, points = learn(tmp_path)
    assert len(points) > 100, "the trace shows too little of the shop"
    step = len(points) // 12
    found = {point.line: wrong for n, point in enumerate(points[step // 2 :: step]) if (wrong := trial(template, point, n))}
    assert not found


def main() -> None:
    """Every N-th kill point, with what was found."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--every", type=int, default=7)
    every = parser.parse_args().every
    with tempfile.TemporaryDirectory(prefix="filmhand-kill-") as folder:
        template, points = learn(Path(folder))
        chosen, bad = points[::every], 0
        for number, point in enumerate(chosen):
            wrong = trial(template, point, number)
            bad += bool(wrong)
            sys.stdout.write(f"{number + 1}/{len(chosen)} {point.line[:100]}: {wrong or 'holds'}\n")
            sys.stdout.flush()
        sys.stdout.write(f"{len(points)} calls touch the shop; killed before {len(chosen)} of them; violations {bad}\n")
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()

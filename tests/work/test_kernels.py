"""Kernels are compiled once, with artwork of our own; a confined child compiles for itself alone."""

import importlib
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from numba.core import caching

import filmhand
from filmhand.shop import Shop, load_house
from filmhand.work import kernels
from filmhand.work.capped import Caps, Done, Failed, run_capped
from filmhand.work.confine import Reach, offered
from small_shop import new_shop

CAPS = Caps(3 << 30, 120)
SOURCE = """
import numba
import numpy

@numba.njit(cache=True)
def summed(values):
    total = 0
    for value in values:
        total += value
    return total

def work(count):
    return int(summed(numpy.arange(count)))
"""


@pytest.fixture
def kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A kernel of a file that lies where a confined child may read and not write; named anew for each test, as modules stay."""
    name = f"summing_{tmp_path.name}"
    folder = tmp_path / "code"
    folder.mkdir()
    (folder / f"{name}.py").write_text(SOURCE, "utf-8")
    monkeypatch.syspath_prepend(str(folder))
    return importlib.import_module(name).work


def _kept(tmp_path: Path) -> list[str]:
    return sorted(path.suffix for path in tmp_path.rglob("*.nb?"))


@pytest.mark.skipif(not offered().files, reason="this kernel offers no Landlock")
def test_a_confined_child_compiles_and_keeps_nothing(tmp_path: Path, kernel: Any) -> None:
    """numba by itself ends in an error where it cannot write; here the work is done, and nothing is left for others to run."""
    reach = Reach((tmp_path / "code",), tmp_path / "own")
    assert run_capped(kernel, 10, caps=CAPS, reach=reach) == Done(45)
    assert _kept(tmp_path) == []


def test_where_it_may_write_a_kernel_is_kept(tmp_path: Path, kernel: Any) -> None:
    """The same in a child that is not confined: numba's two kinds of files are there."""
    assert run_capped(kernel, 10, caps=CAPS) == Done(45)
    assert _kept(tmp_path) == [".nbc", ".nbi"]


def test_numba_by_itself_ends_in_an_error(tmp_path: Path, kernel: Any) -> None:
    """So that the first test means something: the same, without what `keep_to_oneself` does."""
    outcome = run_capped(_as_numba_has_it, kernel, caps=CAPS, reach=Reach((tmp_path / "code",), tmp_path / "own"))
    assert isinstance(outcome, Failed)
    assert "PermissionError" in outcome.detail


def _as_numba_has_it(kernel: Any) -> int:
    held: Any = caching.Cache.save_overload
    caching.Cache.save_overload = held.__closure__[0].cell_contents
    return int(kernel(10))


def test_every_kernel_is_there_before_a_child_is_confined() -> None:
    """numba looks for a place to keep a kernel when its module is loaded: in the server that children are forked from."""
    script = "import sys\nfrom filmhand.work import capped\n[__import__(name) for name in capped._PRELOAD]\nprint(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    home = Path(filmhand.__file__).parent
    files = [path for path in home.rglob("*.py") if re.search(r"^@(compiled|numba\.njit)", path.read_text("utf-8"), re.MULTILINE)]
    names = {".".join(("filmhand", *path.relative_to(home).with_suffix("").parts)) for path in files}
    assert len(names) > 10
    assert names - set(loaded) <= {"filmhand.colour.dot_spread", "filmhand.proof.means"}, "these are of commands alone"


@pytest.mark.slow
def test_nothing_is_compiled_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the starter rules need is compiled by the first look at a shop, and noted; the second finds it kept."""
    shop = Shop.at(new_shop(tmp_path / "shop"))
    house = load_house(shop)
    kernels.keep(house)
    begun: list[Any] = []
    monkeypatch.setattr(kernels, "run_capped", lambda *work, **_: begun.append(work))
    kernels.keep(house)
    assert begun == []
    assert all(kernels.is_kept(rule, house.printer) for rule in house.rules.values())

"""The house rules of DEVELOPERS.md that a program can check."""

import ast
import io
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[1] / "daemon" / "filmhand"
FILES = sorted(HOUSE.rglob("*.py"))

PURE_ROOMS = ("separation", "halftone", "gang", "marks", "cut", "colour", "preflight", "mending", "estimate")

# Files of the pure rooms that touch the disk, and what for.
DOERS = {
    "separation/model.py": "keeps separations as memory-mapped arrays",
    "separation/table.py": "keeps colour tables in the cache",
    "halftone/blue_noise.py": "keeps the threshold tile in the cache",
    "gang/compose.py": "reads planes and writes TIFFs band by band",
    "gang/oriented.py": "its helper: keeps turned designs beside the separation",
    "gang/stored.py": "its helper: reads rows of planes",
    "gang/film.py": "its helper: keeps a design's film beside the separation",
    "gang/kept.py": "its helper: makes a folder once",
    "gang/relay.py": "its helper: bands that are made at the same time wait for one another",
    "cut/write.py": "reads stored coverage and writes the paths",
    "cut/pdf.py": "its helper: saves a PDF into memory",
    "colour/choose.py": "reads the profile that the printer file names",
}

DECIDERS = (
    *(f"service/{name}.py" for name in ("actions", "closing", "decide", "held_up", "pauses")),
    *(f"notices/{name}.py" for name in ("night_words", "reporting", "troubles")),
    "upkeep/doctor.py",
)
"""Files of other rooms that may only decide."""

DOING_MODULES = {"os", "shutil", "sqlite3", "subprocess", "time", "tempfile", "socket", "threading", "multiprocessing", "signal"}
DOING_METHODS = {
    *("now", "utcnow", "today"),
    *("open", "read_bytes", "read_text", "write_bytes", "write_text", "exists", "iterdir", "glob"),
    *("mkdir", "unlink", "rmdir", "rename", "touch", "save", "tofile"),
}
NUMPY_DOINGS = {"np.load", "np.memmap", "np.fromfile", "np.savez", "np.loadtxt", "np.savetxt"}

LONGEST_FUNCTION = 60
LONGEST_FILE = 400


def doings(source: str) -> Iterator[str]:
    """What in a module's source touches the disk, the clock, the database or other processes, with its line."""
    for node in ast.walk(ast.parse(source)):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name.split(".")[0] for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [(node.module or "").split(".")[0]]
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            names = ["open()"] if node.func.id == "open" else []
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            is_doing = node.func.attr in DOING_METHODS or ast.unparse(node.func) in NUMPY_DOINGS
            names = [f".{node.func.attr}()"] if is_doing else []
        for name in names:
            if name in DOING_MODULES or name.endswith("()"):
                yield f"line {node.lineno}: {name}"


def pure_files() -> list[Path]:
    """Every module that may only decide or calculate."""
    rooms = [path for path in FILES if path.relative_to(HOUSE).parts[0] in PURE_ROOMS]
    return [*(path for path in rooms if path.relative_to(HOUSE).as_posix() not in DOERS), *(HOUSE / name for name in DECIDERS)]


@pytest.mark.parametrize(
    "source",
    ["import os", "from time import sleep", "open('x')", "path.read_text()", "datetime.now()", "np.load(path)", "import os.path"],
)
def test_the_check_sees_what_it_must(source: str) -> None:
    """Each of these would break the rule."""
    assert list(doings(source))


@pytest.mark.parametrize(
    "source", ["from datetime import time", "'a'.replace('b', 'c')", "builder.load(pointer)", "import numpy as np", "now = 3"]
)
def test_the_check_lets_pass_what_it_must(source: str) -> None:
    """None of these touches anything."""
    assert not list(doings(source))


@pytest.mark.parametrize("path", pure_files(), ids=lambda path: path.relative_to(HOUSE).as_posix())
def test_deciding_and_calculating_touch_nothing(path: Path) -> None:
    """Rule 1: decide, then do."""
    assert not list(doings(path.read_text("utf-8")))


@pytest.mark.parametrize("name", DOERS)
def test_every_exception_is_needed(name: str) -> None:
    """A file that no longer touches the disk is struck from the list."""
    assert list(doings((HOUSE / name).read_text("utf-8")))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(HOUSE).as_posix())
def test_an_inch_is_written_once(path: Path) -> None:
    """Millimetres an inch stand in units.py alone."""
    numbers = [token.string for token in tokenize.generate_tokens(io.StringIO(path.read_text("utf-8")).readline)]
    assert ("25.4" in numbers) == (path.name == "units.py")


@pytest.mark.parametrize("path", [path for path in FILES if path.name == "__init__.py"], ids=lambda path: path.parent.name)
def test_packages_import_nothing(path: Path) -> None:
    """So that asking for one small module does not load the heavy ones beside it. The command line is the one exception."""
    body = ast.parse(path.read_text("utf-8")).body
    if path.parent.name != "cli":
        assert all(isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant) for statement in body)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(HOUSE).as_posix())
def test_functions_and_files_stay_short(path: Path) -> None:
    """A function fits on a screen; a file holds one operation."""
    source = path.read_text("utf-8")
    assert len(source.splitlines()) <= LONGEST_FILE
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            assert (node.end_lineno or node.lineno) - node.lineno < LONGEST_FUNCTION, node.name

"""Compiled kernels: numba keeps them on disk beside their source, where a child that works on a stranger's file must not write.

What such a child could put there would run in every other one. So they are compiled once with artwork of our own, in a child
that is not confined, and a confined child that still has to compile one does so for itself alone.
"""

import hashlib
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, cast

import numba
import numpy as np
import structlog
from numpy.typing import NDArray
from PIL import Image

import filmhand
from filmhand.delivery.sheet_ticket import CopyFacts
from filmhand.gang.sheet import Sheet
from filmhand.intake.ticket import Ticket
from filmhand.rules import Printer, RuleFile
from filmhand.separation.lookup import separate_pixels
from filmhand.shop import House
from filmhand.work.capped import Caps, Failed, run_capped
from filmhand.work.lay_out import LayOutTask, lay_out
from filmhand.work.make_sheet import MakeSheetTask, make_sheet
from filmhand.work.prepare import PrepareTask, prepare

_log = structlog.get_logger()

_MOST_SECONDS: Final = 600.0
_JOB: Final = "own"
_SIDE_PX, _WIDTH = 480, "50 mm"
_GARMENT: Final = "#1b1b1d"


def keep(house: House) -> None:
    """Compile what the rules of a shop need, once for each kind of rule; a minute or two in a new installation, then nothing."""
    settings = house.settings
    for rule in house.rules.values():
        for name in rule.general.gang.printer_names:
            printer = house.printers[name]
            if is_kept(rule, printer):
                continue
            _log.info("compiling, once in a new installation", rule=rule.path.stem)
            outcome = run_capped(compile_all, rule, printer, caps=Caps(settings.memory_mib << 20, _MOST_SECONDS))
            if isinstance(outcome, Failed):
                why = outcome.detail.strip().splitlines()[-1]
                _log.warning("not everything could be compiled and kept", rule=rule.path.stem, why=why)


def is_kept(rule: RuleFile, printer: Printer) -> bool:
    """Whether what such a rule needs was compiled and kept, as the sources stand."""
    return _line(rule, printer) in _lines()


def compile_all(rule: RuleFile, printer: Printer) -> None:
    """Prepare, lay out and make a sheet of artwork of our own by a rule, so that what that needs is compiled and kept."""
    with TemporaryDirectory(prefix="filmhand-") as name:
        task = _task(rule, printer, Path(name))
        made = prepare(task)
        if "hand" not in made.facts:
            return  # the rule stops even this: whatever it needs is compiled as it comes
        gang = rule.general.gang.model_copy(update={"seconds": 0.5})
        laid = lay_out(LayOutTask(((_JOB, (1, 2), task.target),), printer, gang, 1, task.cache))
        sheet = Sheet(_JOB, laid.film_width_mm, laid.length_mm, laid.placements)
        facts = CopyFacts(task.ticket, task.name, "", made.facts["garment"], made.facts["width_mm"], ())
        plain, at = task.printer, datetime.now(UTC)
        target = task.cache / "sheet"
        make_sheet(MakeSheetTask(sheet, {_JOB: facts}, {_JOB: task}, rule, plain, task.base, task.cache, target, "", at))
    with _record().open("a", encoding="utf-8") as record:
        record.write(_line(rule, printer) + "\n")


def _task(rule: RuleFile, printer: Printer, folder: Path) -> PrepareTask:
    Image.fromarray(_picture()).save(folder / "own.png")
    return PrepareTask(
        original=folder / "own.png",
        name="own.png",
        page=0,
        is_part=False,
        ticket=Ticket.model_validate({"copies": 2, "width": _WIDTH, "garment": _GARMENT}),
        rule=rule,
        printer=printer.model_copy(update={"profile": None}),  # the built-in inks need no file
        known=(),
        approved=True,
        base=folder,
        cache=folder,
        target=folder / _JOB,
    )


def _picture() -> NDArray[np.uint8]:
    """A disc of all hues on nothing, its edge soft; h×w×4 uint8, RGBA."""
    across = np.linspace(-1, 1, _SIDE_PX)
    x, y = np.meshgrid(across, across)
    edge = np.clip((0.9 - np.hypot(x, y)) * 20, 0, 1)
    return np.stack([(x + 1) * 127, (y + 1) * 127, (1 - x * y) * 127, edge * 255], axis=-1).astype(np.uint8)


def _record() -> Path:
    """Beside numba's own files: which kinds of rules were compiled for."""
    return Path(cast(Any, separate_pixels).stats.cache_path) / "filmhand-compiled.txt"


def _lines() -> list[str]:
    path = _record()
    return path.read_text("utf-8").splitlines() if path.is_file() else []


def _line(rule: RuleFile, printer: Printer) -> str:
    """A digest of what decides which kernels are used, and of the sources that they are compiled from."""
    general = rule.general
    kinds = (general.halftone, general.output, general.gang.nest, general.gang.labels, general.gang.rotate, general.gang.cut)
    digest = hashlib.sha256(repr((numba.__version__, kinds, printer.bits, printer.inks, _sources())).encode())
    return digest.hexdigest()


@cache
def _sources() -> list[tuple[str, str]]:
    """Names and digests of the files that kernels are compiled from, as this program found them when it began."""
    texts = ((path, path.read_bytes()) for path in sorted(Path(filmhand.__file__).parent.rglob("*.py")))
    return [(path.name, hashlib.sha256(text).hexdigest()) for path, text in texts if b"@compiled" in text or b"numba" in text]

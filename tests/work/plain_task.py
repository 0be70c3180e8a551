"""Preparing by a rule that stops nothing: what tests of separations and of their hands begin with."""

from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path
from typing import Any

from filmhand.intake.ticket import Ticket
from filmhand.rules import RuleFile, load_printer
from filmhand.work.prepare import PrepareTask

PRINTER = load_printer(Path(str(files("filmhand") / "templates" / "printer.toml")))


def plain_task(
    folder: Path, data: bytes, *, cache: Path, garment: str, width: str, tables: Iterable[str] = (), **more: Any
) -> PrepareTask:
    """A task for bytes in a folder, of a printed width, on a garment; `tables`: further lines of the rule."""
    (folder / "rules").mkdir(exist_ok=True)
    rule = folder / "rules" / "plain.toml"
    lines = ('title = "t"', f'garment = "{garment}"', "[size]", f'width = "{width}"', "trim = false", "[background]")
    checks = ('opaque = "print"', "[preflight]", "ppi = {}", "one_colour = {}", "vanishing = {}", "soft_edge = {}")
    rule.write_text("\n".join((*lines, *checks, *tables)), "utf-8")
    (folder / "original").write_bytes(data)
    return PrepareTask(
        original=folder / "original",
        name="artwork.png",
        page=0,
        is_part=False,
        ticket=Ticket(copies=1),
        rule=RuleFile.load(rule),
        printer=PRINTER,
        known=(),
        approved=True,
        base=folder,
        cache=cache,
        target=folder / "made",
        **more,
    )

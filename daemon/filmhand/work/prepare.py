"""Preparing an artwork: from the original in the spool to a separation in the cache, or to the findings that stop it.

Runs in a child process. It writes only into the folder it is given; what it returns counts only if its attempt is current.
"""

import json
import math
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np

from filmhand import durable
from filmhand.artwork.contents import container_note, contents
from filmhand.artwork.kind import misnamed
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.open import open_artwork
from filmhand.artwork.size import at_print_resolution, printed_size
from filmhand.colour.choose import ink_model
from filmhand.colour.model import InkModel
from filmhand.colour.named import NamedColour
from filmhand.colour.printer_tone import printer_tone
from filmhand.errors import MachineError
from filmhand.estimate.hand import Hand, design_hand
from filmhand.estimate.island_shares import island_shares
from filmhand.gang.composed import CONTINUOUS
from filmhand.gang.outline import Outline, film_beyond_mm, outline_of
from filmhand.gang.pieces import in_pieces
from filmhand.gang.stored import part_of
from filmhand.halftone.screening import film_screen_for
from filmhand.intake.ticket import Ticket
from filmhand.intake.unpack import Part
from filmhand.intake.wardrobe import NO_TABLES, Named
from filmhand.mending.mend import cleared, strengthened
from filmhand.preflight import aspect, empty, named_colours, out_of_gamut
from filmhand.preflight.finding import Finding, Report, Severity
from filmhand.preflight.inspect import inspect
from filmhand.preflight.marked import marked_picture, picture_before
from filmhand.rules import Printer, Rule, RuleFile
from filmhand.separation.crop import bordered, cropped
from filmhand.separation.exact import ExactInks
from filmhand.separation.film_sums import Counting, Islands, film_sums
from filmhand.separation.full_film import full_film_rule, full_film_sums, is_full_film
from filmhand.separation.model import Separation
from filmhand.separation.named_inks import named_inks
from filmhand.separation.separate import out_of_gamut_percent, separate
from filmhand.separation.table import SeparationTable, cached_table
from filmhand.words import Phrase
from filmhand.work.colour_files import assumed_by, link_of
from filmhand.work.named_spots import named_spots, without_named_spots

_VANISHED: Final = Phrase("All of the artwork has the colour of the garment ({garment}), so nothing of it would be printed.")
_OTHER_COLOURS: Final = Phrase("Choose another garment or other colours.")

OUTLINE = "outline.json"
MARKED = "marked.png"
BEFORE = "before.png"
PARTS = "parts"


@dataclass(frozen=True)
class PrepareTask:
    """All that preparing one artwork needs."""

    original: Path
    name: str
    """The file's name as the customer sent it, for people."""
    page: int
    """Which page of a PDF; 0: the file as it came, which may be a container."""
    is_part: bool
    """It came in an archive: a further archive in it is not opened."""
    ticket: Ticket
    rule: RuleFile
    printer: Printer
    known: tuple[Finding, ...]
    """Found before the file was opened: in its ticket, in the journal."""
    approved: bool
    """A person said yes to what would hold it."""
    base: Path
    """The folder that paths in the printer file start from."""
    cache: Path
    """Where tables and tiles are kept."""
    target: Path
    """The folder to make and fill."""
    colours: Named[NamedColour] = NO_TABLES.colours
    """The shop's named colours."""


@dataclass(frozen=True)
class Prepared:
    """What became of it. Where the verdict lets it print, `target` has the separation, its outline and nothing else."""

    report: Report
    verdict: Severity
    facts: dict[str, Any]
    """For the journal: the printed size once it is known, and the mean coverage and the hand (`Hand.to_json`) once separated."""
    parts: tuple[Part, ...] = ()
    """What a container holds, instead of a separation: its files lie in the folder `PARTS` of `target`."""


@dataclass(frozen=True)
class Looked:
    """An artwork as it would be printed, and what was seen of it."""

    artwork: Artwork
    size: PrintedSize
    rule: Rule
    report: Report


def prepare(task: PrepareTask) -> Prepared:
    """Open → mend → look → size → separate. Customers' faults come back in the report; exceptions are ours."""
    durable.empty_folder(task.target)
    parts = parts_in(task)
    if isinstance(parts, Finding):
        return _unopened(task, parts)
    if parts:
        return Prepared(Report((*task.known, container_note(parts))), Severity.NOTE, {}, parts)
    opened = opened_by(task)
    return _unopened(task, opened) if isinstance(opened, Finding) else _separated(looked_over(opened, task), task)


def opened_by(task: PrepareTask) -> Artwork | Finding:
    """The artwork, spot colours that the shop has named left out of what is to be said of it; or why it cannot be opened."""
    rule = task.rule.general
    assumed = assumed_by(rule.colour, base=task.rule.base)
    page = max(1, task.page)
    opened = open_artwork(task.original, ticket=task.ticket, rule=rule, printer=task.printer, page=page, assumed=assumed)
    return opened if isinstance(opened, Finding) else without_named_spots(opened, task.colours)


def parts_in(task: PrepareTask) -> tuple[Part, ...] | Finding:
    """What a container holds; nothing where the file is one artwork, or a page of a PDF that was taken apart."""
    return contents(task.original, task.target / PARTS, name=task.name, is_part=task.is_part) if task.page == 0 else ()


def looked_over(opened: Artwork, task: PrepareTask) -> Looked:
    """Mended and looked over, at the size and by the rule that it is printed with."""
    artwork = cleared(opened, ticket=task.ticket, rule=task.rule.general)
    size = printed_size(artwork, ticket=task.ticket, rule=task.rule.general)
    rule = _rule_for(task, size)
    artwork = strengthened(artwork, size, rule=rule)
    report = inspect(artwork, size, rule=rule, printer=task.printer)
    return Looked(artwork, size, rule, Report((*task.known, *_beside(artwork, task, rule), *report.findings)))


def _beside(artwork: Artwork, task: PrepareTask, rule: Rule) -> tuple[Finding, ...]:
    """What is seen when the artwork is held beside its name and its order."""
    name = misnamed(task.name, artwork.kind)
    proportions = aspect.check(artwork, ordered=_box(task.ticket), limits=rule.preflight.aspect)
    return proportions if name is None else (name, *proportions)


def _box(ticket: Ticket) -> tuple[float, float] | None:
    """The width and height that were ordered, both; those of a placement only bound the artwork."""
    return None if ticket.is_boxed or ticket.width is None or ticket.height is None else (ticket.width, ticket.height)


def _separated(looked: Looked, task: PrepareTask) -> Prepared:
    """The separation and its outline, unless something that was seen stops it."""
    if not may_print(looked.report, task):
        return _stopped(looked, task)
    artwork = at_print_resolution(looked.artwork, looked.size, printer=task.printer)
    model = ink_model(task.printer, base=task.base)
    table = table_for(artwork, looked.rule, task, model=model)
    named, findings = _named_in(artwork, (table, model), looked.rule, task)
    looked = _with(looked, *colours_out_of_reach(artwork, table, looked.rule), *findings)
    if not may_print(looked.report, task):
        return _stopped(looked, task)
    whole = separate(artwork, looked.size, table=table, rule=looked.rule, printer=task.printer, exact=named)
    separation = cropped(whole)
    if separation is None:
        return _stopped(_with(looked, _vanished(looked.rule)), task)
    _keep(separation, task.target, rule=looked.rule)
    _draw(looked, task.target)
    hand = _hand(artwork, looked, task, separated=(whole, named), by=(table, model))
    coverage = float(separation.coverage.mean()) / 255
    facts = {"garment": looked.rule.garment, "mean_coverage": coverage, "hand": hand.to_json()}
    return Prepared(looked.report, Severity.NOTE, {**_size_facts(looked.size), **facts})


def ensure_prepared(task: PrepareTask) -> None:
    """Make a separation again that the cache has lost. MachineError when the artwork no longer passes."""
    if task.target.is_dir():
        return
    part = task.target.with_name(f"{task.target.name}.again.part")
    made = prepare(replace(task, target=part, approved=True))
    if made.verdict >= Severity.HOLD:
        raise MachineError(
            "A prepared artwork was lost from the cache and cannot be prepared again",
            file=task.original,
            next_step="Cancel its sheet with: filmhand refuse SHOP SHEET",
        )
    part.rename(task.target)


def _rule_for(task: PrepareTask, size: PrintedSize) -> Rule:
    """The rule for this width, with the garment that the ticket names."""
    rule = task.rule.for_width(size.width_mm)
    return rule.model_copy(update={"garment": task.ticket.garment or rule.garment})


def may_print(report: Report, task: PrepareTask) -> bool:
    """Whether nothing that was seen stops it; what would hold it does not once a person said yes."""
    return report.verdict < Severity.HOLD or (task.approved and report.verdict is Severity.HOLD)


def _unopened(task: PrepareTask, finding: Finding) -> Prepared:
    report = Report((*task.known, finding))
    return Prepared(report, report.verdict, {})


def _stopped(looked: Looked, task: PrepareTask) -> Prepared:
    _draw(looked, task.target)
    return Prepared(looked.report, looked.report.verdict, _size_facts(looked.size))


def _draw(looked: Looked, folder: Path) -> None:
    """The pictures of the note, where there is something to say: with what was seen marked, and as it came before mending."""
    if looked.report.verdict >= Severity.WARN:
        (folder / MARKED).write_bytes(marked_picture(looked.artwork, looked.report, garment=looked.rule.garment))
    if looked.artwork.before is not None:
        before, profile = looked.artwork.before, looked.artwork.profile
        (folder / BEFORE).write_bytes(picture_before(before, garment=looked.rule.garment, profile=profile))


def table_for(artwork: Artwork, rule: Rule, task: PrepareTask, *, model: InkModel) -> SeparationTable:
    """The table that separates an artwork for the printer of an ink model, out of the cache if it is there."""
    linked = link_of(rule.colour, printer=task.printer, base=task.rule.base)
    second = task.printer.highlight_white
    return cached_table(artwork.profile, model=model, rule=rule, cache=task.cache, linked=linked, second_white=second)


def _named_in(
    artwork: Artwork, by: tuple[SeparationTable, InkModel], rule: Rule, task: PrepareTask
) -> tuple[ExactInks | None, tuple[Finding, ...]]:
    """The inks of the shop's named colours in an artwork at print resolution, and what is to be said of them."""
    if not task.colours.entries:
        return None, ()
    table, model = by
    spots = named_spots(artwork.pdf, task.colours)
    named = named_inks(
        artwork,
        colours=task.colours.entries,
        spots=[(spot.name, spot.value) for spot in spots],
        table=table,
        model=model,
        rules=rule.colour,
    )
    printed = [spot.written for spot in spots if spot.name in named.misses]
    return named.exact, named_colours.check(named.misses, bare=named.bare, spots=printed)


def _hand(
    artwork: Artwork,
    looked: Looked,
    task: PrepareTask,
    *,
    separated: tuple[Separation, ExactInks | None],
    by: tuple[SeparationTable, InkModel],
) -> Hand:
    """What a copy weighs and takes, beside the same as full film: that is separated by a table of its own, and only counted."""
    (whole, named), (table, model) = separated, by
    rule, size, printer = looked.rule, looked.size, task.printer
    counting = _counting(artwork, looked, task, model=model)
    film = full = film_sums(whole, artwork.pixels[..., 3], counting)
    if not is_full_film(artwork, rule):
        solid = full_film_rule(rule)
        full_table = table if solid == rule else table_for(artwork, solid, task, model=model)
        separated_fully = partial(separate, size=size, table=full_table, rule=solid, printer=printer, exact=named)
        full = full_film_sums(artwork, separated_fully, counting, white_density=rule.underbase.density)
    pixel_mm2 = size.width_mm * size.height_mm / (artwork.width_px * artwork.height_px)
    return design_hand(film, full, pixel_mm2=pixel_mm2, printer=printer)


def _counting(artwork: Artwork, looked: Looked, task: PrepareTask, *, model: InkModel) -> Counting:
    """How the ink of an artwork at print resolution is counted. Where the controller screens, coverage is laid as it is."""
    choke, size, printer = looked.rule.underbase.choke, looked.size, task.printer
    if printer.bits == CONTINUOUS:
        even = np.arange(256) / 255
        islands = Islands(even, even)
    else:
        islands = island_shares(film_screen_for(looked.rule, printer=printer, cache=task.cache))
    return Counting(
        curves=printer_tone(model).curves,
        choke_px=(choke * artwork.width_px / size.width_mm, choke * artwork.height_px / size.height_mm),
        islands=islands,
    )


def colours_out_of_reach(artwork: Artwork, table: SeparationTable, rule: Rule) -> tuple[Finding, ...]:
    """What the inks cannot lay of an artwork at print resolution."""
    return out_of_gamut.check(out_of_gamut_percent(artwork, table), limits=rule.preflight.out_of_gamut)


def _with(looked: Looked, *findings: Finding) -> Looked:
    return replace(looked, report=Report((*looked.report.findings, *findings)))


def _vanished(rule: Rule) -> Finding:
    return Finding(empty.NAME, Severity.REJECT, _VANISHED(garment=rule.garment), _OTHER_COLOURS())


def _keep(separation: Separation, folder: Path, *, rule: Rule) -> None:
    """The separation and its outline; where the rule splits it, those of each piece too."""
    _keep_one(separation, folder, rule)
    apart_mm = rule.gang.split
    pieces = [] if apart_mm is None else list(in_pieces(separation, apart_mm=apart_mm))
    if len(pieces) > 1:
        for part, piece in enumerate(pieces, 1):
            part_of(folder, part).mkdir()
            _keep_one(piece, part_of(folder, part), rule)
    durable.sync_tree(folder)


def _keep_one(separation: Separation, folder: Path, rule: Rule) -> None:
    """One of them. Where it may be turned to a slant angle its box gets a border: turned, film reaches beyond its last pixels."""
    pixel_mm = separation.width_mm / separation.coverage.shape[1]
    beyond_mm = film_beyond_mm(rule, pixel_mm=pixel_mm)
    separation = bordered(separation, math.ceil(beyond_mm / pixel_mm) + 1 if rule.gang.is_slanting else 0)
    separation.save(folder)
    width_mm, height_mm = separation.width_mm, separation.height_mm
    outline = outline_of(separation.coverage, width_mm=width_mm, height_mm=height_mm, beyond_mm=beyond_mm)
    (folder / OUTLINE).write_text(json.dumps(outline.to_json()), "utf-8")


def outline_in(folder: Path) -> Outline:
    """The outline of a prepared artwork, or of its piece, right-reading."""
    return Outline.from_json(json.loads((folder / OUTLINE).read_text("utf-8")))


def _size_facts(size: PrintedSize) -> dict[str, Any]:
    return {"width_mm": size.width_mm, "height_mm": size.height_mm}

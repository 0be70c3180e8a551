"""Composing a sheet: dots of every ink, band by band, from stored separations into TIFFs and a preview.

Bands are screened and compressed on threads and appended in order, a few at a time, so memory grows with the band and never
with the sheet or with how many designs lie on it. Source rows are read when a band needs them and forgotten.
"""

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Final, TypeVar
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from filmhand.delivery.preview import PreviewBuilder, View
from filmhand.delivery.strips import check_sum, encode
from filmhand.delivery.tiff import TiffFacts, TiffWriter
from filmhand.gang.band import Canvas, draw, rows_of, stamp
from filmhand.gang.composed import CONTINUOUS, Composed
from filmhand.gang.oriented import Oriented, oriented
from filmhand.gang.plan import Piece, Plan, Target, plan_of
from filmhand.gang.relay import Relay
from filmhand.gang.sheet import Sheet
from filmhand.gang.stored import open_stored
from filmhand.halftone.bits import GROUP, counts, to_samples, tone_sums
from filmhand.halftone.screening import drop_sizes
from filmhand.marks.mark import Mark
from filmhand.rules import Compression, Form

__all__ = ["PREVIEW", "Composed", "Piece", "Target", "compose"]

PREVIEW: Final = "preview.png"
_ROWS_PER_STRIP: Final = 64
_BAND_BYTES: Final = 1 << 22
"""About what a band's samples take up, all inks together, before they are compressed."""

Strips = tuple[tuple[bytes, int], ...]
"""Compressed strips, each with its check sum."""
Item = TypeVar("Item")
Result = TypeVar("Result")


@dataclass(frozen=True, eq=False)
class _Band:
    """A composed band: each ink's strips, what was laid (as in `Composed`) and what of it was marks', and the preview's rows."""

    strips: tuple[Strips, ...]
    samples: tuple[NDArray[np.int64], ...]
    marked: tuple[int, ...]
    film: float
    preview: NDArray[np.uint8]


def compose(
    sheet: Sheet,
    pieces: Mapping[str, Piece],
    *,
    target: Target,
    folder: Path,
    marks: Sequence[Mark] = (),
    threads: int | None = None,
) -> Composed:
    """Write a sheet's TIFFs and its preview into an existing folder. `pieces` by job; `threads`: every processor if not said.

    MachineError if a prepared design cannot be read, or does not fit its place or the printer.
    """
    workers = threads or os.cpu_count() or 1
    with ExitStack() as stack:
        pool = stack.enter_context(ThreadPoolExecutor(workers, "compose"))
        plan = plan_of(sheet, pieces, target=target, picture_of=_pictures(mirror=target.printer.mirror), pool=pool)
        files = _files(plan)
        preview = stack.enter_context(PreviewBuilder(folder / PREVIEW, _view(plan), group=GROUP))
        writers = [stack.enter_context(TiffWriter(folder / name, facts)) for name, facts in files.items()]
        rows = _rows_per_band(plan, preview.block[1])
        work = partial(_composed, plan, marks, preview, Relay(rows))
        samples = [np.zeros(1, np.int64) for _ in plan.inks]
        checks = [0] * len(plan.inks)
        marked = np.zeros(len(plan.inks), np.int64)
        film = 0.0
        for band in _in_order(pool, work, range(0, plan.length, rows), ahead=2 * workers):
            for ink, strips in enumerate(band.strips):
                writer, plane = (writers[0], ink) if len(writers) == 1 else (writers[ink], 0)
                for strip, check in strips:
                    writer.append(plane, strip)
                    checks[ink] = crc32(check.to_bytes(4, "little"), checks[ink])
            preview.append(band.preview)
            samples = [total + more for total, more in zip(samples, band.samples, strict=True)]
            marked += band.marked
            film += band.film
    return Composed(
        sheet=sheet.name,
        files=tuple(files),
        preview=PREVIEW,
        inks=plan.inks,
        bits=target.printer.bits,
        resolution=target.printer.resolution,
        width_dots=plan.width,
        length_dots=plan.length,
        samples={ink: tuple(int(n) for n in total) for ink, total in zip(plan.inks, samples, strict=True)},
        checks=dict(zip(plan.inks, checks, strict=True)),
        mark_dots={ink: (*(0,) * (len(total) - 1), int(n)) for ink, total, n in zip(plan.inks, samples, marked, strict=True)},
        film_dots=round(film),
    )


def _pictures(*, mirror: bool) -> Callable[[Path, float], Oriented]:
    """Pictures by folder and rotation, each opened, and turned if need be, once."""
    opened = lru_cache(maxsize=None)(open_stored)
    return lru_cache(maxsize=None)(lambda folder, rotation_deg: oriented(opened(folder), rotation_deg, mirror=mirror))


def _view(plan: Plan) -> View:
    printer = plan.target.printer
    return View(
        width=plan.width,
        length=plan.length,
        resolution=printer.resolution,
        mirrored=printer.mirror,
        model=plan.target.model,
        garment=plan.target.garment,
        grounds=plan.grounds,
    )


def _files(plan: Plan) -> dict[str, TiffFacts]:
    """The TIFFs by name."""
    output, name = plan.target.output, plan.sheet.name
    several = {f"{name}.tif": plan.inks} if output.form is Form.ONE_FILE else {f"{name}_{ink}.tif": (ink,) for ink in plan.inks}
    return {
        file: TiffFacts(
            width=plan.width,
            length=plan.length,
            bits=plan.target.printer.bits,
            inks=inks,
            resolution=plan.target.printer.resolution,
            compression=output.compression,
            rows_per_strip=_ROWS_PER_STRIP,
            document=name,
        )
        for file, inks in several.items()
    }


def _rows_per_band(plan: Plan, preview_block: int) -> int:
    """Rows composed at a time: whole strips, whole rows of the preview, and about as many as make a band's bytes."""
    step = int(np.lcm(_ROWS_PER_STRIP, preview_block))
    row_bytes = plan.width * plan.target.printer.bits * len(plan.inks) // 8
    return max(1, _BAND_BYTES // (row_bytes * step)) * step


def _in_order(pool: Executor, work: Callable[[Item], Result], items: Iterable[Item], *, ahead: int) -> Iterator[Result]:
    """Results of `work` in the order of `items`, with at most `ahead` of them begun and not yet taken."""
    begun: deque[Future[Result]] = deque()
    try:
        for item in items:
            begun.append(pool.submit(work, item))
            if len(begun) >= ahead:
                yield begun.popleft().result()
        while begun:
            yield begun.popleft().result()
    finally:
        for future in begun:
            future.cancel()


def _composed(plan: Plan, marks: Sequence[Mark], preview: PreviewBuilder, relay: Relay, top: int) -> _Band:
    """One band, from the row `top` on."""
    printer = plan.target.printer
    canvas = Canvas.bare(top, min(relay.rows, plan.length - top), width=plan.width, inks=plan.inks, bits=printer.bits)
    with relay.failing_together():
        for number, copy in enumerate(plan.copies):
            own = rows_of(copy, top, canvas.rows)
            if not own:
                continue
            above = relay.take(number, top) if copy.diffuses and own.start > 0 else {}
            left_over = draw(copy, own, canvas, above)
            if copy.diffuses and own.stop < copy.film.height:
                relay.give(number, top, left_over)
    marked = dict.fromkeys(plan.inks, 0)
    for mark in marks:
        dots = stamp(mark, canvas)
        marked |= {plane: marked[plane] + dots for plane in mark.planes}
    down = preview.block[1]
    if printer.bits == CONTINUOUS:
        film, under = (tone_sums(canvas.film_tones, down) / 255).astype(np.float32), None
    else:
        film, under = (counts(dots, down).astype(np.float32) for dots in (canvas.film, canvas.under))
    laid = [_laid(canvas, ink, plan, down) for ink in plan.inks]
    seen = {ink: groups for ink, (_, _, groups) in zip(plan.inks, laid, strict=True)}
    picture = preview.render(top // down, film, seen, choked=under)
    strips, samples = tuple(one[0] for one in laid), tuple(one[1] for one in laid)
    return _Band(strips, samples, tuple(marked.values()), float(film.sum(dtype=np.float64)), picture)


def _laid(canvas: Canvas, ink: str, plan: Plan, down: int) -> tuple[Strips, NDArray[np.int64], NDArray[np.float32]]:
    """An ink of a band: its strips; what was laid, as in `Composed`; and full dots in each group across and `down` rows."""
    if plan.target.printer.bits == CONTINUOUS:
        tones = canvas.ink_tones[ink]
        sums = tone_sums(tones, down)
        strips = _strips(np.ascontiguousarray(tones[:, : plan.width]), plan)
        return strips, sums.sum(dtype=np.int64, keepdims=True).reshape(1), (sums / 255).astype(np.float32)
    levels = canvas.inks[ink]
    groups = [counts(level, down) for level in levels]
    at_least = np.array([one.sum(dtype=np.int64) for one in groups])
    growth = np.diff(drop_sizes(plan.target.printer, ink), prepend=0)
    seen = sum(np.float32(size) * one for size, one in zip(growth, groups, strict=True))
    return _strips(to_samples(levels, plan.width), plan), at_least - np.append(at_least[1:], 0), np.asarray(seen, np.float32)


def _strips(samples: NDArray[np.uint8], plan: Plan) -> Strips:
    """A band's rows, rows×bytes, as compressed strips, each with its check sum; a blank one is compressed once for all sheets."""
    compression = plan.target.output.compression
    parts = [samples[top : top + _ROWS_PER_STRIP] for top in range(0, len(samples), _ROWS_PER_STRIP)]
    return tuple(_strip(part, compression) if part.any() else _blank(part.shape, compression) for part in parts)


def _strip(part: NDArray[np.uint8], compression: Compression) -> tuple[bytes, int]:
    return encode(part, compression), check_sum(part)


@lru_cache(maxsize=16)
def _blank(shape: tuple[int, int], compression: Compression) -> tuple[bytes, int]:
    return _strip(np.zeros(shape, np.uint8), compression)

"""Recall and false alarms of every check over the labelled set of made artworks.

    deploy/bench labelled [--only PART] [--processes 2] [--save FOLDER]

Each artwork is drawn, written as the file that a customer would send, opened, cleared, mended and looked at, as in service. The
table says, per check: artworks with the fault, how many of them were found, artworks without it, and on how many of those the
check spoke all the same, at WARN or worse; where marks must overlap the true place, how well they do (intersection over union).
Then each miss, false alarm and stray mark by the artwork's name. Nothing here is asserted.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from itertools import groupby
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

sys.path.insert(0, str(Path(__file__).parents[1]))

from preflight.labelled.look import Seen, look, rule_of
from preflight.labelled.make import artworks
from preflight.labelled.model import Boxes, File, Made
from preflight.labelled.score import Result, Score, marks_of, scores

LEAST_RECALL, MOST_FALSE, LEAST_OVERLAP = 0.98, 0.03, 0.5
_LONGEST_PX = 1200
_TRUE, _FOUND = "#00a040", "#d02020"


def main() -> None:
    """Look at the set on several processes and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="", metavar="PART", help="artworks whose name contains this")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--save", type=Path, metavar="FOLDER", help="pictures with true places green and marks red")
    args = parser.parse_args()
    chosen = [number for number, made in enumerate(artworks()) if args.only in made.name]
    if args.save:
        args.save.mkdir(parents=True, exist_ok=True)
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as scratch, ProcessPoolExecutor(args.processes) as pool:
        results = list(pool.map(partial(_looked_at, folder=Path(scratch), save=args.save), chosen))
    print("\n".join(_report(results)))
    print(f"{time.perf_counter() - began:.0f} s in all, on {args.processes} processes")


def _looked_at(number: int, *, folder: Path, save: Path | None) -> Result:
    """One artwork, by its number, for functions that draw do not travel between processes."""
    made = artworks()[number]
    sent = made.draw()
    try:
        seen = look(made, sent, folder)
    except Exception as problem:  # noqa: BLE001 -- one that breaks a check must not hide what the rest shows
        return Result(_without_draw(made), replace(sent, content=b""), (), (), 0.0, repr(problem))
    if save is not None:
        _save(made, sent, seen, save)
    return Result(_without_draw(made), replace(sent, content=b""), seen.findings, seen.left, seen.seconds)


def _without_draw(made: Made) -> Made:
    return replace(made, draw=_drawn_elsewhere)


def _drawn_elsewhere() -> File:
    raise NotImplementedError("drawn in another process")


def _report(results: Sequence[Result]) -> Iterator[str]:
    sound = sum(not result.made.faults for result in results)
    yield f"{len(results)} artworks, {sound} of them without fault"
    yield ""
    yield "check          faulty  found  recall   without  spoke   false   marks  IoU>=0.5  median   worst"
    table = scores(results)
    for score in table:
        yield _row(score)
    yield ""
    yield from _mends(results)
    seconds = sorted(result.seconds for result in results)
    yield f"seconds an artwork: median {np.median(seconds):.2f}, worst {seconds[-1]:.2f}"
    yield ""
    yield from (f"failed: {result.made.name}: {result.failed}" for result in results if result.failed)
    for score in table:
        yield from _names("missed", score.check, score.missed)
        yield from _names("false alarm", score.check, score.false)
        apart = [f"{name} ({value:.2f})" for value, name in score.overlaps if value < LEAST_OVERLAP and name not in score.missed]
        yield from _names("marked elsewhere", score.check, apart)


def _row(score: Score) -> str:
    found = score.faulty - len(score.missed)
    is_short = score.recall < LEAST_RECALL or score.false_rate > MOST_FALSE
    row = (
        f"{score.check:14} {score.faulty:6d} {found:6d} {score.recall:7.3f}   {score.without:7d} {len(score.false):6d}"
        f" {score.false_rate:7.3f}"
    )
    if score.overlaps:
        met = sum(value >= LEAST_OVERLAP for value, _ in score.overlaps)
        row += f"  {len(score.overlaps):6d} {met:9d} {score.median_overlap:7.2f} {min(score.overlaps)[0]:7.2f}"
    return f"{row:96}{'  < bar' if is_short else ''}".rstrip()


def _mends(results: Sequence[Result]) -> Iterator[str]:
    """Per mend: artworks that it had to mend, and those of which its check still speaks."""
    for check in sorted({check for result in results for check in result.made.mended}):
        asked = [result for result in results if check in result.made.mended]
        left = [result.made.name for result in asked if check in result.not_mended]
        yield f"mended {check}: {len(asked) - len(left)} of {len(asked)}{'; left: ' if left else ''}{', '.join(left)}"


def _names(what: str, check: str, names: Sequence[str]) -> Iterator[str]:
    for name, same in groupby(names):
        count = len(list(same))
        yield f"{what}: {check}: {name}{f' × {count}' if count > 1 else ''}"


def _save(made: Made, sent: File, seen: Seen, folder: Path) -> None:
    """The artwork on its garment, what is true of it in green, what was marked in red; or the file, if it did not open."""
    if seen.artwork is None:
        (folder / f"{made.name}.{sent.ending}").write_bytes(sent.content)
        return
    shown = Image.fromarray(seen.artwork.pixels)
    shown.thumbnail((_LONGEST_PX, _LONGEST_PX))
    canvas = Image.new("RGB", (shown.width + 40, shown.height + 40), rule_of(made).garment)
    canvas.paste(shown, (20, 20), shown)
    draw = ImageDraw.Draw(canvas)
    for check in sorted({finding.check for finding in seen.findings} | set(sent.places)):
        _outline(draw, sent.places.get(check, ()), shown.size, _TRUE, 5)
        _outline(draw, marks_of(check, seen.findings), shown.size, _FOUND, 2)
    canvas.save(folder / f"{made.name}.png")


def _outline(draw: ImageDraw.ImageDraw, boxes: Boxes, size: tuple[int, int], colour: str, room: int) -> None:
    for box in boxes:
        left, top = 20 + box.left * size[0], 20 + box.top * size[1]
        right, bottom = left + box.width * size[0], top + box.height * size[1]
        draw.rectangle((left - room, top - room, right + room, bottom + room), outline=colour, width=2)


if __name__ == "__main__":
    main()

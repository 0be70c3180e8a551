"""Laying patches out for a hand instrument: rows read left to right, on full white, with letters, numbers and an arrow.

Patches stand a little apart, so that a strip reader sees where one ends; patches almost without ink get a hairline frame, so
that a person finds them. Sizes here are common practice, no source; the least patch suits an aperture of 4 to 6 mm.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from filmhand.colour.chart.model import Arrow, Block, Box, Floats, Mark, PatchList, Text, Wanted, as_sent
from filmhand.errors import SettingsError
from filmhand.rules import WHITE, Ink

LEAST_PATCH_MM: Final = 8.0
GAP_MM: Final = 1.0
"""Between patches."""
_EDGE_MM: Final = 4.0
"""White around everything."""
_TITLE_MM, _HEAD_MM, _CAPTION_MM, _LEAD_MM = 6.0, 4.0, 3.2, 13.0
"""Heights of the title's band, of that with the columns' numbers, of a patch's caption; the width before a row's patches."""
_LETTER_WIDTH: Final = 0.62
"""Of a line's height, with room."""
_LIGHT: Final = 0.1
"""Patches with less ink than this get a frame."""
_HAIR_MM: Final = 0.2


@dataclass(frozen=True)
class Group:
    """Patches that begin a row of their own: (m, k) amounts, and a caption each, or none at all."""

    amounts: Floats
    captions: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Row:
    letter: str
    amounts: Floats
    captions: tuple[str, ...]


def lay_out(
    groups: Sequence[Group], inks: Sequence[str], *, name: str, title: str, wanted: Wanted
) -> tuple[tuple[Block, ...], PatchList]:
    """Blocks of patches in rows, and the list of them in the order of measuring. `inks`: the columns of the groups' amounts.

    Rows are lettered from A on through all blocks, columns numbered: patch B3 is the third of the second row. SettingsError where
    a patch is too small to measure or a block too small for one.
    """
    columns, rows_a_block = _room(wanted, has_captions=any(group.captions for group in groups))
    rows = list(_rows(groups, columns))
    parts = [rows[first : first + rows_a_block] for first in range(0, len(rows), rows_a_block)]
    blocks = []
    for number, part in enumerate(parts, start=1):
        several = len(parts) > 1
        blocks.append(
            _block(
                part,
                tuple(inks),
                name=f"{name} {number}" if several else name,
                title=f"{title} · {number} of {len(parts)}" if several else title,
                patch_mm=wanted.patch_mm,
            )
        )
    names = tuple(f"{row.letter}{column}" for row in rows for column in range(1, len(row.amounts) + 1))
    return tuple(blocks), PatchList(name, tuple(inks), names, np.concatenate([row.amounts for row in rows]))


def label(inks: Sequence[str]) -> dict[str, float]:
    """The darkest to letter with: black where a chart has it, else the three colours that every printer has."""
    return {Ink.BLACK: 1.0} if Ink.BLACK in inks else {Ink.CYAN: 1.0, Ink.MAGENTA: 1.0, Ink.YELLOW: 1.0}


def letters(number: int) -> str:
    """A, B, … Z, AA, AB, … for 0, 1, …"""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def _room(wanted: Wanted, *, has_captions: bool) -> tuple[int, int]:
    """Columns and rows in a block."""
    if wanted.patch_mm < LEAST_PATCH_MM:
        raise SettingsError(
            f"Patches of {wanted.patch_mm:g} mm are too small to measure", next_step=f"Ask for {LEAST_PATCH_MM:g} mm or more"
        )
    width, height = wanted.block_mm
    columns = int((width - 2 * _EDGE_MM - _LEAD_MM + GAP_MM) // (wanted.patch_mm + GAP_MM))
    rows = int((height - 2 * _EDGE_MM - _TITLE_MM - _HEAD_MM) // _pitch(wanted.patch_mm, has_captions=has_captions))
    if columns < 1 or rows < 1:
        raise SettingsError(
            f"A block of {width:g} × {height:g} mm has no room for a patch of {wanted.patch_mm:g} mm",
            next_step="Allow larger blocks or smaller patches",
        )
    return columns, rows


def _pitch(patch_mm: float, *, has_captions: bool) -> float:
    """From one row to the next."""
    return patch_mm + GAP_MM + (_CAPTION_MM if has_captions else 0.0)


def _rows(groups: Sequence[Group], columns: int) -> Iterator[_Row]:
    number = 0
    for group in groups:
        amounts = as_sent(group.amounts)
        for first in range(0, len(amounts), columns):
            yield _Row(letters(number), amounts[first : first + columns], group.captions[first : first + columns])
            number += 1


def _block(rows: Sequence[_Row], inks: tuple[str, ...], *, name: str, title: str, patch_mm: float) -> Block:
    has_captions = any(row.captions for row in rows)
    columns, pitch = max(len(row.amounts) for row in rows), _pitch(patch_mm, has_captions=has_captions)
    title_mm = 0.62 * _TITLE_MM
    width = max(_LEAD_MM + columns * (patch_mm + GAP_MM) - GAP_MM, _LETTER_WIDTH * title_mm * len(title)) + 2 * _EDGE_MM
    height = 2 * _EDGE_MM + _TITLE_MM + _HEAD_MM + len(rows) * pitch
    dark = label(inks)
    marks = [Mark(Box(0, 0, width, height), {WHITE: 1.0}, coverage=1.0)]
    marks.append(Mark(Text(_EDGE_MM, _EDGE_MM + _TITLE_MM / 2, title_mm, title, "lm"), dark))
    top = _EDGE_MM + _TITLE_MM + _HEAD_MM
    for column in range(columns):
        middle = _EDGE_MM + _LEAD_MM + column * (patch_mm + GAP_MM) + patch_mm / 2
        marks.append(Mark(Text(middle, top - _HEAD_MM / 2, 3.0, str(column + 1)), dark))
    patches = {}
    for place, row in enumerate(rows):
        y = top + place * pitch
        marks.append(Mark(Text(_EDGE_MM, y + patch_mm / 2, 4.0, row.letter, "lm"), dark))
        marks.append(Mark(Arrow(_EDGE_MM + 8.5, y + patch_mm / 2, 3.0), dark))
        for column, amounts in enumerate(row.amounts):
            box = Box(_EDGE_MM + _LEAD_MM + column * (patch_mm + GAP_MM), y, patch_mm, patch_mm)
            patches[f"{row.letter}{column + 1}"] = box
            marks += _patch(box, dict(zip(inks, map(float, amounts), strict=True)), dark)
            if row.captions:
                below = box.top + patch_mm + _CAPTION_MM / 2
                caption = row.captions[column]
                size = min(2.6, patch_mm / (_LETTER_WIDTH * max(len(caption), 1)))
                marks.append(Mark(Text(box.left + patch_mm / 2, below, size, caption), dark))
    return Block(name, (width, height), tuple(marks), patches=patches)


def _patch(box: Box, inks: dict[str, float], dark: dict[str, float]) -> Iterator[Mark]:
    """A patch; where it is almost white, in a frame that lies outside it."""
    if WHITE not in inks and sum(inks.values()) < _LIGHT:
        yield Mark(_wider(box, _HAIR_MM), dark)
        yield Mark(box, dict.fromkeys(dark, 0.0))
    yield Mark(box, inks)


def _wider(box: Box, by: float) -> Box:
    return Box(box.left - by, box.top - by, box.width + 2 * by, box.height + 2 * by)

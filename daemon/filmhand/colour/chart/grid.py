"""Patches to fit an ink model to: in each hue sector a grid with one level between none and full, wedges, and patches between.

The grid and the wedges carry the model of how inks mix. What it misses is a smooth remainder, and for that, scattered patches
tell more than a finer grid: on a synthetic printer, 420 patches of four inks foretold 1500 others within a mean ΔE00 of 0.06,
where {0, 40, 70, 100}³ × {0, 20, 40, 60, 80, 100} and wedges reached 0.26; 800 within 0.03 where {0, 20, 40, 70, 100}³ did 0.05.
Some patches are repeated, to tell noise from colour.

The middle level is 40 %, where dots have grown to about half of the area. With enough patches the four-ink grid has the
structure of the ISO 12642-2 chart: its published data have these levels of C, M and Y at each level of black (counted in such
data; the standard itself was not read).
"""

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import cycle, islice, product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.layout import Group, lay_out
from filmhand.colour.chart.model import Chart, Floats, Wanted, as_sent
from filmhand.colour.sectors import sectors
from filmhand.errors import SettingsError
from filmhand.rules import WHITE, Ink

Levels = Mapping[int, tuple[int, ...]]
"""Percent of the coloured inks at each percent of black."""

_ENDS, _COARSE, _FIVE = (0, 100), (0, 40, 100), (0, 20, 40, 70, 100)
CORNERS: Final[Levels] = dict.fromkeys(_ENDS, _ENDS)
MIDDLE: Final[Levels] = dict.fromkeys(_COARSE, _COARSE)
FULL: Final[Levels] = {
    0: (0, 10, 20, 30, 40, 55, 70, 85, 100),
    20: (0, 10, 20, 40, 70, 100),
    40: _FIVE,
    60: _FIVE,
    80: (0, 40, 70, 100),
    100: _COARSE,
}
DESIGNS: Final = ((CORNERS, CORNERS), (MIDDLE, CORNERS), (MIDDLE, MIDDLE), (FULL, MIDDLE))
"""Grids of the first sector and of those with further inks, from few patches to many."""
_LEAST_WEDGE: Final = 7
"""Tones that each ink's wedge has between the grid's, at least: else a coarser grid serves better."""
_MOST_WEDGE: Final = 18
_WEDGE_SHARE, _REPEATED_SHARE = 0.4, 0.05
"""Of what the grid leaves, the share for wedges; of all patches, the share that is repeated."""
_MOST_SCATTERED: Final = 3.0
"""Ink of a scattered patch, at most: more is never printed."""
_USUAL: Final = 420
_USUAL_FOR_MORE: Final = 480
_BASES: Final = (2, 3, 5, 7)

Percents = NDArray[np.int64]


def grid(inks: Sequence[str], wanted: Wanted, *, printer: str) -> Chart:
    """The chart of the process inks and black among a printer's inks."""
    process = tuple(ink for ink in inks if ink in (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK))
    return _chart(process, wanted, kind=Kind.GRID, printer=printer)


def sector_chart(inks: Sequence[str], wanted: Wanted, *, printer: str) -> Chart:
    """The chart of all colour inks of a printer, up to eight beside white."""
    return _chart(tuple(ink for ink in inks if ink != WHITE), wanted, kind=Kind.SECTORS, printer=printer)


def patches(inks: Sequence[str], total: int, *, most_ink: float | None = None) -> Floats:
    """Ink amounts (total, k), 0 to 1 as sent to the printer, for colour inks given by letter.

    First the grid, then wedges, scattered patches and repeats. SettingsError says how many patches there must be at least.
    """
    find = partial(_grid, tuple(inks), limit=_percent(most_ink))
    grids = [find(design) for design in DESIGNS]
    wedges = _LEAST_WEDGE * len(inks)
    fitting = [one for one in grids if len(one) + wedges <= total]
    if not fitting:
        raise SettingsError(
            f"{total} patches are too few for the inks {', '.join(inks)}",
            next_step=f"Ask for at least {len(grids[0]) + wedges}",
        )
    nodes = fitting[-1]
    steps = min(max(int(_WEDGE_SHARE * (total - len(nodes)) / len(inks)), _LEAST_WEDGE), _MOST_WEDGE)
    found = _distinct(np.concatenate([nodes, _wedges(nodes, steps)]))
    repeated = min(round(_REPEATED_SHARE * total), total - len(found))
    scattered = _scattered(tuple(inks), total - len(found) - repeated, known=found, limit=_percent(most_ink))
    again = _worth_repeating(tuple(inks), found)
    return as_sent(np.concatenate([found, scattered, found[list(islice(cycle(again), repeated))]]) / 100)


def _chart(colours: tuple[str, ...], wanted: Wanted, *, kind: Kind, printer: str) -> Chart:
    usual = _USUAL if len(sectors(colours)) == 1 else _USUAL_FOR_MORE
    total = usual if wanted.patches is None else wanted.patches
    amounts = patches(colours, total, most_ink=wanted.most_ink)
    if wanted.seed:
        amounts = amounts[np.random.default_rng(wanted.seed).permutation(total)]
    title = f"{total} patches · {' '.join(colours)} · {printer}"
    blocks, listed = lay_out([Group(amounts)], colours, name=kind, title=title, wanted=wanted)
    to_do = (
        "Linearise first, and set the ink limit. Print with the profile of the print controller switched off.",
        "Press every block on the same smooth white garment cloth, as orders are pressed; let them cool and rest for an hour.",
        "Measure every patch in the order of the list: along each row, rows from the top, blocks by their number.",
        "Have the instrument's program save CGATS text, spectral if it can; then fit the ink model to it.",
    )
    return Chart(kind, title, blocks, to_do, (listed,))


def _percent(most_ink: float | None) -> float:
    return np.inf if most_ink is None else 100 * most_ink


def _grid(inks: tuple[str, ...], design: tuple[Levels, Levels], *, limit: float) -> Percents:
    """Grid points of all sectors, each once, in percent: (m, k)."""
    rows: list[list[int]] = []
    for number, sector in enumerate(sectors(inks)):
        columns = [inks.index(ink) for ink in sector]
        for amounts in _points(sector, design[0] if number == 0 else design[1]):
            row = [0] * len(inks)
            for column, amount in zip(columns, amounts, strict=True):
                row[column] = amount
            rows.append(row)
    found = _distinct(np.array(rows))
    return np.asarray(found[found.sum(axis=1) <= limit])


def _points(sector: Sequence[str], levels: Levels) -> Iterator[tuple[int, ...]]:
    """Grid points of a sector. Without black it has those that black's absence leaves."""
    if sector[-1] != Ink.BLACK:
        yield from product(levels[0], repeat=len(sector))
        return
    for black, colours in levels.items():
        for amounts in product(colours, repeat=len(sector) - 1):
            yield (*amounts, black)


def _wedges(nodes: Percents, steps: int) -> Percents:
    """Up to `steps` further tones of each ink by itself, each the one furthest from those there are."""
    rows = []
    for ink in range(nodes.shape[1]):
        alone = nodes.sum(axis=1) == nodes[:, ink]
        known = set(nodes[alone, ink].tolist())
        for _ in range(steps):
            further = [tone for tone in range(5, 100, 5) if tone not in known]
            if not further:
                break
            tone = max(further, key=lambda tone: min(abs(tone - one) for one in known))
            known.add(tone)
            rows.append([tone if column == ink else 0 for column in range(nodes.shape[1])])
    return np.array(rows, np.int64).reshape(-1, nodes.shape[1])


def _scattered(inks: tuple[str, ...], count: int, *, known: Percents, limit: float) -> Percents:
    """Patches that are not yet there, evenly scattered over one sector after the other (J. H. Halton, 1960), in steps of 5 %."""
    taken = {tuple(row) for row in known.tolist()}
    rows: list[list[int]] = []
    turns = cycle(sectors(inks))
    number = 0
    while len(rows) < count:
        number += 1
        row = [0] * len(inks)
        for ink, base in zip(next(turns), _BASES, strict=False):
            row[inks.index(ink)] = 5 * round(20 * _radical_inverse(number, base))
        if tuple(row) not in taken and sum(row) <= min(limit, 100 * _MOST_SCATTERED):
            taken.add(tuple(row))
            rows.append(row)
    return np.array(rows, np.int64).reshape(-1, len(inks))


def _radical_inverse(number: int, base: int) -> float:
    """The digits of a number in a base, mirrored at the point."""
    value, place = 0.0, 1.0 / base
    while number:
        number, digit = divmod(number, base)
        value += digit * place
        place /= base
    return value


def _worth_repeating(inks: tuple[str, ...], found: Percents) -> list[int]:
    """Rows of bare white, then of each full ink, each middle tone and the even grey: noise of all densities."""
    every = np.eye(len(inks), dtype=np.int64)
    process = np.isin(inks, [Ink.CYAN, Ink.MAGENTA, Ink.YELLOW])
    wishes = np.concatenate([0 * every[:1], 100 * every, 40 * every, 40 * process[None]])
    return [int(np.flatnonzero(same)[0]) for wish in wishes if (same := (found == wish).all(axis=1)).any()]


def _distinct(rows: Percents) -> Percents:
    """Rows without repeats, each where it stood first."""
    _, first = np.unique(rows, axis=0, return_index=True)
    return np.asarray(rows[np.sort(first)])

"""Wedges: each ink by itself, inks together up to more than the film takes, and white on the garment."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.layout import Group, lay_out
from filmhand.colour.chart.model import Chart, Wanted
from filmhand.colour.sectors import sectors
from filmhand.rules import WHITE, Ink

_STEPS: Final = 21
"""Tones of a wedge, both ends counted: every 5 % (common practice, no source)."""
_TOTAL_STEP: Final = 20
"""Percent between the patches of the ink-limit target."""
_GARMENTS: Final = (("black", "#141414"), ("white", "#ffffff"))
"""What the two white wedges are pressed on: name, and the colour in the preview."""
_PROCESS: Final = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW)


def linearisation(inks: Sequence[str], wanted: Wanted, *, printer: str) -> Chart:
    """A wedge of each colour ink over full white. `inks`: the printer's, in print order, white last."""
    colours = tuple(ink for ink in inks if ink != WHITE)
    tones = np.linspace(0, 1, _STEPS)
    captions = tuple(f"{100 * tone:.0f}" for tone in tones)
    groups = []
    for place in range(len(colours)):
        amounts = np.zeros((_STEPS, len(colours)))
        amounts[:, place] = tones
        groups.append(Group(amounts, captions))
    title = f"Linearisation · {' '.join(colours)} · {printer}"
    blocks, patches = lay_out(groups, colours, name=Kind.LINEARISATION, title=title, wanted=wanted)
    to_do = (
        "Print with the profile and every curve of the print controller switched off.",
        "Press it on a smooth white garment as orders are pressed; let it cool and rest for an hour.",
        "Measure every patch in the order of the list: along each row, rows from the top.",
        "Look for tones that stop growing: from there on the ink only costs.",
    )
    return Chart(Kind.LINEARISATION, title, blocks, to_do, (patches,))


def ink_limit(inks: Sequence[str], wanted: Wanted, *, printer: str) -> Chart:
    """Inks in equal parts, from one full ink in all to each of them full, over full white."""
    colours = tuple(ink for ink in inks if ink != WHITE)
    groups = []
    for together in _together(colours):
        totals = range(100, 100 * len(together) + 1, _TOTAL_STEP)
        amounts = np.zeros((len(totals), len(colours)))
        amounts[:, [colours.index(ink) for ink in together]] = np.array(totals)[:, None] / (100 * len(together))
        groups.append(Group(amounts, tuple(f"{''.join(together)} {total}" for total in totals)))
    title = f"Ink limit and drying · {printer}"
    wide = replace(wanted, patch_mm=max(wanted.patch_mm, 12.0))  # room to see how ink runs, and to touch it
    blocks, patches = lay_out(groups, colours, name=Kind.INK_LIMIT, title=title, wanted=wide)
    to_do = (
        "Print it at the speed of orders, powder and cure it as orders.",
        "Before the oven: note in each row the last patch that does not run, pool or pull the powder off.",
        "After the oven: note the last patch that is dry to a wiped paper towel.",
        "Press it; note the last patch without cracks or a wet shine. The lowest of these totals is the rule's ink_limit.",
        "Measure the rows in the order of the list: past the total where a row stops growing darker, ink only costs.",
    )
    return Chart(Kind.INK_LIMIT, title, blocks, to_do, (patches,))


def white_opacity(wanted: Wanted, *, printer: str) -> Chart:
    """White alone from none to full, twice: to be pressed on a black and on a white garment, each with a list of its own."""
    tones = np.linspace(0, 1, _STEPS)[:, None]
    captions = tuple(f"{100 * float(tone):.0f}" for tone in tones[:, 0])
    all_blocks, lists = [], []
    for garment, colour in _GARMENTS:
        name, title = f"{Kind.WHITE} on {garment}", f"White · press on {garment} · {printer}"
        blocks, patches = lay_out([Group(tones, captions)], (WHITE,), name=name, title=title, wanted=wanted)
        all_blocks += [replace(block, garment=colour) for block in blocks]
        lists.append(patches)
    to_do = (
        "Cut the two blocks apart. Press one on a black garment, the other on a white one of the same cloth.",
        "Lay the same dark, matt backing under both garments while measuring.",
        "Measure each block in the order of its own list. Patch A1 has no white: it shows the garment.",
    )
    return Chart(Kind.WHITE, f"White opacity · {printer}", tuple(all_blocks), to_do, tuple(lists))


def _together(colours: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """Pairs of process inks, then each sector's colours without black and with it."""
    yield from combinations([ink for ink in colours if ink in _PROCESS], 2)
    for sector in sectors(colours):
        without = tuple(ink for ink in sector if ink != Ink.BLACK)
        if len(without) > 1:
            yield without
        if len(without) < len(sector):
            yield sector

"""The shop's named colours in an artwork: which values mean one, and the inks that it gets instead of the table's."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork
from filmhand.colour.model import InkModel
from filmhand.colour.named import NamedColour, best_inks, over_film, values_meaning
from filmhand.colour.printer_tone import printer_tone
from filmhand.rules import ColourRules
from filmhand.separation.exact import ExactInks, met_in
from filmhand.separation.table import SeparationTable

Bytes = NDArray[np.uint8]
Value = tuple[int, int, int]


@dataclass(frozen=True)
class NamedInks:
    """The named colours that an artwork has.

    `misses`: those that are printed, and by which ΔE00 the print misses each; `bare`: those that the garment shows.
    """

    misses: Mapping[str, float]
    bare: tuple[str, ...]
    exact: ExactInks


def named_inks(
    artwork: Artwork,
    *,
    colours: Mapping[str, NamedColour],
    spots: Sequence[tuple[str, Value]],
    table: SeparationTable,
    model: InkModel,
    rules: ColourRules,
) -> NamedInks:
    """What is named in an artwork at print resolution. `spots`: values that mean a colour before all others.

    A colour that the table leaves bare stays bare.
    """
    names, values = _met(artwork, colours, spots)
    is_bare = _coverage(values, table) == 0
    printed = [name for name, bare in zip(names, is_bare, strict=True) if not bare]
    film_white = model.film_white * table.film_share  # as it lies on the garment
    labs = [over_film(colours[name].absolute_lab(), film_white) for name in printed]
    matches = [best_inks(lab, model=model, rules=rules) for lab in labs]
    misses = {name: match.delta_e for name, match in zip(printed, matches, strict=True)}
    amounts = np.array([match.inks for match in matches]).reshape(-1, len(model.inks))
    tones = printer_tone(model).tones(amounts, inks=model.inks)
    bare = dict.fromkeys(name for name, bare in zip(names, is_bare, strict=True) if bare)
    return NamedInks(misses, tuple(bare), ExactInks(model.inks, values[~is_bare], tones))


def _met(artwork: Artwork, colours: Mapping[str, NamedColour], spots: Sequence[tuple[str, Value]]) -> tuple[list[str], Bytes]:
    """The names that pixels have, and the value (n, 3) of each; a name may have two."""
    names, values = values_meaning(colours, profile=artwork.profile)
    every = [*(name for name, _ in spots), *names]
    both = np.concatenate([np.array([value for _, value in spots], np.uint8).reshape(-1, 3), values])
    _, first = np.unique(both, axis=0, return_index=True)
    kept = np.sort(first)
    met = kept[met_in(artwork.pixels, both[kept])]
    return [every[i] for i in met], both[met]


def _coverage(values: Bytes, table: SeparationTable) -> Bytes:
    """Coverage (n,) by the table of opaque values (n, 3)."""
    opaque = np.append(values, np.full((len(values), 1), 255, np.uint8), axis=1)
    _, coverage, _ = table.apply(opaque[None])
    return coverage.reshape(-1)

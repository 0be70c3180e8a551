"""Colours in the columns of a CGATS table: spectral, else XYZ, else Lab."""

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np

from filmhand.colour.cielab import xyz_from_lab
from filmhand.colour.measured.cgats import Table
from filmhand.colour.measured.conditions import refuse_other_conditions
from filmhand.colour.measured.labels import labels_of
from filmhand.colour.measured.numbers_in_text import number, numbers
from filmhand.colour.measured.readings import Floats
from filmhand.colour.measured.scale import as_fractions
from filmhand.colour.measured.sheet import Seen, names_of
from filmhand.colour.measured.spectra import even_spectra, xyz_of_spectra
from filmhand.colour.measured.unusable import UnusableChartError

# "SPECTRAL_NM400", "SPECTRAL_NM_400", "SPECTRAL_400", "SPEC_400", "nm400", "R_400nm", "400NM", "400"
_BAND: Final = re.compile(r"(?:[A-Z][A-Z_]*?_?)?(?:NM_?)?(\d{3}(?:[.,]\d+)?)(?:_?NM)?")
_NOT_BANDS: Final = ("D_", "DENS", "TRANS")
_SPECTRAL: Final = (300, 1100)
"""Wavelengths in nm that a number in a field's name may be."""
_FEWEST_BANDS: Final = 10
_XYZ: Final = ("XYZ_X", "XYZ_Y", "XYZ_Z")
_LAB: Final = ("LAB_L", "LAB_A", "LAB_B")
_CONDITIONS: Final = ("ILLUMINANT", "OBSERVER", "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE")
KINDS: Final = ("spectral", "XYZ", "Lab")
"""What a table can hold, the best first."""


def kind_of(table: Table) -> str | None:
    """The best of `KINDS` among the table's columns."""
    fields = [name.upper() for name in table.fields]
    if _bands(fields) or _pairs(fields):
        return KINDS[0]
    return next((kind for kind, names in zip(KINDS[1:], (_XYZ, _LAB), strict=True) if set(names) <= set(fields)), None)


def seen_in(table: Table) -> Seen | None:
    """The colours of the table's patches, (m, 3), by the best kind there is; None where there is none.

    Percent or fractions of 1 are told by their size: a chart has light patches. Lab is taken over the white of the ICC profile
    connection space: what a program made over CIE's own D50 comes out no more than ΔE00 0.02 off.
    UnusableChartError for XYZ or Lab under another illuminant or observer, and for what is not a number.
    """
    kind = kind_of(table)
    if kind is None:
        return None
    labels = labels_of(table)
    if kind == KINDS[0]:
        wavelengths, values = _spectral(table)
        spectra = even_spectra(wavelengths, values)
        return Seen(labels, xyz_of_spectra(spectra), spectra)
    refuse_other_conditions(illuminant=_said(table, "ILLUMIN"), observer=_said(table, "OBSERVER"))
    fields = [name.upper() for name in table.fields]
    if kind == KINDS[1]:
        return Seen(labels, as_fractions(_columns(table, [fields.index(name) for name in _XYZ])))
    return Seen(labels, xyz_from_lab(_columns(table, [fields.index(name) for name in _LAB])))


def _spectral(table: Table) -> tuple[Floats, Floats]:
    fields = [name.upper() for name in table.fields]
    pairs, bands = _pairs(fields), _bands(fields)
    if pairs:
        wavelengths = _columns(table, [nm for nm, _ in pairs])
        if np.ptp(wavelengths, axis=0).any():
            raise UnusableChartError(
                "The patches of this file are measured at different wavelengths", next_step="Export all of them at the same"
            )
        return wavelengths[0], _columns(table, [value for _, value in pairs])
    return np.array([bands[i] for i in bands]), _columns(table, list(bands))


def _bands(fields: Sequence[str]) -> dict[int, float]:
    """Columns that hold a wavelength each, by its number in the name."""
    found: dict[int, float] = {}
    for column, name in enumerate(fields):
        match = _BAND.fullmatch(name)
        wavelength = number(match[1]) if match and not name.startswith(_NOT_BANDS) else None
        if wavelength is not None and _SPECTRAL[0] <= wavelength <= _SPECTRAL[1]:
            found[column] = wavelength
    return found if len(found) >= _FEWEST_BANDS else {}


def _pairs(fields: Sequence[str]) -> list[tuple[int, int]]:
    """CGATS.17's own form: columns SPECTRAL_NM, each followed by SPECTRAL_PCT or SPECTRAL_DEC."""
    found = [
        (column, column + 1)
        for column, (name, after) in enumerate(pairwise(fields))
        if name in ("SPECTRAL_NM", "NM") and after in ("SPECTRAL_PCT", "SPECTRAL_DEC", "PCT", "DEC")
    ]
    return found if len(found) >= _FEWEST_BANDS else []


def _columns(table: Table, columns: Sequence[int]) -> Floats:
    names = names_of(labels_of(table), len(table.rows))
    return np.stack([numbers([row[i] for row in table.rows], what=table.fields[i], names=names) for i in columns], axis=1)


def _said(table: Table, start: str) -> str:
    """What the keywords say after a word that starts so: in ILLUMINANT "D50", "ILLUMINANT, D50" and "Illumination=D50 ..."."""
    text = "; ".join(f"{name}={table.keywords[name]}" for name in _CONDITIONS if name in table.keywords)
    return " ".join(re.findall(rf"\b{start}[A-Z]*\W+([^;=,]*)(?:[;=,]|$)", text, re.IGNORECASE))

"""Tone curves of a printer: how much of an ink to send so that its tones look evenly spaced.

Separations keep tones, not amounts: 256 steps that look alike all along an ink, where steps of amount would be coarse in the
highlights of a printer whose dots spread. An ink's tone is the spot colour tone value of its own wedge (ISO 20654:2017) as the
ink model has it; white's is the volume laid, as its measured wedge has it. The curve back to amounts is applied just before
screening, at the screen's own precision.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.model import InkModel
from filmhand.colour.tone import spot_tone_value
from filmhand.rules import HIGHLIGHT, WHITE

Floats = NDArray[np.float64]

_TONES: Final = np.arange(256) / 255
_FINE: Final = np.linspace(0, 1, 1025)
_LEAST_RISE: Final = 1e-3
"""Tone gained, at least, from no ink to full: a wedge that stands still somewhere still has one amount for each tone."""


@dataclass(frozen=True, eq=False)
class PrinterTone:
    """`curves`: by letter, the colour inks, W and W2: (256,) amounts, 0 to 1, to send for tones 0 to 255; rising, from 0 to 1."""

    curves: Mapping[str, Floats]

    def tones(self, amounts: Floats, *, inks: Sequence[str]) -> Floats:
        """Tones (..., k), 0 to 1, of amounts (..., k) of inks."""
        columns = [np.interp(amounts[..., i], self.curves[ink], _TONES) for i, ink in enumerate(inks)]
        return np.stack(columns, axis=-1)

    def amounts(self, tones: Floats, *, inks: Sequence[str]) -> Floats:
        """Amounts (..., k), 0 to 1, to send for tones (..., k) of inks."""
        columns = [np.interp(tones[..., i], _TONES, self.curves[ink]) for i, ink in enumerate(inks)]
        return np.stack(columns, axis=-1)


def printer_tone(model: InkModel) -> PrinterTone:
    """The tone curves of a printer's ink model."""
    count = len(model.inks)
    wedges = model.xyz(_FINE[:, None] * np.eye(count)[:, None])
    curves = {
        ink: _curve(spot_tone_value(xyz, ground=xyz[0], solid=xyz[-1])) for ink, xyz in zip(model.inks, wedges, strict=True)
    }
    white = _curve(model.opacity.volume_for(_FINE))
    return PrinterTone({**curves, WHITE: white, HIGHLIGHT: white})


def _curve(tones: Floats) -> Floats:
    """Amounts (256,) for even tones, from the tones (m,) of `_FINE` amounts."""
    rising = np.maximum.accumulate(np.clip(tones, 0, None)) + _LEAST_RISE * _FINE
    curve = np.interp(_TONES, rising / rising[-1], _FINE)
    return np.asarray(curve)

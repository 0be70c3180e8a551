"""How printed film looks on a light table, from the side it was printed on and from its back.

White is a layer that scatters (Kubelka and Munk 1931; what passes it after Kubelka 1948), ink a clear filter: colour over white
has been through it twice, light from the table comes through once. Light that goes to and fro between layers more than once is
left out. Approximation, for looking, not for measuring: how bright table and room are is chosen so that both sides can be read.
"""

from typing import Final, NamedTuple

import numpy as np

from filmhand.colour import kubelka_munk
from filmhand.colour.opacity import Opacity, laid
from filmhand.proof.dots import Floats

TABLE: Final = 0.95
"""Light of the table, of the brightest that a picture shows."""
_ROOM: Final = 0.4
"""Light of the room on the film, likewise."""


class UnderFilm(NamedTuple):
    """White, (...) each. `volume`: where it lies, 1 = one full layer. `share`: of the film, how much has it."""

    volume: Floats
    share: Floats


def light(film: Floats, colour: Floats, white: UnderFilm, *, opacity: Opacity, from_back: bool) -> Floats:
    """Linear light (..., 3), red, green and blue, 0 to 1.

    `film`: share (...) of film, 0 to 1. `colour`: linear light (..., 3) of the ink within the film over full white. `from_back`:
    seen through the bare film's side, the colour lies before the white; else the white lies on the colour.
    """
    area, thickness = laid(white.volume, opacity.closes_at)
    reflected, passed = _white(thickness, opacity)
    ink = np.clip(colour, 0, 1)
    without = TABLE * np.sqrt(ink)
    under_white = _ROOM * reflected[..., None] * (ink if from_back else 1) + passed[..., None] * without
    printed = without + (area * white.share)[..., None] * (under_white - without)
    return np.asarray(TABLE + film[..., None] * (printed - TABLE))


def _white(thickness: Floats, opacity: Opacity) -> tuple[Floats, Floats]:
    """What a layer of white reflects over black, and what it lets pass: T² = (a - R)² - b² (Kubelka 1948)."""
    infinite, scatter = float(np.mean(opacity.infinite)), float(np.mean(opacity.scatter))
    reflected = kubelka_munk.layer(np.zeros_like(thickness), infinite=infinite, scatter=scatter * thickness)
    a, b = (1 / infinite + infinite) / 2, (1 / infinite - infinite) / 2
    return reflected, np.sqrt(np.maximum((a - reflected) ** 2 - b**2, 0))

"""A curve an ink that brings a printer back to its chart, and the small JSON file that holds them.

A printer that has drifted lays an ink that is sent as `sent` as it laid `acts_as` when its chart was printed. Between knots the
curves are the monotone cubics of Fritsch and Carlson 1980 ("Monotone piecewise cubic interpolation"), so that no tone is turned.
"""

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Annotated, Final, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

Floats = NDArray[np.float64]

MOST: Final = 1.5
"""No curve says that an ink acts as more than this: such a printer wants another chart."""
_SAMPLES: Final = 257

Amount = Annotated[float, Field(ge=0, le=MOST, allow_inf_nan=False)]


class UnusableCurvesError(ValueError):
    """The bytes are no whole curves of a version that this program knows; the message says what is wrong."""


class InkCurve(BaseModel):
    """Knots of one ink's curve, from none to full: amounts sent, 0 to 1, and what they act as. Both rise."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    sent: tuple[Amount, ...]
    acts_as: tuple[Amount, ...]

    @model_validator(mode="after")
    def _rising(self) -> Self:
        if len(self.sent) != len(self.acts_as) or not self.sent:
            raise ValueError("expected as many amounts sent as amounts they act as")
        if any(low >= high for knots in (self.sent, self.acts_as) for low, high in pairwise(knots)):
            raise ValueError("expected amounts that rise")
        if (self.sent[0], self.sent[-1], self.acts_as[0]) != (0, 1, 0):
            raise ValueError("expected amounts from 0, those sent to 1")
        return self


class Curves(BaseModel):
    """The curves of a printer's inks, by letter; an ink without one has not moved. `model`: digest of the ink model they mend."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["filmhand drift curves"] = "filmhand drift curves"
    version: Literal[1] = 1
    model: str
    about: dict[str, str] = {}
    """What a person may want to know: which readings, when."""
    inks: dict[str, InkCurve]

    def acts_as(self, sent: Floats, *, inks: Sequence[str]) -> Floats:
        """What amounts (..., k) sent, 0 to 1, act as; columns are `inks`. Above 1: more than full ink was when charted."""
        return self._through(sent, inks, back=False)

    def sent_for(self, acting: Floats, *, inks: Sequence[str]) -> Floats:
        """What to send, (..., k), so that it acts as these amounts; 1 where even full ink falls short. Undoes `acts_as`."""
        return self._through(acting, inks, back=True)

    def _through(self, amounts: Floats, inks: Sequence[str], *, back: bool) -> Floats:
        result = np.array(amounts, np.float64)
        for column, ink in enumerate(inks):
            if ink in self.inks:
                sent, acting = _table(self.inks[ink])
                result[..., column] = (
                    np.interp(amounts[..., column], acting, sent) if back else np.interp(amounts[..., column], sent, acting)
                )
        return result


def to_bytes(curves: Curves) -> bytes:
    """The file: JSON that a person can read."""
    return (curves.model_dump_json(indent=1) + "\n").encode()


def from_bytes(content: bytes) -> Curves:
    """The curves in a file. UnusableCurvesError where it is damaged, of another kind or of another version."""
    try:
        return Curves.model_validate_json(content)
    except ValidationError as problem:
        error = problem.errors()[0]
        where = ".".join(str(part) for part in error["loc"]) or "the file"
        raise UnusableCurvesError(f"{where}: {error['msg']}") from None


@lru_cache(maxsize=64)
def _table(curve: InkCurve) -> tuple[Floats, Floats]:
    """Amounts sent and what they act as, close enough together to be joined by straight lines; both rise."""
    x, y = np.array(curve.sent), np.array(curve.acts_as)
    at = np.union1d(np.linspace(0, 1, _SAMPLES), x)
    slopes = _slopes(x, y)
    i = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    width = x[i + 1] - x[i]
    t = (at - x[i]) / width
    cubic = (
        (1 + 2 * t) * (1 - t) ** 2 * y[i]
        + t * (1 - t) ** 2 * width * slopes[i]
        + t**2 * (3 - 2 * t) * y[i + 1]
        + t**2 * (t - 1) * width * slopes[i + 1]
    )
    return at, np.asarray(cubic)


def _slopes(x: Floats, y: Floats) -> Floats:
    """A slope at each knot: harmonic means of the chords' beside it (Fritsch and Butland 1984); the ends take their chord's."""
    chords = np.diff(y) / np.diff(x)
    inner = 2 * chords[:-1] * chords[1:] / (chords[:-1] + chords[1:])
    return np.concatenate([chords[:1], inner, chords[-1:]])

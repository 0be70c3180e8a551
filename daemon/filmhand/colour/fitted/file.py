"""The ink model's file: JSON text that a person can read, and from which the model comes back to the last figure written.

`format` and `version` stand first. Numbers have seven significant figures, more than any instrument.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.fitted.halftones import STEPS, Halftones
from filmhand.colour.fitted.kriging import Kriging
from filmhand.colour.fitted.model import FittedInks
from filmhand.colour.opacity import Opacity

Floats = NDArray[np.float64]

FORMAT: Final = "filmhand ink model"
_VERSION: Final = 1
_FIGURES: Final = 7


class UnusableInksError(ValueError):
    """The bytes are not a whole ink model of a version that this program knows; the message says what is wrong."""


@dataclass(frozen=True)
class InksFile:
    """What a file holds. `opacity`: of the white, where its wedge was measured. `about`: what the file says about itself."""

    model: FittedInks
    opacity: Opacity | None
    about: dict[str, Any]


def to_bytes(model: FittedInks, *, about: Mapping[str, Any], opacity: Opacity | None = None) -> bytes:
    """The file of a model. `about`: what a person may want to know of it, such as the chart, its date and the accuracy."""
    facts = {
        "format": FORMAT,
        "version": _VERSION,
        "about": about,
        "inks": model.inks,
        "white_xyz": _listed(model.white),
        "yule_nielsen": model.halftones.n,
        "curves": _listed(model.halftones.curves),
        "overprints": _listed(model.halftones.overprints),
        "observer": _listed(model.observer),
        "rest": {
            "points": _listed(model.rest.points),
            "weights": _listed(model.rest.weights),
            "reach": model.rest.reach,
            "variances": _listed(model.rest.variances),
            "noises": _listed(model.rest.noises),
        },
        "white": None if opacity is None else {name: _listed(np.asarray(value)) for name, value in asdict(opacity).items()},
    }
    lines = ",\n".join(f"{json.dumps(key)}: {json.dumps(value)}" for key, value in facts.items())
    return f"{{\n{lines}\n}}\n".encode()


def from_bytes(content: bytes) -> InksFile:
    """What a file holds. UnusableInksError where it is damaged or of another kind."""
    try:
        facts = json.loads(content)
    except ValueError as problem:
        raise UnusableInksError(f"the file is no whole JSON text ({problem})") from None
    if not isinstance(facts, dict) or facts.get("format") != FORMAT:
        raise UnusableInksError(f'the file does not begin with "format": "{FORMAT}"')
    if facts.get("version") != _VERSION:
        raise UnusableInksError(f"the file is of version {facts.get('version')}; this program reads version {_VERSION}")
    try:
        return InksFile(_model(facts), _opacity(facts["white"]), dict(facts["about"]))
    except (KeyError, TypeError, ValueError) as problem:
        raise UnusableInksError(f"the file lacks something or has it in another form ({problem})") from None


def _model(facts: Mapping[str, Any]) -> FittedInks:
    inks = tuple(str(ink) for ink in facts["inks"])
    k, channels = len(inks), len(facts["observer"])
    rest = facts["rest"]
    patches = len(rest["points"])
    kriging = Kriging(
        points=_array(rest["points"], (patches, k)),
        weights=_array(rest["weights"], (patches, 3)),
        reach=float(rest["reach"]),
        variances=_array(rest["variances"], (3,)),
        noises=_array(rest["noises"], (3,)),
    )
    halftones = Halftones(
        curves=_array(facts["curves"], (k, STEPS, channels)),
        overprints=_array(facts["overprints"], (1 << k, channels)),
        n=float(facts["yule_nielsen"]),
    )
    return FittedInks(inks, _array(facts["white_xyz"], (3,)), halftones, _array(facts["observer"], (channels, 3)), kriging)


def _opacity(facts: Mapping[str, Any] | None) -> Opacity | None:
    if facts is None:
        return None
    return Opacity(
        infinite=_array(facts["infinite"], (3,)),
        scatter=_array(facts["scatter"], (3,)),
        chart_ground=_array(facts["chart_ground"], (3,)),
        closes_at=float(facts["closes_at"]),
        yule_nielsen=float(facts["yule_nielsen"]),
        amounts=tuple(float(amount) for amount in facts["amounts"]),
        volumes=tuple(float(volume) for volume in facts["volumes"]),
    )


def _array(value: Any, shape: tuple[int, ...]) -> Floats:
    array = np.array(value, dtype=np.float64)
    if array.shape != shape or not np.isfinite(array).all():
        raise ValueError(f"numbers of the form {array.shape} where {shape} is needed")
    return array


def _listed(array: Floats) -> Any:
    """Nested lists, rounded."""
    if array.ndim:
        return [_listed(row) for row in array]
    return float(f"{float(array):.{_FIGURES}g}")

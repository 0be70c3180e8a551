"""Which ink model a printer has: its profile's, or the nominal one."""

from pathlib import Path
from typing import Final

import numpy as np

from filmhand.colour.littlecms import UnusableProfileError
from filmhand.colour.model import InkModel
from filmhand.colour.nominal import nominal_model
from filmhand.colour.profile import CMYK, ProfileModel
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules, Intent, Printer

_HEADER_BYTES: Final = 128


def ink_model(printer: Printer, *, base: Path) -> InkModel:
    """The model of the printer's colour inks; `printer.profile` is a path relative to `base`.

    SettingsError where the profile is missing, is no CMYK output profile, or does not suit the printer's inks.
    """
    if printer.profile is None:
        return nominal_model(printer.colours)
    path = base / printer.profile
    if set(printer.colours) != set(CMYK):
        raise SettingsError(
            f"A CMYK profile cannot drive the inks {', '.join(printer.colours)}",
            file=path,
            next_step='Take the line "profile" out of the printer file, or make its inks C, M, Y, K and W',
        )
    model = ProfileModel(_read(path))
    _check(model, path)
    return model


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise SettingsError(
            f"The printer's colour profile cannot be read: {problem.strerror}",
            file=path,
            next_step='Put it there, or mend or remove "profile" in the printer file',
        ) from None


def _check(model: ProfileModel, path: Path) -> None:
    """Header fields by ICC.1:2010 section 7.2, then both ways through it, once."""
    header = model.icc[:_HEADER_BYTES]
    device_class, colour_space, signature = header[12:16], header[16:20], header[36:40]
    if signature != b"acsp":
        raise _unusable("This is not an ICC profile", path)
    if colour_space != b"CMYK" or device_class != b"prtr":
        raise _unusable("This is not an output profile for CMYK", path)
    try:
        model.xyz(model.inks_for(np.zeros((1, 3)), ColourRules(intent=Intent.PERCEPTUAL)))
    except UnusableProfileError:
        raise _unusable("This profile cannot be used both ways, from colour to ink and back", path) from None


def _unusable(what: str, path: Path) -> SettingsError:
    return SettingsError(
        what, file=path, next_step='Name a CMYK output profile as "profile" in the printer file, or remove that line'
    )

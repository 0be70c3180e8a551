"""The colour files that settings name: which ink model a printer has, assumed profiles, device links. Told by what they hold."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np

from filmhand.colour.charted import ChartedModel
from filmhand.colour.drifted import drifted
from filmhand.colour.expense import Expense
from filmhand.colour.fitted.file import UnusableInksError, from_bytes
from filmhand.colour.icc.header import COLOURED, LINK, OUTPUT, Kind, kind_of
from filmhand.colour.icc.link import DeviceLink
from filmhand.colour.littlecms import XYZ_PROFILE, Space, UnusableProfileError, Way
from filmhand.colour.model import InkModel
from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL
from filmhand.colour.profile import CMYK, ProfileModel
from filmhand.colour.transfer import UnusableCurvesError
from filmhand.errors import SettingsError
from filmhand.rules import ColourRules, Intent, Printer

_SIGNATURES: Final = {Space.RGB: b"RGB ", Space.CMYK: b"CMYK"}


def ink_model(printer: Printer, *, base: Path) -> InkModel:
    """The model of the printer's colour inks; `printer.profile` is a path relative to `base`.

    SettingsError where the profile is missing, is neither a CMYK output profile nor an ink model, or does not suit the printer's
    inks. Curves that `filmhand drift` left beside it are put to use.
    """
    if printer.profile is None:
        return nominal_model(printer.colours, expense=Expense.of(printer))
    path = base / printer.profile
    content = _read(path, "The printer's colour profile", 'Put it there, or mend or remove "profile" in the printer file')
    is_fitted = content.lstrip().startswith(b"{")
    model = _fitted_model(content, path, printer) if is_fitted else _profile_model(content, path, printer)
    return _with_curves(model, curves_beside(path))


def curves_beside(model_file: Path) -> Path:
    """Where the curves of a printer that has drifted lie: beside its ink model or profile."""
    return model_file.with_name(f"{model_file.name}.drift.json")


def _fitted_model(content: bytes, path: Path, printer: Printer) -> InkModel:
    mend = 'Fit the printer\'s chart again with filmhand fit, or remove the line "profile" from the printer file'
    try:
        kept = from_bytes(content)
    except UnusableInksError as problem:
        raise SettingsError(f"This ink model cannot be read: {problem}", file=path, next_step=mend) from None
    if kept.model.inks != tuple(printer.colours):
        raise SettingsError(
            f"This ink model is of the inks {', '.join(kept.model.inks)}, the printer has {', '.join(printer.colours)}",
            file=path,
            next_step=mend,
        )
    return ChartedModel(kept.model, Expense.of(printer), opacity=kept.opacity or NOMINAL)


def _profile_model(content: bytes, path: Path, printer: Printer) -> InkModel:
    mend = 'Name a CMYK output profile or an ink model as "profile" in the printer file, or remove that line'
    kind = _kind(content, path, mend)
    if (kind.device_class, kind.space) != (OUTPUT, b"CMYK"):
        raise SettingsError("This is not an output profile for CMYK", file=path, next_step=mend)
    if set(printer.colours) != set(CMYK):
        raise SettingsError(
            f"A CMYK profile cannot drive the inks {', '.join(printer.colours)}",
            file=path,
            next_step='Take the line "profile" out of the printer file, or make its inks C, M, Y, K and W',
        )
    model = ProfileModel(content, expense=Expense.of(printer, CMYK))
    what = "This profile cannot be used both ways, from colour to ink and back"
    _try(lambda: model.xyz(model.inks_for(np.zeros((1, 3)), ColourRules(intent=Intent.PERCEPTUAL))), what, path, mend)
    return model


def _with_curves(model: InkModel, path: Path) -> InkModel:
    if not path.exists():
        return model
    mend = "Measure the control strip again and run filmhand drift, or remove this file"
    try:
        return drifted(model, _read(path, "The curves of this printer", mend))
    except UnusableCurvesError as problem:
        raise SettingsError(f"These curves cannot be used: {problem}", file=path, next_step=mend) from None


def assumed_profile(name: str, *, space: Space, base: Path) -> bytes:
    """The profile that artwork without one is read through: RGB or CMYK, by `space`. `name`: a path relative to `base`.

    SettingsError where it is missing, is of another colour space, or says no colours.
    """
    path, said = base / name, space.upper()
    mend = f"Name a profile for {said} pictures there, or remove that line"
    content = _read(path, f"The profile assumed for {said} artwork", mend)
    kind = _kind(content, path, mend)
    if kind.space != _SIGNATURES[space] or kind.device_class not in COLOURED:
        raise SettingsError(f"This is not a profile for {said} pictures", file=path, next_step=mend)
    way = Way((content, space), (XYZ_PROFILE, Space.XYZ), Intent.RELATIVE, bpc=False)
    _try(lambda: way(np.zeros((1, len(said)))), "This profile cannot say what its values look like", path, mend)
    return content


def device_link(name: str, *, base: Path) -> DeviceLink:
    """The device link in a file, a path relative to `base`. SettingsError where it is missing or none from RGB to CMYK."""
    path = base / name
    mend = "Name a device link from RGB to CMYK there, or remove that line"
    content = _read(path, "The device link", mend)
    if _kind(content, path, mend) != Kind(LINK, b"RGB ", b"CMYK"):
        raise SettingsError("This is not a device link from RGB to CMYK", file=path, next_step=mend)
    link = DeviceLink(content)
    _try(lambda: link.cmyk(np.zeros((1, 3), np.uint8)), "This device link cannot be used", path, mend)
    return link


def _read(path: Path, what: str, mend: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise SettingsError(f"{what} cannot be read: {problem.strerror}", file=path, next_step=mend) from None


def _kind(content: bytes, path: Path, mend: str) -> Kind:
    kind = kind_of(content)
    if kind is None:
        raise SettingsError("This is not an ICC profile", file=path, next_step=mend)
    return kind


def _try(use: Callable[[], object], what: str, path: Path, mend: str) -> None:
    """Use a profile once, as a header alone is not enough."""
    try:
        use()
    except UnusableProfileError:
        raise SettingsError(what, file=path, next_step=mend) from None

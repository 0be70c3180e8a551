"""CxF 3 (ISO 17972-1, colour exchange format in XML): objects with colours and, beside them, what they were printed with.

Element and attribute names follow the schema as the classes that colour-cxf 0.1.1 was generated from carry it.
"""

from collections.abc import Mapping, Sequence
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from filmhand.colour.cielab import xyz_from_lab
from filmhand.colour.measured.conditions import refuse_other_conditions
from filmhand.colour.measured.ink_names import ink_letter
from filmhand.colour.measured.numbers_in_text import numbers
from filmhand.colour.measured.readings import Floats
from filmhand.colour.measured.scale import as_fractions
from filmhand.colour.measured.sheet import Labels, Printed, Seen, Sheet
from filmhand.colour.measured.spectra import even_spectra, xyz_of_spectra
from filmhand.colour.measured.unusable import UnusableChartError
from filmhand.intake.safe_xml import parsed
from filmhand.words import Words

_KINDS: Final = {"ReflectanceSpectrum": (), "ColorCIEXYZ": ("X", "Y", "Z"), "ColorCIELab": ("L", "A", "B")}
"""What can say a colour, the best first, and the elements within."""
_SPECTRUM: Final = "ReflectanceSpectrum"
_XYZ: Final = "ColorCIEXYZ"
_DEVICE: Final = ("ColorCMYK", "ColorCMYKPlusN", "ColorCustom")
_PROCESS: Final = {"Cyan": "C", "Magenta": "M", "Yellow": "Y", "Black": "K"}


def sheet_in_cxf(data: bytes) -> Sheet:
    """Objects with colours, and those with amounts: often the same, else joined by name. UnusableChartError as elsewhere.

    Objects may be measured under several conditions; the first colour specification that all of them have counts.
    """
    root = parsed(data)
    if isinstance(root, Words):
        raise UnusableChartError(f"This file cannot be read: {root}", next_step="Export the measurements again")
    if _name(root) != "CxF":
        raise UnusableChartError(
            "This XML file is no CxF 3 file", next_step="Export the measurements as CGATS text or CxF 3 and try again"
        )
    objects = [element for element in root.iter() if _name(element) == "Object"]
    return Sheet(_printed(objects), _seen(objects, _specifications(root)))


def _seen(objects: Sequence[Element], specifications: Mapping[str, Element]) -> Seen | None:
    """The best kind of colour that any object has; objects without it, targets and the like, are passed over."""
    for kind in _KINDS:
        measured = [(thing, values) for thing in objects if (values := _all(_child(thing, "ColorValues"), kind))]
        if measured:
            break
    else:
        return None
    common = _common_specification([values for _, values in measured], objects=[thing for thing, _ in measured])
    chosen = [next(value for value in values if value.get("ColorSpecification") == common) for _, values in measured]
    labels = _labels([thing for thing, _ in measured])
    specification = specifications.get(common or "")
    if kind == _SPECTRUM:
        spectra = even_spectra(*_spectral(chosen, specification, names=labels[0]))
        return Seen(labels, xyz_of_spectra(spectra), spectra)
    refuse_other_conditions(illuminant=_text(specification, "Illuminant"), observer=_text(specification, "Observer"))
    colours = np.stack([_column(chosen, part, names=labels[0]) for part in _KINDS[kind]], axis=1)
    return Seen(labels, as_fractions(colours) if kind == _XYZ else xyz_from_lab(colours))


def _common_specification(values: Sequence[Sequence[Element]], *, objects: Sequence[Element]) -> str | None:
    """The first colour specification of the first object that all the others have too."""
    each = [[value.get("ColorSpecification") for value in some] for some in values]
    for candidate in each[0]:
        if all(candidate in some for some in each):
            return candidate
    lacking = next(thing for thing, some in zip(objects, each, strict=True) if each[0][0] not in some)
    raise UnusableChartError(
        f"Patch {_label(lacking)} was measured under another condition than the first patch",
        next_step="Export all patches with the same colour specification",
    )


def _spectral(spectra: Sequence[Element], specification: Element | None, *, names: Sequence[str]) -> tuple[Floats, Floats]:
    """Wavelengths (w,) in nm and values (m, w)."""
    reach = next((element for element in _within(specification) if _name(element) == "WavelengthRange"), None)
    start = spectra[0].get("StartWL") or (reach.get("StartWL") if reach is not None else None)
    step = reach.get("Increment") if reach is not None else None
    if start is None or step is None:
        raise UnusableChartError(
            "The file does not say at which wavelengths its spectra begin and go on",
            next_step="Export again with the colour specification, or with XYZ or Lab values for D50 and 2 degree",
        )
    words = [(element.text or "").split() for element in spectra]
    for name, element, some in zip(names, spectra, words, strict=True):
        if len(some) != len(words[0]) or (element.get("StartWL") or start) != start:
            raise UnusableChartError(
                f"Patch {name} was measured at other wavelengths than the first patch", next_step="Export all at the same"
            )
    first, increment = numbers([start, step], what="the wavelengths", names=("(all)", "(all)"))
    values = [numbers(column, what="a reflectance", names=names) for column in zip(*words, strict=True)]
    return first + increment * np.arange(len(values)), np.stack(values, axis=1)


def _printed(objects: Sequence[Element]) -> Printed | None:
    amounts = {i: found for i, thing in enumerate(objects) if (found := _amounts(_child(thing, "DeviceColorValues")))}
    if not amounts:
        return None
    things = [objects[i] for i in amounts]
    labels = _labels(things)
    inks = list(dict.fromkeys(ink for found in amounts.values() for ink in found))
    letters = [ink_letter(ink) for ink in inks]
    for ink, letter in zip(inks, letters, strict=True):
        if letter is None or letters.count(letter) > 1:
            what = "is no ink that filmhand knows" if letter is None else "stands there under two names"
            raise UnusableChartError(f"The spot colour {ink!r} {what}", next_step="Name it Red, Green, Blue, Orange or White")
    columns = [numbers([found.get(ink, "0") for found in amounts.values()], what=ink, names=labels[0]) for ink in inks]
    return Printed(labels, tuple(letter for letter in letters if letter is not None), np.stack(columns, axis=1) / 100)


def _amounts(device: Element | None) -> dict[str, str]:
    """Percentages by ink, of the first kind of device colour that is there; a spot colour that is not named has none."""
    for kind in _DEVICE:
        for colour in _all(device, kind):
            process = {_PROCESS[_name(part)]: part.text or "" for part in colour if _name(part) in _PROCESS}
            spots = [part for part in colour if _name(part) == "SpotColor"]
            return process | {_text(spot, "Name"): _text(spot, "Percentage") for spot in spots}
    return {}


def _specifications(root: Element) -> dict[str, Element]:
    return {element.get("Id", ""): element for element in root.iter() if _name(element) == "ColorSpecification"}


def _labels(objects: Sequence[Element]) -> Labels:
    """The objects' names and ids, where each has one; those that tell all apart come first."""
    columns = [tuple(thing.get(key, "") for thing in objects) for key in ("Name", "Id")]
    whole = [column for column in columns if all(column)] or [tuple(str(i) for i in range(1, len(objects) + 1))]
    return tuple(sorted(whole, key=lambda column: len(set(column)) < len(column)))


def _label(thing: Element) -> str:
    return thing.get("Name") or thing.get("Id") or "without a name"


def _name(element: Element) -> str:
    """The tag without its namespace: that differs by the version of the format."""
    return str(element.tag).rpartition("}")[2]


def _within(element: Element | None) -> Sequence[Element]:
    return () if element is None else list(element.iter())


def _all(element: Element | None, name: str) -> list[Element]:
    return [] if element is None else [child for child in element if _name(child) == name]


def _child(element: Element, name: str) -> Element | None:
    return next(iter(_all(element, name)), None)


def _text(element: Element | None, name: str) -> str:
    return next(((found.text or "").strip() for found in _within(element) if _name(found) == name), "")


def _column(elements: Sequence[Element], part: str, *, names: Sequence[str]) -> Floats:
    return numbers([_text(element, part) for element in elements], what=part, names=names)

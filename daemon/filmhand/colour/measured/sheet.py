"""What a file of patches says before it is judged: what was printed, and what was seen."""

from dataclasses import dataclass

from filmhand.colour.measured.readings import Floats, Spectra

Labels = tuple[tuple[str, ...], ...]
"""Columns of names for the same patches, each as long as there are patches, the best name first; () where they have none."""


@dataclass(frozen=True, eq=False)
class Printed:
    """Ink amounts (m, k), 0 to 1 of full ink. `inks`: their letters; () where the file does not say which inks they are."""

    labels: Labels
    inks: tuple[str, ...]
    amounts: Floats


@dataclass(frozen=True, eq=False)
class Seen:
    """XYZ (m, 3), D50, 2° observer, Y 1 = perfect white diffuser; `spectra`, where the file has them."""

    labels: Labels
    xyz: Floats
    spectra: Spectra | None = None


@dataclass(frozen=True, eq=False)
class Sheet:
    """One file: either part may be missing, and be found in another file."""

    printed: Printed | None
    seen: Seen | None


def names_of(labels: Labels, count: int) -> tuple[str, ...]:
    """What to call each patch: by its best name, else its running number."""
    return labels[0] if labels else tuple(str(number) for number in range(1, count + 1))

"""The separation table: for a grid of source colours, how much film, which inks over how much white, read for every pixel.

Alpha is no axis of it: half transparent artwork has proportionally less coverage, and the film's inks stay (see knockout.py).
Colours are relative to the fullest white as it lies on the garment (underbase.py); inks are kept as tones (printer_tone.py).
"""

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import durable
from filmhand.colour.black_point import compensated
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.inverse.settle import EXACT, Nodes
from filmhand.colour.model import InkModel, darkest_gray
from filmhand.colour.neugebauer import between
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.source import xyz_of_source
from filmhand.colour.srgb import xyz_of_hex
from filmhand.errors import MachineError
from filmhand.rules import Intent, KnockoutRules, Rule
from filmhand.separation import lookup
from filmhand.separation.axes import Axes, axes_about_garment, even_axes, nodes
from filmhand.separation.grid import Grid, grid_of
from filmhand.separation.knockout import Ground, least_coverage
from filmhand.separation.knockout_between import Wanted, raised_between
from filmhand.separation.linked import Linked
from filmhand.separation.solid import NEARLY_WHOLE, made_solid
from filmhand.separation.underbase import Film, Underbase, evened, least_white
from filmhand.separation.wanted import Look, Looks, Setting

Bytes = NDArray[np.uint8]
Wholes = NDArray[np.uint16]
Reals = NDArray[np.float32]
Floats = NDArray[np.float64]

_RECIPE: Final = "10"
"""Part of every cached table's key: raise it whenever this or a module below computes other numbers."""
_DARK_L: Final = (20.0, 45.0)
"""L* up to which a colour is dark, and from which it no longer is."""
_DIGEST_BYTES: Final = 32
_FILES: Final = {"assume_rgb", "assume_cmyk", "link"}
"""What the rule only names: a table's key has their contents, where these decide."""
_EDGES: Final = {"choke", "island_choke"}
"""What plays no part before dots are laid."""


@dataclass(frozen=True, eq=False)
class SeparationTable:
    """Nodes over source RGB, and what each separates to.

    `inks`: letters of the ink model's inks. `axes`: node values of red, green and blue, rising, 0 and 255 among them.
    `values`: (r, g, b, 1 + k) float32: coverage, 0 to 1, then each ink's tone, 0 to 1 within the film, times coverage.
    `white`: (r, g, b) float32: volume of white within the film, 1 = one full layer; of no account where coverage is 0.
    `misses`: (r, g, b) float32: ΔE00 from the source colour to the nearest that film can print.
    `least_coverage`: least coverage but none, 0 to 1. `most_white`: volume of the fullest white. `film_share`: (3,): over it, on
    the garment, film has the ink model's XYZ times this. `whole_from`: coverage that counts as whole, 0 to 1.
    """

    inks: tuple[str, ...]
    axes: Axes
    values: Reals
    white: Reals
    misses: Reals
    least_coverage: float
    most_white: float
    film_share: Floats
    whole_from: float = 1.0

    def apply(self, pixels: Bytes) -> tuple[Bytes, Bytes, Wholes]:
        """Tones (k, h, w), 255 = full ink within the film, coverage (h, w), 255 = film everywhere, and white (h, w) uint16, 255 =
        one full layer, of pixels (h, w, 4).

        Pixels are straight RGB and alpha, 255 = opaque. Inks and white are 0 where coverage is.
        """
        (h, w), k = pixels.shape[:2], len(self.inks)
        planes, coverage = np.zeros((k + 2, h, w), np.uint8), np.zeros((h, w), np.uint8)
        lookup.separate_pixels(pixels, self.grid, lookup.Planes(planes, coverage, self.places_in(self.inks), k, k + 1, 255))
        return planes[:k], coverage, planes[k].astype(np.uint16) + planes[k + 1]

    def places_in(self, order: Sequence[str]) -> NDArray[np.uint32]:
        """For the kernels: the plane of each of the table's inks in an order of planes."""
        return np.array([order.index(ink) for ink in self.inks], np.uint32)

    @cached_property
    def grid(self) -> Grid:
        """The table for the kernels."""
        least, whole = self.least_coverage, self.whole_from
        return grid_of(self.values, axes=self.axes, least=least, whole=whole, white=self.white)

    @cached_property
    def miss_grid(self) -> Grid:
        """`misses` for the kernels."""
        return grid_of(self.misses[..., None], axes=self.axes, least=self.least_coverage)


def build_table(
    profile: bytes | None,
    *,
    model: InkModel,
    garment: str,
    rule: Rule,
    linked: Linked | None = None,
    second_white: bool = False,
) -> SeparationTable:
    """The table for a source profile (None: sRGB), a printer's ink model, and a garment colour "#rrggbb", by a rule.

    `second_white`: the printer can lay white a second time. Without knockout the garment plays no part but in the white, and the
    inks are the model's own for the rule's intent, or the link's.
    """
    ground, rules = xyz_of_hex(garment), rule.knockout
    underbase = Underbase.of(rule.underbase, opacity=model.opacity, garment=ground, second_white=second_white)
    setting = Setting(profile, model, underbase.garment_seen, rule, linked)
    looks = Looks(setting)
    drawn = replace(setting, garment=ground)  # artwork in the garment's colour has its very values
    axes = axes_about_garment(drawn, looks) if rules.strength > 0 else even_axes()
    rgb, sizes = nodes(axes), tuple(len(axis) for axis in axes)
    look = looks.of(rgb)
    coverage, inks = _film(look, setting, axes)
    inks = _settled(coverage, inks, setting, axes)
    white = _white(coverage, inks, look, (setting, underbase)).reshape(sizes)
    tones = printer_tone(model).tones(inks, inks=model.inks)
    values = np.concatenate([coverage[:, None], coverage[:, None] * tones], axis=1).astype(np.float32)
    return SeparationTable(
        inks=model.inks,
        axes=axes,
        values=values.reshape(*sizes, -1),
        white=evened(white, coverage.reshape(sizes) > 0, axes).astype(np.float32),
        misses=_misses(rgb, setting).astype(np.float32).reshape(sizes),
        least_coverage=rules.least_coverage / 100 if rules.strength > 0 else 0.0,
        whole_from=NEARLY_WHOLE if rules.strength > 0 and rules.solid_from < 100 else 1.0,  # noqa: PLR2004 -- percent
        most_white=underbase.most,
        film_share=underbase.film_share,
    )


def cached_table(
    profile: bytes | None,
    *,
    model: InkModel,
    rule: Rule,
    cache: Path,
    linked: Linked | None = None,
    second_white: bool = False,
) -> SeparationTable:
    """As `build_table` on the rule's garment, kept in the folder `cache` (made if missing) under a digest of all that decides it.

    A file there that is damaged is built anew.
    """
    key = _key(profile, model, rule, second_white) + ("" if linked is None else f"-{linked.digest}")
    path = cache / f"{key}.table"
    table = _read(path)
    durable.used(path)
    if table is None:
        table = build_table(profile, model=model, garment=rule.garment, rule=rule, linked=linked, second_white=second_white)
        _write(path, table)
    return table


def _film(look: Look, setting: Setting, axes: Axes) -> tuple[Floats, Floats]:
    """Coverage (m,) and the inks within the film (m, k)."""
    rules, model = setting.rule.knockout, setting.model
    if rules.strength == 0:
        return np.ones(len(look.inks)), look.inks
    ground = Ground.under(setting.garment, model, setting.rule.colour)
    least, solid_miss = np.zeros((2, len(look.inks)))
    printed = look.share > 0
    wanted = look.wanted[printed]
    allowed = np.maximum(look.slack[printed] * _allowed_share(wanted) - EXACT, 0)  # smoothing the inks may miss by EXACT more
    least[printed], solid_miss[printed] = least_coverage(wanted, ground, allowed)
    sizes = [len(axis) for axis in axes]
    everywhere = Wanted(axes, look.wanted.reshape(*sizes, 3), solid_miss.reshape(sizes), rules.tolerance)
    least = raised_between(least.reshape(sizes), everywhere, ground).ravel()
    coverage = 1 - rules.strength * (1 - least)
    coverage = np.where(coverage > 0, np.maximum(coverage, rules.least_coverage / 100), 0)
    wanted = between(look.full, look.wanted, rules.strength, n=model.yule_nielsen)
    coverage = _solid(coverage, wanted, ground, rules)
    inks = np.zeros_like(look.inks)
    printed = coverage > 0
    inks[printed] = ground.inks(wanted[printed], coverage[printed])
    return coverage, inks


def _solid(coverage: Floats, wanted: Floats, ground: Ground, rules: KnockoutRules) -> Floats:
    """Nearly whole film made whole (m,), but where that would miss what is wanted by more than the tolerance."""
    solid = made_solid(coverage, solid_from=rules.solid_from / 100)
    more = np.flatnonzero(solid > coverage)
    kept = more[ground.miss(wanted[more], solid[more]) > max(rules.tolerance, ground.tight)]
    solid[kept] = coverage[kept]
    return solid


def _settled(coverage: Floats, inks: Floats, setting: Setting, axes: Axes) -> Floats:
    """The inks (m, k) with the tolerance of least ink spent, and smooth from node to node of film. A link's own stay."""
    if setting.linked is not None and setting.rule.knockout.strength == 0:
        return inks
    sizes = tuple(len(axis) for axis in axes)
    nodes = Nodes(axes, (coverage > 0).reshape(sizes))
    return setting.model.settled(inks.reshape(*sizes, -1), nodes, setting.rule.colour).reshape(inks.shape)


def _white(coverage: Floats, inks: Floats, look: Look, on: tuple[Setting, Underbase]) -> Floats:
    """White (m,), in volume, under film of a coverage (m,) and inks (m, k)."""
    setting, underbase = on
    rules, n = setting.rule.knockout, setting.model.yule_nielsen
    slack, promised = (look.slack, rules.tolerance) if rules.strength > 0 else (np.full(len(coverage), np.inf), np.inf)
    wanted = between(look.full, look.wanted, rules.strength, n=n)
    return least_white(Film(setting.model.xyz(inks), coverage, wanted, slack, promised, n), underbase)


def _allowed_share(wanted: Floats) -> Floats:
    """Part (m,) of the tolerance that film may miss colours (m, 3) by for the sake of less film: half, in the dark all of it.

    There it saves most, as dots of a clear colour stand in for dark film; elsewhere it would hardly save any (measured).
    """
    return np.asarray(np.interp(lab_from_xyz(wanted)[:, 0], _DARK_L, (1.0, 0.5)))


def _misses(rgb: Bytes, setting: Setting) -> Floats:
    """ΔE00 (m,) from source colours, with the source's black brought to the film's if the rule says so, to the nearest print."""
    model, rules = setting.model, setting.rule.colour
    bpc = rules.black_point_compensation
    colours = xyz_of_source(rgb, profile=setting.profile, intent=Intent.RELATIVE, bpc=bpc)
    if bpc:
        colours = compensated(colours, black=np.zeros(3), to=darkest_gray(model, rules))
    return difference(lab_from_xyz(colours), lab_from_xyz(model.xyz(model.exact_inks_for(colours, rules))))


def _key(profile: bytes | None, model: InkModel, rule: Rule, second_white: bool) -> str:
    """SHA-256 of all that decides a table."""
    source = "sRGB" if profile is None else hashlib.sha256(profile).hexdigest()
    rules = (
        rule.colour.model_dump_json(exclude=_FILES),
        rule.knockout.model_dump_json(),
        rule.underbase.model_dump_json(exclude=_EDGES),
        str(second_white),
    )
    return hashlib.sha256("\n".join((_RECIPE, source, model.digest, rule.garment.lower(), *rules)).encode()).hexdigest()


def _read(path: Path) -> SeparationTable | None:
    """The table in a file, None where there is none or its digest says that it is damaged."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    digest, archive = content[:_DIGEST_BYTES], content[_DIGEST_BYTES:]
    if hashlib.sha256(archive).digest() != digest:
        return None
    with np.load(io.BytesIO(archive), allow_pickle=False) as arrays:
        return SeparationTable(
            inks=tuple(str(ink) for ink in arrays["inks"]),
            axes=(arrays["red"], arrays["green"], arrays["blue"]),
            values=arrays["values"],
            white=arrays["white"],
            misses=arrays["misses"],
            least_coverage=float(arrays["least_coverage"]),
            whole_from=float(arrays["whole_from"]),
            most_white=float(arrays["most_white"]),
            film_share=arrays["film_share"],
        )


def _write(path: Path, table: SeparationTable) -> None:
    """Keep a table, its digest first; the file appears whole or not at all."""
    archive = io.BytesIO()
    red, green, blue = table.axes
    np.savez(
        archive,
        inks=np.array(table.inks),
        red=red,
        green=green,
        blue=blue,
        values=table.values,
        white=table.white,
        misses=table.misses,
        least_coverage=np.array(table.least_coverage),
        whole_from=np.array(table.whole_from),
        most_white=np.array(table.most_white),
        film_share=table.film_share,
    )
    content = archive.getvalue()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        durable.write(path, hashlib.sha256(content).digest() + content, by_several=True)
    except OSError as problem:
        raise MachineError(
            f"A separation table cannot be kept: {problem.strerror}",
            file=path.parent,
            next_step="Make room there, or let filmhand write there",
        ) from None

"""Boundaries of gamuts, against volumes and hulls computed by other means, the inverse of the ink model, and printed charts."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial import ConvexHull, Delaunay

from colour.published_sets import fitted_press, published
from filmhand.colour import cielab, srgb
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.gamut_boundary import GamutBoundary, enclosing, printable_boundary, srgb_boundary
from filmhand.colour.gamut_mapping import mapped
from filmhand.colour.gamut_space import lab_from_xyz, lch_from_xyz, xyz_from_lch
from filmhand.colour.gamut_surface import surface
from filmhand.colour.nominal import nominal_model
from filmhand.colour.sectors import sectors
from filmhand.rules import ColourRules, Intent

Floats = NDArray[np.float64]

CMYK = nominal_model(("C", "M", "Y", "K"))
NINE = nominal_model(("C", "M", "Y", "K", "R", "G", "B", "O"))
SRGB = srgb_boundary(black=np.zeros(3))


def apart(first: Floats, second: Floats) -> Floats:
    """ΔE00 between XYZ."""
    return difference(cielab.lab_from_xyz(first), cielab.lab_from_xyz(second))


def within(gamut: GamutBoundary, count: int, *, edge: bool = False) -> Floats:
    """XYZ (count, 3) of random colours of a gamut, or of its edge."""
    rng = np.random.default_rng(3)
    L, h = rng.uniform(gamut.darkest, gamut.lightest, count), rng.uniform(0, 360, count)
    share = np.ones(count) if edge else np.sqrt(rng.random(count))
    return xyz_from_lch(np.stack([L, share * gamut.most_chroma(L, h), h], axis=-1))


def alpha_volume(points: Floats, radius: float) -> float:
    """Volume of the alpha hull (Edelsbrunner and Mücke 1994): Delaunay's tetrahedra whose circumsphere is no larger."""
    corners = points[Delaunay(points).simplices]
    sides = corners[:, 1:] - corners[:, :1]
    volume = np.abs(np.linalg.det(sides)) / 6
    sides, volume = sides[volume > 1e-9], volume[volume > 1e-9]
    centre = np.linalg.solve(2 * sides, (sides**2).sum(axis=-1)[..., None])[..., 0]
    return float(volume[np.linalg.norm(centre, axis=1) < radius].sum())


def test_lightness_chroma_and_hue_lead_back() -> None:
    """XYZ to lightness, chroma and hue and back, for colours of sRGB; grays have no chroma."""
    xyz = srgb.xyz_from_srgb(np.random.default_rng(0).integers(0, 256, (500, 3), np.uint8))
    assert xyz_from_lch(lch_from_xyz(xyz)) == pytest.approx(xyz, abs=1e-12)
    assert lch_from_xyz(0.18 * D50_WHITE)[1] < 1e-9


def test_volume_of_srgb_in_cielab() -> None:
    """832,870 cubic CIELAB units (B. Lindbloom's page on RGB working spaces, from memory), within 0.1 %."""
    rgb, triangles = surface([(0, 1, 2)], inks=3, limit=3.0)
    points = cielab.lab_from_xyz(srgb.decode(rgb) @ srgb.TO_XYZ.T)
    assert enclosing(points, triangles).volume == pytest.approx(832_870, rel=1e-3)


def test_what_srgb_holds() -> None:
    """A colour is in sRGB where its linear light is 0 to 1 (IEC 61966-2-1): so for 99.9 %, the rest lie at the edge."""
    lab = np.random.default_rng(1).uniform((0, -70, -70), (100, 70, 70), (100_000, 3))
    lch = np.stack([lab[:, 0], np.hypot(lab[:, 1], lab[:, 2]), np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360], axis=-1)
    xyz = xyz_from_lch(lch)
    light = xyz @ srgb.FROM_XYZ.T
    truly = ((light >= 0) & (light <= 1)).all(axis=1)
    assert truly.sum() > 10_000
    assert (SRGB.holds(xyz) == truly).mean() > 0.999
    assert SRGB.holds(xyz[truly], tolerance=0.5).mean() > 0.9995
    assert np.abs(light - light.clip(0, 1))[SRGB.holds(xyz)].max() < 1e-3


@pytest.mark.parametrize("inks", ["CMY", "CMYK"])
def test_volume_of_a_print_equals_its_alpha_hull(inks: str) -> None:
    """The alpha hull of 6000 random mixes and the sheets has the same volume within 0.3 %; the convex hull has more."""
    model = nominal_model(tuple(inks))
    sheets, _ = surface([range(len(inks))], inks=len(inks), limit=float(len(inks)))
    mixes = np.concatenate([sheets, np.random.default_rng(0).random((6000, len(inks)))])
    points = np.unique(lab_from_xyz(model.xyz(mixes)).round(4), axis=0)
    volume = printable_boundary(model, limit=float(len(inks))).volume
    assert volume == pytest.approx(alpha_volume(points, 8.0), rel=3e-3)
    assert volume < ConvexHull(points).volume


@pytest.mark.parametrize("limit", [150, 220, 400])
def test_the_edge_is_printable(limit: int) -> None:
    """The inverse of the model finds inks within the limit for every colour of the edge, within ΔE00 0.5."""
    colours = within(printable_boundary(CMYK, limit=limit / 100), 1500, edge=True)
    inks = CMYK.exact_inks_for(colours, ColourRules(ink_limit=limit))
    assert apart(CMYK.xyz(inks), colours).max() < 0.5
    assert apart(CMYK.xyz(inks), colours).mean() < 0.05


def test_the_edge_of_eight_inks_is_printable() -> None:
    """SciPy's SLSQP finds inks of one sector, within the limit, for every colour of the edge it was given, within ΔE00 0.3."""
    for colour in within(printable_boundary(NINE, limit=2.2), 12, edge=True):
        assert min(best_miss(colour, [NINE.inks.index(ink) for ink in sector]) for sector in sectors(NINE.inks)) < 0.3


def best_miss(colour: Floats, places: list[int]) -> float:
    """The least ΔE00 from a colour (3,) to what some of the eight inks print at 220 % at most."""

    def printed(amounts: Floats) -> Floats:
        inks = np.zeros(len(NINE.inks))
        inks[places] = np.clip(amounts, 0, 1)
        return NINE.xyz(inks)

    found = minimize(
        lambda amounts: float(((lab_from_xyz(printed(amounts)) - lab_from_xyz(colour)) ** 2).sum()),
        np.full(len(places), 0.4),
        bounds=[(0, 1)] * len(places),
        constraints={"type": "ineq", "fun": lambda amounts: 2.2 - amounts.sum()},
        method="SLSQP",
        options={"maxiter": 200, "ftol": 1e-12},
    )
    return float(apart(printed(found.x), colour))


@pytest.mark.parametrize("limit", [1.5, 2.2, 4.0])
def test_no_print_lies_outside(limit: float) -> None:
    """Random mixes within the limit are in the gamut, or as dark as it gets; none is further out than half a unit."""
    rng = np.random.default_rng(2)
    inks = rng.random((20_000, 4)) ** rng.choice([0.2, 1, 5], (20_000, 1))
    inks *= np.minimum(1, limit / inks.sum(axis=1))[:, None]
    gamut, colours = printable_boundary(CMYK, limit=limit), CMYK.xyz(inks)
    light = lch_from_xyz(colours)[:, 0] > gamut.darkest + 2
    assert light.mean() > 0.5
    assert gamut.holds(colours[light], tolerance=0.5).all()


def test_a_lower_limit_and_fewer_inks_print_less() -> None:
    """Nowhere more chroma for less ink, nor for fewer inks."""
    lightness, hue = (axis.ravel() for axis in np.meshgrid(np.linspace(35, 98, 40), np.arange(0.0, 360, 5)))
    tight, wide = printable_boundary(CMYK, limit=1.5), printable_boundary(CMYK, limit=2.2)
    nine = printable_boundary(NINE, limit=2.2)
    assert (tight.most_chroma(lightness, hue) <= wide.most_chroma(lightness, hue) + 0.1).all()
    assert (wide.most_chroma(lightness, hue) <= nine.most_chroma(lightness, hue) + 0.1).all()
    assert nine.volume > 1.2 * wide.volume


def test_white_and_black() -> None:
    """Film white is the lightest gray; the darkest is no darker than the darkest print, and sRGB's ends are black and white."""
    gamut = printable_boundary(CMYK, limit=4.0)
    assert gamut.lightest == pytest.approx(100, abs=1e-6)
    darkest = lch_from_xyz(CMYK.xyz(np.ones(4)))[0]
    assert darkest <= gamut.darkest < darkest + 1
    assert pytest.approx((0, 100), abs=1e-6) == (SRGB.darkest, SRGB.lightest)


def test_black_ink_alone() -> None:
    """Has no chroma, and its own solid for the darkest gray."""
    gamut = printable_boundary(nominal_model(("K",)), limit=1.0)
    assert gamut.chroma.max() < 1e-6
    assert gamut.darkest == pytest.approx(lch_from_xyz(CMYK.xyz(np.array([0.0, 0, 0, 1])))[0])


@pytest.mark.outside
def test_a_printed_chart_lies_inside() -> None:
    """Every patch of FOGRA39L is in the gamut of a model fitted to 416 of them, or within ΔE00 1 of it."""
    press = fitted_press()
    gamut = printable_boundary(press, limit=4.0)
    data = published("FOGRA39L")
    colours = data.xyz / press.film_white * D50_WHITE
    miss = apart(mapped(colours, gamut=gamut, intent=Intent.RELATIVE, source=SRGB), colours)
    assert miss.max() < 1.0
    assert miss.mean() < 0.06

"""Composing whole sheets: tones, edges, orientations and seams, judged on the TIFFs as tifffile reads them."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from filmhand import units
from filmhand.colour.nominal import nominal_model
from filmhand.errors import MachineError
from filmhand.gang import compose as composing
from filmhand.gang.compose import Composed, Piece, Target, compose
from filmhand.gang.sheet import Placement, Sheet
from filmhand.halftone.screening import screening_for
from filmhand.rules import OutputRules, Printer, Rule
from filmhand.separation.model import Separation

INKS = ("C", "M", "Y", "K", "W")
DPI = 720
TONES = [round(255 * percent / 100) for percent in range(0, 101, 5)]


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the blue-noise tile is kept."""
    return tmp_path_factory.mktemp("cache")


def mm(dots: int) -> float:
    """Length of so many dots."""
    return units.px_to_mm(dots, DPI)


def stored(folder: Path, planes: NDArray[np.uint8], coverage: NDArray[np.uint8], *, mm_size: tuple[float, float]) -> Path:
    """A separation made by hand, width and height in mm."""
    folder.mkdir()
    Separation(INKS, planes, coverage, *mm_size).save(folder)
    return folder


class Shop:
    """A folder to compose in, and the same settings for every sheet of a test."""

    def __init__(self, folder: Path, cache: Path, *, rule: Mapping[str, object] = {}, **printer: object) -> None:
        self.folder, self.cache = folder, cache
        self.printer = Printer.model_validate({"name": "p", "film_width": "60 mm", "margin": "0 mm", "mirror": False, **printer})
        self.rule = Rule.model_validate({"title": "t", **rule})
        self.number = 0

    def compose(
        self, sheet: Sheet, *separations: Path, output: Mapping[str, object] = {}, threads: int = 2
    ) -> tuple[Composed, Path]:
        """A sheet whose job k is the k-th separation."""
        self.number += 1
        out = self.folder / f"out{self.number}"
        out.mkdir()
        screening = screening_for(self.rule, printer=self.printer, cache=self.cache)
        pieces = {str(k): Piece(path, screening, "#1b1b1d") for k, path in enumerate(separations)}
        target = Target(self.printer, OutputRules.model_validate(output), nominal_model(INKS[:-1]))
        return compose(sheet, pieces, target=target, folder=out, threads=threads), out


def read(composed: Composed, folder: Path) -> dict[str, NDArray[np.uint8]]:
    """Each ink's samples."""
    if len(composed.files) == 1:
        return dict(zip(composed.inks, tifffile.imread(folder / composed.files[0]), strict=True))
    return {ink: tifffile.imread(folder / name) for ink, name in zip(composed.inks, composed.files, strict=True)}


def alone(size: tuple[int, int], rotation: float = 0, at: tuple[int, int] = (0, 0)) -> Sheet:
    """One copy on a sheet; sizes and places in dots, width first."""
    copy = Placement("0", 1, mm(at[0]), mm(at[1]), mm(size[0]), mm(size[1]), rotation)
    return Sheet("s", 60.0, mm(at[1] + size[1] + 5), (copy,))


def patches() -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """21 flat patches of 24 × 24 source pixels, 0 to 100 % of every ink, on full film."""
    row = np.repeat(np.array(TONES, np.uint8), 24)
    return np.broadcast_to(row, (5, 24, row.size)).copy(), np.full((24, row.size), 255, np.uint8)


@pytest.mark.parametrize("inks", ["blue-noise", "am"])
def test_flat_patches_keep_their_tone(tmp_path: Path, cache: Path, inks: str) -> None:
    """0 to 100 % in steps of 5: the mean of each 1-bit plane over a patch is its tone within 0.5 % of full scale."""
    shop = Shop(tmp_path, cache, rule={"halftone": {"inks": {"screen": inks}}, "underbase": {"choke": "0 mm"}})
    planes, coverage = patches()
    size = (planes.shape[2] * 3, planes.shape[1] * 11)
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(size[0]), mm(size[1])))
    composed, out = shop.compose(alone(size, at=(17, 5)), source)
    for samples in read(composed, out).values():
        for place, tone in enumerate(TONES):
            left = 17 + place * 72 + 3
            patch = samples[5 + 3 : 5 + size[1] - 3, left : left + 66]
            assert abs(patch.mean() - tone / 255) <= 0.005


def test_coverage_keeps_its_tone(tmp_path: Path, cache: Path) -> None:
    """Screened film: its share of a patch is the coverage within 0.5 %, and all ink lies on it."""
    shop = Shop(tmp_path, cache)
    row = np.repeat(np.array(TONES[:11], np.uint8), 24)
    coverage = np.broadcast_to(row, (24, row.size)).copy()
    planes = np.zeros((5, *coverage.shape), np.uint8)
    planes[0] = 255
    size = (coverage.shape[1] * 5, coverage.shape[0] * 25)
    composed, out = shop.compose(alone(size), stored(tmp_path / "a", planes, coverage, mm_size=(mm(size[0]), mm(size[1]))))
    cyan = read(composed, out)["C"]
    for place, tone in enumerate(TONES[:11]):
        assert abs(cyan[5 : size[1] - 5, place * 120 + 5 : place * 120 + 115].mean() - tone / 255) <= 0.005
    assert composed.film_dots == cyan.sum() == composed.dots["C"][0]


def picture(seed: int, height: int = 50, width: int = 70) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Planes and coverage with no symmetry: waves and noise, hard and soft edges, holes."""
    rng = np.random.default_rng(seed)
    planes = ndimage.gaussian_filter(rng.random((5, height, width)), (0, 2, 2))
    planes = (255 * (planes - planes.min()) / np.ptp(planes)).astype(np.uint8)
    planes[4] = 255
    coverage = np.full((height, width), 255, np.uint8)
    coverage[: height // 4] = np.linspace(0, 255, width)
    coverage[height // 2 : height // 2 + 9, 8:20] = 0
    coverage[-7:, -30:] = 0
    return planes, coverage


@pytest.mark.parametrize(
    ("bits", "screen"), [(1, "blue-noise"), (2, "blue-noise"), (8, "blue-noise"), (1, "error-diffusion"), (2, "error-diffusion")]
)
def test_bands_join_without_a_seam(tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch, bits: int, screen: str) -> None:
    """Bands of 64 rows and a band as long as the sheet, one thread and three: the same files, byte for byte."""
    rule = {"halftone": {"inks": {"screen": screen}}}
    shop = Shop(tmp_path, cache, rule=rule, bits=bits, drop_pl={"default": (4.0, 7.0, 14.0)})
    one, other = (stored(tmp_path / name, *picture(seed), mm_size=(20, 14)) for seed, name in enumerate("ab"))
    places = [Placement("0", 1, 1, 1.3, 20, 14, 0), Placement("1", 1, 25, 2, 14, 20, 90), Placement("0", 2, 3, 21, 20, 14, 180)]
    sheet = Sheet("s", 60.0, 40.0, tuple(places))
    files = []
    for band_bytes, threads in ((1 << 30, 1), (1, 3)):
        monkeypatch.setattr(composing, "_BAND_BYTES", band_bytes)
        composed, out = shop.compose(sheet, one, other, threads=threads)
        files.append({name: (out / name).read_bytes() for name in (*composed.files, composed.preview)})
    assert files[0] == files[1]


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_quarter_turns_and_mirror(tmp_path: Path, cache: Path, mirror: bool, rotation: int) -> None:
    """Composing a picture turned is composing the picture that numpy mirrored and turned first, dot for dot."""
    shop = Shop(tmp_path, cache, mirror=mirror)
    plain = Shop(tmp_path / "plain", cache)
    plain.folder.mkdir()
    planes, coverage = picture(3)
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(170), mm(121)))
    lying = [np.rot90(one[:, ::-1] if mirror else one, rotation // 90) for one in (*planes, coverage)]
    size = (170, 121) if rotation % 180 == 0 else (121, 170)
    turned = stored(tmp_path / "b", np.stack(lying[:5]), np.ascontiguousarray(lying[5]), mm_size=(mm(size[0]), mm(size[1])))
    composed = shop.compose(alone(size, rotation, at=(75, 33)), source)
    wanted = plain.compose(alone(size, at=(75, 33)), turned)
    for ink, samples in read(*composed).items():
        assert np.array_equal(samples, read(*wanted)[ink])
        assert samples.any()


@pytest.mark.parametrize("mirror", [False, True])
def test_any_other_angle(tmp_path: Path, cache: Path, mirror: bool) -> None:
    """30°: at 8 bits the plane is scipy's own turn of the enlarged picture, counter-clockwise, within a few tones."""
    shop = Shop(tmp_path, cache, mirror=mirror, bits=8, rule={"underbase": {"choke": "0 mm"}})
    planes, coverage = picture(4)
    coverage[:] = 255
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(210), mm(150)))
    width, height = 210 * np.cos(np.pi / 6) + 150 * 0.5, 210 * 0.5 + 150 * np.cos(np.pi / 6)
    copy = Placement("0", 1, 0, 0, float(mm(1) * width), float(mm(1) * height), 30)
    composed, out = shop.compose(Sheet("s", 60.0, 12.0, (copy,)), source)
    cyan = read(composed, out)["C"].astype(float)
    large = ndimage.zoom(planes[0].astype(float), 3, order=1, grid_mode=True, mode="nearest")
    # In arrays whose rows run down, scipy.ndimage.rotate turns from the second axis to the first: counter-clockwise as seen.
    wanted = ndimage.rotate(large[:, ::-1] if mirror else large, 30, order=1, mode="constant")
    middle = tuple(slice(side // 2 - 50, side // 2 + 50) for side in (round(height), round(width)))
    middle_wanted = tuple(slice(side // 2 - 50, side // 2 + 50) for side in wanted.shape)
    assert np.abs(cyan[middle] - wanted[middle_wanted]).max() < 8
    assert not cyan[:20, :20].any()
    again, _ = shop.compose(Sheet("s", 60.0, 12.0, (copy,)), source)
    assert again.samples == composed.samples


def test_white_is_choked_from_where_coverage_ends(tmp_path: Path, cache: Path) -> None:
    """White lies where scipy's distance to the nearest uncovered dot is more than the choke; colour reaches the edge."""
    shop = Shop(tmp_path, cache, rule={"underbase": {"choke": "0.15 mm", "island_choke": "0 mm"}})
    planes = np.full((5, 60, 80), 255, np.uint8)
    coverage = np.zeros((60, 80), np.uint8)
    coverage[10:50, 10:70] = 255
    coverage[25:30, 30:35] = 0
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(240), mm(180)))
    composed, out = shop.compose(alone((240, 180), at=(40, 64)), source)
    samples = read(composed, out)
    covered = np.zeros(samples["W"].shape, bool)
    enlarged = ndimage.map_coordinates(
        coverage.astype(float),
        np.meshgrid((np.arange(180) + 0.5) / 3 - 0.5, (np.arange(240) + 0.5) / 3 - 0.5, indexing="ij"),
        order=1,
    )
    covered[64:244, 40:280] = np.rint(enlarged) > 127
    far = ndimage.distance_transform_edt(covered) > units.mm_to_px(0.15, DPI)
    assert np.array_equal(samples["C"] > 0, covered)
    assert np.array_equal(samples["W"] > 0, far)
    assert samples["C"].sum() > samples["W"].sum() > 0


def test_smoothed_edges_print_sharp(tmp_path: Path, cache: Path) -> None:
    """A disc with the usual smoothed edge, whatever the screen: film is exactly where coverage is above one half, and round.

    Its area is πr² within 0.1 %, and no dot of film lies further than one dot from the circle on the wrong side.
    """
    shop = Shop(tmp_path, cache)
    y, x = np.mgrid[0:100, 0:100] - 49.5
    coverage = np.rint(255 * np.clip(40.5 - np.hypot(y, x), 0, 1)).astype(np.uint8)
    planes = np.full((5, 100, 100), 255, np.uint8)
    composed, out = shop.compose(alone((240, 240)), stored(tmp_path / "a", planes, coverage, mm_size=(mm(240), mm(240))))
    film = read(composed, out)["C"][:240, :240]
    y, x = np.mgrid[0:240, 0:240] - 119.5
    distance = np.hypot(y, x)
    assert film.sum() == pytest.approx(np.pi * 96**2, rel=0.001)
    assert film[distance < 95].all()
    assert not film[distance > 97].any()


def test_soft_edges_are_screened(tmp_path: Path, cache: Path) -> None:
    """A fade over 60 pixels keeps its tones: columns' means follow it within the screen's own coarseness."""
    single = {"coverage": {"screen": "blue-noise"}, "least_dot": "0 mm", "least_hole": "0 mm"}
    shop = Shop(tmp_path, cache, rule={"halftone": single})
    fade = np.clip(np.linspace(-40, 295, 80), 0, 255).astype(np.uint8)
    coverage = np.broadcast_to(fade, (60, 80)).copy()
    planes = np.full((5, 60, 80), 255, np.uint8)
    composed, out = shop.compose(alone((320, 384)), stored(tmp_path / "a", planes, coverage, mm_size=(mm(320), mm(384))))
    film = read(composed, out)["C"][64:320, :320]
    by_block = film.reshape(256, 40, 8).mean(axis=(0, 2))
    wanted = fade.reshape(40, 2).mean(axis=1) / 255
    assert np.abs(by_block - wanted).max() < 0.01


@pytest.mark.parametrize("choke_mm", [0.0, 0.04, 0.1])
def test_screened_film_keeps_its_white(tmp_path: Path, cache: Path, choke_mm: float) -> None:
    """In the middle of half-covered film every island has white all over, but for the islands' own choke (scipy's distance)."""
    planes, coverage = np.full((5, 60, 60), 255, np.uint8), np.full((60, 60), 128, np.uint8)
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(300), mm(300)))
    shop = Shop(tmp_path, cache, rule={"underbase": {"choke": "0.5 mm", "island_choke": f"{choke_mm} mm"}})
    samples = read(*shop.compose(alone((300, 300)), source))
    inner = (slice(30, 270), slice(30, 270))
    kept = ndimage.distance_transform_edt(samples["C"]) > units.mm_to_px(choke_mm, DPI)
    assert np.array_equal(samples["W"][inner] > 0, kept[inner])


def test_boxes_may_overlap(tmp_path: Path, cache: Path) -> None:
    """Two pieces whose boxes lie over one another but whose film does not: nothing of either is lost."""
    shop = Shop(tmp_path, cache)
    planes = np.full((5, 40, 40), 255, np.uint8)
    upper = np.where(np.add.outer(np.arange(40), np.arange(40)) < 30, 255, 0).astype(np.uint8)
    sources = [
        stored(tmp_path / name, planes, cover, mm_size=(10, 10)) for name, cover in (("a", upper), ("b", upper[::-1, ::-1]))
    ]
    both = [Placement("0", 1, 2, 2, 10, 10, 0), Placement("1", 1, 3, 3, 10, 10, 0)]
    together = shop.compose(Sheet("s", 60.0, 15.0, tuple(both)), *sources)[0]
    single = [shop.compose(Sheet("s", 60.0, 15.0, (one,)), *sources)[0] for one in both]
    for ink in INKS:
        assert together.dots[ink][0] == sum(one.dots[ink][0] for one in single)
    assert together.film_dots == sum(one.film_dots for one in single)


def test_three_drop_sizes_keep_the_tone(tmp_path: Path, cache: Path) -> None:
    """2 bits: the mean volume of each patch, drops of 4, 7 and 14 pl, is its tone within 0.5 %; counts are the file's."""
    shop = Shop(tmp_path, cache, bits=2, drop_pl={"default": (4.0, 7.0, 14.0)}, rule={"underbase": {"choke": "0 mm"}})
    planes, coverage = patches()
    size = (planes.shape[2] * 3, planes.shape[1] * 11)
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(size[0]), mm(size[1])))
    composed, out = shop.compose(alone(size), source)
    volumes = np.array([0, 4, 7, 14]) / 14
    for ink, samples in read(composed, out).items():
        for place, tone in enumerate(TONES):
            patch = samples[3 : size[1] - 3, place * 72 + 3 : place * 72 + 69]
            assert abs(volumes[patch].mean() - tone / 255) <= 0.005
        assert composed.dots[ink] == tuple(np.bincount(samples.ravel(), minlength=4)[1:])


def test_continuous_tone(tmp_path: Path, cache: Path) -> None:
    """8 bits: ink × coverage, unscreened; white choked; dots are the tones' sum in full dots."""
    shop = Shop(tmp_path, cache, bits=8)
    planes, coverage = np.zeros((5, 30, 30), np.uint8), np.full((30, 30), 128, np.uint8)
    planes[0], planes[4] = 200, 255
    composed, out = shop.compose(alone((90, 90)), stored(tmp_path / "a", planes, coverage, mm_size=(mm(90), mm(90))))
    samples = read(composed, out)
    assert (samples["C"][:90, :90] == round(200 * 128 / 255)).all()
    assert (samples["W"][5:85, 5:85] == 128).all()
    assert not samples["W"][:4].any()
    assert composed.dots["C"] == (round(samples["C"].sum(dtype=int) / 255),)
    assert composed.film_dots == round(90 * 90 * 128 / 255)


def test_one_file_holds_the_same(tmp_path: Path, cache: Path) -> None:
    """Form "one-file": the same planes in one TIFF."""
    shop = Shop(tmp_path, cache)
    source = stored(tmp_path / "a", *picture(8), mm_size=(20, 14))
    sheet = Sheet("s", 60.0, 20.0, (Placement("0", 1, 5, 1, 20, 14, 0),))
    planes, one = shop.compose(sheet, source), shop.compose(sheet, source, output={"form": "one-file"})
    assert one[0].files == ("s.tif",)
    assert planes[0].files == tuple(f"s_{ink}.tif" for ink in INKS)
    for ink, samples in read(*planes).items():
        assert np.array_equal(read(*one)[ink], samples)


def test_preview_is_right_reading(tmp_path: Path, cache: Path) -> None:
    """Mirrored for the film, the preview is not: cyan left, magenta right; the piece's garment in its box, the sheet's beside."""
    shop = Shop(tmp_path, cache, mirror=True)
    planes, coverage = np.zeros((5, 64, 64), np.uint8), np.full((64, 64), 255, np.uint8)
    planes[0, :, :20], planes[1, :, 44:], planes[4] = 255, 255, 255
    coverage[:, 24:40] = 0
    source = stored(tmp_path / "a", planes, coverage, mm_size=(mm(640), mm(640)))
    sheet = Sheet("s", 60.0, mm(960), (Placement("0", 1, 0, 0, mm(640), mm(640), 0),))
    composed, out = shop.compose(sheet, source)
    preview = np.asarray(Image.open(out / composed.preview))
    assert preview.shape == (60, -(-composed.width_dots // 16), 3)
    assert preview.shape[1] <= 1200
    cyan, bare, magenta = preview[20, -38], preview[20, -20], preview[20, -4]
    assert cyan[0] < 120 < cyan[2]
    assert magenta[1] < 120 < magenta[0]
    assert tuple(bare) == (0x1B, 0x1B, 0x1D)
    assert tuple(preview[50, -20]) == tuple(preview[20, 5]) == (255, 255, 255)


@pytest.mark.parametrize(
    ("placement", "message"),
    [
        (Placement("0", 1, 45, 0, 20, 14, 0), "beyond the film"),
        (Placement("0", 1, 0, 0, 20, 20, 0), "does not fit its place"),
        (Placement("0", 1, 0, 0, 20, 14, 90), "does not fit its place"),
    ],
)
def test_layouts_that_cannot_be(tmp_path: Path, cache: Path, placement: Placement, message: str) -> None:
    """A copy beyond the film, or a place of another size: refused before anything is written."""
    shop = Shop(tmp_path, cache)
    source = stored(tmp_path / "a", *picture(1), mm_size=(20, 14))
    with pytest.raises(MachineError, match=message):
        shop.compose(Sheet("s", 60.0, 30.0, (placement,)), source)
    assert not list((tmp_path / "out1").iterdir())


@pytest.mark.parametrize("hundredths", range(0, 8))
def test_art_to_the_very_edge_of_the_film(tmp_path: Path, cache: Path, hundredths: int) -> None:
    """With no margin, place and size are rounded apart: the copy is composed, whatever the fractions."""
    width = 20 + hundredths / 100
    source = stored(tmp_path / "a", *picture(1), mm_size=(width, 14))
    placement = Placement("0", 1, 60.0 - width, 30.0 - 14, width, 14, 0)
    composed, _ = Shop(tmp_path, cache).compose(Sheet("s", 60.0, 30.0, (placement,)), source)
    assert composed.film_dots > 0


def test_a_cut_separation_is_not_composed(tmp_path: Path, cache: Path) -> None:
    """A stored plane that ends early: refused, never printed as bare film."""
    source = stored(tmp_path / "a", *picture(1), mm_size=(20, 14))
    whole = (source / "planes.npy").read_bytes()
    (source / "planes.npy").write_bytes(whole[:-1])
    with pytest.raises(MachineError, match="cannot be read back whole"):
        Shop(tmp_path, cache).compose(Sheet("s", 60.0, 30.0, (Placement("0", 1, 0, 0, 20, 14, 0),)), source)

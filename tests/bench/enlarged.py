"""Figures for `enlarged` and `jpeg_blocks`: errors by kernel and factor, false alarms, blocks by JPEG quality, seconds.

    python tests/bench/enlarged.py [--more FOLDER] [--side 480]

Photographs are those of scikit-image's wheel; with --more also all JPEGs in a folder (china.jpg and flower.jpg of scikit-learn's
wheel, say, and grace_hopper.jpg of matplotlib's), which no threshold was chosen by. Each is cut to a square at most, left
untouched or enlarged by Pillow, OpenCV and scikit-image, saved as PNG would be, or as JPEG after. scikit-image's moon is left
out: it was enlarged twice before it was published, as its spectrum shows. Nothing here is asserted.
"""

import argparse
import io
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
import skimage.data
from numpy.typing import NDArray
from PIL import Image
from PIL.Image import Resampling
from skimage.transform import resize

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import jpeg_blocks
from filmhand.preflight.enlarged import enlargement
from filmhand.rules import Printer, Rule

Picture = NDArray[np.uint8]
Change = Callable[[Picture], Picture]

PHOTOGRAPHS = (
    "astronaut.png",
    "brick.png",
    "camera.png",
    "chelsea.png",
    "coffee.png",
    "coins.png",
    "grass.png",
    "gravel.png",
    "hubble_deep_field.jpg",
    "ihc.png",
    "motorcycle_left.png",
    "rocket.jpg",
    "retina.jpg",
    "cell.png",
    "clock_motion.png",
)
FACTORS = (1.5, 2, 3, 4)
KERNELS = ("nearest", "bilinear", "bicubic", "lanczos")
PILLOW = dict(zip(KERNELS, (Resampling.NEAREST, Resampling.BILINEAR, Resampling.BICUBIC, Resampling.LANCZOS), strict=True))
OPENCV = dict(zip(KERNELS, (cv2.INTER_NEAREST, cv2.INTER_LINEAR, cv2.INTER_CUBIC, cv2.INTER_LANCZOS4), strict=True))
SPLINES = {"nearest": 0, "bilinear": 1, "bicubic": 3}


def jpeg(picture: Picture, quality: int) -> Picture:
    """As it comes back from Pillow's encoder."""
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file))


def by_pillow(picture: Picture, factor: float, kernel: str) -> Picture:
    """Enlarged by Pillow."""
    size = round(picture.shape[1] * factor), round(picture.shape[0] * factor)
    return np.asarray(Image.fromarray(picture).resize(size, PILLOW[kernel]))


def by_opencv(picture: Picture, factor: float, kernel: str) -> Picture:
    """Enlarged by OpenCV."""
    return np.asarray(cv2.resize(picture, None, fx=factor, fy=factor, interpolation=OPENCV[kernel]), np.uint8)


def by_skimage(picture: Picture, factor: float, kernel: str) -> Picture:
    """Enlarged by scikit-image's splines; it has no Lanczos filter."""
    size = round(picture.shape[0] * factor), round(picture.shape[1] * factor)
    large = resize(picture.astype(float), size, order=SPLINES[kernel], mode="reflect", anti_aliasing=False)
    return np.rint(large.clip(0, 255)).astype(np.uint8)


def untouched() -> dict[str, Change]:
    """What may have happened to a picture that was not enlarged."""
    rng = np.random.default_rng(1)
    changes: dict[str, Change] = {"as it is": lambda picture: picture}
    for quality in (95, 90, 85, 75, 60):
        changes[f"JPEG {quality}"] = lambda picture, quality=quality: jpeg(picture, quality)
    for sigma in (0.7, 1.5):
        changes[f"defocused {sigma} px"] = lambda picture, sigma=sigma: np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma))
        changes[f"defocused {sigma} px, JPEG 90"] = lambda picture, sigma=sigma: jpeg(
            cv2.GaussianBlur(picture, (0, 0), sigma), 90
        )
    changes["noise of 4 levels"] = lambda picture: _noisy(picture, rng)
    changes["reduced to 0.7"] = lambda picture: by_pillow(picture, 0.7, "bicubic")
    changes["reduced to 0.6, JPEG 90"] = lambda picture: jpeg(by_pillow(picture, 0.6, "lanczos"), 90)
    changes["demosaicked"] = _demosaicked
    changes["demosaicked, JPEG 92"] = lambda picture: jpeg(_demosaicked(picture), 92)
    return changes


def _noisy(picture: Picture, rng: np.random.Generator) -> Picture:
    return np.clip(np.rint(picture + rng.normal(0, 4, picture.shape)), 0, 255).astype(np.uint8)


def _demosaicked(picture: Picture) -> Picture:
    """Seen through a Bayer mosaic (red at the corner) and interpolated by OpenCV."""
    mosaic = picture[..., 1].copy()
    mosaic[::2, ::2], mosaic[1::2, 1::2] = picture[::2, ::2, 0], picture[1::2, 1::2, 2]
    return np.asarray(cv2.cvtColor(mosaic, cv2.COLOR_BayerRGGB2RGB), np.uint8)


def artwork(picture: Picture) -> Artwork:
    """A picture (h×w×3) as opened."""
    return Artwork(np.dstack([picture, np.full(picture.shape[:2], 255, np.uint8)]), None, None, Kind.PNG)


def pictures(more: Path | None, side: int) -> Iterator[tuple[str, Picture]]:
    """Name and the middle of each photograph."""
    carried = [Path(skimage.data.__file__).parent / name for name in PHOTOGRAPHS]
    for path in carried + (sorted(more.rglob("*.jpg")) if more else []):
        picture = np.asarray(Image.open(path).convert("RGB"))
        top, left = (max(0, length - side) // 2 for length in picture.shape[:2])
        yield path.name, picture[top : top + side, left : left + side]


class Table:
    """Counts by row: how many were right, and which were not."""

    def __init__(self) -> None:
        self.rows: dict[str, list[tuple[str, float, bool]]] = {}

    def add(self, row: str, name: str, factor: float, is_right: bool) -> None:
        """One picture's result."""
        self.rows.setdefault(row, []).append((name, factor, is_right))

    def show(self, title: str) -> None:
        """The table on standard output."""
        print(f"\n{title}")
        for row, results in self.rows.items():
            wrong = [f"{name} {factor:.2f}" for name, factor, is_right in results if not is_right]
            print(f"  {row:34} {len(wrong):3} of {len(results):3} {', '.join(wrong)}")
        everything = [result for results in self.rows.values() for result in results]
        count = sum(not is_right for _, _, is_right in everything)
        print(f"  {'all':34} {count:3} of {len(everything):3} = {100 * count / max(1, len(everything)):.1f} %")


def enlargements(chosen: list[tuple[str, Picture]], title: str) -> None:
    """Errors of telling enlarged from untouched, and of the factor."""
    alarms, told, measured, after = Table(), Table(), Table(), Table()
    for name, picture in chosen:
        for label, change in untouched().items():
            factor = enlargement(artwork(change(picture)))
            alarms.add(label, name, factor, factor == 1)
        for maker, enlarge, kernels in (
            ("Pillow", by_pillow, KERNELS),
            ("OpenCV", by_opencv, KERNELS),
            ("scikit-image", by_skimage, tuple(SPLINES)),
        ):
            for kernel in kernels:
                for factor in FACTORS:
                    large = enlarge(picture, factor, kernel)
                    found = enlargement(artwork(large))
                    row = f"{factor:g} {kernel} {maker}"
                    told.add(row, name, found, found > 1)
                    measured.add(row, name, found, abs(found / factor - 1) <= 0.05)
                    if maker == "Pillow":
                        for quality in (95, 90, 85):
                            found = enlargement(artwork(jpeg(large, quality)))
                            after.add(f"{factor:g} {kernel}, JPEG {quality} after", name, found, found > 1)
    alarms.show(f"{title}: untouched, called enlarged")
    told.show(f"{title}: enlarged, not told")
    measured.show(f"{title}: enlarged, factor wrong by more than 5 %")
    after.show(f"{title}: enlarged and saved as JPEG, not told")


def blocks(chosen: list[tuple[str, Picture]]) -> None:
    """Share of blocks that show, by JPEG quality."""
    rule = Rule.model_validate({"title": "bench", "preflight": {"jpeg_blocks": {"warn": 0}}})
    printer = Printer.model_validate({"name": "bench", "film_width": "600 mm"})
    qualities = (95, 85, 75, 60, 50, 30, 20, 15, 10)
    print("\nBlocks that show, %, by quality\n  " + " " * 24 + "as is" + "".join(f"{quality:6}" for quality in qualities))
    for name, picture in chosen:
        shares = []
        for changed in (picture, *(jpeg(picture, quality) for quality in qualities)):
            found = jpeg_blocks.check(artwork(changed), PrintedSize(100, 100), rule=rule, printer=printer)
            shares.append(found[0].value or 0.0 if found else 0.0)
        print(f"  {name:22}" + "".join(f"{share:6.0f}" for share in shares))


def seconds(picture: Picture) -> None:
    """Time on 20 Mpx."""
    large = artwork(np.tile(picture, (4000 // picture.shape[0] + 1, 5000 // picture.shape[1] + 1, 1))[:4000, :5000])
    rule = Rule.model_validate({"title": "bench"})
    printer = Printer.model_validate({"name": "bench", "film_width": "600 mm"})
    for label, work in (
        ("enlarged", lambda: enlargement(large)),
        ("jpeg_blocks", lambda: jpeg_blocks.check(large, PrintedSize(100, 80), rule=rule, printer=printer)),
    ):
        started = time.perf_counter()
        work()
        print(f"{label}: {time.perf_counter() - started:.2f} s on {large.width_px} × {large.height_px} pixels")


def main() -> int:
    """All tables."""
    options = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    options.add_argument("--more", type=Path)
    options.add_argument("--side", type=int, default=480)
    chosen = options.parse_args()
    everything = list(pictures(chosen.more, chosen.side))
    seconds(everything[0][1])
    blocks(everything)
    known = len(PHOTOGRAPHS)
    enlargements(everything[:known], "Photographs of scikit-image")
    if everything[known:]:
        enlargements(everything[known:], "Photographs held out")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""How well a ground is taken away: `python tests/bench/ground.py [--picture FOLDER]`.

Artwork whose alpha is known is laid over white, grey, and a ground as a camera sees one (shaded, noisy, saved as JPEG), opened as
opaque artwork, and its ground removed as the rule "remove" does it, at the starter tolerance. Printed for each: the mean absolute
error of alpha (0 to 1) over the whole picture, and over its edges alone (within 6 pixels of where alpha is neither 0 nor 1).
Photographs are scikit-image's. Nothing here is asserted: it is for comparing before and after.
"""

import argparse
import io
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter
from skimage import data

from filmhand.artwork.background import ground_of, without_ground
from filmhand.artwork.model import Artwork, Kind

SIDE, TOLERANCE, EDGE_PX = 800, 4.0, 6

Pixels = NDArray[np.uint8]


def main() -> None:
    """Every motif over every ground."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--picture", type=Path, help="keep what was laid together, and what came of it on red, in this folder")
    folder = parser.parse_args().picture
    print(f"{'motif':26} {'ground':12} {'mean error':>10} {'at edges':>10} {'seconds':>8}")
    sums: dict[str, list[tuple[float, float]]] = {}
    for name, motif in motifs():
        for ground, lay in GROUNDS.items():
            artwork = lay(motif)
            began = time.perf_counter()
            found = ground_of(artwork, TOLERANCE)
            pixels = artwork.pixels if found is None else without_ground(artwork, found, TOLERANCE).pixels
            seconds = time.perf_counter() - began
            errors = alpha_errors(pixels[..., 3], motif[..., 3])
            sums.setdefault(ground, []).append(errors)
            told = "" if found else "  no ground found"
            print(f"{name:26} {ground:12} {errors[0]:10.4f} {errors[1]:10.4f} {seconds:8.2f}{told}")
            if folder:
                save(folder, f"{name}-{ground}".replace(" ", "-"), artwork.pixels, pixels)
    for ground, each in sums.items():
        whole, edges = np.mean(each, axis=0)
        print(f"{'all':26} {ground:12} {whole:10.4f} {edges:10.4f}")


def alpha_errors(alpha: Pixels, true: Pixels) -> tuple[float, float]:
    """Mean absolute error of alpha, 0 to 1: of the whole picture, and at the edges."""
    error = np.abs(alpha.astype(float) - true) / 255
    mixed = ((true > 0) & (true < 255)).astype(np.uint8)
    edge = cv2.dilate(mixed, np.ones((2 * EDGE_PX + 1, 2 * EDGE_PX + 1), np.uint8)) > 0
    return float(error.mean()), float(error[edge].mean())


def motifs() -> Iterator[tuple[str, Pixels]]:
    """Names and h×w×4 straight RGBA. None of them encloses ground, which is left standing on purpose."""
    crest = crest_of((20, 40, 160), (200, 30, 20))
    yield "logo, smooth edges", np.asarray(crest)
    yield "logo, pale", np.asarray(crest_of((250, 214, 120), (150, 200, 235)))
    for sigma in (1, 2, 4):
        yield f"logo, blurred {sigma} px", softened(crest, sigma)
    yield "logo, enlarged 3 times", np.asarray(crest.resize((SIDE // 3, SIDE // 3)).resize(crest.size, Image.Resampling.BICUBIC))
    for name in ("astronaut", "chelsea", "coffee"):
        photo = Image.fromarray(getattr(data, name)()).resize((SIDE, SIDE), Image.Resampling.LANCZOS)
        for sigma in (0, 2):
            cut = photo.convert("RGBA")
            cut.putalpha(blob())
            yield f"{name}, blurred {sigma} px", softened(cut, sigma)
    yield "horse", np.asarray(horse())


def crest_of(body: tuple[int, int, int], bar: tuple[int, int, int]) -> Image.Image:
    """A star with a bar across and two thin rules below, antialiased eight times over."""
    times = 8
    picture = Image.new("RGBA", (SIDE * times, SIDE * times), (*body, 0))
    draw = ImageDraw.Draw(picture)
    spikes = [(0.42 if k % 2 else 0.2, np.pi * k / 9) for k in range(18)]
    centre = SIDE * times / 2
    draw.polygon(
        [(centre + r * SIDE * times * np.cos(t), centre * 0.95 + r * SIDE * times * np.sin(t)) for r, t in spikes], (*body, 255)
    )
    draw.rectangle((centre * 0.7, centre * 0.9, centre * 1.3, centre), (*bar, 255))
    draw.rectangle((centre * 0.3, centre * 1.88, centre * 1.7, centre * 1.88 + 3 * times), (*body, 255))
    draw.rectangle((centre * 0.3, centre * 1.92, centre * 1.7, centre * 1.92 + 8 * times), (*bar, 255))
    return picture.reduce(times)


def horse() -> Image.Image:
    """scikit-image's silhouette, dark brown, its edges smoothed by the enlarging."""
    alpha = Image.fromarray(np.where(data.horse(), 0, 255).astype(np.uint8)).resize((SIDE, SIDE), Image.Resampling.BICUBIC)
    picture = Image.new("RGBA", (SIDE, SIDE), (70, 45, 30, 255))
    picture.putalpha(alpha)
    return picture


def softened(picture: Image.Image, sigma: float) -> Pixels:
    """With its alpha blurred, colours as they are (bled outward first, so that none is foreign)."""
    pixels = np.asarray(picture).copy()
    solid = (pixels[..., 3] > 250).astype(np.uint8)
    _, labels = cv2.distanceTransformWithLabels(1 - solid, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    place = np.zeros(labels.max() + 1, np.intp)
    place[labels[solid > 0]] = np.flatnonzero(solid.ravel())
    colours = pixels[..., :3].reshape(-1, 3)[place[labels]]
    pixels[..., :3] = np.where(solid[..., None] > 0, pixels[..., :3], colours)
    if sigma:
        pixels[..., 3] = np.asarray(Image.fromarray(pixels[..., 3]).filter(ImageFilter.GaussianBlur(sigma)))
    return pixels


def blob() -> Image.Image:
    """The outline of a cut-out by hand: a wavy oval, antialiased."""
    times = 4
    picture = Image.new("L", (SIDE * times, SIDE * times))
    turn = np.linspace(0, 2 * np.pi, 720)
    radius = SIDE * times * (0.36 + 0.03 * np.sin(5 * turn) + 0.015 * np.sin(13 * turn))
    centre = SIDE * times / 2
    points = np.stack((centre + radius * np.cos(turn), centre + 1.1 * radius * np.sin(turn)), axis=-1)
    ImageDraw.Draw(picture).polygon([tuple(point) for point in points], fill=255)
    return picture.reduce(times)


def flat(*colour: int) -> Callable[[Pixels], Artwork]:
    """Lays a motif over one colour."""
    return lambda motif: Artwork(opaque(over(motif, np.array(colour, float))), None, None, Kind.PNG)


def camera(motif: Pixels) -> Artwork:
    """Over a light wall: lit from the upper left, darker to the corners, with sensor noise, saved as JPEG at quality 90."""
    height, width = motif.shape[:2]
    y, x = np.mgrid[0:height, 0:width] / max(height, width) - 0.5
    shade = 1 - 0.06 * (x + y) - 0.12 * (x * x + y * y)
    wall = np.array([228.0, 226.0, 220.0]) * shade[..., None]
    wall += np.random.default_rng(4).normal(0, 2.0, wall.shape)
    stream = io.BytesIO()
    Image.fromarray(over(motif, wall)).save(stream, "JPEG", quality=90)
    return Artwork(np.asarray(Image.open(stream).convert("RGBA")), None, None, Kind.JPEG)


GROUNDS: dict[str, Callable[[Pixels], Artwork]] = {
    "white": flat(255, 255, 255),
    "grey": flat(128, 128, 128),
    "photo-like": camera,
}


def over(motif: Pixels, ground: NDArray[np.float64]) -> Pixels:
    """A motif over a ground (3 values, or h×w×3), mixed as encoded: h×w×3."""
    alpha = motif[..., 3:] / 255.0
    return np.clip(np.rint(alpha * motif[..., :3] + (1 - alpha) * ground), 0, 255).astype(np.uint8)


def opaque(rgb: Pixels) -> Pixels:
    """With full alpha."""
    return np.dstack([rgb, np.full(rgb.shape[:2], 255, np.uint8)])


def save(folder: Path, name: str, before: Pixels, after: Pixels) -> None:
    """The artwork beside what was left of it, over red."""
    folder.mkdir(parents=True, exist_ok=True)
    Image.fromarray(np.hstack((before[..., :3], over(after, np.array([255.0, 0.0, 0.0]))))).save(folder / f"{name}.png")


if __name__ == "__main__":
    main()

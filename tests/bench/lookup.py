"""Figures for the look-up of separation tables: megapixels a second on one core, and how far from exact.

    python tests/bench/lookup.py [--megapixels 20] [--times 7]

Photographs of scikit-image's wheel, repeated side by side to so many megapixels, and flat art of discs with soft edges, go
through 33-node tables of four and of eight inks (the further four have values of the other four: what a table holds does not
matter to its speed), with white the same everywhere and by colour. Beside the kernel stands a plain one, which sorts and mixes a
column at a time for each pixel; the two take turns, and the least processor time of each counts, which other work on the machine
disturbs least. "Fresh" takes planes from the system for every picture, as the service does; otherwise they are written over.
Nothing here is asserted but that the two agree.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numba
import numpy as np
import skimage.data
from numpy.typing import NDArray
from PIL import Image

from filmhand.colour.nominal import nominal_model
from filmhand.rules import Rule
from filmhand.separation.lookup import Planes, separate_pixels
from filmhand.separation.table import SeparationTable, build_table

Bytes = NDArray[np.uint8]
Kernel = Callable[[Bytes, Planes], None]

PHOTOGRAPHS = ("astronaut.png", "chelsea.png", "coffee.png", "rocket.jpg")


def main() -> None:
    """The tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--megapixels", type=float, default=20)
    parser.add_argument("--times", type=int, default=7)
    args = parser.parse_args()
    side = round(np.sqrt(args.megapixels * 1e6))
    pictures = {name: tiled(name, side) for name in PHOTOGRAPHS} | {"flat art": discs(side)}
    began = time.perf_counter()
    thinking = build_table(None, model=nominal_model(tuple("CMYK")), garment="#1b1b1d", rule=Rule(title="bench"))
    four = replace(thinking, white=np.ones_like(thinking.white))
    print(f"table of {' x '.join(str(len(axis)) for axis in four.axes)} nodes built in {time.perf_counter() - began:.1f} s")
    for table in (four, eightfold(four), thinking, eightfold(thinking)):
        white = "even" if np.ptp(table.white) == 0 else "by colour"
        print(
            f"\n{len(table.inks)} inks, white {white:9}      Mpx/s: kernel   plain   ratio   kernel, fresh planes   differ by one"
        )
        for name, pixels in pictures.items():
            rate, plain_rate, fresh_rate, differing = compared(pixels, table, args.times)
            print(f"{name:44} {rate:6.0f} {plain_rate:7.0f} {rate / plain_rate:7.2f} {fresh_rate:15.0f} {differing:12.4%}")


def compared(pixels: Bytes, table: SeparationTable, times: int) -> tuple[float, float, float, float]:
    """Megapixels a second of processor time of the kernel, of the plain one, of the kernel into fresh planes; share of values in
    which the two differ, never by more than one."""
    order = [*table.inks, "W"]
    plain_table = plain_of(table)
    kernels: dict[str, Kernel] = {
        "kernel": lambda pixels, out: separate_pixels(pixels, table.grid, out),
        "plain": lambda pixels, out: plain(pixels, *plain_table, out),
    }
    least, made = {}, {}
    for name, kernel in kernels.items():
        made[name] = blank(pixels, order, table)
        kernel(pixels, made[name])
    off = [np.abs(a.astype(np.int16) - b) for a, b in zip(made["kernel"][:2], made["plain"][:2], strict=True)]
    assert max(part.max() for part in off) <= 1
    for _ in range(times):
        for name, kernel in kernels.items():
            least[name] = min(least.get(name, np.inf), timed(lambda kernel=kernel, name=name: kernel(pixels, made[name])))
        fresh = timed(lambda: kernels["kernel"](pixels, blank(pixels, order, table)))
        least["fresh"] = min(least.get("fresh", np.inf), fresh)
    size = pixels.shape[0] * pixels.shape[1] / 1e6
    differing = sum(int(part.sum()) for part in off) / sum(part.size for part in off)
    return size / least["kernel"], size / least["plain"], size / least["fresh"], differing


def timed(work: Callable[[], None]) -> float:
    """Seconds of this thread's processor time."""
    began = time.thread_time()
    work()
    return time.thread_time() - began


def blank(pixels: Bytes, order: list[str], table: SeparationTable) -> Planes:
    """Planes of zeros, white last."""
    h, w = pixels.shape[:2]
    planes = np.zeros((len(order), h, w), np.uint8), np.zeros((h, w), np.uint8)
    return Planes(*planes, table.places_in(order), len(order) - 1, -1, 255)


def tiled(name: str, side: int) -> Bytes:
    """A photograph, opaque, side by side with itself."""
    picture = np.asarray(Image.open(Path(skimage.data.__file__).parent / name).convert("RGBA"))
    repeats = -(-side // picture.shape[0]), -(-side // picture.shape[1]), 1
    return np.ascontiguousarray(np.tile(picture, repeats)[:side, :side])


def discs(side: int) -> Bytes:
    """Flat colours over one another on a transparent ground, their edges drawn soft."""
    rng, picture = np.random.default_rng(0), np.zeros((side, side, 4), np.uint8)
    for _ in range(40):
        colour = (*(int(value) for value in rng.integers(0, 256, 3)), 255)
        middle, radius = rng.integers(0, side, 2), int(rng.integers(side // 60, side // 6))
        cv2.circle(picture, (int(middle[0]), int(middle[1])), radius, colour, -1, cv2.LINE_AA)
    return picture


def eightfold(table: SeparationTable) -> SeparationTable:
    """The table with four inks more, values taken from the other four."""
    more = table.values[..., :0:-1] / 2
    return replace(table, inks=tuple("CMYKRGBO"), values=np.concatenate([table.values, more], axis=-1))


def plain_of(table: SeparationTable) -> tuple[NDArray[np.float32], NDArray[np.int64], NDArray[np.float32]]:
    """Values, white last, the node below for each value of each axis, and the way beyond it."""
    below, part = np.empty((3, 256), np.int64), np.empty((3, 256), np.float32)
    for i, axis in enumerate(table.axes):
        below[i] = np.clip(np.searchsorted(axis, np.arange(256), side="right") - 1, 0, len(axis) - 2)
        part[i] = (np.arange(256.0) - axis[below[i]]) / (axis[below[i] + 1].astype(float) - axis[below[i]])
    white = table.values[..., :1] * table.white[..., None]
    return np.concatenate([table.values, white], axis=-1), below, part


@numba.njit(nogil=True, error_model="numpy")
def plain(pixels, values, below, part, out):  # type: ignore[no-untyped-def]
    """Tetrahedral interpolation as it is told: sort the three parts, walk the cell, mix each column."""
    planes, coverages, plane_of, white, _, _ = out
    sizes = values.shape
    flat = values.reshape(-1)
    steps = (sizes[1] * sizes[2] * sizes[3], sizes[2] * sizes[3], sizes[3])
    for y in range(pixels.shape[0]):
        for x in range(pixels.shape[1]):
            red, green, blue, alpha = pixels[y, x]
            if alpha == 0:
                continue
            r, g, b = part[0, red], part[1, green], part[2, blue]
            if r >= g:
                if g >= b:
                    far, near, end, first, second = r, g, b, steps[0], steps[1]
                elif r >= b:
                    far, near, end, first, second = r, b, g, steps[0], steps[2]
                else:
                    far, near, end, first, second = b, r, g, steps[2], steps[0]
            elif r >= b:
                far, near, end, first, second = g, r, b, steps[1], steps[0]
            elif g >= b:
                far, near, end, first, second = g, b, r, steps[1], steps[2]
            else:
                far, near, end, first, second = b, g, r, steps[2], steps[1]
            p = below[0, red] * steps[0] + below[1, green] * steps[1] + below[2, blue] * steps[2]
            p1, p3 = p + first, p + steps[0] + steps[1] + steps[2]
            p2 = p1 + second
            w0, w1, w2 = np.float32(1) - far, far - near, near - end
            share = w0 * flat[p] + w1 * flat[p1] + w2 * flat[p2] + end * flat[p3]
            coverage = np.uint8(np.float32(alpha) * share + np.float32(0.5))
            if coverage == 0:
                continue
            coverages[y, x] = coverage
            scale = np.float32(255) / share
            for ink in range(len(plane_of) + 1):
                mixed = w0 * flat[p + 1 + ink] + w1 * flat[p1 + 1 + ink] + w2 * flat[p2 + 1 + ink] + end * flat[p3 + 1 + ink]
                plane = plane_of[ink] if ink < len(plane_of) else white
                planes[plane, y, x] = np.uint8(min(scale * mixed, np.float32(255)) + np.float32(0.5))


if __name__ == "__main__":
    main()

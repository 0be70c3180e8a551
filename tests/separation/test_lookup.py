"""Tetrahedral interpolation and what the kernel makes of alpha."""

from dataclasses import replace

import numpy as np
import pytest
from looking import opaque
from numpy.typing import NDArray

from filmhand.separation.axes import Axes, even_axes
from filmhand.separation.lookup import Planes, separate_pixels
from filmhand.separation.table import SeparationTable

EVEN = even_axes()[0].astype(np.float64) / 255


def table_of(coverage: NDArray[np.float64], ink: NDArray[np.float64], *, white: float = 1) -> SeparationTable:
    """A table of one ink over even white."""
    values = np.stack([coverage, coverage * ink], axis=-1).astype(np.float32)
    return table_on("K", even_axes(), values, white=np.full(coverage.shape, white, np.float32))


def table_on(inks: str, axes: Axes, values: NDArray[np.float32], *, white: NDArray[np.float32]) -> SeparationTable:
    """A table of these nodes, no colour of which misses."""
    misses = np.zeros(white.shape, np.float32)
    return SeparationTable(
        inks=tuple(inks),
        axes=axes,
        values=values,
        white=white,
        misses=misses,
        least_coverage=0.0,
        most_white=float(white.max()),
        film_share=np.ones(3),
    )


R, G, B = np.meshgrid(EVEN, EVEN, EVEN, indexing="ij")


def reference(rgb: NDArray[np.uint8], axes: Axes, values: NDArray[np.float32]) -> NDArray[np.float64]:
    """Kasson, Plouffe and Nin's interpolation (1993) told plainly, in double precision: columns (m, n) at values (m, 3)."""
    mixed = np.empty((len(rgb), values.shape[3]))
    for row, colour in enumerate(rgb):
        node = [
            min(int(np.searchsorted(axis, value, "right")) - 1, len(axis) - 2) for axis, value in zip(axes, colour, strict=True)
        ]
        ends = [(float(axis[i]), float(axis[i + 1])) for axis, i in zip(axes, node, strict=True)]
        part = [(float(value) - low) / (high - low) for value, (low, high) in zip(colour, ends, strict=True)]
        at = list(node)
        mixed[row] = values[tuple(at)]
        for axis in sorted(range(3), key=lambda i: -part[i]):
            before = values[tuple(at)].astype(np.float64)
            at[axis] += 1
            mixed[row] += part[axis] * (values[tuple(at)] - before)
    return mixed


@pytest.mark.parametrize("inks", ["K", "CMYK", "CMYKRGBO"])
def test_within_a_step_of_double_precision(inks: str) -> None:
    """Random tables on uneven nodes: coverage, inks and white lie within half a step and rounding of the plain interpolation."""
    rng = np.random.default_rng(len(inks))
    extra = [np.sort(rng.choice(np.arange(1, 255), 40, replace=False)).astype(np.uint8) for _ in range(3)]
    red, green, blue = (np.union1d(axis, [0, 255]).astype(np.uint8) for axis in extra)
    coverage = rng.uniform(0.05, 1, (len(red), len(green), len(blue), 1))
    share = rng.random((*coverage.shape[:3], len(inks)))
    values = np.concatenate([coverage, coverage * share], axis=-1).astype(np.float32)
    under = rng.uniform(0, 2, coverage.shape).astype(np.float32)
    table = table_on(inks, (red, green, blue), values, white=under[..., 0])
    rgb = rng.integers(0, 256, (3000, 3), np.uint8)
    planes, film, white = table.apply(opaque(rgb))
    expected = reference(rgb, table.axes, np.concatenate([values, coverage.astype(np.float32) * under], axis=-1))
    assert np.abs(white[0] - 255 * expected[:, -1] / expected[:, 0]).max() < 0.501
    expected = expected[:, :-1]
    assert np.abs(film[0] - 255 * expected[:, 0]).max() < 0.501
    nearly = replace(table, whole_from=0.7).apply(opaque(rgb))[1][0]
    assert np.array_equal(nearly, np.where(expected[:, 0] < 0.7, film[0], 255))
    assert np.abs(planes[:, 0].T - 255 * expected[:, 1:] / expected[:, :1]).max() < 0.501


def test_runs_of_pixels_are_as_single_ones() -> None:
    """Rows longer than a run, with repeated pixels, gaps and half transparent ones, equal the same pixels one at a time."""
    rng = np.random.default_rng(2)
    table = replace(table_of(0.2 + 0.8 * R, (G + B) / 2), white=(0.5 + G).astype(np.float32))
    palette = rng.integers(0, 256, (6, 4), np.uint8)
    palette[:2, 3] = 0, 255
    pixels = palette[np.repeat(rng.integers(0, 6, (3, 90)), rng.integers(1, 15, 90), axis=1)]
    pixels[1, 100:500] = 0
    together = table.apply(pixels)
    alone = [table.apply(pixel[None, None]) for pixel in pixels.reshape(-1, 4)]
    assert pixels.shape[1] > 512
    assert (together[0].reshape(-1) == [inks[0, 0, 0] for inks, _, _ in alone]).all()
    assert (together[1].ravel() == [coverage[0, 0] for _, coverage, _ in alone]).all()
    assert (together[2].ravel() == [white[0, 0] for _, _, white in alone]).all()


def test_straight_tables_are_met_everywhere() -> None:
    """Where outputs rise straight with the inputs, every value between nodes is met to 8-bit rounding, in all six tetrahedra."""
    rgb = np.random.default_rng(1).integers(0, 256, (20000, 3), np.uint8)
    inks, coverage, _ = table_of(np.ones_like(R), 0.5 * R + 0.3 * G + 0.2 * B).apply(opaque(rgb))
    assert np.abs(inks[0, 0] - rgb @ [0.5, 0.3, 0.2]).max() <= 0.501
    assert (coverage == 255).all()


def test_grays_mix_only_grays() -> None:
    """A table that is 0 on the gray axis is 0 between its nodes: no node off the axis is touched."""
    inks, _, _ = table_of(np.ones_like(R), 1.0 * ((R != G) | (G != B))).apply(
        opaque(np.arange(256, dtype=np.uint8)[:, None].repeat(3, 1))
    )
    assert not inks.any()


def test_ink_within_sparse_film_is_whole() -> None:
    """Towards no coverage the film's own ink stays what it is at the last node with film."""
    inks, coverage, _ = table_of(np.maximum(R - EVEN[4], 0), np.where(EVEN[4] < R, 0.8, 0)).apply(
        opaque(np.array([[34, 0, 0], [36, 9, 5], [40, 0, 0]], np.uint8))
    )
    assert coverage[0].tolist() == [2, 4, 8]
    assert inks[0, 0].tolist() == [204, 204, 204]


def test_alpha_scales_coverage_alone() -> None:
    """Half transparent artwork has half the film, with the same ink; none where it is transparent."""
    pixels = np.array([[[200, 100, 50, alpha] for alpha in (255, 128, 1, 0)]], np.uint8)
    inks, coverage, _ = table_of(np.full_like(R, 0.5), R).apply(pixels)
    assert coverage.tolist() == [[128, 64, 1, 0]]
    assert inks.tolist() == [[[200, 200, 200, 0]]]


def test_no_ink_where_coverage_rounds_to_none() -> None:
    """A trace of film is none, and carries no ink and no white, even or not."""
    even = table_of(np.full_like(R, 0.001), np.ones_like(R))
    for table in (even, replace(even, white=(1 + R).astype(np.float32))):
        assert not any(found.any() for found in table.apply(opaque(np.array([[9, 9, 9]], np.uint8))))


@pytest.mark.parametrize("density", [255, 204, 0])
@pytest.mark.parametrize("is_even", [True, False])
def test_white_is_split_at_the_density(density: int, is_even: bool) -> None:
    """The first white gets up to its density, the second what is above; together they are the table's, to 8-bit rounding."""
    most = 1 + density / 255
    table = table_of(np.full_like(R, 0.5), G, white=most)
    if not is_even:
        table = replace(table, white=(most * G).astype(np.float32))
    rgb = np.random.default_rng(6).integers(0, 256, (5000, 3), np.uint8)
    pixels = opaque(rgb)
    pixels[0, 0, 3] = 0
    planes, coverage = np.zeros((3, 1, len(rgb)), np.uint8), np.zeros((1, len(rgb)), np.uint8)
    separate_pixels(pixels, table.grid, Planes(planes, coverage, table.places_in("KW2"), 1, 2, density))
    whole = np.full(len(rgb), most * 255) if is_even else most * rgb[:, 1]
    first, second = planes[1:, 0].astype(int)
    assert (first[0], second[0]) == (0, 0)
    assert np.abs(first + second - whole)[1:].max() <= 0.501
    assert (first.max(), second.max()) == (density, 255)
    assert not second[first < density].any()


@pytest.mark.parametrize(("share", "expected"), [(0.04, 0), (0.06, 26), (0.1, 26), (0.2, 51)])
def test_least_coverage(share: float, expected: int) -> None:
    """Film sparser than the least (10 %) becomes the least, or none below half of it."""
    table = replace(table_of(np.full_like(R, share), R), least_coverage=0.1)
    assert table.apply(opaque(np.array([[9, 9, 9]], np.uint8)))[1][0, 0] == expected

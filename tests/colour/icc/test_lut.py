"""A table's own interpolation, where the answer is known."""

import numpy as np
import pytest

from filmhand.colour.icc.curves import backwards, forwards, inverse_curves, never_more
from filmhand.colour.icc.lut import TOP, Lut, words

LINEAR = words(np.array([0.0, 1.0]))


def grid(counts: list[int]) -> np.ndarray:
    """Inputs (n_1, …, n_i, i) at the nodes."""
    return np.stack(np.meshgrid(*[np.linspace(0, 1, n) for n in counts], indexing="ij"), axis=-1)


@pytest.mark.parametrize("counts", [[2, 3, 4], [3, 2, 5, 4], [2, 4, 2, 3, 2, 2]])
@pytest.mark.parametrize("straight", [True, False])
def test_a_linear_function_comes_back(counts: list[int], straight: bool) -> None:
    """Both ways of interpolating are exact for it, whatever the numbers of nodes, at 0 and 1 too."""
    slopes = np.random.default_rng(30).random((len(counts), 2)) / len(counts)
    lut = Lut(np.tile(LINEAR, (len(counts), 1)), words(grid(counts) @ slopes), np.tile(LINEAR, (2, 1)))
    values = np.concatenate(
        [np.random.default_rng(31).random((200, len(counts))), np.eye(len(counts)), np.ones((1, len(counts)))]
    )
    assert lut.at(values, straight=straight) == pytest.approx(values @ slopes, abs=1.5 / TOP)


def test_linear_along_each_input_is_exact_for_products() -> None:
    """Trilinear interpolation is; tetrahedral mixes the two ends of the diagonal alone (Kasson, Plouffe and Nin 1993)."""
    lut = Lut(np.tile(LINEAR, (3, 1)), words(grid([2, 2, 2]).prod(axis=-1, keepdims=True)), LINEAR[None])
    values = np.random.default_rng(32).random((100, 3))
    assert lut.at(values, straight=True)[:, 0] == pytest.approx(values.prod(axis=1), abs=2 / TOP)
    assert lut.at(values, straight=False)[:, 0] == pytest.approx(values.min(axis=1), abs=2 / TOP)


def test_curves_lead_there_and_back() -> None:
    """An inverse curve undoes its curve within what 16 bits and 1021 steps leave."""
    x = np.linspace(0, 1, 1021)
    curves = words(np.stack([x**0.6, 0.7 * x**2 + 0.3 * x]))
    values = np.random.default_rng(33).random((500, 2))
    assert backwards(forwards(values, curves), curves) == pytest.approx(values, abs=1e-4)
    assert forwards(forwards(values, curves), inverse_curves(curves)) == pytest.approx(values, abs=1e-3)


def test_concave_curves() -> None:
    """Of an S shaped curve the part that sags is bridged; a concave one stays; the ends stay; slopes fall."""
    x = np.linspace(0, 1, 101)
    curves = words(np.stack([x**0.5, x * x * (3 - 2 * x), x**3]))
    found = never_more(curves).astype(int)
    assert np.abs(found[0] - curves[0].astype(int)).max() <= 1
    assert (found >= curves).all()
    assert (found[:, [0, -1]] == curves[:, [0, -1]]).all()
    assert np.diff(found, n=2, axis=1).max() <= 2
    assert np.abs(found[2] - x * TOP).max() <= 1

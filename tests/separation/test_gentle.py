"""Coverage that rises gently."""

import numpy as np
from scipy.spatial.distance import cdist

from filmhand.separation.gentle import gentle, raised

AXIS = np.array([0, 8, 16, 24, 27, 30, 40, 255], np.uint8)
AXES = (AXIS, AXIS[:6], AXIS[:5])
NONE = np.zeros((8, 6, 5), bool)


def test_against_every_pair_of_nodes() -> None:
    """Without bare nodes: the greatest of all nodes' coverages less 0.15 for each 8 values of way along the axes."""
    least = np.random.default_rng(2).random((8, 6, 5)) ** 4 + 1e-3
    places = np.stack(np.meshgrid(*AXES, indexing="ij"), axis=-1).reshape(-1, 3).astype(float)
    expected = (least.reshape(1, -1) - cdist(places, places, "cityblock") * 0.15 / 8).max(axis=1)
    assert np.abs(gentle(least, AXES, NONE).ravel() - expected).max() < 1e-12


def test_bare_nodes_stay_bare_and_their_neighbours_sparse() -> None:
    """Nothing becomes film that was none; beside it coverage is raised by no more than the steeper slope leaves room for."""
    least = np.full((8, 6, 5), 0.02)
    least[3:5, 2:4, 2] = 0
    least[-1] = 0.9
    found = gentle(least, AXES, NONE)
    assert not found[3:5, 2:4, 2].any()
    assert found[2, 2, 2] <= 0.3
    assert (found >= least).all()


def test_what_must_stay_sparse_stays() -> None:
    """Nodes that are kept have just what they had; beside them coverage is raised by no more than the steeper slope, and further
    off by as much as the gentle one asks for."""
    least = np.full((8, 6, 5), 0.02)
    least[-1] = 0.9
    kept = NONE.copy()
    kept[3, 2, 2] = True
    found = gentle(least, AXES, kept)
    assert found[3, 2, 2] == 0.02
    assert found[4, 2, 2] <= 0.02 + 0.3 * 3 / 8 + 1e-12
    assert found[6, 5, 4] == gentle(least, AXES, NONE)[6, 5, 4]


def test_raised_as_far_as_there_is_room() -> None:
    """More coverage is taken on but for bare and kept nodes; less never is."""
    least = np.full((8, 6, 5), 0.3)
    least[0, 0, 0] = 0
    kept = NONE.copy()
    kept[7, 5, 4] = True
    found = raised(least, np.full(least.shape, 0.8), AXES, kept)
    assert found[0, 0, 0] == 0
    assert found[7, 5, 4] == 0.3
    assert found[3, 3, 3] == 0.8
    assert (raised(least, np.full(least.shape, 0.1), AXES, kept) == least).all()

"""Specks dropped where the rule says so: those that the check counts, and nothing else."""

import numpy as np

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.mending.specks import dropped
from filmhand.preflight.finding import Severity
from filmhand.rules import Rule

SIZE = PrintedSize(50.8, 50.8)  # 300 ppi
DROP = Rule.model_validate({"title": "t", "mend": {"specks": True}})


def _speckled() -> Artwork:
    """A square, three lone pixels and a dot beside the square, on 600 × 600."""
    pixels = np.full((600, 600, 4), (30, 60, 90, 0), np.uint8)
    pixels[200:400, 200:400, 3] = 255
    for row, column in ((20, 30), (500, 80), (90, 550)):
        pixels[row, column, 3] = 200
    pixels[300:303, 404:407, 3] = 255
    return Artwork(pixels, None, None, Kind.PNG)


def test_specks_go_and_the_rest_stays() -> None:
    """Three pixels become bare and are said as a warning; the artwork that was given is as before."""
    artwork = _speckled()
    result = dropped(artwork, SIZE, rule=DROP)
    changed = np.argwhere(np.any(result.pixels != artwork.pixels, axis=-1))
    assert changed.tolist() == [[20, 30], [90, 550], [500, 80]]
    assert not result.pixels[tuple(changed.T)][:, 3].any()
    (finding,) = result.findings
    assert (finding.check, finding.severity, finding.value) == ("specks", Severity.WARN, 3)
    assert "3 stray specks were dropped" in str(finding.message)
    assert artwork.pixels[20, 30, 3] == 200


def test_nothing_is_done_unasked_or_needlessly() -> None:
    """Without the rule's word, or without specks, the artwork itself comes back."""
    artwork = _speckled()
    assert dropped(artwork, SIZE, rule=Rule(title="t")) is artwork
    clean = dropped(artwork, SIZE, rule=DROP)
    assert dropped(clean, SIZE, rule=DROP) is clean

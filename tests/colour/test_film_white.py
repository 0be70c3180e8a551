"""The white of the film as each ink model knows it: as an instrument measures it, Y 1 = perfect diffuser."""

import struct
from pathlib import Path

import numpy as np
import pytest

from colour.icc.printers import FILM_WHITE, profile_of, tags_of
from filmhand.colour.charted import ChartedModel
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.drifted import Drifted
from filmhand.colour.fitted.model import FittedInks
from filmhand.colour.nominal import nominal_model
from filmhand.colour.profile import ProfileModel
from filmhand.colour.transfer import Curves

DEFAULT_CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


def test_nominal_film_is_as_white_as_can_be() -> None:
    """Nobody measured it."""
    assert nominal_model(tuple("CMYK")).film_white.tolist() == D50_WHITE.tolist()


def stated(icc: bytes) -> tuple[float, ...]:
    """The media white point tag, XYZType of s15Fixed16 (ICC.1:2010 sections 9.2.36 and 10.27), read by these alone."""
    return tuple(value / 65536 for value in struct.unpack(">3i", tags_of(icc)[b"wtpt"][8:20]))


def test_a_profiles_film_is_its_media_white() -> None:
    """As its tag has it."""
    icc = profile_of("CMYK")
    assert ProfileModel(icc).film_white == pytest.approx(stated(icc), abs=1e-6)
    assert ProfileModel(icc).film_white == pytest.approx(FILM_WHITE, abs=1e-4)


@pytest.mark.outside
@pytest.mark.skipif(not DEFAULT_CMYK.exists(), reason="needs default_cmyk.icc (Debian libgs-common)")
def test_another_programs_profile() -> None:
    """Its paper is far from white, and its tag says so."""
    white = ProfileModel(DEFAULT_CMYK.read_bytes()).film_white
    assert white == pytest.approx(stated(DEFAULT_CMYK.read_bytes()), abs=1e-6)
    assert white[1] < 0.9


def test_a_charts_film_is_as_measured(model: FittedInks) -> None:
    """Also seen through a drifted printer's curves."""
    assert ChartedModel(model).film_white == pytest.approx(FILM_WHITE)
    drifted = Drifted(ChartedModel(model), Curves(model="any", inks={}))
    assert drifted.film_white == pytest.approx(FILM_WHITE)


@pytest.fixture
def model() -> FittedInks:
    """Invented inks on film that was measured."""
    plain = nominal_model(tuple("CMYK")).forward
    return FittedInks(plain.inks, np.array(FILM_WHITE), plain.halftones, plain.observer, plain.rest)

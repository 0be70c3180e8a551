"""Our LZW against imagecodecs' decoder and against the codes that TIFF 6.0 section 13 asks for."""

import imagecodecs
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.delivery.lzw import lzw_encode

RUNS = st.lists(st.tuples(st.sampled_from([0, 255, 0, 255, 7, 0x55]), st.integers(1, 300)), min_size=1, max_size=60)


def decoded(data: np.ndarray) -> bytes:
    """What imagecodecs makes of our strip."""
    return bytes(imagecodecs.lzw_decode(lzw_encode(data), out=data.size))


@settings(max_examples=150, deadline=None)
@given(st.binary(min_size=1, max_size=3000))
def test_any_bytes(data: bytes) -> None:
    """Whatever goes in comes out."""
    assert decoded(np.frombuffer(data, np.uint8)) == data


@settings(max_examples=150, deadline=None)
@given(RUNS, st.integers(0, 2**32 - 1))
def test_runs_among_noise(runs: list[tuple[int, int]], seed: int) -> None:
    """Runs of bare and full bytes of every length, with and without noise between them."""
    rng = np.random.default_rng(seed)
    parts = []
    for byte, length in runs:
        parts += [np.full(length, byte, np.uint8), rng.integers(0, 256, rng.integers(0, 40)).astype(np.uint8)]
    data = np.concatenate(parts)
    assert decoded(data) == data.tobytes()


@pytest.mark.parametrize("size", [253, 254, 255, 509, 510, 511, 765, 766, 767, 3835, 3836, 3837, 3838, 7672, 7673, 20000])
def test_where_codes_grow(size: int) -> None:
    """Bytes no two of which repeat a pair: a code a byte, so that each width, and the clearing, comes to lie on a strip's end."""
    order = np.random.default_rng(size).permutation(65536)[:size]
    data = (order >> 8).astype(np.uint8)
    data[1::2] = (order & 255).astype(np.uint8)[1::2]
    assert decoded(data) == data.tobytes()


@pytest.mark.parametrize("size", [1, 31, 32, 33, 300, 100_000, 2_000_000])
@pytest.mark.parametrize("byte", [0, 255, 1])
def test_one_byte_over_and_over(size: int, byte: int) -> None:
    """A strip of nothing else: as short as an encoder that forgets nothing makes it."""
    data = np.full(size, byte, np.uint8)
    assert decoded(data) == data.tobytes()
    if byte != 1:
        assert len(lzw_encode(data)) == len(imagecodecs.lzw_encode(data.tobytes()))


def test_first_codes() -> None:
    """The example of section 13: 7 7 7 8 8 7 7 6 6 is Clear, 7, 258, 8, 8, 258, 6, 6, End, in codes of 9 bits, highest first."""
    bits = "".join(f"{byte:08b}" for byte in lzw_encode(np.array([7, 7, 7, 8, 8, 7, 7, 6, 6], np.uint8)))
    assert [int(bits[at : at + 9], 2) for at in range(0, 81, 9)] == [256, 7, 258, 8, 8, 258, 6, 6, 257]


def test_what_is_forgotten_costs_little() -> None:
    """Screened tone: at most 3 % longer than an encoder that forgets nothing, with strips as sheets have them."""
    threshold = np.random.default_rng(0).permutation(128 * 128).reshape(128, 128) / 128**2
    rows, columns = np.mgrid[0:64, 0:17008]
    tone = 0.5 + 0.4 * np.sin(columns / 900) * np.cos(rows / 300)
    data = np.packbits(tone > threshold[rows % 128, columns % 128], axis=1).reshape(-1)
    assert decoded(data) == data.tobytes()
    assert len(lzw_encode(data)) <= 1.03 * len(imagecodecs.lzw_encode(data.tobytes()))

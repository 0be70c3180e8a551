"""Colours that are laid in inks of their own, past the separation table: a second pass over the pixels that are exactly so.

Most artwork has none of them, and then all it costs is one look: blocks of one colour are told by their bits alone, and in others
a table of hashed values says for nearly all pixels that they are none of these (Knuth, "The Art of Computer Programming" 3,
section 6.4, multiplicative hashing). Only what is left is looked up.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

Bytes = NDArray[np.uint8]
Words = NDArray[np.uint32]
Floats = NDArray[np.float64]

_BLOCK: Final = 32
"""Pixels looked at together: fewer cost more on flat art, more cost more on photographs (measured)."""
_HASH_BITS: Final = 17
"""128 KiB of flags: they stay near the processor, and of 20 colours one other colour in 6,500 has a flag."""
_GOLDEN: Final = 2654435769  # 2^32 over the golden ratio
_SHIFT: Final = 32 - _HASH_BITS


@dataclass(frozen=True, eq=False)
class ExactInks:
    """Source values (n, 3) uint8, all different, and the tones (n, k), 0 to 1, of `inks` (letters) that each is laid in."""

    inks: tuple[str, ...]
    values: Bytes
    tones: Floats

    def planes(self, order: Sequence[str], *, white: Mapping[str, int]) -> Bytes:
        """What each value gets in planes of an order (n, planes), 255 = full; the planes of `white` what it says; inks unknown
        here 0."""
        rows = np.zeros((len(self.values), len(order)), np.uint8)
        rows[:, [order.index(ink) for ink in self.inks]] = np.rint(255 * self.tones)
        for plane, tone in white.items():
            rows[:, order.index(plane)] = tone
        return rows


class _Sought(NamedTuple):
    """`words`: values as the pixels hold them, alpha 0, rising. `flags`: for each hash whether one has it. `colour`: the bits but
    for alpha."""

    words: Words
    flags: Bytes
    colour: np.uint32


def met_in(pixels: Bytes, values: Bytes) -> NDArray[np.bool_]:
    """Which of values (n, 3) some pixel of (h, w, 4), straight alpha, has that is not transparent: (n,)."""
    met = np.zeros(len(values), np.bool_)
    if len(values):
        sought, order = _sought(values)
        words = _words(pixels)
        met[order] = _met(words, _blocks(words, sought), sought)
    return met


def lay(pixels: Bytes, values: Bytes, rows: Bytes, planes: Bytes, coverage: Bytes) -> None:
    """Write the rows (n, k) of values (n, 3) into planes (k, h, w) where pixels (h, w, 4) have these; film wherever alpha is."""
    if len(values):
        sought, order = _sought(values)
        words = _words(pixels)
        out = planes.reshape(len(planes), -1), coverage.reshape(-1)
        _lay(words, _blocks(words, sought), sought, (rows[order], words.view(np.uint8)[3::4]), out)


def _words(pixels: Bytes) -> Words:
    """A number a pixel."""
    return np.ascontiguousarray(pixels).view(np.uint32).reshape(-1)


def _blocks(words: Words, sought: _Sought) -> NDArray[np.intp]:
    """Which blocks of words have to be looked through; a rest that is no whole block always has."""
    whole = words[: words.size // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    flagged = _flagged(whole, whole.view(np.uint64), sought.flags, sought.colour)
    blocks = np.flatnonzero(flagged)
    return np.append(blocks, len(whole)) if whole.size < words.size else blocks


def _sought(values: Bytes) -> tuple[_Sought, NDArray[np.intp]]:
    """The values ready for the kernels, and which of them stands at each place."""
    words = np.append(values, np.zeros((len(values), 1), np.uint8), axis=1).view(np.uint32)[:, 0]
    flags = np.zeros(1 << _HASH_BITS, np.uint8)
    flags[(words.astype(np.uint64) * _GOLDEN & 0xFFFFFFFF) >> _SHIFT] = 1
    order = np.argsort(words)
    return _Sought(words[order], flags, np.array([255, 255, 255, 0], np.uint8).view(np.uint32)[0]), order


@compiled
def _flagged(blocks: Words, pairs: NDArray[np.uint64], flags: Bytes, colour: np.uint32) -> NDArray[np.bool_]:
    """For each block (n, pixels) whether any pixel has a flag; `pairs` (n, half as many) are the same two by two."""
    result = np.empty(len(blocks), np.bool_)
    last, has_flag = np.uint64(0), False
    for number in range(len(blocks)):
        a = b = c = d = np.uint64(0)  # four at a time, none of which waits for another
        for i in range(0, _BLOCK // 2, 4):
            a |= pairs[number, i] ^ last
            b |= pairs[number, i + 1] ^ last
            c |= pairs[number, i + 2] ^ last
            d |= pairs[number, i + 3] ^ last
        change = a | b | c | d
        if change:
            flag = np.uint8(0)
            for i in range(_BLOCK):
                flag |= flags[_hash(blocks[number, i] & colour)]
            result[number] = flag > 0
            pixel = blocks[number, _BLOCK - 1]
            last = np.uint64(pixel) << np.uint64(32) | np.uint64(pixel)
            has_flag = flags[_hash(pixel & colour)] > 0
        else:
            result[number] = has_flag
    return result


@compiled
def _hash(word: np.uint32) -> np.uint32:
    return np.uint32(np.uint32(word * np.uint32(_GOLDEN)) >> np.uint32(_SHIFT))


@compiled
def _met(pixels: Words, blocks: NDArray[np.intp], sought: _Sought) -> Bytes:
    """Which words pixels of these blocks have that are not transparent."""
    words, flags, colour = sought
    met, last = np.zeros(len(words), np.uint8), np.uint32(0)
    for block in blocks:
        for i in range(block * _BLOCK, min((block + 1) * _BLOCK, len(pixels))):
            if pixels[i] != last:
                last = pixels[i]
                word = np.uint32(last & colour)
                place = _place(words, word) if word != last and flags[_hash(word)] else -1
                if place >= 0:
                    met[place] = 1
    return met


@compiled
def _lay(pixels: Words, blocks: NDArray[np.intp], sought: _Sought, film: tuple[Bytes, Bytes], out: tuple[Bytes, Bytes]) -> None:
    words, flags, colour = sought
    rows, alpha = film
    planes, coverage = out
    last, place = np.uint32(0), -1
    for block in blocks:
        for i in range(block * _BLOCK, min((block + 1) * _BLOCK, len(pixels))):
            if pixels[i] != last:
                last = pixels[i]
                word = np.uint32(last & colour)
                place = _place(words, word) if word != last and flags[_hash(word)] else -1
            if place >= 0:
                coverage[i] = alpha[i]
                for plane in range(len(planes)):
                    planes[plane, i] = rows[place, plane]


@compiled
def _place(words: Words, word: np.uint32) -> int:
    """Where a word stands among rising ones, -1 where it does not."""
    low, high = 0, len(words)
    while low < high:
        middle = (low + high) >> 1
        if words[middle] < word:
            low = middle + 1
        else:
            high = middle
    return low if low < len(words) and words[low] == word else -1

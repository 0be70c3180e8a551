"""Rows of dots as 64-bit words, and how they become TIFF samples and counts.

Dot x of a row is bit x mod 64 of word x // 64, the lowest bit first, so that a shift moves dots across word boundaries in one
direction only. TIFF wants the highest bit of a byte first (FillOrder 1, TIFF 6.0 section 8); `to_samples` turns them.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

Words = NDArray[np.uint64]
"""rows×words uint64, 1 = dot; dots past a row's end are 0."""

WORD: Final = 64
GROUP: Final = 16
"""Dots side by side that `counts` keeps apart."""


def words_for(dots: int) -> int:
    """Words that hold a row of dots."""
    return -(-dots // WORD)


def shifted(words: Words, by: int, room: int) -> Words:
    """Rows of `room` words with the dots of rows×words moved `by` dots (0 to 63) on; those past the room are cut off."""
    out = np.zeros((len(words), room), np.uint64)
    _shift(words, by, out)
    return out


def to_samples(levels: Words, width: int) -> NDArray[np.uint8]:
    """TIFF rows of a plane, rows×bytes uint8, contiguous.

    `levels`: 1×rows×words, one bit a sample; or 3×rows×words, at least the first, second, third drop: two bits a sample.
    """
    bits = 1 if len(levels) == 1 else 2
    rows, words = levels.shape[1:]
    samples = np.empty((rows, words * bits), np.uint64)
    if bits == 1:
        _highest_first(levels[0], samples)
    else:
        _two_bits(levels, samples)
    return np.ascontiguousarray(samples.view(np.uint8)[:, : -(-width * bits // 8)])


def counts(words: Words, rows_together: int) -> NDArray[np.uint16]:
    """Dots in each GROUP side by side and `rows_together` rows (at most 4095) one below the other.

    The result is ⌈rows / rows_together⌉ × 4·words uint16; its sum is the number of dots.
    """
    groups = np.zeros((-(-words.shape[0] // rows_together), words.shape[1]), np.uint64)
    _count(words, rows_together, groups)
    return groups.view(np.uint16)


def tone_sums(tones: NDArray[np.uint8], rows_together: int) -> NDArray[np.uint32]:
    """As `counts`, of continuous tones (rows × whole groups, uint8): their sums, ⌈rows / rows_together⌉ × groups uint32."""
    groups = np.zeros((-(-tones.shape[0] // rows_together), tones.shape[1] // GROUP), np.uint32)
    _add_up(tones, rows_together, groups)
    return groups


@compiled
def _shift(words: Words, by: int, out: Words) -> None:
    left, right = np.uint64(by), np.uint64(WORD - by)
    for y in range(words.shape[0]):
        for k in range(min(words.shape[1], out.shape[1])):
            out[y, k] |= words[y, k] << left
            if by and k + 1 < out.shape[1]:
                out[y, k + 1] |= words[y, k] >> right


@compiled
def _add_up(tones: NDArray[np.uint8], rows_together: int, groups: NDArray[np.uint32]) -> None:
    for y in range(tones.shape[0]):
        into = groups[y // rows_together]
        for k in range(groups.shape[1]):
            for x in range(k * GROUP, (k + 1) * GROUP):
                into[k] += tones[y, x]


@compiled
def _highest_first(words: Words, samples: Words) -> None:
    """Turn the bits of every byte round."""
    fives, threes, nibbles = np.uint64(0x5555555555555555), np.uint64(0x3333333333333333), np.uint64(0x0F0F0F0F0F0F0F0F)
    one, two, four = np.uint64(1), np.uint64(2), np.uint64(4)
    for y in range(words.shape[0]):
        for k in range(words.shape[1]):
            word = words[y, k]
            word = ((word >> one) & fives) | ((word & fives) << one)
            word = ((word >> two) & threes) | ((word & threes) << two)
            samples[y, k] = ((word >> four) & nibbles) | ((word & nibbles) << four)


@compiled
def _two_bits(levels: Words, samples: Words) -> None:
    """Drop sizes 0 to 3, two bits a sample, highest first: level = how many of the three planes have the dot."""
    for y in range(levels.shape[1]):
        for k in range(levels.shape[2]):
            first, second, third = levels[0, y, k], levels[1, y, k], levels[2, y, k]
            high, low = second, first ^ second ^ third
            for half in range(2):
                shift = np.uint64(32 * half)
                word = (_spread(high >> shift) << np.uint64(1)) | _spread(low >> shift)
                samples[y, 2 * k + half] = _pairs_highest_first(word)


@compiled
def _spread(word: np.uint64) -> np.uint64:
    """The low 32 bits, bit i moved to bit 2i."""
    word = word & np.uint64(0x00000000FFFFFFFF)
    word = (word | (word << np.uint64(16))) & np.uint64(0x0000FFFF0000FFFF)
    word = (word | (word << np.uint64(8))) & np.uint64(0x00FF00FF00FF00FF)
    word = (word | (word << np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    word = (word | (word << np.uint64(2))) & np.uint64(0x3333333333333333)
    return (word | (word << np.uint64(1))) & np.uint64(0x5555555555555555)


@compiled
def _pairs_highest_first(word: np.uint64) -> np.uint64:
    """Turn the four two-bit samples of every byte round."""
    threes, nibbles = np.uint64(0x3333333333333333), np.uint64(0x0F0F0F0F0F0F0F0F)
    word = ((word >> np.uint64(2)) & threes) | ((word & threes) << np.uint64(2))
    return ((word >> np.uint64(4)) & nibbles) | ((word & nibbles) << np.uint64(4))


@compiled
def _count(words: Words, rows_together: int, groups: Words) -> None:
    """Add up dots in four 16-bit lanes of each word at once."""
    fives, threes = np.uint64(0x5555555555555555), np.uint64(0x3333333333333333)
    nibbles, bytes_ = np.uint64(0x0F0F0F0F0F0F0F0F), np.uint64(0x00FF00FF00FF00FF)
    for y in range(words.shape[0]):
        into = groups[y // rows_together]
        for k in range(words.shape[1]):
            word = words[y, k]
            word -= (word >> np.uint64(1)) & fives
            word = (word & threes) + ((word >> np.uint64(2)) & threes)
            word = (word + (word >> np.uint64(4))) & nibbles
            into[k] += (word & bytes_) + ((word >> np.uint64(8)) & bytes_)

"""What the figures mean, in plain words: whether to trust the model, why, and what to do next."""

from collections.abc import Iterator
from enum import StrEnum
from typing import Final, NamedTuple

from filmhand.colour.fitted.accuracy import Trust
from filmhand.colour.report.facts import Judged
from filmhand.colour.report.look import mix


class Level(StrEnum):
    """How far to trust the model."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


class Verdict(NamedTuple):
    """`headline` in half a sentence, `because` in sentences, `to_do` a sentence a step; none where nothing is to be done."""

    level: Level
    headline: str
    because: tuple[str, ...]
    to_do: tuple[str, ...]


# ΔE00 of 1 is just seen side by side, 2 to 3 by most (common practice, no source). The bounds are our own.
_GOOD: Final = (1.0, 2.5)
_FAIR: Final = (2.0, 4.5)
"""Mean and 95th percentile up to which a model is good, and fair."""
_SCATTERS: Final = 0.75
"""Share of the mean from which scatter, not the model, is what is seen."""
_NOISY: Final = 0.7
"""ΔE00 of scatter from which measuring twice pays."""
_THIN: Final = 1.5
"""Expected ΔE00 of a sector's mixes from which more patches pay."""
_HEADLINES: Final = {
    Level.GOOD: "This colour can be trusted",
    Level.FAIR: "This colour can be used, with an eye on it",
    Level.POOR: "This colour should not be trusted yet",
}


def verdict(judged: Judged) -> Verdict:
    """By the accuracy of patches that the model had not seen."""
    accuracy = judged.accuracy
    level = Level.POOR
    for one, (mean, most) in ((Level.FAIR, _FAIR), (Level.GOOD, _GOOD)):
        if accuracy.mean <= mean and accuracy.percentile95 <= most:
            level = one
    return Verdict(level, _HEADLINES[level], tuple(_because(judged)), tuple(_to_do(judged)))


def _because(judged: Judged) -> Iterator[str]:
    accuracy = judged.accuracy
    yield (
        f"Each patch of the chart was foretold from the others, as if it had not been printed, and compared: on average they are "
        f"ΔE00 {accuracy.mean:.1f} apart, 95 of 100 patches no more than {accuracy.percentile95:.1f}, the worst "
        f"{accuracy.largest:.1f}. A difference of 1 is just seen side by side; below it hardly anybody sees one."
    )
    if accuracy.scatter >= _SCATTERS * accuracy.mean:
        yield (
            f"Most of that is scatter: the same ink prints and measures about ΔE00 {accuracy.scatter:.1f} differently from "
            "place to place. The model smooths it, so colours are nearer than that in truth."
        )
    else:
        yield (
            f"Scatter of print and instrument is about ΔE00 {accuracy.scatter:.1f} of it; the rest is what the patches of this "
            "chart do not tell."
        )


def _to_do(judged: Judged) -> Iterator[str]:
    for stray in judged.fit.strays:
        yield (
            f"Look at patch {stray.name} and measure it again: it is ΔE00 {stray.delta_e:.1f} from what all others say. It was "
            "left out."
        )
    for outlier in judged.chart.averaged.outliers:
        done = "It was left out." if outlier.is_left_out else "Both were kept, for nobody knows which is wrong."
        yield (f"Look at patch {outlier.name} and measure it again: it is ΔE00 {outlier.de00:.1f} from its repeats. {done}")
    if judged.accuracy.scatter > _NOISY:
        yield (
            "Measure the chart twice, or print two of it, and fit both (filmhand fit SHOP FIRST SECOND): scatter is large. "
            "See that prints are dry and cooled, and that the instrument sits flat."
        )
    thin = thinnest(judged)
    if thin.mean > _THIN:
        yield (
            f"Print a chart with more patches (filmhand chart, --patches): mixes of {' '.join(thin.inks)} are known to ΔE00 "
            f"{thin.mean:.1f} only, that of {mix(thin.worst_inks)} the least."
        )


def thinnest(judged: Judged) -> Trust:
    """The sector that is known least."""
    return judged.accuracy.trust[0]

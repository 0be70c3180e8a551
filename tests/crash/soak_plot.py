"""The picture of a soak: memory, open files and unfinished jobs of the service over time, kills as ticks, full disks shaded."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

_WIDTH, _HEIGHT, _LEFT, _TOP, _APART = 900, 110, 70, 34, 46
_FULL_MIB = 1
_STEPS_MIN, _MOST_TICKS = (1, 5, 10, 30, 60, 600), 8


@dataclass(frozen=True)
class Sample:
    """The service at an instant."""

    seconds: float
    service_mib: float
    children_mib: float
    open_files: int
    children: int
    unfinished: int
    free_mib: int
    kills: int
    """So far."""


_Value = Callable[[Sample], float]
_ROWS: Final[Sequence[tuple[str, _Value]]] = (
    ("memory of the service, MiB", lambda one: one.service_mib),
    ("memory of its children, MiB", lambda one: one.children_mib),
    ("open files of the service", lambda one: one.open_files),
    ("jobs not finished", lambda one: one.unfinished),
)


def plot(samples: Sequence[Sample]) -> str:
    """An SVG page of four curves; at least two samples."""
    height = _TOP + len(_ROWS) * (_HEIGHT + _APART)
    body = "\n".join(line for row, (title, value) in enumerate(_ROWS) for line in _row(samples, row, title, value))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_LEFT + _WIDTH + 20} {height}" '
        f'font-family="sans-serif" font-size="13">\n<rect width="100%" height="100%" fill="#fff"/>\n{body}\n</svg>\n'
    )


def _row(samples: Sequence[Sample], row: int, title: str, value: _Value) -> Iterator[str]:
    top, most = _TOP + row * (_HEIGHT + _APART), max(1.0, *map(value, samples)) * 1.1
    scale = _WIDTH / samples[-1].seconds

    def x(seconds: float) -> float:
        return _LEFT + seconds * scale

    for one, after in pairwise(samples):
        if one.free_mib < _FULL_MIB:
            width = (after.seconds - one.seconds) * scale
            yield f'<rect x="{x(one.seconds):.1f}" y="{top}" width="{width:.1f}" height="{_HEIGHT}" fill="#f6c9bd"/>'
        if after.kills > one.kills:
            yield f'<path d="M{x(after.seconds):.1f} {top + _HEIGHT}v-8" stroke="#b3261e"/>'
    points = " ".join(f"{x(one.seconds):.1f},{top + _HEIGHT * (1 - value(one) / most):.1f}" for one in samples)
    yield f'<polyline points="{points}" fill="none" stroke="#1d4e89" stroke-width="1.4"/>'
    yield f'<path d="M{_LEFT} {top}v{_HEIGHT}h{_WIDTH}" fill="none" stroke="#444"/>'
    yield f'<text x="{_LEFT}" y="{top - 8}" fill="#222">{title}</text>'
    for share in (0.0, 0.5, 1.0):
        y = top + _HEIGHT * (1 - share / 1.1)
        yield f'<text x="{_LEFT - 8}" y="{y + 4:.1f}" text-anchor="end" fill="#222">{most / 1.1 * share:.0f}</text>'
    if row == len(_ROWS) - 1:
        step = next(one for one in _STEPS_MIN if one * 60 * _MOST_TICKS >= samples[-1].seconds)
        for minutes in range(0, int(samples[-1].seconds / 60) + 1, step):
            words = f"{minutes} min" if minutes == 0 else str(minutes)
            yield f'<text x="{x(60 * minutes):.1f}" y="{top + _HEIGHT + 18}" text-anchor="middle" fill="#222">{words}</text>'

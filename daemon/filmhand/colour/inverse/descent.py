"""The kernels of the inverse: a damped descent to the inks of each wanted colour, within each ink's range and the ink limit.

Sought are the inks x that minimise

    ‖G (colour of x - wanted colour)‖²  +  Σ pull_i (x_i - wish_i)²  +  2 Σ price_i x_i.

Levenberg 1944 and Marquardt 1963, with each step a small quadratic programme solved by an active set: inks at a bound that the
step would pass are held, the limit likewise, until none of them draws back (Nocedal and Wright 2006, "Numerical Optimization",
section 16.5).
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.colour.oklab import CONES, OPPONENT

Floats = NDArray[np.float64]

UNITS: Final = np.array([100.0, 200.0, 200.0])
"""Oklab L, a, b in units of about one CIELAB unit each; its a and b are about half as long as its L (our own, no source)."""

_SMALLEST_STEP: Final = 1e-6
_ROUNDING: Final = 1e-9
_DARK: Final = 1e-9
"""Least cone response: the cube root's slope has no end at 0."""
_SEED_STRESS: Final = 100.0
"""How much more a seed's inks off the wish count than an end's: the way from K to no K is long, that to a colour short."""
_NEAR: Final = 0.97
"""Part of the tolerance that counts as all of it."""
_MOST_PRICES: Final = 12
_DEAREST: Final = 5.0
"""Highest factor of the price, for each ΔE00 of tolerance: where missing a colour by one ΔE00 more would save less than a fifth
of one full ink, it is not missed by more. Of all ways to spend one mean miss, an even price saves the most (our own, measured)."""


class Sector(NamedTuple):
    """Four inks, how they print, and their bounds.

    `colours`: (N^4, 3) in the mixing space of factor n, over N even steps of each ink (the first runs fastest) from none to
    full; between them a cell's 16 corners are mixed by Demichel's shares. N = 2 is Neugebauer's model, more its cellular kind.
    `upper`: most of each ink (4,). `most`: of all together. `seeds` (s, 4): inks within the bounds from which to start, and
    their colours (s, 3), Oklab in `UNITS`.
    """

    colours: Floats
    steps: int
    n: float
    upper: Floats
    most: float
    seeds: Floats
    seed_colours: Floats


class Goals(NamedTuple):
    """For m colours: Oklab (m, 3) in `UNITS`, metric (m, 3, 3), and of each ink (m, 4) the wish, the pull, and the price."""

    colours: Floats
    metrics: Floats
    wishes: Floats
    pulls: Floats
    prices: Floats


class _Goal(NamedTuple):
    """One of them."""

    colour: Floats
    metric: Floats
    wish: Floats
    pull: Floats
    price: Floats


@compiled
def descend_all(goals: Goals, start: Floats, sector: Sector, most_steps: int) -> tuple[Floats, Floats]:
    """Inks (m, 4), and how far (m,) their colours miss by the metric.

    `start` (m, 4): inks within bounds from which to descend, or NaN: from the likeliest of the seeds.
    """
    inks, misses = start.copy(), np.empty(len(start))
    for i in range(len(inks)):
        goal = _Goal(goals.colours[i], goals.metrics[i], goals.wishes[i], goals.pulls[i], goals.prices[i])
        if np.isnan(inks[i, 0]):
            inks[i] = sector.seeds[_best_seed(goal, sector)]
        misses[i] = _descend(inks[i], goal, sector, most_steps)
    return inks, misses


@compiled
def spare_all(goals: Goals, start: Floats, sector: Sector, tolerance: Floats, most_steps: int) -> tuple[Floats, Floats]:
    """Inks (m, 4) of the least price for colours missed by no more than a tolerance (m,), and how dear (m,) a miss then is.

    `goals.prices` count up to a factor, which is sought for each colour: dearer ink, greater miss. Where the dearest is reached
    first, more of a miss would save nothing worth while. `start` (m, 4) must miss less than the tolerance.
    """
    inks, factors = start.copy(), np.zeros(len(start))
    for i in range(len(inks)):
        goal = _Goal(goals.colours[i], goals.metrics[i], goals.wishes[i], goals.pulls[i], goals.prices[i])
        factors[i] = _spare(inks[i], goal, sector, tolerance[i], most_steps)
    return inks, factors


@compiled
def _spare(inks: Floats, goal: _Goal, sector: Sector, tolerance: float, most_steps: int) -> float:
    """Move `inks` to the least price within the tolerance; the factor of the price there is returned."""
    there, best = inks.copy(), 0.0
    low, high = 0.0, np.inf  # factors at which the tolerance was kept, and passed
    factor = tolerance * _DEAREST
    dearest = tolerance * _DEAREST
    for _ in range(_MOST_PRICES):
        dear = _Goal(goal.colour, goal.metric, goal.wish, goal.pull, goal.price * factor)
        miss = _descend(there, dear, sector, most_steps)
        if miss <= tolerance:
            inks[:] = there
            low = best = factor
            if miss >= _NEAR * tolerance or factor >= dearest:
                break
        else:
            high = factor
        share = min(max((_NEAR + 1) / 2 * tolerance / max(miss, 1e-9), 0.2), 5.0)
        factor = factor * share
        if not low < factor < high:
            factor = (low + high) / 2 if np.isfinite(high) else low * 2
        factor = min(factor, dearest)
        if high - low < 0.02 * low:
            break
    return best


@compiled
def _best_seed(goal: _Goal, sector: Sector) -> int:
    """The place of the seed from which the way is shortest."""
    best, least = 0, np.inf
    for s in range(len(sector.seeds)):
        cost = 0.0
        for j in range(3):
            miss = 0.0
            for q in range(3):
                miss += goal.metric[j, q] * (sector.seed_colours[s, q] - goal.colour[q])
            cost += miss * miss
        for k in range(4):
            cost += _SEED_STRESS * goal.pull[k] * (sector.seeds[s, k] - goal.wish[k]) ** 2
        if cost < least:
            best, least = s, cost
    return best


@compiled
def _descend(inks: Floats, goal: _Goal, sector: Sector, most_steps: int) -> float:
    """Move `inks` to the minimum; how far their colour then misses, by the metric, is returned."""
    slopes, slopes_there = np.empty((3, 4)), np.empty((3, 4))
    gradient, curvature, there = np.empty(4), np.empty((4, 4)), np.empty(4)
    miss, miss_there = np.empty(3), np.empty(3)
    damping = 1e-4
    _miss(inks, goal, sector, (miss, slopes))
    cost = _cost(inks, goal, miss)
    for _ in range(most_steps):
        _expand(inks, goal, miss, slopes, (gradient, curvature))
        while True:
            step, wish = _bounded_step(inks, gradient, curvature, damping, (sector.upper, sector.most))
            if wish < _SMALLEST_STEP:
                return _length(miss)
            for k in range(4):
                ink = inks[k] + step[k]
                there[k] = 0.0 if ink < _SMALLEST_STEP else sector.upper[k] if ink > sector.upper[k] - _SMALLEST_STEP else ink
            _miss(there, goal, sector, (miss_there, slopes_there))
            cost_there = _cost(there, goal, miss_there)
            if cost_there <= cost:
                break
            damping *= 6
        inks[:] = there
        slopes[:] = slopes_there
        miss[:] = miss_there
        cost = cost_there
        damping = max(damping / 8, 1e-9)
    return _length(miss)


@compiled
def _length(miss: Floats) -> float:
    return float(np.sqrt(miss[0] * miss[0] + miss[1] * miss[1] + miss[2] * miss[2]))


@compiled
def _cost(inks: Floats, goal: _Goal, miss: Floats) -> float:
    cost = miss[0] * miss[0] + miss[1] * miss[1] + miss[2] * miss[2]
    for k in range(4):
        cost += goal.pull[k] * (inks[k] - goal.wish[k]) ** 2 + 2 * goal.price[k] * inks[k]
    return float(cost)


@compiled
def _expand(inks: Floats, goal: _Goal, miss: Floats, slopes: Floats, out: tuple[Floats, Floats]) -> None:
    """Half the cost's gradient (4,) and its Gauss-Newton curvature (4, 4), written to `out`."""
    gradient, curvature = out
    for i in range(4):
        gradient[i] = slopes[0, i] * miss[0] + slopes[1, i] * miss[1] + slopes[2, i] * miss[2]
        for j in range(4):
            curvature[i, j] = slopes[0, i] * slopes[0, j] + slopes[1, i] * slopes[1, j] + slopes[2, i] * slopes[2, j]
        gradient[i] += goal.pull[i] * (inks[i] - goal.wish[i]) + goal.price[i]
        curvature[i, i] += goal.pull[i]


@compiled
def _miss(inks: Floats, goal: _Goal, sector: Sector, out: tuple[Floats, Floats]) -> None:
    """The weighted miss (3,) of a colour and its slopes by each ink (3, 4), written to `out`."""
    cells = sector.steps - 1
    part = np.empty(4)
    corner, stride = 0, 1
    for i in range(4):
        cell = min(int(inks[i] * cells), cells - 1)
        part[i] = inks[i] * cells - cell
        corner += cell * stride
        stride *= sector.steps
    c, m, y, k = part
    mixed, by_ink, p = np.empty(3), np.empty((3, 4)), np.empty(16)
    cm, yk = np.empty(4), np.empty(4)
    for j in range(3):
        _corners(sector.colours, sector.steps, corner, j, p)
        for s in range(4):  # each overprint of the first two inks, averaged over the others; and the other way round
            p0, p1, p2, p3 = p[s], p[4 + s], p[8 + s], p[12 + s]
            cm[s] = (1 - k) * (p0 + y * (p1 - p0)) + k * (p2 + y * (p3 - p2))
            p0, p1, p2, p3 = p[4 * s], p[4 * s + 1], p[4 * s + 2], p[4 * s + 3]
            yk[s] = (1 - m) * (p0 + c * (p1 - p0)) + m * (p2 + c * (p3 - p2))
        by_ink[j, 0] = cells * ((1 - m) * (cm[1] - cm[0]) + m * (cm[3] - cm[2]))
        by_ink[j, 1] = cells * ((1 - c) * (cm[2] - cm[0]) + c * (cm[3] - cm[1]))
        by_ink[j, 2] = cells * ((1 - k) * (yk[1] - yk[0]) + k * (yk[3] - yk[2]))
        by_ink[j, 3] = cells * ((1 - y) * (yk[2] - yk[0]) + y * (yk[3] - yk[1]))
        mixed[j] = (1 - m) * (cm[0] + c * (cm[1] - cm[0])) + m * (cm[2] + c * (cm[3] - cm[2]))
    _in_metric(mixed, by_ink, goal, sector.n, out)


@compiled
def _corners(colours: Floats, steps: int, corner: int, channel: int, out: Floats) -> None:
    """One channel of the 16 corners of a cell, in the order of `neugebauer.demichel`."""
    for s in range(16):
        at = corner + (s & 1) + steps * ((s >> 1 & 1) + steps * ((s >> 2 & 1) + steps * (s >> 3)))
        out[s] = colours[at, channel]


@compiled
def _in_metric(mixed: Floats, by_ink: Floats, goal: _Goal, n: float, out: tuple[Floats, Floats]) -> None:
    """From the mixing space, with its slopes, to the weighted miss in Oklab, with its slopes."""
    miss, slopes = out
    lab, light_slopes = np.zeros(3), np.empty(4)
    lab_slopes = np.zeros((3, 4))
    x, y, z = mixed[0] ** n, mixed[1] ** n, mixed[2] ** n
    dx, dy, dz = n * x / mixed[0], n * y / mixed[1], n * z / mixed[2]
    for cone in range(3):
        cx, cy, cz = CONES[cone]
        light = max(cx * x + cy * y + cz * z, _DARK)
        root = np.cbrt(light)
        for i in range(4):
            light_slopes[i] = cx * dx * by_ink[0, i] + cy * dy * by_ink[1, i] + cz * dz * by_ink[2, i]
        for j in range(3):
            lab[j] += UNITS[j] * OPPONENT[j, cone] * root
            chain = UNITS[j] * OPPONENT[j, cone] * root / (3 * light)
            for i in range(4):
                lab_slopes[j, i] += chain * light_slopes[i]
    for j in range(3):
        miss[j] = 0.0
        for q in range(3):
            miss[j] += goal.metric[j, q] * (lab[q] - goal.colour[q])
        for i in range(4):
            slopes[j, i] = 0.0
            for q in range(3):
                slopes[j, i] += goal.metric[j, q] * lab_slopes[q, i]


@compiled
def _bounded_step(
    inks: Floats, gradient: Floats, curvature: Floats, damping: float, bounds: tuple[Floats, float]
) -> tuple[Floats, float]:
    """The step (4,) from `inks` (4,) down a gradient (4,) with curvature (4, 4), and how far its longest part wished to go.

    `bounds`: the most of each ink (4,), and of all together. From inside its range an ink ends at the bound, and the whole step
    is cut short in proportion.
    """
    upper, most = bounds
    room = most - inks.sum()
    damped = curvature.copy()
    for k in range(4):
        damped[k, k] += damping * (curvature[k, k] + 1.0)
    step = np.zeros(4)
    held = np.zeros(4, np.bool_)
    full = False
    for _ in range(12):  # as a rule two or three; a cycle ends here, and inks that would leave their range stay
        pressure = _solved(gradient, damped, held, (full, room), step)
        changed = _let_go_or_hold(held, inks, step, upper, _push(gradient, damped, step, pressure))
        if full != (pressure > 0 if full else step.sum() > room):
            full = not full
            changed = True
        if not changed:
            break
    wish = float(np.abs(step).max())
    share = 1.0
    for k in range(4):
        if inks[k] + step[k] < 0:
            share = min(share, -inks[k] / step[k])
        if inks[k] + step[k] > upper[k]:
            share = min(share, (upper[k] - inks[k]) / step[k])
    if step.sum() > room + _ROUNDING:
        share = min(share, room / step.sum())
    return step * share, wish


@compiled
def _push(gradient: Floats, damped: Floats, step: Floats, pressure: float) -> Floats:
    """Which way (4,) each ink would still go at the step's end, were it not held."""
    push = np.empty(4)
    for k in range(4):
        push[k] = -(gradient[k] + pressure)
        for j in range(4):
            push[k] -= damped[k, j] * step[j]
    return push


@compiled
def _let_go_or_hold(held: NDArray[np.bool_], inks: Floats, step: Floats, upper: Floats, push: Floats) -> bool:
    """Hold the inks at a bound that go out, free the held that go in; whether anything changed."""
    changed = False
    for k in range(4):
        way = push[k] if held[k] else step[k]
        outward = (inks[k] <= 0 and way < 0) or (inks[k] >= upper[k] and way > 0)
        if held[k] != outward:
            held[k] = outward
            changed = True
    return changed


@compiled
def _solved(gradient: Floats, damped: Floats, held: NDArray[np.bool_], end: tuple[bool, float], step: Floats) -> float:
    """Write the step of the inks not held to `step`, by elimination; held inks' steps are 0.

    `end`: whether the steps shall add up to the room that is left, and that room. Returned is how hard they press against it:
    the multiplier of that condition, else 0.
    """
    full, room = end
    matrix = np.zeros((5, 6))
    for i in range(4):
        if held[i]:
            matrix[i, i] = 1.0
            continue
        for j in range(4):
            if not held[j]:
                matrix[i, j] = damped[i, j]
        matrix[i, 5] = -gradient[i]
        if full:
            matrix[i, 4] = matrix[4, i] = 1.0
    matrix[4, 5] = room if full else 0.0
    if not full or held.all():
        matrix[4, 4] = 1.0
    for i in range(5):  # the first four are positive definite, and the fifth then negative: no pivoting
        for r in range(i + 1, 5):
            factor = matrix[r, i] / matrix[i, i]
            for j in range(i, 6):
                matrix[r, j] -= factor * matrix[i, j]
    pressure = matrix[4, 5] / matrix[4, 4]
    for i in range(3, -1, -1):
        rest = matrix[i, 5] - matrix[i, 4] * pressure
        for j in range(i + 1, 4):
            rest -= matrix[i, j] * step[j]
        step[i] = rest / matrix[i, i]
    return float(pressure)

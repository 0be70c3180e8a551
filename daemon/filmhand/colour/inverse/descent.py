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
from filmhand.colour.oklab import CONES, OPPONENT, UNITS

Floats = NDArray[np.float64]

_SMALLEST_STEP: Final = 1e-6
_ROUNDING: Final = 1e-9
_DARK: Final = 1e-9
"""Least cone response: the cube root's slope has no end at 0."""
_SEED_STRESS: Final = 100.0
"""How much more a seed's inks off the wish count than an end's: the way from K to no K is long, that to a colour short."""
_NEAR: Final = 0.97
"""Part of the tolerance that counts as all of it."""
_MOST_PRICES: Final = 12
_DEAREST: Final = 3.0
"""Highest factor of the price, for each ΔE00 of tolerance: where to miss a colour by one ΔE00 more would save less than a
third of one full ink, it is not missed by more. Of all ways to spend a mean miss, an even price saves the most (measured)."""


class Sector(NamedTuple):
    """Four inks, how they print, and their bounds.

    `colours`: (N^4, 3) in the mixing space of factor n, over N even steps of each ink (the first runs fastest) from none to
    full; between them a cell's 16 corners are mixed by Demichel's shares. N = 2 is Neugebauer's model, more its cellular kind.
    `upper`: most of each ink (4,). `most`: of all together. `seeds` (s, 4): inks within the bounds from which to start, and
    the cube roots (s, 3) of their cone responses.
    """

    colours: Floats
    steps: int
    n: float
    upper: Floats
    most: float
    seeds: Floats
    seed_roots: Floats


class Goals(NamedTuple):
    """For m colours: Oklab (m, 3) in `UNITS`, metric (m, 3, 3), and of each ink (m, 4) the wish, the pull, and the price."""

    colours: Floats
    metrics: Floats
    wishes: Floats
    pulls: Floats
    prices: Floats


class _Goal(NamedTuple):
    """One of them: the miss is `metric` (3, 3) times the cube roots of the cone responses, less `colour` (3,)."""

    colour: Floats
    metric: Floats
    wish: Floats
    pull: Floats
    price: Floats


class _Work(NamedTuple):
    """Room for a descent's numbers, made once for all: a colour and its slopes by each ink, then what a step needs."""

    mixed: Floats
    by_ink: Floats
    cones: Floats
    slopes: tuple[Floats, Floats]
    misses: tuple[Floats, Floats]
    gradient: Floats
    curvature: Floats
    damped: Floats
    there: Floats
    step: Floats
    matrix: Floats
    held: NDArray[np.bool_]


@compiled
def descend_all(goals: Goals, start: Floats, sector: Sector, most_steps: int) -> tuple[Floats, Floats]:
    """Inks (m, 4), and how far (m,) their colours miss by the metric.

    `start` (m, 4): inks within bounds from which to descend, or NaN: from the likeliest of the seeds.
    """
    inks, misses, work = start.copy(), np.empty(len(start)), _room()
    for i in range(len(inks)):
        goal = _goal(goals, i)
        if np.isnan(inks[i, 0]):
            inks[i] = sector.seeds[_best_seed(goal, sector)]
        misses[i] = _descend(inks[i], goal, sector, (work, most_steps))
    return inks, misses


@compiled
def spare_all(goals: Goals, start: Floats, sector: Sector, tolerance: Floats, most_steps: int) -> tuple[Floats, Floats]:
    """Inks (m, 4) of the least price for colours missed by no more than a tolerance (m,), and how dear (m,) a miss then is.

    `goals.prices` count up to a factor, which is sought for each colour: dearer ink, greater miss. Where the dearest is reached
    first, more of a miss would save nothing worth while. `start` (m, 4) must miss less than the tolerance.
    """
    inks, factors, work = start.copy(), np.zeros(len(start)), _room()
    for i in range(len(inks)):
        factors[i] = _spare(inks[i], _goal(goals, i), sector, tolerance[i], (work, most_steps))
    return inks, factors


@compiled
def _room() -> _Work:
    return _Work(
        np.empty(3),
        np.empty((3, 4)),
        np.empty((3, 4)),
        (np.empty((3, 4)), np.empty((3, 4))),
        (np.empty(3), np.empty(3)),
        np.empty(4),
        np.empty((4, 4)),
        np.empty((4, 4)),
        np.empty(4),
        np.empty(4),
        np.empty((5, 6)),
        np.empty(4, np.bool_),
    )


@compiled
def _goal(goals: Goals, i: int) -> _Goal:
    """The goal of colour i, its metric taken from Oklab's to the cones' roots."""
    metric, colour = np.zeros((3, 3)), np.zeros(3)
    for j in range(3):
        for q in range(3):
            colour[j] += goals.metrics[i, j, q] * goals.colours[i, q]
            for cone in range(3):
                metric[j, cone] += goals.metrics[i, j, q] * UNITS[q] * OPPONENT[q, cone]
    return _Goal(colour, metric, goals.wishes[i], goals.pulls[i], goals.prices[i])


@compiled
def _spare(inks: Floats, goal: _Goal, sector: Sector, tolerance: float, how: tuple[_Work, int]) -> float:
    """Move `inks` to the least price within the tolerance; the factor of the price there is returned."""
    there, best = inks.copy(), 0.0
    low, high = 0.0, np.inf  # factors at which the tolerance was kept, and passed
    factor = tolerance * _DEAREST
    dearest = tolerance * _DEAREST
    for _ in range(_MOST_PRICES):
        dear = _Goal(goal.colour, goal.metric, goal.wish, goal.pull, goal.price * factor)
        miss = _descend(there, dear, sector, how)
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
        for k in range(4):
            cost += _SEED_STRESS * goal.pull[k] * (sector.seeds[s, k] - goal.wish[k]) ** 2
        for j in range(3):
            miss = -goal.colour[j]
            for cone in range(3):
                miss += goal.metric[j, cone] * sector.seed_roots[s, cone]
            cost += miss * miss
        if cost < least:
            best, least = s, cost
    return best


@compiled
def _descend(inks: Floats, goal: _Goal, sector: Sector, how: tuple[_Work, int]) -> float:
    """Move `inks` to the minimum, in at most so many steps; how far their colour then misses, by the metric, is returned."""
    work, most_steps = how
    slopes, slopes_there = work.slopes
    miss, miss_there = work.misses
    there, step = work.there, work.step
    damping = 1e-4
    _miss(inks, goal, sector, (miss, slopes, work))
    cost = _cost(inks, goal, miss)
    for _ in range(most_steps):
        _expand(inks, goal, (miss, slopes), work)
        while True:
            wish = _bounded_step(inks, damping, sector.upper, sector.most, work)
            if wish < _SMALLEST_STEP:
                return _length(miss)
            for k in range(4):
                ink = inks[k] + step[k]
                there[k] = 0.0 if ink < _SMALLEST_STEP else sector.upper[k] if ink > sector.upper[k] - _SMALLEST_STEP else ink
            _miss(there, goal, sector, (miss_there, slopes_there, work))
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
def _expand(inks: Floats, goal: _Goal, at: tuple[Floats, Floats], work: _Work) -> None:
    """Half the cost's gradient (4,) and its Gauss-Newton curvature (4, 4), from the miss and its slopes `at` the inks."""
    miss, slopes = at
    gradient, curvature = work.gradient, work.curvature
    for i in range(4):
        gradient[i] = slopes[0, i] * miss[0] + slopes[1, i] * miss[1] + slopes[2, i] * miss[2]
        for j in range(4):
            curvature[i, j] = slopes[0, i] * slopes[0, j] + slopes[1, i] * slopes[1, j] + slopes[2, i] * slopes[2, j]
        gradient[i] += goal.pull[i] * (inks[i] - goal.wish[i]) + goal.price[i]
        curvature[i, i] += goal.pull[i]


@compiled
def _miss(inks: Floats, goal: _Goal, sector: Sector, out: tuple[Floats, Floats, _Work]) -> None:
    """The weighted miss (3,) of a colour and its slopes by each ink (3, 4), written to `out`."""
    miss, slopes, work = out
    mixed, by_ink, cones = work.mixed, work.by_ink, work.cones
    _mix(inks, sector, mixed, by_ink)
    n = sector.n
    for channel in range(3):
        light = mixed[channel] ** n
        for i in range(4):
            by_ink[channel, i] *= n * light / mixed[channel]
        mixed[channel] = light
    for j in range(3):
        miss[j] = -goal.colour[j]
        slopes[j] = 0.0
    for cone in range(3):
        cx, cy, cz = CONES[cone]
        light = max(cx * mixed[0] + cy * mixed[1] + cz * mixed[2], _DARK)
        root = np.cbrt(light)
        for i in range(4):
            cones[cone, i] = root / (3 * light) * (cx * by_ink[0, i] + cy * by_ink[1, i] + cz * by_ink[2, i])
        for j in range(3):
            weight = goal.metric[j, cone]
            miss[j] += weight * root
            for i in range(4):
                slopes[j, i] += weight * cones[cone, i]


@compiled
def _mix(inks: Floats, sector: Sector, mixed: Floats, by_ink: Floats) -> None:
    """A colour in the mixing space (3,) and its slopes by each ink (3, 4), written to `mixed` and `by_ink`."""
    steps, cells = sector.steps, sector.steps - 1
    c, m, y, k = inks[0] * cells, inks[1] * cells, inks[2] * cells, inks[3] * cells
    at_c, at_m, at_y, at_k = min(int(c), cells - 1), min(int(m), cells - 1), min(int(y), cells - 1), min(int(k), cells - 1)
    c, m, y, k = c - at_c, m - at_m, y - at_y, k - at_k
    further = steps * steps
    at = at_c + steps * at_m + further * (at_y + steps * at_k)
    for j in range(3):
        v0, c0, m0 = _square(sector.colours, (at, steps, j), c, m)
        v1, c1, m1 = _square(sector.colours, (at + further, steps, j), c, m)
        v2, c2, m2 = _square(sector.colours, (at + steps * further, steps, j), c, m)
        v3, c3, m3 = _square(sector.colours, (at + steps * further + further, steps, j), c, m)
        low, high = v0 + y * (v1 - v0), v2 + y * (v3 - v2)
        mixed[j] = low + k * (high - low)
        by_ink[j, 0] = cells * ((1 - k) * (c0 + y * (c1 - c0)) + k * (c2 + y * (c3 - c2)))
        by_ink[j, 1] = cells * ((1 - k) * (m0 + y * (m1 - m0)) + k * (m2 + y * (m3 - m2)))
        by_ink[j, 2] = cells * ((1 - k) * (v1 - v0) + k * (v3 - v2))
        by_ink[j, 3] = cells * (high - low)


@compiled
def _square(colours: Floats, place: tuple[int, int, int], c: float, m: float) -> tuple[float, float, float]:
    """One channel mixed over a cell's first two inks, and its slopes by them; `place`: corner, steps, channel."""
    at, steps, j = place
    p0, p1, p2, p3 = colours[at, j], colours[at + 1, j], colours[at + steps, j], colours[at + steps + 1, j]
    low, high = p0 + c * (p1 - p0), p2 + c * (p3 - p2)
    return low + m * (high - low), (1 - m) * (p1 - p0) + m * (p3 - p2), high - low


@compiled
def _bounded_step(inks: Floats, damping: float, upper: Floats, most: float, work: _Work) -> float:
    """The step (4,) from `inks` (4,) by gradient and curvature, written to `work`; how far its longest part wished to go.

    `upper`: the most of each ink (4,); `most`: of all together. From inside its range an ink ends at the bound, and the whole
    step is cut short in proportion.
    """
    damped, step, held = work.damped, work.step, work.held
    room = most - inks.sum()
    damped[:] = work.curvature
    for k in range(4):
        damped[k, k] += damping * (damped[k, k] + 1.0)
        step[k] = 0.0
        held[k] = False
    full = False
    for _ in range(12):  # as a rule two or three; a cycle ends here, and inks that would leave their range stay
        pressure = _solved(work, full, room)
        changed = _let_go_or_hold(inks, upper, pressure, work)
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
    step *= share
    return wish


@compiled
def _let_go_or_hold(inks: Floats, upper: Floats, pressure: float, work: _Work) -> bool:
    """Hold the inks at a bound that go out, free the held that go in; whether anything changed."""
    changed = False
    for k in range(4):
        way = work.step[k]
        if work.held[k]:  # which way it would still go at the step's end, were it not held
            way = -(work.gradient[k] + pressure)
            for j in range(4):
                way -= work.damped[k, j] * work.step[j]
        outward = (inks[k] <= 0 and way < 0) or (inks[k] >= upper[k] and way > 0)
        if work.held[k] != outward:
            work.held[k] = outward
            changed = True
    return changed


@compiled
def _solved(work: _Work, full: bool, room: float) -> float:
    """Write the step of the inks not held, by elimination; held inks' steps are 0.

    `full`: whether the steps shall add up to the room that is left. Returned is how hard they press against it: the multiplier
    of that condition, else 0.
    """
    matrix, held, step = work.matrix, work.held, work.step
    matrix[:] = 0.0
    for i in range(4):
        if held[i]:
            matrix[i, i] = 1.0
            continue
        for j in range(4):
            if not held[j]:
                matrix[i, j] = work.damped[i, j]
        matrix[i, 5] = -work.gradient[i]
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

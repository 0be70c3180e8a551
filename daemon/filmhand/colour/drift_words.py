"""A printer's drift in plain words, for the operator."""

import math
from collections.abc import Mapping

from filmhand.colour.drift import Drift, Lab, Movement, Part, Verdict
from filmhand.rules import Ink

_AXES = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
_POLES = ("red", "yellow", "green", "blue")
"""The ends of CIELAB's axes, a quarter turn from one to the next."""
_WORTH_NAMING = 0.5
"""Of the largest step along L*, a* and b*: smaller ones are not named."""
_COLOURED = 15.0
"""C* from which a hue is worth naming."""
_TURNED_DEG = 1.0


def told(drift: Drift) -> tuple[str, ...]:
    """What moved, causes first: film white, full inks, tones ink by ink, overprints, grays; and then what to do."""
    moved = {part: [patch for patch in drift.movements if patch.part is part] for part in Part}
    changed = {ink for patch in moved[Part.SOLID] for ink in patch.inks}
    tones = {ink: [patch for patch in moved[Part.TONE] if ink in patch.inks] for ink in drift.inks}
    return (
        *(_sentence(patch, changed) for part in (Part.FILM, Part.SOLID) for patch in moved[part]),
        *(_tones(patches) for patches in tones.values() if patches),
        *(_sentence(patch, changed) for part in (Part.OVERPRINT, Part.GRAY, Part.MIXTURE) for patch in moved[part]),
        *_closing(drift),
    )


def name(movement: Movement) -> str:
    """The patch: "Film white", "Cyan, full ink", "Magenta 40 %", "Cyan and yellow, full ink", "Gray of C 50 M 40 Y 40"."""
    inks = [Ink(letter).name.capitalize() for letter in movement.inks]
    if movement.part is Part.FILM:
        return "Film white"
    if movement.part is Part.TONE:
        return f"{inks[0]} {100 * next(iter(movement.inks.values())):.0f} %"
    if movement.part in (Part.SOLID, Part.OVERPRINT):
        return f"{' and '.join(filter(None, [', '.join(inks[:-1]), inks[-1]])).capitalize()}, full ink"
    return f"{'Gray' if movement.part is Part.GRAY else 'Mixture'} of {_amounts(movement.inks)}"


def _sentence(movement: Movement, changed: set[str]) -> str:
    """How far a patch moved and where to, and what of it will stay. `changed`: the inks whose full ink has moved."""
    facts = [f"ΔE00 {movement.moved:.1f}", *_facts(movement)]
    return f"{name(movement)}: {', '.join(facts)}. {_left(movement, changed)}".strip()


def _tones(patches: list[Movement]) -> str:
    """One sentence for the tones of an ink, lightest first."""
    patches = sorted(patches, key=lambda patch: sum(patch.inks.values()))
    shifts = [f"{100 * sum(patch.inks.values()):.0f} % prints as {100 * (patch.acts_as or 0):.1f} % did" for patch in patches]
    ink = Ink(next(iter(patches[0].inks))).name.capitalize()
    return f"{ink}, tones: {', '.join(shifts)} (ΔE00 up to {max(patch.moved for patch in patches):.1f})."


def _amounts(inks: Mapping[str, float]) -> str:
    return " ".join(f"{letter} {100 * amount:.0f}" for letter, amount in inks.items())


def _facts(movement: Movement) -> list[str]:
    if movement.part is Part.SOLID and movement.density is not None:
        change = "stronger" if movement.density > 0 else "weaker"
        return [f"{change} by {abs(movement.density):.2f} in density", *_hue(movement.then, movement.now)]
    return _direction(movement.then, movement.now)


def _direction(then: Lab, now: Lab) -> list[str]:
    steps = [after - before for before, after in zip(then, now, strict=True)]
    most = max(abs(step) for step in steps)
    return [up if step > 0 else down for step, (up, down) in zip(steps, _AXES, strict=True) if abs(step) > _WORTH_NAMING * most]


def _hue(then: Lab, now: Lab) -> list[str]:
    """How far the hue has turned, and towards which of the axes' ends."""
    (_, a1, b1), (_, a2, b2) = then, now
    if min(math.hypot(a1, b1), math.hypot(a2, b2)) < _COLOURED:
        return []
    turn = math.degrees(math.atan2(a1 * b2 - b1 * a2, a1 * a2 + b1 * b2))
    if abs(turn) < _TURNED_DEG:
        return []
    quarter = math.floor(math.degrees(math.atan2(b1, a1)) / 90) + (turn > 0)
    return [f"hue turned by {abs(turn):.0f}° towards {_POLES[quarter % 4]}"]


def _left(movement: Movement, changed: set[str]) -> str:
    if movement.part is Part.FILM:
        return "No curve mends white: look at the white ink, the powder, the film and the press."
    if not movement.stays:
        return ""
    if movement.part is Part.OVERPRINT:
        cause = "its full inks have changed" if changed & movement.inks.keys() else "the inks lie on one another in another way"
        return f"ΔE00 {movement.left:.1f} will stay, for {cause}."
    if movement.part is Part.SOLID and (movement.acts_as or 1) < 1:
        return f"ΔE00 {movement.left:.1f} will stay, for no curve lays more than full ink."
    return f"ΔE00 {movement.left:.1f} will stay."


def _closing(drift: Drift) -> tuple[str, ...]:
    better = f"bring the strip from ΔE00 {drift.before:.1f} to {drift.after:.1f} in the mean."
    if drift.verdict is Verdict.STEADY:
        return ("Nothing has moved further than measuring alone would make it seem.",)
    if drift.verdict is Verdict.CURVES:
        return (f"The curves will {better}",)
    if drift.verdict is Verdict.WATCH:
        return ("No curve mends this, and it needs no new chart: see to the printer, and measure again soon.",)
    advice = "What will stay is too much for curves: see to the printer, then print and measure a new chart."
    return (advice, f"Until then the curves will {better}") if drift.helps else (advice,)

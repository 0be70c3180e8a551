"""Counting what is to overprint on a PDF's page: things that are to mix with what lies under them (ISO 32000-2 section 8.6.7).

We draw on one ground and not ink by ink, so what overprints covers instead. Where that looks the same it is not counted: nothing
lies under it, or it is black in full.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import Enum, auto
from typing import Any, Final

import numpy as np
import pikepdf

from filmhand.artwork.pdf_boxes import Sides
from filmhand.artwork.pdf_colours import colorants_of, family_of, space_of
from filmhand.artwork.pdf_layers import Layers, Marks
from filmhand.artwork.pdf_objects import Key, entry, items, key_of, name, number
from filmhand.artwork.pdf_shape import Matrix, Shape, matrix_of, multiplied

_MOST_STEPS: Final = 400_000
"""Most operators that are followed, those of a form each time it is drawn: about 6 s."""

_STEPS_TO_FORM: Final = 20
"""What going into a form costs, in operators."""

_DEEPEST: Final = 24
_CELLS: Final = 512
"""What lies under is kept on a grid of so many cells each way: 0.6 mm of a page of 300 mm."""


class Mixing(Enum):
    """How a colour, told to overprint, treats what lies under it."""

    NEVER = auto()
    """It sets every ink, as grey, RGB and colours by a profile do; or it is black in full."""
    NONZERO = auto()
    """CMYK with an ink at none: that ink is left as it was in overprint mode 1, and cleared in mode 0."""
    ALWAYS = auto()
    """A spot colour or some of the inks: the others are left as they were."""


@dataclass(frozen=True)
class _State:
    """The graphics state as far as overprinting depends on it: fill first, then stroke."""

    matrix: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
    overprints: tuple[bool, bool] = (False, False)
    mode: int = 0
    spaces: tuple[Any, Any] = (None, None)
    mixing: tuple[Mixing, Mixing] = (Mixing.NEVER, Mixing.NEVER)
    text_mode: int = 0
    text_size: float = 1.0


class _Ground:
    """What was painted so far, on a grid over the artwork."""

    def __init__(self, sides: Sides) -> None:
        self._left, self._bottom = sides[0], sides[1]
        self._scale = _CELLS / (sides[2] - sides[0]), _CELLS / (sides[3] - sides[1])
        self._painted = np.zeros((_CELLS, _CELLS), np.bool_)

    def has_under(self, box: Sides) -> bool:
        """Whether something was painted inside a box; a cell along its edges apart, for that may be a neighbour."""
        rows, columns = self._cells(box, inset=1)
        return bool(self._painted[rows, columns].any())

    def paint(self, box: Sides) -> None:
        """Take in that a box was painted."""
        rows, columns = self._cells(box, inset=0)
        self._painted[rows, columns] = True

    def _cells(self, box: Sides, *, inset: int) -> tuple[slice, slice]:
        along = []
        for low, high, origin, scale in (
            (box[1], box[3], self._bottom, self._scale[1]),
            (box[0], box[2], self._left, self._scale[0]),
        ):
            first, last = (min(max((side - origin) * scale, -1.0), _CELLS + 1.0) for side in (low, high))
            begin = int(first // 1)
            end = max(begin + 1, int(-(-last // 1)))
            if end - begin > 2 * inset:
                begin, end = begin + inset, end - inset
            along.append(slice(max(0, begin), max(0, end)))
        return along[0], along[1]


def overprints_on(page: Any, sides: Sides, layers: Layers) -> tuple[int, bool]:
    """How many things on a page are to mix with what was painted under them; and whether all of the page was followed."""
    counting = _Counting(sides, layers)
    counting.follow(page, entry(page, "/Resources"), _State(), 0)
    return counting.count, counting.is_whole


class _Counting:
    """One pass over a page in the order of painting."""

    def __init__(self, sides: Sides, layers: Layers) -> None:
        self.count = 0
        self.is_whole = True
        self.ground: Final = _Ground(sides)
        self.sides: Final = sides
        self.layers: Final = layers
        self._parsed: dict[Key, list[Any]] = {}
        self._steps = 0

    def follow(self, content: Any, resources: Any, state: _State, depth: int) -> None:
        """Follow a content stream that begins in a state."""
        self._steps += _STEPS_TO_FORM
        if depth > _DEEPEST or self._steps > _MOST_STEPS:
            self.is_whole = False
            return
        _Run(self, resources, state, depth).run(self._steps_of(content))

    def _steps_of(self, content: Any) -> Iterator[tuple[str, list[Any]]]:
        key = key_of(content)
        if key not in self._parsed:
            has_none = not isinstance(content, pikepdf.Stream) and entry(content, "/Contents") is None
            self._parsed[key] = [] if has_none else list(pikepdf.parse_content_stream(content))
        for instruction in self._parsed[key]:
            self._steps += 1
            if self._steps > _MOST_STEPS:
                self.is_whole = False
                return
            yield str(instruction.operator), list(instruction.operands)


class _Run:
    """One content stream being followed."""

    def __init__(self, counting: _Counting, resources: Any, state: _State, depth: int) -> None:
        self._counting, self._resources, self._depth = counting, resources, depth
        self._state, self._states = state, list[_State]()
        self._marks = Marks(counting.layers, resources)
        self._shape = Shape()
        self._handlers: dict[str, Callable[[str, list[Any]], None]] = {
            **dict.fromkeys(("q", "Q", "cm", "gs", "Tr", "Tf"), self._set),
            **dict.fromkeys(("g", "rg", "k", "cs", "sc", "scn"), self._fill_colour),
            **dict.fromkeys(("G", "RG", "K", "CS", "SC", "SCN"), self._stroke_colour),
            **dict.fromkeys(("f", "F", "f*", "S", "s", "B", "B*", "b", "b*", "n"), self._paint),
            **dict.fromkeys(("Tj", "TJ", "'", '"'), self._show),
            "sh": self._shade,
            "Do": self._object,
            "INLINE IMAGE": self._inline,
        }

    def run(self, steps: Iterator[tuple[str, list[Any]]]) -> None:
        """Follow each operator in turn."""
        for operator, operands in steps:
            if operator in {"BDC", "BMC", "EMC"}:
                self._marks.follow(operator, operands)
            elif operator in self._handlers:
                self._handlers[operator](operator, operands)
            else:
                self._shape.follow(operator, [number(operand, 0.0) for operand in operands], self._state.matrix)

    def _set(self, operator: str, operands: list[Any]) -> None:
        if operator == "q":
            self._states.append(self._state)
        elif operator == "Q":
            self._state = self._states.pop() if self._states else self._state
        elif operator == "cm":
            self._state = replace(self._state, matrix=multiplied(matrix_of(operands), self._state.matrix))
        elif operator == "Tr":
            self._state = replace(self._state, text_mode=int(number(next(iter(operands), 0), 0)))
        elif operator == "Tf":
            self._state = replace(self._state, text_size=number(operands[-1], 1.0) if operands else 1.0)
        elif operands:
            self._state = _with_graphics_state(self._state, entry(self._resources, "/ExtGState", operands[0]))

    def _fill_colour(self, operator: str, operands: list[Any]) -> None:
        self._colour(0, operator.lower(), operands)

    def _stroke_colour(self, operator: str, operands: list[Any]) -> None:
        self._colour(1, operator.lower(), operands)

    def _colour(self, which: int, operator: str, operands: list[Any]) -> None:
        """Set a colour: of its own space (g, rg, k), a space (cs), or in the space that is set (sc, scn)."""
        space, values = self._state.spaces[which], [number(operand, -1.0) for operand in operands]
        if operator == "cs":
            space, values = space_of(next(iter(operands), None), self._resources), []
        elif operator in {"g", "rg", "k"}:
            space = None
        is_cmyk = operator == "k"
        mixing = _cmyk_mixing(values) if is_cmyk else mixing_of(space, values, self._resources)
        spaces, mixings = list(self._state.spaces), list(self._state.mixing)
        spaces[which], mixings[which] = space, mixing
        self._state = replace(self._state, spaces=(spaces[0], spaces[1]), mixing=(mixings[0], mixings[1]))

    def _paint(self, operator: str, operands: list[Any]) -> None:  # noqa: ARG002 -- alike
        box = self._shape.taken()
        if operator != "n" and box is not None:
            fills, strokes = operator not in {"S", "s"}, operator in {"S", "s", "B", "B*", "b", "b*"}
            self._lay(box, (self._mixes(0) and fills) or (self._mixes(1) and strokes))

    def _show(self, operator: str, operands: list[Any]) -> None:
        box = self._shape.lettered(operator, operands, self._state.text_size, self._state.matrix)
        mode = self._state.text_mode % 4  # Table 104: fill, stroke, both, neither; 4 more also clip.
        if mode != 3:  # noqa: PLR2004 -- neither
            self._lay(box, (mode in {0, 2} and self._mixes(0)) or (mode in {1, 2} and self._mixes(1)))

    def _shade(self, operator: str, operands: list[Any]) -> None:  # noqa: ARG002 -- alike
        space = entry(self._resources, "/Shading", *operands[:1], "/ColorSpace")
        self._lay(self._counting.sides, self._mixes_space(space))

    def _object(self, operator: str, operands: list[Any]) -> None:  # noqa: ARG002 -- alike
        drawn = entry(self._resources, "/XObject", *operands[:1])
        if self._marks.is_hidden or self._counting.layers.hidden_by(entry(drawn, "/OC")) is not None:
            return
        if name(entry(drawn, "/Subtype")) == "Image":
            is_mask = entry(drawn, "/ImageMask") is True
            mixes = self._mixes(0) if is_mask else self._mixes_space(entry(drawn, "/ColorSpace"))
            self._lay(self._shape.square(self._state.matrix), mixes)
        elif isinstance(drawn, pikepdf.Stream):
            own = entry(drawn, "/Resources")
            matrix = multiplied(matrix_of(items(entry(drawn, "/Matrix"))), self._state.matrix)
            inside = replace(self._state, matrix=matrix)
            self._counting.follow(drawn, self._resources if own is None else own, inside, self._depth + 1)

    def _inline(self, operator: str, operands: list[Any]) -> None:  # noqa: ARG002 -- alike
        self._lay(self._shape.square(self._state.matrix), mixes=False)

    def _mixes(self, which: int) -> bool:
        mixing = self._state.mixing[which]
        is_mixing = mixing is Mixing.ALWAYS or (mixing is Mixing.NONZERO and self._state.mode == 1)
        return self._state.overprints[which] and is_mixing

    def _mixes_space(self, space: Any) -> bool:
        """Of images and shadings: overprint mode 1 does not hold for them, so only spot colours mix."""
        return self._state.overprints[0] and mixing_of(space, [], self._resources) is Mixing.ALWAYS

    def _lay(self, box: Sides, mixes: bool) -> None:
        if self._marks.is_hidden:
            return
        self._counting.count += mixes and self._counting.ground.has_under(box)
        self._counting.ground.paint(box)


def mixing_of(space: Any, values: list[float], resources: Any) -> Mixing:
    """How a colour of a space treats what lies under it when it overprints; without values, any colour of a spot space."""
    if space is None:
        return Mixing.NEVER
    colorants = [colorant for colorant in colorants_of(space, resources) if colorant != "None"]
    if colorants == ["Black"] and values == [1.0]:
        return Mixing.NEVER
    if colorants:
        return Mixing.NEVER if colorants == ["All"] else Mixing.ALWAYS
    is_cmyk = family_of(space_of(space, resources)) == "DeviceCMYK"
    return _cmyk_mixing(values) if is_cmyk else Mixing.NEVER


def _cmyk_mixing(values: list[float]) -> Mixing:
    return Mixing.NEVER if values == _BLACK or 0.0 not in values else Mixing.NONZERO


def _with_graphics_state(state: _State, told: Any) -> _State:
    """Table 57: /op is for filling; where it is not given, /OP is for both."""
    stroke, fill, mode = entry(told, "/OP"), entry(told, "/op"), entry(told, "/OPM")
    if fill is None:
        fill = stroke
    overprints = (
        state.overprints[0] if fill is None else fill is True,
        state.overprints[1] if stroke is None else stroke is True,
    )
    return replace(state, overprints=overprints, mode=state.mode if mode is None else int(number(mode, 0)))


_BLACK: Final = [0.0, 0.0, 0.0, 1.0]

"""Following what a PDF's page draws, through forms, patterns, masks and drawn letters: its fonts, inks and ways of mixing.

Only what the page reaches by its operators counts, for resource dictionaries list much that is never used, and only what is
seen: no layer that is off, no invisible lettering. Each part is looked through once, however often it is drawn, so the work is
bounded by the file.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import pikepdf

from filmhand.artwork.pdf_colours import colorants_of, inked_space, is_plain_cmyk
from filmhand.artwork.pdf_fonts import missing_font
from filmhand.artwork.pdf_layers import Layers, Marks
from filmhand.artwork.pdf_objects import Key, entry, items, key_of, name, number, pairs

_DEEPEST: Final = 24
"""Forms within forms. Deeper ones are left out, and the page is not fully looked through."""

_MOST_BYTES: Final = 64_000_000
"""Most bytes of drawing operators that are looked through: about 10 s, and 1 GB."""

_IN_PLACE: Final = (0, 0)
_INVISIBLE: Final = 3  # Text rendering mode: ISO 32000-2 table 104

_OPERATORS: Final = "q Q gs cs CS sc scn SC SCN k K sh Do Tf Tr Tj TJ ' \" BDC BMC EMC BI ID EI"


class Seen:
    """What a page was seen to use. Names stand in the order met."""

    def __init__(self) -> None:
        self.missing_fonts: dict[str, None] = {}
        self.colorants: dict[str, Any] = {}
        """Each with the first Separation or DeviceN space that has it."""
        self.blend_modes: dict[str, None] = {}
        self.hidden_layers: dict[str, None] = {}
        self.has_knockout = False
        self.has_plain_cmyk = False
        self.has_overprint = False
        self.is_whole = True
        """Whether all of the page was looked through."""


@dataclass(frozen=True)
class _State:
    """What text is set in."""

    font: Any = None
    mode: int = 0


@dataclass(frozen=True)
class _Scope:
    """A content stream with the resources that its names mean, whose these are, and how deep it lies in others."""

    content: Any
    resources: Any
    owner: Key
    depth: int


def seen_on(page: Any, layers: Layers) -> Seen:
    """What a page (its dictionary, with inherited entries pushed down) uses."""
    walk = _Walk(layers)
    walk.follow(_Scope(page, entry(page, "/Resources"), key_of(page), 0))
    return walk.seen


class _Walk:
    """One walk over a page."""

    def __init__(self, layers: Layers) -> None:
        self.seen = Seen()
        self._layers = layers
        self._followed: set[tuple[Key, Key]] = set()
        self._fonts: set[Key] = set()
        self._bytes = 0

    def has_met(self, font: Any) -> bool:
        """Whether a font of the file was met before; the first time it was not."""
        key = key_of(font)
        is_known = key in self._fonts
        self._fonts |= {key} if key != _IN_PLACE else set()
        return is_known

    def follow(self, scope: _Scope) -> None:
        """Look through a content stream, unless it was already with these resources."""
        key = key_of(scope.content), scope.owner
        if key in self._followed:
            return
        self._followed.add(key)
        self._bytes += _length(scope.content)
        if scope.depth > _DEEPEST or self._bytes > _MOST_BYTES:
            self.seen.is_whole = False
            return
        _Run(self, scope, self._layers).run()


class _Run:
    """One content stream being looked through."""

    def __init__(self, walk: _Walk, scope: _Scope, layers: Layers) -> None:
        self._walk, self._scope, self._layers = walk, scope, layers
        self._seen = walk.seen
        self._state, self._states = _State(), list[_State]()
        self._marks = Marks(layers, scope.resources)
        self._handlers: dict[str, Callable[[list[Any]], None]] = {
            "gs": self._graphics_state,
            **dict.fromkeys(("cs", "CS"), self._space),
            **dict.fromkeys(("sc", "SC", "scn", "SCN"), self._pattern),
            **dict.fromkeys(("k", "K"), self._cmyk),
            "sh": self._shade,
            "Do": self._object,
            **dict.fromkeys(("Tj", "TJ", "'", '"'), self._show),
            "INLINE IMAGE": self._inline,
        }

    def run(self) -> None:
        """Look at each operator in turn."""
        if entry(self._scope.content, "/Type") == pikepdf.Name.Page and entry(self._scope.content, "/Contents") is None:
            return
        for instruction in pikepdf.parse_content_stream(self._scope.content, _OPERATORS):
            operator, operands = str(instruction.operator), list(instruction.operands)
            if operator in {"BDC", "BMC", "EMC"}:
                self._note(self._marks.follow(operator, operands))
            elif operator in {"q", "Q", "Tf", "Tr"}:
                self._keep(operator, operands)
            elif not self._marks.is_hidden and operator in self._handlers:
                self._handlers[operator](operands)

    def _note(self, hiding: str | None) -> None:
        if hiding is not None:
            self._seen.hidden_layers[hiding] = None

    def _keep(self, operator: str, operands: list[Any]) -> None:
        if operator == "q":
            self._states.append(self._state)
        elif operator == "Q":
            self._state = self._states.pop() if self._states else self._state
        elif operator == "Tf" and operands:
            self._state = replace(self._state, font=entry(self._scope.resources, "/Font", operands[0]))
        elif operator == "Tr" and operands:
            self._state = replace(self._state, mode=int(number(operands[0], 0)))

    def _graphics_state(self, operands: list[Any]) -> None:
        state = entry(self._scope.resources, "/ExtGState", *operands[:1])
        for mode in items(entry(state, "/BM")) or [entry(state, "/BM")]:
            if name(mode) not in {"", "Normal", "Compatible"}:
                self._seen.blend_modes[name(mode)] = None
        if True in (entry(state, "/OP"), entry(state, "/op")):
            self._seen.has_overprint = True
        fonts = items(entry(state, "/Font"))
        if fonts:
            self._state = replace(self._state, font=fonts[0])
        self._form(entry(state, "/SMask", "/G"))

    def _space(self, operands: list[Any]) -> None:
        self._use_space(next(iter(operands), None))

    def _use_space(self, space: Any) -> None:
        inked = inked_space(space, self._scope.resources)
        for colorant in colorants_of(inked, self._scope.resources):
            self._seen.colorants.setdefault(colorant, inked)
        self._seen.has_plain_cmyk |= is_plain_cmyk(space, self._scope.resources)

    def _cmyk(self, operands: list[Any]) -> None:  # noqa: ARG002 -- alike
        self._seen.has_plain_cmyk = True

    def _pattern(self, operands: list[Any]) -> None:
        pattern = entry(self._scope.resources, "/Pattern", operands[-1]) if operands else None
        self._follow(pattern, pattern)
        self._use_space(entry(pattern, "/Shading", "/ColorSpace"))

    def _shade(self, operands: list[Any]) -> None:
        self._use_space(entry(self._scope.resources, "/Shading", *operands[:1], "/ColorSpace"))

    def _object(self, operands: list[Any]) -> None:
        drawn = entry(self._scope.resources, "/XObject", *operands[:1])
        hiding = self._layers.hidden_by(entry(drawn, "/OC"))
        self._note(hiding)
        if hiding is not None:
            return
        if name(entry(drawn, "/Subtype")) == "Image":
            self._use_space(entry(drawn, "/ColorSpace"))
        else:
            self._form(drawn)

    def _form(self, form: Any) -> None:
        self._seen.has_knockout |= entry(form, "/Group", "/K") is True
        self._follow(form, form)

    def _follow(self, content: Any, owner: Any) -> None:
        """Look through what is drawn; where its owner has no resources, names mean what they mean here."""
        if not isinstance(content, pikepdf.Stream):
            return
        own, depth = entry(owner, "/Resources"), self._scope.depth + 1
        if own is None:
            self._walk.follow(_Scope(content, self._scope.resources, self._scope.owner, depth))
        else:
            self._walk.follow(_Scope(content, own, key_of(owner), depth))

    def _show(self, operands: list[Any]) -> None:  # noqa: ARG002 -- alike
        font = self._state.font
        if font is None or self._state.mode == _INVISIBLE or self._walk.has_met(font):
            return
        missing = missing_font(font)
        if missing is not None:
            self._seen.missing_fonts[missing] = None
        for _, letter in pairs(entry(font, "/CharProcs")):
            self._follow(letter, font)

    def _inline(self, operands: list[Any]) -> None:
        image = operands[0].obj if operands else None
        for key in ("/CS", "/ColorSpace"):
            self._use_space(entry(image, key))


def _length(content: Any) -> int:
    """How long a content stream is, unpacked. A page's is the sum of its parts."""
    if isinstance(content, pikepdf.Stream):
        return len(content.read_bytes())
    contents = entry(content, "/Contents")
    parts = items(contents) or [contents]
    return sum(len(part.read_bytes()) for part in parts if isinstance(part, pikepdf.Stream))

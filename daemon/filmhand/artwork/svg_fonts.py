"""Fonts that an SVG's lettering asks for: an SVG holds none, so what this machine lacks is drawn in other letters."""

import re
from collections.abc import Iterable, Iterator
from typing import Final
from xml.etree.ElementTree import Element

from filmhand.artwork.svg_text import SVG

_LETTERING: Final = frozenset(SVG + name for name in ("text", "tspan", "textPath"))
_FAMILY: Final = re.compile(r"(font-family\s*:\s*)([^;}!]+)", re.IGNORECASE)
_SHORT: Final = re.compile(
    r"((?<![\w-])font\s*:\s*[^;}!]*?(?:\d\S*|small|medium|large)(?:\s*/\s*\S+)?\s+)([^;}!]+)", re.IGNORECASE
)
_RULE: Final = re.compile(r"([^{}]+)\{([^{}]*)\}")
_COMMENT: Final = re.compile(r"/\*.*?\*/", re.DOTALL)
_NAMES: Final = re.compile(r"[.#]?[\w-]+")

_PREFERRED: Final = ("DejaVu Sans", "Liberation Sans", "Noto Sans", "Arial", "Helvetica", "Segoe UI")
"""What stands in, where there: sans-serifs with many letters that most systems have (common practice, no source)."""

UNNAMED: Final = "?"
"""Stands for lettering that names no font at all."""


def stand_in(installed: Iterable[str]) -> str | None:
    """The font in which lettering is drawn whose own is missing; None where no font is installed."""
    there = sorted(installed)
    return next((name for name in _PREFERRED if name in there), there[0] if there else None)


def missing_fonts(root: Element, installed: Iterable[str]) -> tuple[str, ...]:
    """Fonts named first for lettering that are not installed, sorted; `UNNAMED` among them where lettering names none."""
    there = {name.casefold() for name in installed}
    rules = list(_rules(root))
    asked = set(_asked(root, None, rules))
    return tuple(sorted({family or UNNAMED for family in asked if family is None or family.casefold() not in there}))


def let_stand_in(root: Element, family: str) -> None:
    """Name a font after those that are asked for, everywhere, in place: lettering without a font would not be drawn at all."""
    for element in root.iter():
        if "font-family" in element.attrib:
            element.attrib["font-family"] += f", '{family}'"
        if "style" in element.attrib:
            element.attrib["style"] = _with_stand_in(element.attrib["style"], family)
        if element.tag == SVG + "style" and element.text:
            element.text = _with_stand_in(element.text, family)


def _with_stand_in(declarations: str, family: str) -> str:
    for form in (_FAMILY, _SHORT):
        declarations = form.sub(lambda found: f"{found[1]}{found[2].rstrip()}, '{family}'", declarations)
    return declarations


def _asked(element: Element, family: str | None, rules: list[tuple[frozenset[str], str]]) -> Iterator[str | None]:
    """The font of each run of letters, inherited as CSS has it, selectors read by their last part only."""
    family = _declared(element.get("style", "")) or _by_rule(element, rules) or _first(element.get("font-family", "")) or family
    for child in element:
        yield from _asked(child, family, rules)
    runs = (element.text, *(child.tail for child in element)) if element.tag in _LETTERING else ()
    if any(run and run.strip() for run in runs):
        yield family


def _rules(root: Element) -> Iterator[tuple[frozenset[str], str]]:
    """Style rules that name a font: what the last part of a selector asks for (".name", "#name", "element"), and the font."""
    for style in root.iter(SVG + "style"):
        for selectors, declarations in _RULE.findall(_COMMENT.sub("", style.text or "")):
            family = _declared(declarations)
            if family:
                for selector in selectors.split(","):
                    last = re.split(r"[\s>+~]+", selector.strip())[-1]
                    yield frozenset(_NAMES.findall(last.partition(":")[0])), family


def _by_rule(element: Element, rules: list[tuple[frozenset[str], str]]) -> str | None:
    traits = {f".{name}" for name in element.get("class", "").split()}
    traits |= {f"#{element.get('id')}", str(element.tag).removeprefix(SVG)}
    fits = [family for asked, family in rules if asked <= traits]
    return fits[-1] if fits else None


def _declared(declarations: str) -> str | None:
    found = _FAMILY.search(declarations) or _SHORT.search(declarations)
    return _first(found[2]) if found else None


def _first(families: str) -> str | None:
    return families.partition(",")[0].strip().strip("'\"").strip() or None

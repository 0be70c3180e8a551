"""The report of a fitted ink model as a page of HTML that stands alone: no scripts, nothing fetched, light, dark and on paper."""

from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.fitted.fit import paper
from filmhand.colour.report.facts import Judged
from filmhand.colour.report.ink_use import ORDER, everyday, gray_axes
from filmhand.colour.report.known import known, known_figure
from filmhand.colour.report.look import NO_BREAK, Swatch, hexes, ink_name, lab_words
from filmhand.colour.report.misses import histogram, worst
from filmhand.colour.report.reach import reach
from filmhand.colour.report.tones import tones
from filmhand.colour.report.verdict import verdict
from filmhand.colour.report.white import HIDING, hiding

_PAGE: Final = "fit.html"


def report_page(judged: Judged) -> str:
    """The page's text."""
    templates = Environment(
        loader=PackageLoader("filmhand.colour.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    templates.filters["percent"] = lambda value: f"{value:.0f}{NO_BREAK}%"
    return templates.get_template(_PAGE).render(_figures(judged))


def _figures(judged: Judged) -> dict[str, Any]:
    """What the template is filled with."""
    return {
        "judged": judged,
        "accuracy": judged.accuracy,
        "verdict": verdict(judged),
        "tones": tones(judged.fit),
        "reach": reach(judged.model, ink_limit=judged.ink_limit),
        "histogram": histogram(judged.accuracy),
        "worst": worst(judged.accuracy),
        "known": known(judged.accuracy),
        "known_figure": known_figure(judged.accuracy),
        "blacks": [black.value.replace("-", " ") for black in ORDER],
        "gray_axes": gray_axes(judged.model, ink_limit=judged.ink_limit),
        "everyday": everyday(judged.model, ink_limit=judged.ink_limit),
        "hiding": None if judged.white is None else hiding(judged.white),
        "hiding_ratio": HIDING,
        "white": _white(judged),
        "solids": _solids(judged),
    }


def _white(judged: Judged) -> Swatch:
    """The film white, as measured: absolute CIELAB."""
    seen = judged.fit.used.xyz[paper(judged.fit.used)]
    return Swatch(hexes(seen[None])[0], lab_words(lab_from_xyz(seen)))


def _solids(judged: Judged) -> list[tuple[str, str, Swatch]]:
    """Letter, name and absolute CIELAB of each full ink; shown over film white."""
    found = []
    for column, ink in enumerate(judged.fit.used.inks):
        amounts = judged.fit.used.amounts
        row = int(((amounts[:, column] == 1) & (amounts.sum(axis=1) == 1)).argmax())
        seen = judged.fit.used.xyz[row]
        shown = hexes((seen / judged.fit.model.white * D50_WHITE)[None])[0]
        found.append((ink, ink_name(ink), Swatch(shown, lab_words(lab_from_xyz(seen)))))
    return found

"""Every sentence that is to be translated, gathered from the code.

`python -m filmhand.sentences FILE.po …` brings catalogues up to date: what is new stands in them empty, what is gone is dropped.
A file that is not there is made. Without a file, those that come with filmhand.
"""

import ast
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import Final

from babel import Locale, UnknownLocaleError
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import write_po
from jinja2 import Environment
from jinja2.ext import extract_from_ast

from filmhand.errors import SettingsError
from filmhand.language import SHIPPED, read_catalogue

_HOUSE: Final = Path(__file__).parent
_TEMPLATES: Final = (".html", ".txt")
_HEADER: Final = """\
# The sentences of filmhand's notes: msgid is the English, msgstr the same in this language.
# Places in braces stay exactly as they are; what is left empty is said in English. docs/languages.md says more."""


def gathered() -> dict[str, tuple[str, ...]]:
    """English sentence → the files that say it: every `Phrase("…")` of the code, every `_("…")` of a template."""
    found: dict[str, list[str]] = {}
    for path in sorted(_HOUSE.rglob("*")):
        for sentence in _sentences_in(path):
            files = found.setdefault(sentence, [])
            if (name := path.relative_to(_HOUSE).as_posix()) not in files:
                files.append(name)
    return {sentence: tuple(files) for sentence, files in found.items()}


def merged(catalogue: Catalog, sentences: Mapping[str, Sequence[str]]) -> Catalog:
    """A catalogue with exactly these sentences (as `gathered` gives them), in their order; what it says of others is dropped."""
    result = Catalog(
        locale=catalogue.locale,
        header_comment=_HEADER,
        project="filmhand",
        version="1",
        msgid_bugs_address=catalogue.msgid_bugs_address,
        last_translator=catalogue.last_translator,
        language_team=catalogue.language_team,
        creation_date=catalogue.creation_date,
        revision_date=catalogue.revision_date,
        fuzzy=False,
    )
    for english, files in sentences.items():
        before = catalogue.get(english)
        message = result.add(
            english,
            before.string if before is not None else "",
            [(name, 0) for name in files],
            _flags(before),
            user_comments=before.user_comments if before is not None else (),
        )
        # Babel takes "{share} % of" for C's "% o" and would have msgfmt check it as that.
        message.flags.discard("python-format")
    return result


def written(catalogue: Catalog) -> bytes:
    """A catalogue as the bytes of a PO file."""
    file = BytesIO()
    write_po(file, catalogue, width=100, include_lineno=False, ignore_obsolete=True)
    return file.getvalue()


def untranslated(catalogue: Catalog, sentences: Iterable[str]) -> list[str]:
    """Which of these sentences a catalogue does not say, or marks as unsure."""
    says = {message.id for message in catalogue if message.string and not message.fuzzy}
    return [sentence for sentence in sentences if sentence not in says]


def _flags(before: Message | None) -> set[str]:
    return set(before.flags) if before is not None else set()


def _sentences_in(path: Path) -> Iterator[str]:
    if path.suffix == ".py":
        yield from _phrases(ast.parse(path.read_text("utf-8")), path)
    elif path.suffix in _TEMPLATES and path.parent.name == "templates":
        template = Environment().parse(path.read_text("utf-8"))
        for line, _, sentence in extract_from_ast(template, ("_",)):
            # What fills the places comes with it, as None.
            yield _literal(sentence[0] if isinstance(sentence, tuple) else sentence, path, line)


def _phrases(tree: ast.Module, path: Path) -> Iterator[str]:
    """The sentence of each `Phrase("…")` and the unit of each `Finding(…)`, in the order of the file.

    ValueError where a sentence is not written out.
    """
    calls = (node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name))
    for call in sorted(calls, key=lambda call: (call.lineno, call.col_offset)):
        if ast.unparse(call.func) == "Phrase":
            yield _literal(_text(call.args[0] if call.args else None), path, call.lineno)
        elif ast.unparse(call.func) == "Finding" and (unit := _text(_unit_of(call))):
            yield unit


def _unit_of(finding: ast.Call) -> ast.expr | None:
    """The argument that is a Finding's unit: the seventh, or by name."""
    named = next((keyword.value for keyword in finding.keywords if keyword.arg == "unit"), None)
    return finding.args[6] if len(finding.args) > 6 else named  # noqa: PLR2004 -- as the type has them


def _text(argument: ast.expr | None) -> str | None:
    """The text that an argument is, if it is written out."""
    return argument.value if isinstance(argument, ast.Constant) and isinstance(argument.value, str) else None


def _literal(value: str | None, path: Path, line: int) -> str:
    if not value:
        raise ValueError(f"{path}, line {line}: a sentence for people must be written out here, as one text")
    return value


def main(names: list[str]) -> None:
    """Bring catalogues up to date, and say what they lack."""
    sentences = gathered()
    for path in [Path(name) for name in names] or sorted(SHIPPED.glob("*.po")):
        catalogue = merged(read_catalogue(path) if path.exists() else _new(path), sentences)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(written(catalogue))
        missing = untranslated(catalogue, sentences)
        sys.stdout.write(f"{path}: {len(sentences) - len(missing)} sentences translated, {len(missing)} to translate\n")
        sys.stdout.writelines(f"  {sentence}\n" for sentence in missing)


def _new(path: Path) -> Catalog:
    try:
        return Catalog(locale=Locale.parse(path.stem))
    except (ValueError, UnknownLocaleError):
        step = "Name the file by its language's code, such as fr.po or pt_BR.po"
        raise SettingsError("This is no language's code", file=path, next_step=step) from None


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except SettingsError as problem:
        sys.exit(str(problem))

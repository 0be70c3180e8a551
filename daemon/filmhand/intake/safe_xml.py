"""XML from strangers: well-formed, without a document type, or not at all. Pure."""

from typing import Final
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from filmhand.words import Phrase, Words

_NOT_XML: Final = Phrase("it is not well-formed XML ({problem})")
_HAS_DTD: Final = Phrase("it has a document type declaration, which is not read for safety's sake")


class _DoctypeError(Exception):
    """A document type declaration: its entities could grow without bound, or name files and hosts."""


def parsed(data: bytes) -> Element | Words:
    """The outermost element, or why there is none. With no document type no entity is declared, and none can be fetched."""
    builder = TreeBuilder()
    parser = expat.ParserCreate(namespace_separator="}")
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _refuse_doctype
    parser.StartElementHandler = lambda tag, attributes: builder.start(_clark(tag), attributes)
    parser.EndElementHandler = lambda tag: builder.end(_clark(tag))
    parser.CharacterDataHandler = builder.data
    try:
        parser.Parse(data, True)
    except expat.ExpatError as problem:
        return _NOT_XML(problem=str(problem))
    except _DoctypeError:
        return _HAS_DTD()
    return builder.close()


def _refuse_doctype(*_: object) -> None:
    raise _DoctypeError


def _clark(tag: str) -> str:
    """`{namespace}name`, from expat's `namespace}name`."""
    return f"{{{tag}" if "}" in tag else tag

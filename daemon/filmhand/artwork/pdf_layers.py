"""Layers of a PDF (optional content, ISO 32000-2 section 8.11): which are switched off."""

from typing import Any, Final

import pikepdf

from filmhand.artwork.pdf_objects import Key, entry, items, key_of, name, printable, text

_UNNAMED: Final = "?"


class Layers:
    """The layers of a document as its default configuration switches them. Expressions (/VE) are taken as visible."""

    def __init__(self, document: pikepdf.Pdf) -> None:
        catalogue = entry(document.Root, "/OCProperties")
        default = entry(catalogue, "/D")
        groups = {key_of(group): group for group in items(entry(catalogue, "/OCGs"))}
        off = {key_of(group) for group in items(entry(default, "/OFF"))}
        if name(entry(default, "/BaseState")) == "OFF":
            off |= groups.keys() - {key_of(group) for group in items(entry(default, "/ON"))}
        self._off: Final[frozenset[Key]] = frozenset(off - {(0, 0)})

    def hidden_by(self, membership: Any) -> str | None:
        """The name of the layer that hides what belongs to a group or membership dictionary; None where it is seen."""
        if not self._off or membership is None:
            return None
        if name(entry(membership, "/Type")) != "OCMD":
            return _name_of(membership) if key_of(membership) in self._off else None
        listed = entry(membership, "/OCGs")
        groups = items(listed) or ([] if listed is None else [listed])
        hidden = [key_of(group) in self._off for group in groups]
        if not groups or entry(membership, "/VE") is not None or _is_seen(name(entry(membership, "/P")), hidden):
            return None
        return _name_of(groups[0])


class Marks:
    """The marked content that is open in a content stream, and whether a layer that is off hides it."""

    def __init__(self, layers: Layers, resources: Any) -> None:
        self._layers, self._resources = layers, resources
        self._open: list[str | None] = []  # For each, the layer that hides it.
        self._hiding = 0

    @property
    def is_hidden(self) -> bool:
        """Whether what is drawn now is not seen."""
        return self._hiding > 0

    def follow(self, operator: str, operands: list[Any]) -> str | None:
        """Take in BDC, BMC or EMC (section 14.6); the layer that hides what begins here, if one does."""
        if operator == "EMC":
            self._hiding -= bool(self._open and self._open.pop() is not None)
            return None
        is_layer = len(operands) > 1 and operands[0] == pikepdf.Name.OC
        hiding = self._layers.hidden_by(entry(self._resources, "/Properties", operands[1])) if is_layer else None
        self._open.append(hiding)
        self._hiding += hiding is not None
        return hiding


def _is_seen(policy: str, hidden: list[bool]) -> bool:
    """Section 8.11.2.2; without a policy, one group that is on is enough."""
    if policy == "AllOn":
        return not any(hidden)
    if policy == "AnyOff":
        return any(hidden)
    if policy == "AllOff":
        return all(hidden)
    return not all(hidden)


def _name_of(group: Any) -> str:
    return text(entry(group, "/Name")) or printable(name(entry(group, "/Name"))) or _UNNAMED

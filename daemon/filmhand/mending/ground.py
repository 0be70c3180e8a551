"""Mending: the solid ground of opaque artwork taken away, where the rule says "remove" and there is one colour to remove."""

from filmhand.artwork.background import ground_of, without_ground
from filmhand.artwork.model import Artwork
from filmhand.rules import OnOpaque, Rule


def removed(artwork: Artwork, *, rule: Rule) -> Artwork:
    """The artwork without its ground; as it is where the rule asks for nothing, or nothing can be removed."""
    if rule.background.opaque is not OnOpaque.REMOVE:
        return artwork
    ground = ground_of(artwork, rule.background.tolerance)
    return artwork if ground is None else without_ground(artwork, ground, rule.background.tolerance)

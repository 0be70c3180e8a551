"""Which ink a name means, in a field, a keyword or a spot colour of a file."""

import re
from typing import Final

from filmhand.rules import Ink

_PREFIX: Final = re.compile(r"^(INK|SPOT|PROCESS)[ _]")


def ink_letter(name: str) -> str | None:
    """The letter of an ink, from its letter or its English name, alone or as "INK_O" and "SPOT_ORANGE"; None for any other."""
    bare = _PREFIX.sub("", name.strip().upper())
    return next((ink.value for ink in Ink if bare in (ink.value, ink.name)), None)


def letters_in(text: str) -> tuple[str, ...]:
    """The ink letters of a text such as "C M Y K O"; () where a word in it is no ink or one stands twice."""
    letters = [ink_letter(word) for word in re.split(r"[\s,;]+", text.strip())]
    known = tuple(letter for letter in letters if letter is not None)
    return known if len(set(known)) == len(letters) else ()

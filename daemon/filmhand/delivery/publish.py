"""Publish ②: how a composed sheet reaches the print controller. docs/internals.md says what is true between the steps.

The staged folder exists exactly as long as the sheet has not been handed over; one rename flips that.
"""

import os
from enum import Enum
from pathlib import Path

from filmhand import durable


class HandOver(Enum):
    """What handing over came to."""

    DONE = "done"
    DOUBTFUL = "power was lost around the hand-over: it may have been printed"
    NAME_TAKEN = "something else has this sheet's name in the output folder"


def stage(made: Path, staged: Path) -> None:
    """Give a made sheet its final name inside staging. Its files are synced already."""
    durable.sync_folder(made)
    durable.rename(made, staged)


def hand_over(staged: Path, target: Path, *, booted_since_commit: bool) -> HandOver:
    """The one rename. The commit that says 'delivering' comes before this; repeat it until it answers.

    `booted_since_commit`: the machine started anew after that commit. Gone from staging means handed over, even when the
    controller has already taken it from the output folder. OSError when the rename is refused: try again later.
    """
    if not staged.is_dir():
        if target.parent.is_dir():
            durable.sync_folder(target.parent)
        durable.sync_folder(staged.parent)
        return HandOver.DONE
    if booted_since_commit:
        return HandOver.DOUBTFUL
    if os.path.lexists(target):
        return HandOver.NAME_TAKEN
    durable.make_folder(target.parent)
    durable.rename(staged, target)
    return HandOver.DONE

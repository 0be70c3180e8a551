"""Publish ②: how a composed sheet reaches the print controller. docs/internals.md says what is true between the steps.

The staged folder exists exactly as long as the sheet has not been handed over; one rename flips that.
"""

import os
from enum import Enum
from pathlib import Path

from filmhand import durable
from filmhand.marker import check_marker


class HandOver(Enum):
    """What handing over came to."""

    DONE = "done"
    DOUBTFUL = "power was lost around the hand-over: it may have been printed"
    NAME_TAKEN = "something else has this sheet's name in the output folder"


def stage(made: Path, staged: Path) -> None:
    """Give a made sheet its final name inside staging. Its files are synced already."""
    durable.sync_folder(made)
    durable.rename(made, staged)


def is_staged(staged: Path, *, marked: Path | None = None) -> bool:
    """Whether a staged folder is there. OSError when it is not seen and `marked`, the output folder, has lost its marker."""
    if staged.is_dir():
        return True
    if marked is not None:
        check_marker(marked)
    return False


def hand_over(staged: Path, target: Path, *, booted_since_commit: bool, marked: Path | None = None) -> HandOver:
    """The one rename. The commit that says 'delivering' comes before this; repeat it until it answers.

    `booted_since_commit`: the machine started anew after that commit. Gone from staging means handed over, even when the
    controller has already taken it from the output folder. `marked`: the output folder, if it had its marker once. OSError when
    the rename is refused or the output folder is offline: try again later.
    """
    if not is_staged(staged, marked=marked):
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

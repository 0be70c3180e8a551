"""filmhand with one mistake, for the negative control: a sheet is copied into the output folder, where it must be renamed.

`harness.py` runs this in the place of `-m filmhand`, and must find what it does wrong.
"""

import shutil
from pathlib import Path
from types import SimpleNamespace

from filmhand import cli, durable
from filmhand.delivery import publish


def by_copy(source: Path, target: Path) -> None:
    """What durable.rename does, as copying and removing."""
    shutil.copytree(source, target)
    shutil.rmtree(source)
    durable.sync_folder(target.parent)


if __name__ == "__main__":
    publish.durable = SimpleNamespace(**{**vars(durable), "rename": by_copy})  # type: ignore[assignment]
    cli.main()

"""The command line: one file a subcommand."""

import sys

from filmhand.cli.app import app
from filmhand.errors import FilmhandError

__all__ = ["app", "main"]


def main() -> None:
    """Run a command; what a person must know is one sentence and an exit code, never a traceback."""
    try:
        app()
    except FilmhandError as problem:
        sys.stderr.write(f"filmhand: {problem}\n")
        sys.exit(int(problem.exit_code))

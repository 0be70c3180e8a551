"""`python -m filmhand`: the same as the `filmhand` command."""

from filmhand.cli import main

main()

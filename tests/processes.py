"""Processes as proc(5) shows them."""

from pathlib import Path


def children_of(pid: int) -> list[int]:
    """The processes that a process began; each of its threads has some of its own."""
    return [int(one) for task in Path(f"/proc/{pid}/task").glob("*/children") for one in task.read_text("ascii").split()]

"""Logs: one JSON object a line to a file, and the same readable on a terminal. The files never take more than a stated room."""

import logging
import sys
from dataclasses import dataclass
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Final

import structlog

LOG: Final = "filmhand.jsonl"


@dataclass(frozen=True)
class Room:
    """The most that log files take: the one written to, and so many older ones (`filmhand.jsonl.1` is the newest of them)."""

    file_bytes: int = 20 << 20
    older_files: int = 10


def set_up(folder: Path, *, terminal: bool, room: Room = Room()) -> None:
    """Log to `folder`/filmhand.jsonl, and to stderr when `terminal`."""
    folder.mkdir(parents=True, exist_ok=True)
    shared: list[structlog.typing.Processor] = [
        structlog.contextvars.merge_contextvars,
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso"),
        structlog.processors.format_exc_info,
    ]
    to_file = RotatingFileHandler(folder / LOG, maxBytes=room.file_bytes, backupCount=room.older_files, encoding="utf-8")
    to_file.setFormatter(_formatter(shared, structlog.processors.JSONRenderer()))
    handlers: list[logging.Handler] = [to_file]
    if terminal:
        to_terminal = logging.StreamHandler(sys.stderr)
        to_terminal.setFormatter(_formatter(shared, structlog.dev.ConsoleRenderer(colors=sys.stderr.isatty())))
        handlers.append(to_terminal)
    logging.basicConfig(level=logging.INFO, handlers=handlers, force=True)
    structlog.configure(
        processors=[*shared, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )


def _formatter(
    shared: list[structlog.typing.Processor], renderer: structlog.typing.Processor
) -> structlog.stdlib.ProcessorFormatter:
    return structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=shared,
        processors=[structlog.stdlib.ProcessorFormatter.remove_processors_meta, renderer],
    )

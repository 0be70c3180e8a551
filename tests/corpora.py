"""Files that the makers of decoders collected against their own: whole, broken, hostile. Fetched and cached, never committed.

Sources: the source distributions of Pillow and pypdf on PyPI, those of libpng, libtiff and qpdf in Debian 12. Each is named by
the SHA-256 that was seen on 2026-11-26; another file under that name is an error.
"""

import json
import os
import tarfile
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath
from urllib.parse import urljoin

import pytest

PYPI, DEBIAN = "https://pypi.org/simple/", "http://deb.debian.org/debian/pool/main/"
TIMEOUT_S = 60.0


@dataclass(frozen=True)
class Corpus:
    """A source distribution, and which of its files are artwork of some kind, or pretend to be."""

    name: str
    address: str
    """On PyPI: the project's page and the file's name on it."""
    digest: str
    inside: str
    """A word in the path of those that are wanted."""


CORPORA = (
    Corpus(
        "pillow",
        PYPI + "pillow/#pillow-13.0.0.tar.gz",
        "cdcd1ba258178f7356d74170c9a81ba4eab6a5d55748bc402a5a2a6fe6be3510",
        "/images/",
    ),
    Corpus(
        "pypdf", PYPI + "pypdf/#pypdf-7.1.1.tar.gz", "2eff4e2fc5fb22a6d6711e6f1166cdc9ab5765d90cd0d77dfea3f4aa91a27b1d", ".pdf"
    ),
    Corpus(
        "libpng",
        DEBIAN + "libp/libpng1.6/libpng1.6_1.6.39.orig.tar.gz",
        "a00e9d2f2f664186e4202db9299397f851aea71b36a35e74910b8820e380d441",
        ".png",
    ),
    Corpus(
        "libtiff",
        DEBIAN + "t/tiff/tiff_4.5.0.orig.tar.bz2",
        "638f43d7dea33948d5dee7f39572fc0194d9cc3c74195de9dd26a4388a1f880a",
        ".tif",
    ),
    Corpus(
        "qpdf",
        DEBIAN + "q/qpdf/qpdf_11.3.0.orig.tar.gz",
        "547cee67de77b5c4ef4917e57d2db9c848cfe3aa950361f68d36367a3a03936e",
        ".pdf",
    ),
)


def files_of(corpus: Corpus) -> Iterator[tuple[str, bytes]]:
    """Names, without folders, and contents, in the archive's order. Skips the test aloud where nothing can be fetched."""
    with tarfile.open(_fetched(corpus)) as archive:
        for member in archive:
            opened = archive.extractfile(member) if member.isfile() and corpus.inside in member.name.lower() else None
            if opened is not None:
                yield PurePosixPath(member.name).name, opened.read()


def _fetched(corpus: Corpus) -> Path:
    folder = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "filmhand-tests"
    kept = folder / corpus.digest
    if not kept.exists():
        try:
            data = _get(_address(corpus.address))
        except (urllib.error.URLError, TimeoutError) as problem:
            pytest.skip(f"{corpus.address} cannot be fetched: {problem}")
        assert sha256(data).hexdigest() == corpus.digest, f"another file than before at {corpus.address}"
        folder.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(f".{os.getpid()}")
        part.write_bytes(data)
        part.rename(kept)
    return kept


def _address(named: str) -> str:
    """A file on PyPI is found by its project's page (PEP 691); any other address is one."""
    page, _, name = named.partition("#")
    if not name:
        return named
    listed = json.loads(_get(page, accept="application/vnd.pypi.simple.v1+json"))
    return urljoin(page, next(one["url"] for one in listed["files"] if one["filename"] == name))


def _get(address: str, *, accept: str = "*/*") -> bytes:
    asked = urllib.request.Request(address, headers={"Accept": accept})
    with urllib.request.urlopen(asked, timeout=TIMEOUT_S) as answer:
        data: bytes = answer.read()
        return data

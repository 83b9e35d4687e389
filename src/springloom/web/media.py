"""Which files may be kept beside a paddle: told by what is in them, never by what they claim."""

from __future__ import annotations

from springloom.errors import InputError
from springloom.report.files import file_stem

IMAGES = {"image/png": "png", "image/jpeg": "jpg", "image/webp": "webp"}
KEPT = IMAGES | {"application/pdf": "pdf"}
"""Media type: ending."""

ALLOWED = "a photo (PNG, JPEG or WebP) or a PDF, 10 MB at most"


def found_type(content: bytes) -> str:
    """Return what a file is by its first bytes; empty for anything that is not kept."""
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return "application/pdf" if content.startswith(b"%PDF-") else ""


def media_type_of(content: bytes) -> str:
    """Return what a file is.

    Raises:
        InputError: it is nothing that is kept.
    """
    found = found_type(content)
    if not found:
        raise InputError("is no photo and no PDF", field="file", allowed=ALLOWED)
    return found


def served_name(name: str, media_type: str) -> str:
    """Return a name for a file to be sent under, with the ending of what it is."""
    stem = file_stem(name.rsplit(".", 1)[0])[:80]
    return f"{stem}.{KEPT.get(media_type, 'bin')}"

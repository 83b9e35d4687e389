"""Files sent to a browser, to keep or to look at."""

from __future__ import annotations

from starlette.responses import Response

# What a file needs when it is opened by itself: a drawing carries its style and its letters.
ALONE = {
    "image/svg+xml": "default-src 'none'; style-src 'unsafe-inline'; font-src data:; "
                     "frame-ancestors 'none'",
    "application/pdf": "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'; "
                       "frame-ancestors 'none'",
}


def sent(content: bytes, name: str, media_type: str, *, inline: bool = False) -> Response:
    """Send a file, to look at where ``inline``; ``name`` is one that every system takes."""
    how = "inline" if inline else "attachment"
    headers = {"Content-Disposition": f'{how}; filename="{name}"'}
    if inline and media_type in ALONE:
        headers["Content-Security-Policy"] = ALONE[media_type]
    return Response(content, media_type=media_type, headers=headers)

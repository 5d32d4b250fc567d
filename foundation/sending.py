"""Files sent from the disk: validators, one byte range, HEAD. Django's own file answer knows no ranges."""

import re
from pathlib import Path
from typing import BinaryIO

from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.http import content_disposition_header

RANGE = re.compile(r"bytes=(\d*)-(\d*)")


class RangeError(Exception):
    """The wanted bytes lie outside the file."""


class Slice:
    """Part of an open file, read as a file of its own; closing it closes the file."""

    def __init__(self, file: BinaryIO, start: int, length: int) -> None:
        self.file = file
        self.left = length
        file.seek(start)

    def read(self, size: int = -1) -> bytes:
        piece = self.file.read(self.left if size < 0 else min(size, self.left))
        self.left -= len(piece)
        return piece

    def close(self) -> None:
        self.file.close()


def send_file(
    request: HttpRequest, path: Path, *, etag: str, content_type: str, cache: str, save_as: str = ""
) -> HttpResponseBase:
    """Answer with a file, whole or the one range that was asked for (RFC 9110, sections 13 and 14).

    `etag` is a strong validator without quotes; `cache` is the whole Cache-Control value; with `save_as` the browser
    saves the file under that name. Raises FileNotFoundError.
    """
    size = path.stat().st_size
    headers = {"ETag": f'"{etag}"', "Cache-Control": cache}
    if is_known(request, etag):
        return HttpResponse(status=304, headers=headers)
    headers |= {"Accept-Ranges": "bytes", "X-Content-Type-Options": "nosniff"}
    try:
        wanted = wanted_range(request, etag, size)
    except RangeError:
        return HttpResponse(status=416, headers=headers | {"Content-Range": f"bytes */{size}"})
    first, last = wanted or (0, size - 1)
    headers["Content-Length"] = str(last - first + 1)
    if save_as:
        headers["Content-Disposition"] = content_disposition_header(True, save_as) or "attachment"
    if wanted:
        headers["Content-Range"] = f"bytes {first}-{last}/{size}"
    if request.method == "HEAD":
        return HttpResponse(headers=headers, content_type=content_type)
    part = Slice(path.open("rb"), first, last - first + 1)
    return FileResponse(part, status=206 if wanted else 200, content_type=content_type, headers=headers)


def is_known(request: HttpRequest, etag: str) -> bool:
    """Whether the browser has this very version already."""
    said = request.headers.get("If-None-Match", "")
    return said.strip() == "*" or f'"{etag}"' in [one.strip().removeprefix("W/") for one in said.split(",")]


def wanted_range(request: HttpRequest, etag: str, size: int) -> tuple[int, int] | None:
    """First and last byte of the range that is asked for, or None where the whole file is to be sent.

    Several ranges, other units and what cannot be read are answered with the whole file, as the standard allows.
    Raises RangeError.
    """
    if request.method != "GET" or request.headers.get("If-Range", f'"{etag}"') != f'"{etag}"':
        return None
    match = RANGE.fullmatch(request.headers.get("Range", "").replace(" ", ""))
    if not match or match.groups() == ("", ""):
        return None
    start, end = match.groups()
    if start == "":
        if int(end) == 0 or size == 0:
            raise RangeError
        return max(0, size - int(end)), size - 1
    if end and int(end) < int(start):
        return None
    if int(start) >= size:
        raise RangeError
    return int(start), min(int(end), size - 1) if end else size - 1

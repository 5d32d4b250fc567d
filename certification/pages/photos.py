"""Pictures in the file: the bytes of a rendition go in as they are, read only when they are written."""

from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from reportlab.pdfbase import pdfdoc

from evidence.queries import rendition_path
from foundation.drawing import CannotDraw

SIZE = 1280
SPACES = {"RGB": "DeviceRGB", "L": "DeviceGray"}
END = b"\xff\xd9"


@dataclass(frozen=True)
class Picture:
    """A rendition that can be drawn: its digest's hex digits, place, size in pixels and color space."""

    name: str
    path: Path
    width: int
    height: int
    space: str

    def fitted(self, width: float, height: float) -> tuple[float, float]:
        """The largest size in points within a frame, neither side cut off nor stretched."""
        scale = min(width / self.width, height / self.height)
        return self.width * scale, self.height * scale


class Pictures:
    """The pictures of a record by digest; each file is looked into once, without decoding it."""

    def __init__(self) -> None:
        self._found: dict[str, Picture | None] = {}

    def find(self, digest: str) -> Picture | None:
        """The picture, or None where the rendition is not there or cannot be read."""
        if digest not in self._found:
            self._found[digest] = look(digest)
        return self._found[digest]


def look(digest: str) -> Picture | None:
    """Read the head of a rendition."""
    try:
        path = rendition_path(digest, SIZE)
        with path.open("rb") as file:
            file.seek(-len(END), 2)
            whole = file.read() == END
            file.seek(0)
            with Image.open(file, formats=["JPEG"]) as image:
                (width, height), space = image.size, SPACES.get(image.mode, "")
    except (OSError, ValueError, SyntaxError):
        return None
    return Picture(digest.removeprefix("sha256:"), path, width, height, space) if whole and space else None


class PictureObject(pdfdoc.PDFObject):
    """A picture as the file holds it. Only its place is kept; the bytes are read while the file is written."""

    __RefOnly__ = 1

    def __init__(self, picture: Picture) -> None:
        self.picture = picture

    def pieces(self) -> tuple[bytes, bytes, bytes]:
        """The object as it stands in the file, in pieces, so that the picture is not copied in memory to join them."""
        try:
            data = self.picture.path.read_bytes()
        except OSError as trouble:
            raise CannotDraw(f"A picture was taken away while it was drawn: {trouble}") from trouble
        head = (
            f"<< /Type /XObject /Subtype /Image /Width {self.picture.width} /Height {self.picture.height} "
            f"/ColorSpace /{self.picture.space} /BitsPerComponent 8 /Filter /DCTDecode /Length {len(data)} >>\nstream\n"
        )
        return head.encode(), data, b"\nendstream\n"

"""The file: a canvas that embeds every font it uses, and a writer that goes straight to disk."""

import hashlib
from typing import Any, BinaryIO

from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from certification.pages.photos import Picture, PictureObject
from foundation import lettering
from foundation.digest import canonical
from foundation.lettering import number

# Streams as bytes, not spelled out in letters: a quarter smaller and twenty times as fast.
rl_config.useA85 = 0

LETTER_COUNTRIES = {"United States"}
MAKER = "Builder's record"


class Info(pdfdoc.PDFInfo):
    """What the file says about itself, without dates: the same facts give the same bytes."""

    def format(self, document: Any) -> bytes:
        words = {
            "Title": self.title,
            "Author": self.author,
            "Subject": self.subject,
            "Producer": MAKER,
            "Creator": MAKER,
        }
        return pdfdoc.PDFDictionary({key: pdfdoc.PDFString(value) for key, value in words.items()}).format(document)


class Drawing(Canvas):
    """A canvas that passes pictures through as they are."""

    def line(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """A line; what stands in a table or a hatch has the same numbers again and again."""
        self._code.append(f"n {number(x1)} {number(y1)} m {number(x2)} {number(y2)} l S")

    def showPage(self) -> None:  # noqa: N802
        """Finish the sheet. Its operators are pressed together at once: they stay in memory until the file is made."""
        super().showPage()
        page = self._doc.Pages.pages[-1]
        press = pdfdoc.PDFZCompress
        how = pdfdoc.PDFDictionary({"Filter": pdfdoc.PDFArray([pdfdoc.PDFName(press.pdfname)])})
        page.Contents = pdfdoc.PDFStream(how, press.encode(page.stream))
        page.stream = None

    def picture(self, picture: Picture, x: float, y: float, width: float, height: float) -> None:
        """Draw a picture with its lower left corner at (x, y); drawn again, it is stored once all the same."""
        name = self._doc.getXObjectName(picture.name)
        if name not in self._doc.idToObject:
            self._doc.Reference(PictureObject(picture), name)
        self.saveState()
        self.transform(width, 0, 0, height, x, y)
        self._code.append(f"/{name} Do")
        self.restoreState()
        if picture.name not in self._formsinuse:
            self._formsinuse.append(picture.name)


class Out:
    """The file while it is written: bytes go to disk at once and their place is remembered."""

    def __init__(self, file: BinaryIO) -> None:
        self.file, self.offset = file, 0

    def add(self, *pieces: bytes) -> int:
        """Write bytes and tell where they begin."""
        begin = self.offset
        for piece in pieces:
            self.file.write(piece)
            self.offset += len(piece)
        return begin


def page_size(facts: dict[str, Any]) -> tuple[float, float]:
    """Width and height of a sheet in points: Letter where that is the paper in every shop, else A4."""
    return LETTER if facts["project"]["authority"] in LETTER_COUNTRIES else A4


def new_canvas(facts: dict[str, Any], title: str, author: str) -> Drawing:
    """An empty file for these facts."""
    lettering.load()
    canvas = Drawing(
        "",
        pagesize=page_size(facts),
        pageCompression=1,
        invariant=1,
        initialFontName=lettering.TEXT,
        lang="en-US",
        pdfVersion=(1, 4),
    )
    canvas._doc.info = Info()
    canvas.setTitle(title)
    canvas.setAuthor(author)
    canvas.setSubject(f"Record head {facts['head']['digest']}" if facts["head"] else "Record without entries")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    canvas.showOutline()
    return canvas


def write(canvas: Canvas, facts: dict[str, Any], file: BinaryIO) -> None:
    """Write the drawn sheets, one object after the other, so that no more than one picture is in memory."""
    document = canvas._doc
    for font in document.delayedFonts:
        font.addObjects(document)
    document.Reference(document.Catalog)
    document.Reference(document.info)
    document.Outlines.prepare(document, canvas)
    out = Out(file)
    out.add(b"%PDF-1.4\n%\x93\x8c\x8b\x9e\n")
    ids: list[str] = []
    # Writing an object may bring up further ones, which take the next numbers.
    while (turn := len(ids) + 1) in document.numberToId:
        name = document.numberToId[turn]
        content = document.idToObject[name]
        if isinstance(content, PictureObject):
            document.idToOffset[name] = out.add(f"{turn} 0 obj\n".encode(), *content.pieces(), b"endobj\n")
        else:
            document.idToOffset[name] = out.add(pdfdoc.PDFIndirectObject(name, content).format(document))
        ids.append(name)
    table = pdfdoc.PDFCrossReferenceTable()
    table.addsection(0, ids)
    begin = out.add(table.format(document))
    mark = hashlib.sha256(canonical(facts).encode()).hexdigest()[:32]
    trailer = pdfdoc.PDFTrailer(
        startxref=begin,
        Size=len(ids) + 1,
        Root=document.Reference(document.Catalog),
        Info=document.Reference(document.info),
        ID=f"[<{mark}><{mark}>]".encode(),
    )
    out.add(trailer.format(document))

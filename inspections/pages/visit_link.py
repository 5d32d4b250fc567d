"""The link of a visit as a code to be scanned."""

import segno
from django.utils.safestring import SafeString, mark_safe


def draw_code(address: str) -> SafeString:
    """A QR code of an address as SVG for the page itself: dark on white in every scheme, no style attributes."""
    code = segno.make(address, error="m", micro=False)
    drawing = code.svg_inline(border=4, dark="#000", light="#fff", svgclass="code-picture", lineclass=None, scale=6)
    return mark_safe(drawing.replace("<svg ", '<svg role="img" aria-label="The visit link as a QR code" ', 1))

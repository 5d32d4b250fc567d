"""Drawings made from a link, and what a phone needs for its home screen."""

from typing import Any

import segno
from django.templatetags.static import static
from django.utils.safestring import SafeString, mark_safe


def draw_code(address: str) -> SafeString:
    """A QR code of an address as SVG for the page itself: dark on white in every scheme, no style attributes."""
    code = segno.make(address, error="m", micro=False)
    drawing = code.svg_inline(border=4, dark="#000", light="#fff", svgclass="code-picture", lineclass=None, scale=6)
    return mark_safe(drawing.replace("<svg ", '<svg role="img" aria-label="The sign-in link as a QR code" ', 1))


# --sheet and --board of css/tokens.css, light.
SHEET, BOARD = "#fcfdfb", "#dbe4dc"


def app_manifest(name: str, *, home: str, capture: str, kept: str) -> dict[str, Any]:
    """The web app manifest of a project, from its name and the addresses of three of its pages."""
    return {
        "id": home,
        "name": f"{name} build log",
        "short_name": name,
        "start_url": f"{home}?source=home-screen",
        "scope": "/",
        "display": "standalone",
        "lang": "en-US",
        "theme_color": SHEET,
        "background_color": BOARD,
        "icons": [
            icon("icon-192.png", "192x192"),
            icon("icon-512.png", "512x512"),
            icon("icon-maskable-512.png", "512x512") | {"purpose": "maskable"},
        ],
        "shortcuts": [
            {"name": "Photo", "url": capture, "icons": [icon("icon-192.png", "192x192")]},
            {"name": "Kept on this phone", "url": kept, "icons": [icon("icon-192.png", "192x192")]},
        ],
    }


def icon(name: str, sizes: str) -> dict[str, str]:
    """One of our icons, as a manifest names it."""
    return {"src": static(f"img/{name}"), "sizes": sizes, "type": "image/png"}

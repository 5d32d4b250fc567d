"""The smallest valid process records, made through the commands."""

from decimal import Decimal
from typing import Any

from accounts.models import Person
from foundation.fields import new_key
from parts.models import Assembly
from process.commands import layups, mixes
from process.models import Layup, Mix, Tool
from tests.factories import NOW

GLASS = {"kind": "cloth", "cloth": "Glass twill", "faw": "280 g/m²", "faw_gsm": Decimal(280), "extent": "Full shell"}


def ply(orientation: str = "±45", **more: Any) -> dict[str, Any]:
    return GLASS | {"orientation": orientation} | more


def make_layup(by: Person, assembly: Assembly, *orientations: str, **more: Any) -> Layup:
    """A layup with a schedule of three plies of glass unless others are given."""
    plies = more.pop("plies", [ply(one) for one in orientations or ("±45", "0/90", "±45")])
    values = {"title": "Shell, lower", "done_at": NOW, "request_id": new_key()} | more
    return layups.start_layup(by=by, at=NOW, project=by.project, assembly=assembly, plies=plies, **values)


def make_mix(by: Person, assembly: Assembly, resin: str = "145.0 g", hardener: str = "39.0 g", **more: Any) -> Mix:
    """A mix of 100 to 27 by weight within 2 %."""
    values = {
        "request_id": new_key(),
        "ratio_by": "weight",
        "parts_resin": Decimal(100),
        "parts_hardener": Decimal(27),
        "window_percent": Decimal(2),
        "resin": resin,
        "resin_g": Decimal(resin.split()[0]),
        "hardener": hardener,
        "hardener_g": Decimal(hardener.split()[0]),
        "pot_life_min": Decimal(30),
        "source": "resin sheet, rev. C",
    } | more
    at = values.pop("at", NOW)
    return mixes.record_mix(by=by, at=at, project=by.project, assembly=assembly, **values)


def make_scale(by: Person, resolution: str = "0.1 g") -> Tool:
    tool = Tool(project=by.project, number="S1", name="Bench scale", kind="scale", resolution=resolution)
    tool.save(force_insert=True)
    return tool

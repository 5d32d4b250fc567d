"""Process records: how things were made and checked, with what."""

from process.models.bonds import Bond, JoinedPart
from process.models.checks import (
    Coupon,
    Fasteners,
    FunctionTest,
    Hardness,
    ScaleReading,
    Tap,
    TapMap,
    Torque,
    Weighing,
)
from process.models.common import ProcessRecord
from process.models.cures import CurePoint, CureRun, StackMaterial
from process.models.layups import Layup, Mix, Ply
from process.models.links import Cured, MixUse, Shot
from process.models.tools import Recheck, Tool, ToolDocument, ToolEvent
from process.models.values import HouseValue

KINDS: dict[str, type[ProcessRecord]] = {
    model.KIND: model
    for model in (Layup, Mix, CureRun, Bond, Fasteners, Torque, Weighing, Coupon, Hardness, TapMap, FunctionTest)
}

__all__ = [
    "KINDS",
    "Bond",
    "Coupon",
    "CurePoint",
    "CureRun",
    "Cured",
    "Fasteners",
    "FunctionTest",
    "Hardness",
    "HouseValue",
    "JoinedPart",
    "Layup",
    "Mix",
    "MixUse",
    "Ply",
    "ProcessRecord",
    "Recheck",
    "ScaleReading",
    "Shot",
    "StackMaterial",
    "Tap",
    "TapMap",
    "Tool",
    "ToolDocument",
    "ToolEvent",
    "Torque",
    "Weighing",
]

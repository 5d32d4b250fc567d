"""Enclosed areas with their gates; hold points, discrepancies, visits, closure lists."""

from inspections.models.areas import Answer, Area, Closing, Exhibit, Explained, Requirement, ShownRecord
from inspections.models.closures import ClosureItem, ClosureList
from inspections.models.discrepancies import Discrepancy, DiscrepancyStep, FoundPhoto
from inspections.models.points import Point, PointCall, PointPhoto
from inspections.models.visits import Look, Opening, Visit, VisitArea, VisitPoint

__all__ = [
    "Answer",
    "Area",
    "Closing",
    "ClosureItem",
    "ClosureList",
    "Discrepancy",
    "DiscrepancyStep",
    "Exhibit",
    "Explained",
    "FoundPhoto",
    "Look",
    "Opening",
    "Point",
    "PointCall",
    "PointPhoto",
    "Requirement",
    "ShownRecord",
    "Visit",
    "VisitArea",
    "VisitPoint",
]

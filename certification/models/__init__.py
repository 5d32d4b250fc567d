"""Records of the certification file: tasks and credit, papers, weight and balance, first flights, packs handed out."""

from certification.models.balance import (
    CaseLoad,
    Fluid,
    LimitCorner,
    Limits,
    LoadingCase,
    LoadItem,
    ScalePoint,
    WeighIn,
)
from certification.models.credit import Credit, CreditPlace, TaskList
from certification.models.flying import Flight, Inspection, LineAnswer, Statement, TestPhase, TestPoint
from certification.models.packs import Pack, SignedCopy
from certification.models.papers import Draft, Equipment, FileProfile, Paper, PaperDocument, Placard

__all__ = [
    "CaseLoad",
    "Credit",
    "CreditPlace",
    "Draft",
    "Equipment",
    "FileProfile",
    "Flight",
    "Fluid",
    "Inspection",
    "LimitCorner",
    "Limits",
    "LineAnswer",
    "LoadItem",
    "LoadingCase",
    "Pack",
    "Paper",
    "PaperDocument",
    "Placard",
    "ScalePoint",
    "SignedCopy",
    "Statement",
    "TaskList",
    "TestPhase",
    "TestPoint",
    "WeighIn",
]

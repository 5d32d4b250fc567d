"""Reads for the builder's record: the facts that are printed, where a photo stands in them, the records handed out."""

from certification.queries.closeout import discrepancies_facts, points_facts, visits_facts
from certification.queries.gates import area_facts, areas_facts
from certification.queries.packs import Gap, Standing, next_number, pack_path, packs, signed_copies, standing
from certification.queries.pictures import GateUse, PhotoUses, photo_facts, photo_uses, photos_printed, unused
from certification.queries.record import EDITION, EDITIONS, builder_record
from certification.queries.sessions import session_facts, with_corrections
from certification.queries.signatures import signature_facts

__all__ = [
    "EDITION",
    "EDITIONS",
    "Gap",
    "GateUse",
    "PhotoUses",
    "Standing",
    "area_facts",
    "areas_facts",
    "builder_record",
    "discrepancies_facts",
    "next_number",
    "pack_path",
    "packs",
    "photo_facts",
    "photo_uses",
    "photos_printed",
    "points_facts",
    "session_facts",
    "signature_facts",
    "signed_copies",
    "standing",
    "unused",
    "visits_facts",
    "with_corrections",
]

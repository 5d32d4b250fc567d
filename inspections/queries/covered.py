"""What a signature covers of a photo, and who worked on what is signed: shared by gates, points and discrepancies."""

from dataclasses import dataclass

from accounts.models import Person, Project
from buildlog import queries as work
from evidence.models import Photo
from foundation.record import plain
from inspections.rules import covers
from journal.models import Signature
from parts import queries as parts


def photo_words(photo: Photo) -> dict:
    """What a signature covers of a photo: the very bytes, its time, what is said of it, and the marks drawn over it.

    Without marks they are not mentioned, so that what was signed before there were any still reads the same.
    """
    marks = [[mark.kind, *mark.corners, mark.words] for mark in photo.marks.all()]
    return ({"marks": marks} if marks else {}) | {
        "photo": photo.digest,
        "taken_at": plain(photo.taken_at),
        "taken_known": photo.taken_known,
        "caption": photo.caption,
        "shows": photo.shows,
        "builder_in_frame": photo.builder_in_frame,
    }


def seen(items: list[dict]) -> str:
    """The digest of what a signature would cover, as it stood before the signer's eyes."""
    return covers.digest_of(items)


def worked_below(person: Person, project: Project, assembly: str) -> bool:
    """Whether this person worked on an assembly or on anything below it (rule R24)."""
    return person.pk in work.workers_on(parts.subtree(assembly, parts.parents(project)))


@dataclass(frozen=True)
class Signed:
    """A signature, what was changed under it since, and whether it was given for a closing that was opened again.

    `own_work`: the signer worked on what he signed for, by what is logged now (rule R24).
    """

    signature: Signature
    changes: tuple[str, ...]
    void: bool = False
    own_work: bool = False

    @property
    def self_inspected(self) -> bool:
        return self.signature.self_inspected or self.own_work

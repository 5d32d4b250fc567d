"""One enclosed area with people about it, to try what may be done at its gate."""

from datetime import datetime, timedelta

from django.urls import reverse

from accounts.models import Person
from evidence.models import Photo
from inspections import commands, queries
from inspections.models import Answer, Area, Closing, Requirement
from journal.models import Signature
from tests.factories import NOW, make_area, make_assembly, make_person, make_photo, make_project

HOUR = timedelta(hours=1)
LATER = NOW + HOUR


class Shop:
    """One area with a photo, a check and an inspector's sign-off, and the people about it."""

    def __init__(self, authority: str = "US") -> None:
        self.project, self.edda = make_project(authority=authority)
        self.hal = make_person(
            self.project,
            "inspector",
            name="Hal Venning",
            certificate_kind="A&P mechanic",
            certificate_number="DEMO-0417",
        )
        self.assembly = make_assembly(self.edda, "24.1")
        self.area = make_area(self.edda, self.assembly, number="24.1-C1")

    def item(self, position: int) -> Requirement:
        return self.area.requirements.get(position=position, dropped_at=None)

    def show(self, photo: Photo | None = None, at: datetime = NOW) -> Photo:
        photo = photo or make_photo(self.edda, at=at)
        commands.show_photo(by=self.edda, at=at, requirement=self.item(1), photo=photo)
        return photo

    def answer(self, answer: str = "yes", at: datetime = NOW, by: Person | None = None, reason: str = "") -> Answer:
        return commands.answer_check(by=by or self.edda, at=at, requirement=self.item(2), answer=answer, reason=reason)

    def supply(self) -> Photo:
        self.answer()
        return self.show()

    def sign(self, at: datetime = LATER, by: Person | None = None, **more: str) -> Signature:
        return commands.sign_area(by=by or self.hal, at=at, area=self.area, **more)

    def close(self, at: datetime = LATER + HOUR, reason: str = "") -> Closing:
        return commands.close_area(by=self.edda, at=at, area=self.area, reason=reason)

    def reopen(self, at: datetime = LATER + 2 * HOUR, reason: str = "The link rubs") -> Closing:
        return commands.reopen_area(by=self.edda, at=at, area=self.area, reason=reason)

    def closed(self) -> "Shop":
        self.supply()
        self.sign()
        self.close()
        return self

    @property
    def now(self) -> queries.JudgedArea:
        return commands.judged(Area.objects.select_related("project").get(pk=self.area.pk))

    def url(self, name: str, *more: object) -> str:
        """The address of a page of this project; without `more` that of the area."""
        return reverse(f"inspections:{name}", args=[self.project.slug, *(more or [self.area.pk])])

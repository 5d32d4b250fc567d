"""The certification file: every paper with its state, days and needs; one identity over all of them (rule R52)."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.urls import NoReverseMatch, reverse

from accounts.models import Project
from certification.models import Paper, PaperDocument, Placard
from certification.models.papers import PAPER_STATES
from certification.queries import flights as inspected
from certification.queries.file_profiles import Profile, profile_of
from certification.queries.papers_needs import NEEDS, STRINGS, Need
from certification.rules import papers as rules
from certification.rules import placards as plates
from certification.rules.file_profiles import Every, FillIn, Item
from certification.rules.identity import FIELDS, Mismatch, held_against
from certification.rules.papers_calendar import Day
from evidence.models import Document
from evidence.queries import documents

PAPER, PLACARD = "certification:paper", "certification:placard"
GONE = "Not in this edition of the list"
ADDED = "Added by you"


def papers(project: Project) -> QuerySet[Paper]:
    """What was said of papers, and stands."""
    return Paper.objects.standing().filter(project=project).select_related("project")


def paper_of(project: Project, code: str) -> Paper | None:
    """What stands about one paper."""
    return papers(project).filter(code=code).first()


def papers_ever(project: Project, code: str) -> list[Paper]:
    """All that was ever said under this code, withdrawn ones too: their histories belong together."""
    return list(Paper.objects.filter(project=project, code=code).select_related("project").order_by("entered_at"))


def next_own_code(project: Project) -> str:
    """The code for the next paper that the builder adds; withdrawn ones keep theirs."""
    return f"{rules.OWN}{Paper.objects.filter(project=project, added=True).count() + 1}"


def kept_with(paper: Paper) -> list[PaperDocument]:
    """The documents of a paper, newest first."""
    rows = paper.documents.filter(document__withdrawn_at=None).select_related("document")
    return list(rows.order_by("-document__number"))


def papers_of(document: Document) -> list[Paper]:
    """The standing papers that a document is with."""
    there = PaperDocument.objects.filter(document=document).values("paper")
    return list(Paper.objects.standing().filter(pk__in=there, project=document.project_id))


def documents_to_choose(project: Project, paper: Paper | None) -> QuerySet[Document]:
    """The standing documents of the project that are not with this paper yet, newest first."""
    found = documents(project)
    return found.exclude(pk__in=paper.documents.values("document")) if paper else found


@dataclass(frozen=True)
class Needed:
    """A need with the address where it is made, where that page is there."""

    need: Need
    address: str


@dataclass(frozen=True)
class Trouble:
    """A paper, plate or mark that does not say the same as the project, and where it is put right."""

    where: str
    mismatch: Mismatch
    address: str


@dataclass(frozen=True)
class Line:
    """One paper of the file as it stands today."""

    code: str
    title: str
    group: str
    item: Item | None
    paper: Paper | None
    documents: int
    needs: list[Needed]
    mismatches: list[Mismatch]
    ask: rules.Timely | None
    due: rules.Timely | None

    @property
    def state(self) -> str:
        return self.paper.state_word if self.paper else rules.NOT_STARTED

    @property
    def words(self) -> str:
        return PAPER_STATES[self.state]

    @property
    def mark(self) -> str:
        return rules.MARKS[self.state]

    @property
    def filed(self) -> bool:
        return self.state == rules.FILED

    @property
    def lead(self) -> str:
        return rules.lead_words(self.item.lead_months) if self.item else ""

    @property
    def lacks_document(self) -> bool:
        """Whether the paper itself is expected here by now and is not kept."""
        return bool(self.item and self.item.attachment and not self.documents and in_hand(self.paper))

    @property
    def unread(self) -> list[str]:
        """What the paper carries of the identity, and was not copied off it yet though it is ready."""
        if self.item is None or self.paper is None or not in_hand(self.paper):
            return []
        return [FIELDS[name][1] for name in self.item.says if not getattr(self.paper, FIELDS[name][2])]


@dataclass
class File:
    """The whole file as it stands today."""

    profile: Profile
    groups: list[tuple[str, list[Line]]]
    troubles: list[Trouble]
    dates: list["Coming"] = field(default_factory=list)

    @property
    def lines(self) -> list[Line]:
        return [line for _, lines in self.groups for line in lines]

    @property
    def tally(self) -> list[tuple[str, str, int]]:
        """How many papers are in each state: mark, word, number. No share: a file is whole or it is not."""
        return [
            (rules.MARKS[state], words, sum(line.state == state for line in self.lines))
            for state, words in PAPER_STATES.items()
        ]


def the_file(project: Project, today: date) -> File:
    """Every paper of the list and every added one, with what it needs from the record."""
    profile, told = profile_of(project), {paper.code: paper for paper in papers(project)}
    counts = document_counts(told.values())
    known: dict[str, Needed] = {}
    groups: dict[str, list[Line]] = {}
    for item in profile.list.items:
        line = line_of(project, item, told.pop(item.code, None), counts, known, today)
        groups.setdefault(item.group, []).append(line)
    for paper in told.values():
        group = ADDED if paper.added else GONE
        groups.setdefault(group, []).append(line_of(project, None, paper, counts, known, today))
    return File(profile, list(groups.items()), identity_troubles(project), coming(project, profile))


def document_counts(rows: Iterable[Paper]) -> dict[str, int]:
    """How many documents stand with each paper: one query."""
    counts: dict[str, int] = {}
    kept = PaperDocument.objects.filter(paper__in=[row.pk for row in rows], document__withdrawn_at=None)
    for key in kept.values_list("paper_id", flat=True):
        counts[key] = counts.get(key, 0) + 1
    return counts


def line_of(
    project: Project,
    item: Item | None,
    paper: Paper | None,
    counts: dict[str, int],
    known: dict[str, Needed],
    today: date,
) -> Line:
    """One paper; `known` holds the needs that were read for others."""
    for key in item.needs if item else ():
        if key not in known and key in NEEDS:
            need = NEEDS[key](project)
            known[key] = Needed(need, address_of(need.page, project))
    due = paper.due_on if paper and paper.state_word != rules.FILED else None
    return Line(
        code=item.code if item else paper.code if paper else "",
        title=item.name if item else paper.title if paper else "",
        group=item.group if item else "",
        item=item,
        paper=paper,
        documents=counts.get(paper.pk, 0) if paper else 0,
        needs=[known[key] for key in item.needs if key in known] if item else [],
        mismatches=mismatches(project, paper) if paper else [],
        ask=rules.timely(rules.ask_by(due, item.lead_months), today) if item and not in_hand(paper) else None,
        due=rules.timely(due, today),
    )


def in_hand(paper: Paper | None) -> bool:
    """Whether a paper is there already, so that nobody has to be asked for it."""
    return paper is not None and paper.state_word in {rules.READY, rules.FILED}


def one_line(project: Project, code: str, today: date) -> Line | None:
    """One paper of the file as it stands today; None where neither the list nor the builder knows it."""
    item, paper = profile_of(project).list.item(code), paper_of(project, code)
    if item is None and paper is None:
        return None
    return line_of(project, item, paper, document_counts([paper] if paper else []), {}, today)


def address_of(page: str, project: Project, *more: str) -> str:
    """The address of a page of the project; empty where there is none."""
    try:
        return reverse(page, args=[project.slug, *more]) if page else ""
    except NoReverseMatch:
        return ""


# ---- one identity ----


def own_identity(project: Project) -> dict[str, str]:
    """The identity block of the project."""
    return {key: getattr(project, name) for key, (name, _, _) in FIELDS.items()}


def mismatches(project: Project, paper: Paper) -> list[Mismatch]:
    """Where a paper says otherwise than the project, letter by letter."""
    own = own_identity(project)
    found = [held_against(key, own[key], getattr(paper, said)) for key, (_, _, said) in FIELDS.items()]
    return [one for one in found if one is not None]


@dataclass(frozen=True)
class IdentityLine:
    """One of the four things as the project has it and as it stands on a paper."""

    label: str
    own: str
    said: str
    mismatch: Mismatch | None


def identity_lines(project: Project, paper: Paper | None, item: Item | None) -> list[IdentityLine]:
    """What of the identity a paper carries or says, side by side."""
    own, found = own_identity(project), []
    for key, (_, label, said) in FIELDS.items():
        there = getattr(paper, said) if paper else ""
        if there or (item and key in item.says):
            found.append(IdentityLine(label, own[key], there, held_against(key, own[key], there)))
    return found


def identity_troubles(project: Project) -> list[Trouble]:
    """Every paper, plate and mark that does not say the same as the project (rule R52). Ask before printing."""
    items = {item.code: item.name for item in profile_of(project).list.items}
    found = [
        Trouble(items.get(paper.code) or paper.title or paper.code, one, address_of(PAPER, project, paper.code))
        for paper in papers(project)
        for one in mismatches(project, paper)
    ]
    own = own_identity(project)
    for row in Placard.objects.standing().filter(project=project, kind__in=["plate", "marks"]):
        for key in plates.lacking(row.kind, row.words, own):
            wrong = Mismatch(key, own[key], *plates.nearest(row.words, own[key]))
            found.append(Trouble(row.get_kind_display(), wrong, address_of(PLACARD, project, row.pk)))
    return found


# ---- fill-in sheets ----


@dataclass(frozen=True)
class Box:
    """One box of an official form, by what it asks for, with the exact string of the record."""

    asked: FillIn
    text: str
    remark: str
    address: str


def boxes(project: Project, item: Item) -> list[Box]:
    """What to write where; an empty text where the record does not say it."""
    found = []
    for one in item.fill_in:
        said = STRINGS[one.source](project)
        found.append(Box(one, said.text, said.remark, address_of(said.page, project)))
    return found


# ---- days ----


@dataclass(frozen=True)
class Coming:
    """A day that comes again, with what it is counted from; without a last time only what it is."""

    every: Every
    day: date | None
    since: str


def coming(project: Project, profile: Profile) -> list[Coming]:
    """The days of the list that come again, as the room of inspections counts them."""
    due = inspected.due(project)
    since = f"{due.from_words} on {due.since:%-d %b %Y}" if due else ""
    return [Coming(every, due.on if due else None, since) for every in profile.list.dates]


def calendar_days(project: Project, today: date) -> list[Day]:
    """Every day of the file to be reminded of: when to ask, when it is needed, what comes each year."""
    found = []
    whole = the_file(project, today)
    for line in whole.lines:
        if line.paper is None or line.due is None:
            continue
        uid = f"{line.paper.pk}@builders-record"
        if line.ask:
            words = f"{line.lead}; needed on {line.due.day.isoformat()}".capitalize()
            found.append(Day(f"ask-{uid}", line.ask.day, f"Ask for: {line.title} ({project.name})", words))
        words = "; ".join(one.need.words for one in line.needs if one.need.state != "in-place")
        missing = f"Not in place when this file was made: {words}" if words else ""
        found.append(Day(f"due-{uid}", line.due.day, f"Needed: {line.title} ({project.name})", missing))
    for one in whole.dates:
        if one.day:
            uid = f"{one.every.code}-{project.pk}@builders-record"
            words = f"Counted from {one.since}; {one.every.words}. {one.every.source} ({one.every.mark})"
            found.append(Day(uid, one.day, f"{one.every.title} ({project.name})", words))
    return found


# ---- for the printed record ----


def file_facts(project: Project) -> dict[str, Any]:
    """The file as JSON values: the list that was taken up, the papers, mismatches, and the days that come again."""
    # Facts are frozen without a clock: how a day stands against today is no part of them.
    whole = the_file(project, date.min)
    kept = whole.profile.kept
    return {
        "profile": {
            "authority": whole.profile.list.authority,
            "taken_up": kept is not None,
            "edition": whole.profile.list.edition_words,
            "source": whole.profile.list.source,
            "note": whole.profile.list.note,
            "digest": kept.digest if kept else "",
            "taken_at": stamp(kept.taken_at) if kept else "",
            "taken_by": kept.taken_by.name if kept else "",
        },
        "papers": [paper_facts(group, line) for group, lines in whole.groups for line in lines],
        "mismatches": [
            {"where": one.where, "field": one.mismatch.label, "own": one.mismatch.own, "said": one.mismatch.said}
            | {"words": one.mismatch.words}
            for one in whole.troubles
        ],
        "dates": [
            {"title": one.every.title, "words": one.every.words, "source": one.every.source, "mark": one.every.mark}
            | {"since": one.since, "due": day(one.day)}
            for one in whole.dates
        ],
    }


def paper_facts(group: str, line: Line) -> dict[str, Any]:
    """One paper as JSON values."""
    paper, item = line.paper, line.item
    return {
        "code": line.code,
        "group": group,
        "title": line.title,
        "state": line.state,
        "state_words": line.words,
        "due_on": day(paper.due_on if paper else None),
        "filed_on": day(paper.filed_on if paper else None),
        "reference": paper.reference if paper else "",
        "note": paper.note if paper else "",
        "said": {FIELDS[key][1]: getattr(paper, said) for key, (_, _, said) in FIELDS.items()} if paper else {},
        "documents": [
            {"label": row.document.label, "title": row.document.title, "digest": row.document.digest}
            for row in (kept_with(paper) if paper else [])
        ],
        "source": item.source if item else "",
        "mark": item.mark if item else "",
    }


def day(value: date | None) -> str:
    return value.isoformat() if value else ""


def stamp(value: datetime) -> str:
    return value.isoformat()

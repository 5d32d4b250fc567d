"""Where a lot was used, over a web of many parts, against bare recursive SQL."""

import random
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from django.db import connection

from accounts import commands as accounts
from accounts.models import Person, Project, User
from config.bench.measure import Ratio, in_turn
from foundation.fields import new_key
from parts.models import Assembly, Lot, MadeOf, Origin, Part
from process.models import Bond, Coupon, Cured, CureRun, Fasteners, JoinedPart, Layup, Mix, MixUse, Ply
from process.queries import trace

PARTS = 20_000
START = datetime(2020, 1, 1, tzinfo=UTC)

# Every way in which a lot goes on, as one set of links, and the walk along it.
RECURSIVE = """
WITH RECURSIVE said (coupon, one, rest) AS (
  SELECT id, '', made_with || ', ' FROM process_coupon
    WHERE project_id = :p AND withdrawn_at IS NULL AND made_with <> ''
  UNION ALL SELECT coupon, substr(rest, 1, instr(rest, ', ') - 1), substr(rest, instr(rest, ', ') + 2) FROM said
    WHERE rest <> ''
), link (here, there) AS MATERIALIZED (
  SELECT ply.lot_id, ply.layup_id FROM process_ply ply JOIN process_layup l ON l.id = ply.layup_id
    WHERE l.project_id = :p AND l.withdrawn_at IS NULL AND ply.lot_id IS NOT NULL
  UNION ALL SELECT core_lot_id, id FROM process_layup
    WHERE project_id = :p AND withdrawn_at IS NULL AND core_lot_id IS NOT NULL
  UNION ALL SELECT id, COALESCE(part_id, assembly_id) FROM process_layup
    WHERE project_id = :p AND withdrawn_at IS NULL
  UNION ALL SELECT l.id, m.id FROM process_layup l JOIN parts_part m ON m.id = l.mold_id
    WHERE l.project_id = :p AND l.withdrawn_at IS NULL AND m.kind = 'part'
  UNION ALL SELECT m.id, l.part_id FROM process_layup l JOIN parts_part m ON m.id = l.mold_id
    WHERE l.project_id = :p AND l.withdrawn_at IS NULL AND m.kind = 'part' AND l.part_id IS NOT NULL
  UNION ALL SELECT resin_lot_id, id FROM process_mix
    WHERE project_id = :p AND withdrawn_at IS NULL AND resin_lot_id IS NOT NULL
  UNION ALL SELECT hardener_lot_id, id FROM process_mix
    WHERE project_id = :p AND withdrawn_at IS NULL AND hardener_lot_id IS NOT NULL
  UNION ALL SELECT u.mix_id, COALESCE(u.layup_id, u.bond_id, u.part_id) FROM process_mixuse u
    JOIN process_mix m ON m.id = u.mix_id LEFT JOIN process_layup l ON l.id = u.layup_id
    LEFT JOIN process_bond b ON b.id = u.bond_id
    WHERE m.project_id = :p AND m.withdrawn_at IS NULL AND l.withdrawn_at IS NULL AND b.withdrawn_at IS NULL
  UNION ALL SELECT m.id, m.assembly_id FROM process_mix m
    WHERE m.project_id = :p AND m.withdrawn_at IS NULL
    AND NOT EXISTS (SELECT 1 FROM process_mixuse u LEFT JOIN process_layup l ON l.id = u.layup_id
      LEFT JOIN process_bond b ON b.id = u.bond_id LEFT JOIN parts_part p ON p.id = u.part_id
      WHERE u.mix_id = m.id AND l.withdrawn_at IS NULL AND b.withdrawn_at IS NULL AND p.withdrawn_at IS NULL)
  UNION ALL SELECT j.bond_id, j.part_id FROM process_joinedpart j JOIN process_bond b ON b.id = j.bond_id
    WHERE b.project_id = :p AND b.withdrawn_at IS NULL
  UNION ALL SELECT j.part_id, b.part_id FROM process_joinedpart j JOIN process_bond b ON b.id = j.bond_id
    WHERE b.project_id = :p AND b.withdrawn_at IS NULL AND b.part_id IS NOT NULL
  UNION ALL SELECT id, part_id FROM process_bond
    WHERE project_id = :p AND withdrawn_at IS NULL AND part_id IS NOT NULL
  UNION ALL SELECT lot_id, id FROM process_fasteners
    WHERE project_id = :p AND withdrawn_at IS NULL AND lot_id IS NOT NULL
  UNION ALL SELECT id, COALESCE(part_id, assembly_id) FROM process_fasteners
    WHERE project_id = :p AND withdrawn_at IS NULL AND lot_id IS NOT NULL
  UNION ALL SELECT m.id, s.coupon FROM said s JOIN process_mix m
    ON m.project_id = :p AND m.number = CAST(substr(s.one, 3) AS INTEGER)
    WHERE s.one LIKE 'M-%' AND m.withdrawn_at IS NULL
  UNION ALL SELECT l.id, s.coupon FROM said s JOIN process_layup l
    ON l.project_id = :p AND l.number = CAST(substr(s.one, 3) AS INTEGER)
    WHERE s.one LIKE 'L-%' AND l.withdrawn_at IS NULL
  UNION ALL SELECT b.id, s.coupon FROM said s JOIN process_bond b
    ON b.project_id = :p AND b.number = CAST(substr(s.one, 3) AS INTEGER)
    WHERE s.one LIKE 'B-%' AND b.withdrawn_at IS NULL
  UNION ALL SELECT made.lot_id, made.part_id FROM parts_madeof made JOIN parts_part p ON p.id = made.part_id
    WHERE p.project_id = :p
  UNION ALL SELECT o.source_id, o.part_id FROM parts_origin o JOIN parts_part p ON p.id = o.part_id
    WHERE p.project_id = :p AND o.kind IN ('cut_from', 'split_from', 'made_from')
  UNION ALL SELECT COALESCE(c.layup_id, c.bond_id, c.part_id, c.coupon_id), c.run_id FROM process_cured c
    JOIN process_curerun r ON r.id = c.run_id
    WHERE r.project_id = :p AND r.withdrawn_at IS NULL
  UNION ALL SELECT id, assembly_id FROM parts_part WHERE project_id = :p AND withdrawn_at IS NULL
  UNION ALL SELECT id, parent_id FROM parts_assembly
    WHERE project_id = :p AND withdrawn_at IS NULL AND parent_id IS NOT NULL
), found (node) AS (
  SELECT :lot UNION SELECT link.there FROM found JOIN link ON link.here = found.node
    WHERE link.there NOT IN (SELECT id FROM parts_part WHERE project_id = :p AND withdrawn_at IS NOT NULL)
)
SELECT node FROM found
"""


def measure(quick: bool) -> Ratio:
    """All that holds a lot, by our queries and walk, and by one recursive statement through the sqlite3 module."""
    user = User.objects.create_user("bench-trace")
    project, person = accounts.found_project(
        user=user, at=START, builder="Bench", name="Bench trace", slug="bench-trace"
    )
    web = fill(project, person, PARTS, random.Random(7))
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    raw = sqlite3.connect(connection.settings_dict["NAME"])
    raw.execute("PRAGMA cache_size=-4000")

    def reference(number: int) -> set[str]:
        lot = web.lots[number % len(web.lots)]
        return {row[0] for row in raw.execute(RECURSIVE, {"p": project.pk, "lot": lot})} - {lot}

    def ours(number: int) -> set[str]:
        walked, _ = trace.walk_up(project, ("lot", web.lots[number % len(web.lots)]))
        return {key for _, key in walked.found}

    if any(ours(number) != reference(number) for number in range(5)):
        raise SystemExit("bench trace: the two ways do not agree")
    result = in_turn("trace", ours, reference, n=10 if quick else 40)
    raw.close()
    return result


@dataclass
class Web:
    """The keys of a random web, and its links, as it was meant: from what is inside to what holds it."""

    lots: list[str] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    links: list[tuple[str, str]] = field(default_factory=list)


def fill(project: Project, person: Person, count: int, chance: random.Random) -> Web:
    """A random web of so many parts: sheets laid up, pieces cut and split, parts bonded and riveted, in a tree."""
    return Filler(project, person, chance).fill(count)


class Filler:
    """Makes the rows of a web in bulk, and keeps the links that they mean. Nothing withdrawn hands anything on."""

    def __init__(self, project: Project, person: Person, chance: random.Random) -> None:
        self.project, self.chance = project, chance
        self.web = Web()
        self.common = {"project": project, "done_at": START, "done_by": person, "entered_at": START}
        self.common |= {"entered_by": person, "finished_at": START}
        self.gone = {"withdrawn_at": START}

    def fill(self, count: int) -> Web:
        self.assemblies = self.tree(80)
        lots = [Lot(project=self.project, number=f"L-{n}", name="Lot") for n in range(max(20, count // 50))]
        Lot.objects.bulk_create(lots)
        self.lots = lots
        self.web.lots = [lot.pk for lot in lots]
        self.parts = [self.part(number) for number in range(count)]
        Part.objects.bulk_create(self.parts, batch_size=2000)
        self.web.parts = [part.pk for part in self.parts]
        self.standing = [part for part in self.parts if not part.withdrawn_at]
        for part in self.standing:
            self.link(part.pk, part.assembly_id)
        self.origins()
        layups = self.layups(count // 5)
        bonds = self.bonds(count // 8)
        mixes = self.mixes(count // 4, layups, bonds)
        coupons = self.coupons(count // 25, mixes, layups, bonds)
        self.cures(count // 12, layups, bonds, coupons)
        self.straight(count // 12)
        return self.web

    def link(self, here: str, there: str) -> None:
        self.web.links.append((here, there))

    def record(self, number: int) -> dict:
        """The values that every process record has; one in forty was withdrawn."""
        values = self.common | {"number": number + 1, "request_id": new_key()}
        values["assembly"] = self.chance.choice(self.assemblies)
        return values | (self.gone if self.chance.random() < 0.025 else {})

    def tree(self, count: int) -> list[Assembly]:
        nodes: list[Assembly] = []
        for number in range(count):
            parent = self.chance.choice(nodes) if nodes and self.chance.random() < 0.95 else None
            nodes.append(Assembly(project=self.project, parent=parent, number=str(number), name=f"Assembly {number}"))
            if parent:
                self.link(nodes[-1].pk, parent.pk)
        Assembly.objects.bulk_create(nodes)
        return nodes

    def part(self, number: int) -> Part:
        kind = "mold" if self.chance.random() < 0.03 else "part"
        gone = self.gone if self.chance.random() < 0.02 else {}
        where = self.chance.choice(self.assemblies)
        return Part(project=self.project, assembly=where, number=f"P-{number}", name="Part", kind=kind, **gone)

    def before(self, place: int) -> Part:
        """A part that was made earlier than the one at this place, rather a recent one or one of the first sheets."""
        low = 0 if self.chance.random() < 0.5 else max(0, place - 400)
        return self.parts[self.chance.randrange(low, place)]

    def origins(self) -> None:
        rows = []
        for place, part in enumerate(self.parts):
            if place < 20 or self.chance.random() < 0.35:
                continue
            source = self.before(place)
            kind = self.chance.choices(
                ("cut_from", "split_from", "made_from", "made_on", "replaces"), (50, 15, 15, 12, 8)
            )[0]
            rows.append(Origin(part=part, kind=kind, source=source))
            if kind in {"cut_from", "split_from", "made_from"} and not part.withdrawn_at and not source.withdrawn_at:
                self.link(source.pk, part.pk)
        Origin.objects.bulk_create(rows, batch_size=2000)

    def layups(self, count: int) -> list[Layup]:
        layups, plies = [], []
        for number in range(count):
            place = self.chance.randrange(1, len(self.parts))
            part = self.parts[place] if self.chance.random() < 0.95 else None
            base = self.before(place) if self.chance.random() < 0.3 else None
            core = self.chance.choice(self.lots) if self.chance.random() < 0.3 else None
            layup = Layup(**self.record(number), part=part, mold=base, core_lot=core)
            layups.append(layup)
            used = self.chance.sample(self.lots, self.chance.randrange(3))
            plies += [Ply(layup=layup, position=n, kind="cloth", cloth="Twill", lot=lot) for n, lot in enumerate(used)]
            if layup.withdrawn_at:
                continue
            for lot in used + ([core] if core else []):
                self.link(lot.pk, layup.pk)
            goal = part.pk if part else layup.assembly_id
            if not (part and part.withdrawn_at):
                self.link(layup.pk, goal)
            if base and base.kind == "part" and not base.withdrawn_at:
                self.link(layup.pk, base.pk)
                if part and not part.withdrawn_at:
                    self.link(base.pk, part.pk)
        Layup.objects.bulk_create(layups, batch_size=500)
        Ply.objects.bulk_create(plies, batch_size=2000)
        return layups

    def bonds(self, count: int) -> list[Bond]:
        bonds, joined = [], []
        for number in range(count):
            place = self.chance.randrange(10, len(self.parts))
            made = self.parts[place] if self.chance.random() < 0.6 else None
            members = {one.pk: one for one in (self.before(place) for _ in range(self.chance.randrange(1, 4)))}
            bond = Bond(**self.record(number), kind="secondary", part=made)
            bonds.append(bond)
            joined += [JoinedPart(bond=bond, part=part) for part in members.values()]
            if bond.withdrawn_at:
                continue
            stands = made is not None and not made.withdrawn_at
            if made is not None and stands:
                self.link(bond.pk, made.pk)
            for part in members.values():
                if part.withdrawn_at:
                    continue
                self.link(bond.pk, part.pk)
                if made is not None and stands:
                    self.link(part.pk, made.pk)
        Bond.objects.bulk_create(bonds, batch_size=500)
        JoinedPart.objects.bulk_create(joined, batch_size=2000)
        return bonds

    def mixes(self, count: int, layups: Sequence[Layup], bonds: Sequence[Bond]) -> list[Mix]:
        mixes, uses = [], []
        for number in range(count):
            resin, hardener = self.chance.sample(self.lots, 2)
            mix = Mix(**self.record(number), resin_lot=resin, hardener_lot=hardener, parts_resin=100, parts_hardener=30)
            mixes.append(mix)
            goals = {one.pk: one for one in (self.goal(layups, bonds) for _ in range(self.chance.randrange(3)))}
            for one in goals.values():
                uses.append(MixUse(mix=mix, **{type(one).__name__.lower(): one}))
            if mix.withdrawn_at:
                continue
            self.link(resin.pk, mix.pk)
            self.link(hardener.pk, mix.pk)
            if all(one.withdrawn_at for one in goals.values()):
                self.link(mix.pk, mix.assembly_id)
            for one in goals.values():
                if not one.withdrawn_at:
                    self.link(mix.pk, one.pk)
        Mix.objects.bulk_create(mixes, batch_size=500)
        MixUse.objects.bulk_create(uses, batch_size=2000)
        return mixes

    def coupons(self, count: int, mixes: Sequence[Mix], layups: Sequence[Layup], bonds: Sequence[Bond]) -> list[Coupon]:
        """Coupons that name one or two mixes, layups or bonds; one in ten of something that was never there."""
        coupons = []
        kinds: tuple[Sequence[Mix | Layup | Bond], ...] = (mixes, layups, bonds)
        for number in range(count):
            some = [self.chance.choice(self.chance.choices(kinds, (50, 40, 10))[0]) for _ in range(2)]
            named = list({one.pk: one for one in some[: self.chance.randrange(1, 3)]}.values())
            said = [one.label for one in named] + (["M-999999"] if self.chance.random() < 0.1 else [])
            coupon = Coupon(**self.record(number), made_with=", ".join(said))
            coupons.append(coupon)
            for one in named:
                if not coupon.withdrawn_at and not one.withdrawn_at:
                    self.link(one.pk, coupon.pk)
        Coupon.objects.bulk_create(coupons, batch_size=500)
        return coupons

    def goal(self, layups: Sequence[Layup], bonds: Sequence[Bond]) -> Layup | Bond | Part:
        kinds: tuple[Sequence[Layup | Bond | Part], ...] = (layups, bonds, self.parts)
        return self.chance.choice(self.chance.choices(kinds, (60, 30, 10))[0])

    def cures(self, count: int, layups: Sequence[Layup], bonds: Sequence[Bond], coupons: Sequence[Coupon]) -> None:
        runs = [CureRun(**self.record(number), heat="oven", started_at=START) for number in range(count)]
        CureRun.objects.bulk_create(runs, batch_size=500)
        rows = []
        for run in runs:
            lay: list[Layup | Bond | Part | Coupon] = [self.goal(layups, bonds) for _ in range(3)]
            lay += [self.chance.choice(coupons)] if self.chance.random() < 0.3 else []
            for one in {one.pk: one for one in lay}.values():
                rows.append(Cured(run=run, **{type(one).__name__.lower(): one}))
                if not run.withdrawn_at and not one.withdrawn_at:
                    self.link(one.pk, run.pk)
        Cured.objects.bulk_create(rows, batch_size=2000)

    def straight(self, count: int) -> None:
        """Lots that went straight into parts, and rows of fasteners."""
        made, rows = [], []
        for number in range(count):
            lot, part = self.chance.choice(self.lots), self.parts[number * 7 % len(self.parts)]
            made.append(MadeOf(part=part, lot=lot))
            if not part.withdrawn_at:
                self.link(lot.pk, part.pk)
            part, lot = self.chance.choice(self.parts), self.chance.choice(self.lots)
            on = part if self.chance.random() < 0.7 else None
            row = Fasteners(**self.record(number), part=on, lot=lot, place="Row", count=8, spec="Rivet")
            rows.append(row)
            if not row.withdrawn_at:
                self.link(lot.pk, row.pk)
                if not (on and on.withdrawn_at):
                    self.link(row.pk, on.pk if on else row.assembly_id)
        MadeOf.objects.bulk_create(made, batch_size=2000)
        Fasteners.objects.bulk_create(rows, batch_size=500)

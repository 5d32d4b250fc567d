"""Process records in the builder's record: facts, sheets, gaps, and packs from before there were any."""

import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.urls import reverse
from pypdf import PdfReader

from calc.verdict import PLAN_WINS
from certification.pages import print_record, process
from certification.pages.process import path
from certification.queries import builder_record, photo_uses, standing
from foundation.digest import canonical
from process.commands import checks, common, cures, layups, mixes, shots
from process.models import Layup
from tests.factories import NOW, client_for, make_assembly, make_photo, make_project, make_session
from tests.process.shop import make_layup, make_mix

pytestmark = pytest.mark.django_db
DATA = Path(__file__).parent.parent / "data"


@pytest.fixture
def made():  # noqa: ANN201
    """A project with a good layup, a bad mix, a cure that ramps too fast, and a torque that is not finished."""
    project, edda = make_project()
    float_ = make_assembly(edda, "24.1", "Tip float")
    layup = make_layup(edda, float_)
    for position in (1, 2, 3):
        layups.lay_ply(layup, by=edda, at=NOW, position=position)
    photo = make_photo(edda)
    shots.show_shot(by=edda, at=NOW, record=layup, photo=photo, moment="wet", ply=2)
    good = make_mix(edda, float_, used_in=layup, spread_at=NOW)
    mixes.correct_mix(good, by=edda, at=NOW, resin="145.2 g", resin_g=Decimal("145.2"), reason="Read again")
    common.finish(good, by=edda, at=NOW)
    common.finish(layup, by=edda, at=NOW)
    common.finish(make_mix(edda, float_, hardener="50 g", hardener_g=Decimal(50), spread_at=NOW), by=edda, at=NOW)
    began = NOW - timedelta(hours=9)
    asked = {"low": Decimal(36), "high": Decimal(42), "soak_min": Decimal(60), "ramp_max_per_min": Decimal("0.5")}
    known = {"by": edda, "at": NOW, "project": project, "assembly": float_}
    run = cures.start_run(**known, started_at=began, heat="oven", cured=[layup], source="Sheet", **asked)
    typed = [(0, 21), (10, 38), (200, 39), (300, 25)]
    points = [cures.typed_point("TC1", began + timedelta(minutes=m), f"{t} °C", "C") for m, t in typed]
    run = cures.stop_run(cures.type_points(run, by=edda, at=NOW, points=points), by=edda, at=NOW)
    cures.finish_run(run, by=edda, at=NOW)
    checks.record_check("torque", **known, place="Bolt 1", shown="85 in-lb", shown_inlb=Decimal(85))
    gone = make_mix(edda, float_)
    common.withdraw(gone, by=edda, at=NOW, reason="Entered twice")
    return project, edda, layup, photo


def test_the_facts_hold_every_record_with_its_verdicts_and_what_was_corrected(made) -> None:  # noqa: ANN001
    project, edda, layup, photo = made
    facts = builder_record(project, NOW, edda.name)
    assert json.loads(canonical(facts)) == facts and facts["edition"] == 4
    by_label = {one["label"]: one for one in facts["process"]}
    assert {label: one["state"] for label, one in by_label.items()} == {
        "L-1": "good", "M-1": "good", "M-2": "bad", "C-1": "bad", "TQ-1": "open",
    }  # fmt: skip
    assert [ply["orientation"] for ply in by_label["L-1"]["plies"]] == ["±45", "0/90", "±45"]
    assert by_label["L-1"]["mixes"] == ["M-1"] and by_label["L-1"]["photos"] == [photo.label]
    assert photo.label in facts["photos"]
    assert by_label["C-1"]["plot"]["balloons"] and by_label["C-1"]["with"] == [str(layup)]
    (correction,) = by_label["M-1"]["corrections"]
    assert correction["reason"] == "Read again" and correction["changes"][0]["before"] == "145.0 g"
    assert by_label["M-2"]["corrections"] == [] and by_label["TQ-1"]["finished"] == ""
    assert all(v["rule"] and v["caution"] for one in facts["process"] for v in one["verdicts"] if v["state"] == "bad")
    assert facts["withdrawn_process"][0]["reason"] == "Entered twice"


def test_the_print_tells_them_with_rules_and_cautions_and_old_packs_still_print(made, tmp_path: Path) -> None:  # noqa: ANN001
    project, edda, _, _ = made
    facts = builder_record(project, NOW, edda.name)
    out = tmp_path / "record.pdf"
    print_record(facts, out)
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(out).pages).split())
    for words in (
        "Process records",
        "Ply schedule, from the mold up",
        "Mixes: M-1",
        "145.0 g",
        "Rules of the verdicts",
        "Withdrawn process records",
        "Entered twice",
        "Process records with a bad verdict: M-2, C-1",
        "Wrench showed: 85 in-lb",
    ):
        assert words in text, words
    assert "approved" not in text.lower() and "airworthy" not in text.lower()
    older = {name: value for name, value in facts.items() if name not in {"process", "withdrawn_process"}}
    print_record(older | {"edition": 2}, out)
    assert "Process records" not in PdfReader(out).pages[0].extract_text()


def test_each_rule_stands_once_and_every_verdict_of_a_rule_names_its_number(made, tmp_path: Path) -> None:  # noqa: ANN001
    project, edda, *_ = made
    facts = builder_record(project, NOW, edda.name)
    rules = process.numbered_rules(facts["process"])
    text = printed(facts, tmp_path)
    for (words, source, _), number in rules.items():
        told = process.rule_words(words, source, "").split(". Source")[0]
        assert text.count(told) == 1 and text.count(f"[{number}]") >= 2, told
    assert text.count(PLAN_WINS[1:]) == 1


def test_a_photo_is_drawn_with_its_record_only_where_it_is_printed_nowhere_else(made, tmp_path: Path) -> None:  # noqa: ANN001
    project, edda, layup, photo = made
    facts = builder_record(project, NOW, edda.name)
    around = process.Around({}, process.photo_homes(facts), {})
    record = next(one for one in facts["process"] if one["label"] == layup.label)
    assert process.drawn_here(record, around) == [photo.label]
    assert f"{photo.label} wet, ply 2, below" in printed(facts, tmp_path)
    make_session(edda, layup.assembly, photos=[photo])
    facts = builder_record(project, NOW, edda.name)
    around = process.Around({}, process.photo_homes(facts), {})
    assert process.drawn_here(record, around) == []
    assert f"{photo.label} wet, ply 2, session 1 on sheet " in printed(facts, tmp_path)


def test_what_all_records_of_a_kind_say_is_printed_once() -> None:
    rows = [{"title": "", "facts": [["Scale", "S1"], ["Resin", grams]]} for grams in ("70 g", "71 g")]
    assert process.said_by_all(rows) == [["Scale", "S1"]] and process.said_by_all(rows[:1]) == []


def printed(facts, folder: Path) -> str:  # noqa: ANN001
    """The words of a print, in one line."""
    print_record(facts, folder / "printed.pdf")
    return " ".join(" ".join(page.extract_text() for page in PdfReader(folder / "printed.pdf").pages).split())


def test_what_is_not_finished_or_bad_is_told_before_printing(made) -> None:  # noqa: ANN001
    project, edda, *_ = made
    gaps = [str(gap) for gap in standing(project).gaps]
    assert {"1 mix with a bad verdict", "1 cure run with a bad verdict", "1 torque not finished"} <= set(gaps)
    page = client_for(edda).get(reverse("certification:record", args=[project.slug])).content.decode()
    assert "1 mix with a bad verdict" in page


def test_a_photo_knows_the_process_record_it_shows(made) -> None:  # noqa: ANN001
    project, edda, layup, photo = made
    (use,) = photo_uses(photo).made
    assert use.record == Layup.objects.get(pk=layup.pk) and use.moment == "Wet" and photo_uses(photo).any
    page = client_for(edda).get(reverse("certification:photo_uses", args=[project.slug, photo.pk])).content.decode()
    assert layup.label in page and "Not covered by a signature" in page


def test_a_drawn_line_is_read_with_its_corners() -> None:
    assert path("M48 10.5L60 -2") == [(48.0, 10.5), (60.0, -2.0)] and path("") == []

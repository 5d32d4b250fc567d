"""What every process record has in common: numbers, one journal entry each, reasons, photos, quantities as typed."""

from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile

from calc import cure
from calc.trouble import Impossible
from evidence.queries import has_place, photos
from foundation.refusal import Refusal
from journal.models import Entry
from process.commands import common, shots
from process.forms.quantity import QuantityField
from process.models import Layup, Shot
from process.queries import common as queries
from process.queries import shots as shot_queries
from process.rules import quantities, verdicts
from tests.factories import NOW, client_for, make_assembly, make_person, make_photo, make_project, picture_bytes
from tests.process.shop import make_layup, make_mix

pytestmark = pytest.mark.django_db


@pytest.fixture
def edda():
    return make_project()[1]


@pytest.fixture
def shell(edda):
    return make_assembly(edda, "24.1")


def entries(record) -> int:
    return Entry.objects.filter(subject=record.subject).count()


def test_numbers_run_within_kind_and_project_and_a_withdrawn_one_keeps_its_own(edda, shell) -> None:
    first, second = make_layup(edda, shell), make_layup(edda, shell)
    assert (first.label, second.label, make_mix(edda, shell).label) == ("L-1", "L-2", "M-1")
    common.withdraw(second, by=edda, at=NOW, reason="begun twice")
    assert make_layup(edda, shell).number == 3
    assert [one.number for one in queries.records(Layup, edda.project)] == [3, 1]


def test_the_same_request_makes_one_record_and_one_entry(edda, shell) -> None:
    first, again = (make_layup(edda, shell, request_id="one-request") for _ in range(2))
    assert first == again
    assert Layup.objects.count() == 1
    assert entries(first) == 1


def test_a_request_of_another_project_is_refused(edda, shell) -> None:
    make_layup(edda, shell, request_id="one-request")
    _, other = make_project("Another")
    with pytest.raises(Refusal, match="another project"):
        make_layup(other, make_assembly(other), request_id="one-request")


def test_nothing_of_another_project_is_taken(edda) -> None:
    _, other = make_project("Another")
    with pytest.raises(Refusal, match="another project"):
        make_layup(edda, make_assembly(other))


def test_a_finished_record_is_corrected_with_a_reason_only(edda, shell) -> None:
    layup = common.finish(make_layup(edda, shell), by=edda, at=NOW)
    with pytest.raises(Refusal) as no:
        common.correct_fields(layup, by=edda, at=NOW, title="Shell, upper")
    assert no.value.field == "reason"
    corrected = common.correct_fields(layup, by=edda, at=NOW, title="Shell, upper", reason="wrong side read")
    assert corrected.title == "Shell, upper"
    last = Entry.objects.filter(subject=layup.subject).last()
    assert (last.verb, last.reason) == ("layup.corrected", "wrong side read")


def test_a_correction_that_changes_nothing_writes_nothing(edda, shell) -> None:
    layup = make_layup(edda, shell)
    common.correct_fields(layup, by=edda, at=NOW, title=layup.title)
    assert entries(layup) == 1


def test_a_withdrawn_record_stays_as_it_is(edda, shell) -> None:
    layup = common.withdraw(make_layup(edda, shell), by=edda, at=NOW, reason="begun twice")
    for change in (common.finish, common.correct_fields):
        with pytest.raises(Refusal, match="withdrawn"):
            change(layup, by=edda, at=NOW)


def test_finishing_twice_writes_one_entry_and_opening_asks_why(edda, shell) -> None:
    layup = make_layup(edda, shell)
    common.finish(layup, by=edda, at=NOW)
    common.finish(layup, by=edda, at=NOW)
    assert entries(layup) == 2
    with pytest.raises(Refusal):
        common.reopen(layup, by=edda, at=NOW, reason=" ")
    assert common.reopen(layup, by=edda, at=NOW, reason="weight missing").finished_at is None


# ---- photos ----


def test_a_photo_stands_for_a_record_once_and_has_a_home_there(edda, shell) -> None:
    layup, photo = make_layup(edda, shell), make_photo(edda)
    assert photo not in photos(edda.project).filter(has_place(edda.project))
    for _ in range(2):
        shots.show_shot(by=edda, at=NOW, record=layup, photo=photo, moment="wet", ply=2)
    assert [(one.photo, one.moment, one.ply) for one in shot_queries.shots(layup)] == [(photo, "wet", 2)]
    assert photo in photos(edda.project).filter(has_place(edda.project))
    assert entries(layup) == 2


def test_a_photo_taken_away_is_still_told_by_the_journal(edda, shell) -> None:
    layup, photo = make_layup(edda, shell), make_photo(edda)
    shot = shots.show_shot(by=edda, at=NOW, record=layup, photo=photo)
    shots.take_away_shot(by=edda, at=NOW, record=layup, shot=shot)
    assert not Shot.objects.exists()
    told = [photo.pk in entry.state for entry in Entry.objects.filter(subject=layup.subject)]
    assert told == [False, True, False]


def test_no_withdrawn_photo_and_none_of_another_project_is_put_in_place(edda, shell) -> None:
    _, other = make_project("Another")
    with pytest.raises(Refusal, match="another project"):
        shots.show_shot(by=edda, at=NOW, record=make_layup(edda, shell), photo=make_photo(other))


def test_a_photo_is_sent_for_a_record_of_any_kind(edda, shell) -> None:
    mix, client = make_mix(edda, shell), client_for(edda)

    url = f"/tarnwader-2/process/mix/{mix.pk}/photos/"
    assert client.post(url, {"moment": "mixing"}).status_code == 422
    file = ContentFile(picture_bytes(), name="cup.jpg")
    answer = client.post(url, {"new_photos": file, "moment": "mixing"})
    assert answer.status_code == 302 and answer.url.endswith(f"/mixes/{mix.pk}/")
    shot = Shot.objects.get()
    assert (shot.mix, shot.moment) == (mix, "mixing")
    assert "In place now" in client.get(url).content.decode()
    client.post(f"{url}{shot.pk}/away/")
    assert not Shot.objects.exists()


def test_strangers_and_readers_do_not_put_photos_in_place(edda, shell) -> None:
    mix = make_mix(edda, shell)
    url = f"/tarnwader-2/process/mix/{mix.pk}/photos/"
    _, stranger = make_project("Another")
    assert client_for(stranger).get(url).status_code == 404
    assert client_for(make_person(edda.project, "reader")).get(url).status_code == 403
    assert client_for(edda).get(f"/tarnwader-2/process/nothing/{mix.pk}/photos/").status_code == 404


# ---- quantities ----


@pytest.mark.parametrize(
    ("suffix", "unit", "typed", "text", "figure"),
    [
        ("mm", "in", "2 1/4", "2 1/4 in", "57.15"),
        ("mm", "in", "57 mm", "57 mm", "57"),
        ("g", "g", "12,5", "12,5 g", "12.5"),
        ("g", "g", "2 lb 11.3 oz", "2 lb 11.3 oz", "1227.53435131"),
        ("degc", "degF", "98", "98 °F", "36.66666667"),
        ("inhg", "inHg", "24", "24 inHg", "24"),
        ("m2", "ft2", "10", "10 ft²", "0.9290304"),
    ],
)
def test_a_quantity_is_kept_as_typed_with_its_unit_beside_its_figure(suffix, unit, typed, text, figure) -> None:
    field = QuantityField(suffix)
    field.mean(unit)
    assert field.clean(typed) == (text, Decimal(figure))
    # What is kept reads back the same.
    assert field.clean(text) == (text, Decimal(figure))


@pytest.mark.parametrize("typed", ["two", "5 kg 3", "-4 mm", "0 mm", "3 g"])
def test_a_quantity_that_cannot_be_is_refused_with_a_sentence(typed: str) -> None:
    with pytest.raises(ValidationError) as no:
        QuantityField("mm").clean(typed)
    assert no.value.messages[0].endswith(".") or "such as" in no.value.messages[0]


def test_nothing_typed_is_nothing(db) -> None:
    assert QuantityField("mm").clean("  ") == ("", None)


def test_a_verdict_reads_what_was_typed_so_that_rounding_never_turns_it() -> None:
    text = "558.8 mmHg"
    exact = quantities.size(text, "inhg")
    assert isinstance(exact, Fraction)
    assert cure.vacuum(exact).good == (exact >= 22)
    # A figure rounded for keeping may differ from it in the ninth decimal, and is not asked.
    assert abs(Fraction(quantities.kept(exact)) - exact) <= Fraction(1, 10**8)


# ---- verdicts ----


def test_a_figure_that_cannot_be_is_a_bad_verdict_never_silence() -> None:
    def make() -> verdicts.Verdict:
        raise Impossible("A gauge can never show more than the air presses with.")

    found = verdicts.tried(make, "Vacuum", cure.VACUUM)
    assert found.bad and found.words.startswith("A gauge") and found.source and found.caution


def test_one_bad_verdict_makes_all_bad_and_none_leaves_it_open() -> None:
    good, bad, still = (verdicts.Verdict(state, "") for state in ("good", "bad", "open"))
    assert verdicts.overall([good, still, bad]) == "bad"
    assert verdicts.overall([good, still]) == "open"
    assert verdicts.overall([good]) == "good"
    assert verdicts.overall([]) == "open"

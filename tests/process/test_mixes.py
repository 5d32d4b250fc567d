"""Mixes: ratio by weight or by volume, what the scale hides, pot life, lots, and what phones bring."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from hypothesis import given
from hypothesis import strategies as st

from calc.trouble import Impossible
from evidence.models import Photo
from foundation.refusal import Refusal
from journal.models import Entry
from process.commands import common, mixes
from process.models import Mix, Shot
from process.queries import mixes as queries
from process.rules import mixes as rules
from process.rules.mixes import LotFacts, MixFacts, Scale
from tests.factories import NOW, client_for, make_assembly, make_lot, make_person, make_project, picture_bytes
from tests.process.shop import make_layup, make_mix, make_scale

SHEET = {"ratio_by": "weight", "parts_resin": Decimal(100), "parts_hardener": Decimal(27), "window_percent": Decimal(2)}


def mixed(resin: str, hardener: str, **more) -> MixFacts:
    return MixFacts(**SHEET | {"resin": resin, "hardener": hardener, "source": "resin sheet, rev. C"} | more)


def test_a_ratio_inside_its_window_is_good_and_says_by_whose() -> None:
    verdict = rules.ratio_verdict(mixed("145.0 g", "39.0 g"))
    assert verdict.good and verdict.words.startswith("26.9 of hardener per 100 of resin, +0.4 % off")
    assert any("resin sheet, rev. C" in line for line in verdict.lines)
    assert "win" in verdict.caution and verdict.source


def test_too_much_hardener_says_what_to_add_before_it_is_spread() -> None:
    verdict = rules.ratio_verdict(mixed("100 g", "30 g"))
    assert verdict.bad and "too much hardener" in verdict.words and "Do not spread" in verdict.words
    assert any("add 11.1 g of resin" in line for line in verdict.lines)
    short = rules.ratio_verdict(mixed("100 g", "20 g"))
    assert any("add 7.0 g of hardener" in line for line in short.lines)


def test_both_ends_of_the_window_are_inside_exactly() -> None:
    # 100 : 27 within 2 %: hardener for 98 parts of resin and for 102 parts.
    assert rules.ratio_verdict(mixed("98 g", "27 g")).good
    assert rules.ratio_verdict(mixed("102 g", "27 g")).good
    assert rules.ratio_verdict(mixed("102.0001 g", "27 g")).bad


def test_weights_in_pounds_are_judged_as_typed() -> None:
    assert rules.ratio_verdict(mixed("1 lb", "4.32 oz")).good


def test_by_volume_is_another_thing_than_by_weight() -> None:
    by_volume = {"ratio_by": "volume", "parts_resin": Decimal(3), "parts_hardener": Decimal(1)}
    assert rules.ratio_verdict(mixed("90 mL", "30 mL", **by_volume)).good
    weighed = rules.ratio_verdict(mixed("90 g", "30 g", **by_volume))
    assert weighed.bad and "by volume" in weighed.words
    with pytest.raises(Impossible, match="by weight"):
        rules.amount("90 mL", "weight")
    assert rules.amount("0.09 L", "volume") == ("0.09 L", 90)


def test_without_a_window_the_relayed_one_is_used_and_said() -> None:
    verdict = rules.ratio_verdict(mixed("145 g", "39 g", window_percent=None))
    assert verdict.good and any("within 3 %" in line and "mailing list" in line for line in verdict.lines)


def test_a_coarse_scale_says_what_it_can_hide() -> None:
    fine, coarse = Scale("S1", "0.1 g"), Scale("S2", "1 g")
    assert "leaves the window" not in " ".join(rules.ratio_verdict(mixed("145.0 g", "39.0 g", scale=fine)).lines)
    hidden = rules.ratio_verdict(mixed("14.5 g", "3.9 g", scale=coarse))
    assert hidden.good and "leaves the window" in " ".join(hidden.lines)
    hopeless = rules.ratio_verdict(mixed("2 g", "0.54 g", scale=coarse))
    assert "all of the hardener" in " ".join(hopeless.lines)


def test_missing_readings_wait_and_nothing_is_made_up() -> None:
    assert rules.ratio_verdict(mixed("145 g", "")).state == "open"


@given(st.integers(1, 5000), st.integers(1, 5000))
def test_what_is_advised_puts_the_ratio_right(resin: int, hardener: int) -> None:
    verdict = rules.ratio_verdict(mixed(f"{resin} g", f"{hardener} g"))
    assert verdict.state in {"good", "bad"}
    if verdict.bad:
        (fix,) = [line for line in verdict.lines if line.startswith("To put it right")]
        added = Decimal(fix.split()[5])
        of_resin = "of resin" in fix
        total = (resin + added * of_resin, hardener + added * (not of_resin))
        # Said to a tenth of a gram.
        assert abs(Decimal(27) * total[0] - 100 * total[1]) <= Decimal("5.1")


def test_pot_life_is_kept_to_the_very_minute() -> None:
    told = {"mixed_at": NOW, "pot_life_min": Decimal(30)}
    (inside,) = rules.pot_verdict(mixed("1 g", "1 g", spread_at=NOW + timedelta(minutes=30), **told))
    (late,) = rules.pot_verdict(mixed("1 g", "1 g", spread_at=NOW + timedelta(minutes=31), **told))
    (still,) = rules.pot_verdict(mixed("1 g", "1 g", **told))
    assert inside.good and late.bad and still.state == "open"
    assert rules.pot_verdict(mixed("1 g", "1 g")) == []


def test_a_warm_pot_halves_the_hint_but_not_the_verdict() -> None:
    assert rules.pot_hint(Decimal(30), "35 °C").minutes == 15
    hint = rules.pot_hint(Decimal(30), "77 °F")
    assert hint.minutes == 30 and "alarm only" in hint.caution
    assert rules.pot_hint(Decimal(30), "") is None
    assert rules.pot_hint(Decimal(30), "200 °C") is None


def test_a_lot_past_its_date_or_on_hold_is_said() -> None:
    day = date(2026, 5, 14)
    past, held = LotFacts("L-1 Resin", date(2026, 5, 13)), LotFacts("L-2 Hardener", None, "hold")
    (good,) = rules.lot_verdicts(mixed("1 g", "1 g", lots=[LotFacts("L-1 Resin", day)], day=day))
    found = rules.lot_verdicts(mixed("1 g", "1 g", lots=[past, held], day=day))
    assert good.good and all(one.bad for one in found) and len(found) == 2
    assert rules.lot_verdicts(mixed("1 g", "1 g", lots=[LotFacts("L-3", None)], day=day))[0].state == "open"


# ---- commands ----


@pytest.fixture
def edda(db):
    return make_project()[1]


@pytest.fixture
def shell(edda):
    return make_assembly(edda, "24.1")


def test_a_mix_goes_into_a_layup_with_one_entry(edda, shell) -> None:
    layup = make_layup(edda, shell)
    mix = make_mix(edda, shell, used_in=layup)
    assert [use.layup for use in mix.uses.all()] == [layup]
    assert Entry.objects.filter(subject=mix.subject).count() == 1
    assert layup.pk in Entry.objects.get(subject=mix.subject).state
    mixes.use_mix(mix, by=edda, at=NOW, thing=layup)
    assert Entry.objects.filter(subject=mix.subject).count() == 1


def test_spreading_ends_the_clock_once(edda, shell) -> None:
    mix = make_mix(edda, shell)
    assert queries.running(edda.project) == [mix]
    with pytest.raises(Refusal, match="before it was mixed"):
        mixes.spread_mix(mix, by=edda, at=NOW, spread_at=NOW - timedelta(minutes=1))
    mixes.spread_mix(mix, by=edda, at=NOW + timedelta(minutes=20))
    mixes.spread_mix(mix, by=edda, at=NOW + timedelta(minutes=40))
    mix.refresh_from_db()
    assert mix.spread_at == NOW + timedelta(minutes=20)
    assert queries.running(edda.project) == []


def test_the_last_wet_out_tells_of_the_only_pot_and_of_no_earlier_one(edda, shell) -> None:
    layup = make_layup(edda, shell, last_wetout_at=NOW + timedelta(minutes=48))
    first = make_mix(edda, shell, used_in=layup)
    common.finish(layup, by=edda, at=NOW + timedelta(hours=1))
    whole = queries.all_mixes(edda.project)
    assert rules.pot_verdict(queries.facts_of(whole.get(pk=first.pk)))[0].bad
    make_mix(edda, shell, used_in=layup, at=NOW + timedelta(minutes=25))
    assert rules.pot_verdict(queries.facts_of(whole.get(pk=first.pk)))[0].state == "open"


def test_a_lot_that_is_past_its_date_says_so_where_it_is_chosen(edda, shell) -> None:
    make_lot(edda, "L-9", name="Resin", expires_on=date(2020, 1, 31), made_on=date(2019, 1, 31))
    assert "L-9 Resin (past its date)" in client_for(edda).get(f"{URL}new/").content.decode()


def test_a_ratio_has_two_parts(edda, shell) -> None:
    with pytest.raises(Refusal):
        make_mix(edda, shell, parts_hardener=Decimal(0))


def test_a_worst_case_names_the_scale_that_was_used(edda, shell) -> None:
    mix = make_mix(edda, shell, scale=make_scale(edda))
    found = queries.verdicts(queries.all_mixes(edda.project).get(pk=mix.pk))
    assert any("Bench scale may be off" in line for line in found[0].lines)
    assert queries.scale_errors(edda.project)[mix.scale.pk] == {"step": "0.1", "percent": "0"}


# ---- pages ----

URL = "/tarnwader-2/mixes/"
FORM = {
    "request_id": "mix-by-form", "ratio_by": "weight", "parts_resin": "100", "parts_hardener": "27",
    "window_percent": "2", "resin": "145.0", "hardener": "39,0 g", "pot_life_min": "30",
}  # fmt: skip


def test_sending_a_mix_twice_records_it_once_and_the_next_is_like_it(edda, shell) -> None:
    client, lot = client_for(edda), make_lot(edda, name="Laminating resin", material="resin")
    form = FORM | {"assembly": shell.pk, "resin_lot": lot.pk, "system": "R 40"}
    for _ in range(2):
        assert client.post(f"{URL}new/", form).status_code == 302
    mix = Mix.objects.get()
    assert (mix.resin, mix.resin_g, mix.hardener, mix.hardener_g) == ("145.0 g", 145, "39,0 g", 39)
    told = client.get(f"{URL}new/").content.decode()
    assert 'value="27"' in told and 'value="R 40"' in told and f'value="{lot.pk}" selected' in told


def test_amounts_of_the_other_kind_are_refused_and_kept_as_typed(edda, shell) -> None:
    form = FORM | {"assembly": shell.pk, "resin": "145 mL"}
    answer = client_for(edda).post(f"{URL}new/", form)
    assert answer.status_code == 422
    assert "The ratio is by weight" in answer.content.decode() and 'value="145 mL"' in answer.content.decode()
    assert not Mix.objects.exists()


def test_by_volume_no_grams_are_made_up(edda, shell) -> None:
    form = FORM | {"assembly": shell.pk, "ratio_by": "volume", "parts_resin": "3", "parts_hardener": "1"}
    client_for(edda).post(f"{URL}new/", form | {"resin": "90", "hardener": "30 mL"})
    mix = Mix.objects.get()
    assert (mix.resin, mix.resin_g, mix.hardener) == ("90 mL", None, "30 mL")
    assert queries.verdicts(mix)[0].good


def test_a_mix_is_corrected_and_the_page_shows_verdict_and_history(edda, shell) -> None:
    mix, client = make_mix(edda, shell), client_for(edda)
    page = f"{URL}{mix.pk}/"
    assert "26.9 of hardener per 100 of resin" in client.get(page).content.decode()
    form = FORM | {"assembly": shell.pk, "hardener": "49", "mixed_at": "2026-05-14T11:00:00", "done_by": edda.pk}
    assert client.post(f"{page}edit/", form).status_code == 302
    told = client.get(page).content.decode()
    assert "too much hardener" in told and "39.0 g" in told
    client.post(f"{page}spread/")
    assert client.get(URL).status_code == 200
    client.post(f"{page}finish/")
    assert client.post(f"{page}edit/", form | {"hardener": "39"}).status_code == 422
    assert client.post(f"{page}edit/", form | {"hardener": "39", "reason": "misread"}).status_code == 302


def test_helpers_change_their_own_mixes_only(edda, shell) -> None:
    jory = make_person(edda.project, name="Jory")
    own, hers = make_mix(jory, shell), make_mix(edda, shell)
    client = client_for(jory)
    assert client.get(f"{URL}{own.pk}/edit/").status_code == 200
    assert client.get(f"{URL}{hers.pk}/edit/").status_code == 403
    assert client.post(f"{URL}{hers.pk}/spread/").status_code == 302


# ---- from a phone ----

CAPTURED = "/tarnwader-2/captured/"


def capture(client, kind: str, request_id: str, at=NOW, **fields):
    said = {"request_id": request_id, "happened_at": str(round(at.timestamp() * 1000)), "ahead": "0"}
    return client.post(f"{CAPTURED}?kind={kind}", said | fields, headers={"accept": "application/json"})


def test_a_mix_of_a_phone_keeps_the_time_of_its_tap_and_comes_once(edda, shell) -> None:
    client, layup = client_for(edda), make_layup(edda, shell)
    form = {name: value for name, value in FORM.items() if name != "request_id"} | {
        "used_in": layup.pk,
        "assembly": shell.pk,
    }
    first, again = (capture(client, "mix", "phone-mix-1", **form) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    mix = Mix.objects.get()
    assert mix.mixed_at == NOW and mix.received_at is not None
    assert first.json()["mix"] == mix.pk and first.json()["request_id"] == "phone-mix-1"


def test_a_mix_that_comes_after_its_layup_was_finished_is_still_taken(edda, shell) -> None:
    layup = common.finish(make_layup(edda, shell), by=edda, at=NOW)
    form = {name: value for name, value in FORM.items() if name != "request_id"} | {"used_in": layup.pk}
    assert capture(client_for(edda), "mix", "phone-mix-9", **form).status_code == 201
    assert [use.layup for use in Mix.objects.get().uses.all()] == [layup]


def test_a_pot_may_be_finished_before_its_mix_has_come(edda, shell) -> None:
    client = client_for(edda)
    early = capture(client, "mix_spread", "phone-spread-1", at=NOW + timedelta(minutes=9), mix="phone-mix-1")
    assert early.status_code == 425
    capture(
        client,
        "mix",
        "phone-mix-1",
        **{name: value for name, value in FORM.items() if name != "request_id"} | {"assembly": shell.pk},
    )
    spread = {"at": NOW + timedelta(minutes=9), "mix": "phone-mix-1"}
    assert capture(client, "mix_spread", "phone-spread-1", **spread).status_code == 201
    assert Mix.objects.get().spread_at == NOW + timedelta(minutes=9)


def test_what_a_phone_cannot_be_right_about_is_refused_with_its_sentence(edda, shell) -> None:
    bad = {name: value for name, value in FORM.items() if name != "request_id"} | {
        "assembly": shell.pk,
        "resin": "a cup",
    }
    answer = capture(client_for(edda), "mix", "phone-mix-2", **bad)
    assert answer.status_code == 422 and "cannot be read" in answer.json()["error"]
    assert not Mix.objects.exists()


def test_a_ply_and_its_photo_come_from_a_phone(edda, shell) -> None:
    client, layup = client_for(edda), make_layup(edda, shell)
    at = NOW - timedelta(minutes=3)
    assert capture(client, "ply_laid", "phone-ply-1", at=at, layup=layup.pk, ply="1").status_code == 201
    assert layup.plies.get(position=1).laid_at == at
    about = {"photo_request": "phone-photo-1", "record_kind": "layup", "record": layup.pk, "moment": "wet", "ply": "1"}
    assert capture(client, "shot", "phone-shot-1", **about).status_code == 425

    file = SimpleUploadedFile("IMG.jpg", picture_bytes(seed=9), "image/jpeg")
    assert capture(client, "photo", "phone-photo-1", photo=file, place=shell.pk).status_code == 201
    assert capture(client, "shot", "phone-shot-1", **about).status_code == 201
    shot = Shot.objects.get()
    assert (shot.layup, shot.photo, shot.moment, shot.ply) == (layup, Photo.objects.get(), "wet", 1)


def test_a_stranger_and_a_reader_capture_nothing(edda, shell) -> None:
    layup = make_layup(edda, shell)
    _, stranger = make_project("Another")
    assert capture(client_for(stranger), "ply_laid", "phone-ply-2", layup=layup.pk, ply="1").status_code == 404
    reader = make_person(edda.project, "reader")
    assert capture(client_for(reader), "ply_laid", "phone-ply-2", layup=layup.pk, ply="1").status_code == 403
    other = make_layup(stranger, make_assembly(stranger))
    assert capture(client_for(edda), "ply_laid", "phone-ply-3", layup=other.pk, ply="1").status_code == 422

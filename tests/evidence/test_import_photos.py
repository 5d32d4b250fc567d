"""manage.py import_photos: a folder goes in as often as it takes, and says what became of each file."""

import os
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from accounts.models import Person
from evidence import commands as evidence
from evidence.models import Photo
from journal.models import Entry
from tests.factories import make_assembly, make_person, make_photo, make_project, make_user, picture_bytes

pytestmark = pytest.mark.django_db

FILE_TIME = 1_747_200_000  # 14 May 2025, 05:20 UTC


@pytest.fixture
def builder() -> Person:
    return make_project(user=make_user("edda"))[1]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two evenings in two folders, one file twice, a text, something hidden, a broken picture, a link to elsewhere."""
    root = tmp_path / "camera"
    files = {
        "one/IMG_1.jpg": picture_bytes(seed=1, taken="2026:05:14 19:02:00"),
        "one/IMG_2.JPG": picture_bytes(seed=2, taken="2026:05:14 19:40:00"),
        "two/IMG_3.jpg": picture_bytes(seed=3, taken="2026:05:15 08:00:00"),
        "two/copy of 1.jpg": picture_bytes(seed=1, taken="2026:05:14 19:02:00"),
        "two/plain.png": picture_bytes("PNG", seed=4, taken="", offset=""),
        "two/broken.jpg": picture_bytes(seed=5)[:900],
        "notes.txt": b"not a photo",
        "album.zip": b"PK\x03\x04",
        ".hidden.jpg": picture_bytes(seed=6),
        ".trash/IMG_9.jpg": picture_bytes(seed=7),
    }
    for name, data in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        os.utime(path, (FILE_TIME, FILE_TIME))
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.jpg").write_bytes(picture_bytes(seed=8))
    (root / "link.jpg").symlink_to(outside / "secret.jpg")
    (root / "linked").symlink_to(outside)
    return root


def run(*words: object, code: int = 0) -> str:
    """What the command says; it has to end with this code."""
    out = StringIO()
    ended = 0
    try:
        call_command("import_photos", *map(str, words), stdout=out)
    except SystemExit as end:
        ended = end.code
    assert ended == code, out.getvalue()
    return out.getvalue()


def on_disk(settings) -> list[Path]:
    return [path for base in (settings.ORIGINALS_DIR, settings.RENDITIONS_DIR) for path in base.rglob("*")]


def test_every_photo_of_a_folder_goes_in_once_and_the_rest_is_named(builder, folder):
    said = run(folder, builder.project.slug, code=1)
    photos = {photo.file_name: photo for photo in Photo.objects.all()}
    assert set(photos) == {"IMG_1.jpg", "IMG_2.JPG", "IMG_3.jpg", "plain.png"}
    assert photos["IMG_1.jpg"].taken_known == "camera"
    assert (photos["plain.png"].taken_known, photos["plain.png"].taken_at.timestamp()) == ("file", FILE_TIME)
    assert all(photo.sent_by == builder for photo in photos.values())
    assert "before two/copy of 1.jpg: the same file as one/IMG_1.jpg" in said
    assert "refused two/broken.jpg: " in said
    assert "4 new, 1 in the record before, 1 refused." in said
    for name in ("notes.txt", "album.zip", "link.jpg", "linked"):
        assert f"\n  {name}\n" in said
    assert "secret" not in said and "hidden" not in said and "IMG_9" not in said


def test_it_tells_the_groups_that_the_tray_will_propose(builder, folder):
    said = run(folder, builder.project.slug, code=1)
    assert "In the tray they make 3 groups by time:" in said
    assert "  Wed 14 May 2025, 05:20" not in said  # the shop's clock, not UTC
    assert "  Thu 14 May 2026, 19:02 to 19:40, 2 photos\n" in said
    assert "  Fri 15 May 2026, 08:00, 1 photo\n" in said


def test_a_second_run_copies_nothing_and_goes_on_with_what_is_new(builder, folder):
    run(folder, builder.project.slug, code=1)
    (folder / "one" / "IMG_4.jpg").write_bytes(picture_bytes(seed=40))
    entries = Entry.objects.count()
    said = run(folder, builder.project.slug, code=1)
    assert Photo.objects.count() == 5
    assert Entry.objects.count() == entries + 1
    assert f"before one/IMG_1.jpg: is {Photo.objects.get(file_name='IMG_1.jpg').label}" in said


def test_a_dry_run_says_the_same_and_writes_nothing(builder, folder, settings):
    before = Entry.objects.count(), on_disk(settings)
    said = run(folder, builder.project.slug, "--dry-run", code=1)
    assert (Entry.objects.count(), on_disk(settings)) == before
    assert not Photo.objects.exists()
    assert "4 would be new, 1 in the record before, 1 refused." in said
    assert "  Thu 14 May 2026, 19:02 to 19:40, 2 photos\n" in said
    assert said.endswith("Nothing was written.\n")
    real = run(folder, builder.project.slug, code=1)
    assert [line for line in said.splitlines() if line.startswith("  ")] == [
        line for line in real.splitlines() if line.startswith("  ")
    ]


def test_photos_known_before_are_placed_and_withdrawn_ones_stay_withdrawn(builder, folder):
    assembly = make_assembly(builder, "24.1")
    known = make_photo(builder, data=picture_bytes(seed=1, taken="2026:05:14 19:02:00"))
    gone = make_photo(builder, data=picture_bytes(seed=3, taken="2026:05:15 08:00:00"))
    evidence.withdraw_photo(by=builder, at=gone.received_at, photo=gone, reason="Blurred")
    said = run(folder, builder.project.slug, "--place", "24.1", code=1)
    assert known.placements.get().assembly == assembly
    gone.refresh_from_db()
    assert gone.withdrawn
    assert f"is {gone.label}, which was withdrawn and stays so" in said
    assert "In the tray" not in said
    by_key = run(folder, builder.project.slug, "--place", assembly.pk, code=1)
    assert f"Place: {assembly}." in by_key


def test_a_helper_may_be_named_as_the_sender(builder, folder):
    jory = make_person(builder.project, "helper", name="Jory Pask")
    run(folder, builder.project.slug, "--by", jory.user.username, code=1)
    assert {photo.sent_by for photo in Photo.objects.all()} == {jory}


def test_a_folder_in_which_all_is_well_ends_with_0(builder, tmp_path):
    (tmp_path / "good").mkdir()
    (tmp_path / "good" / "a.jpg").write_bytes(picture_bytes(seed=50))
    assert "1 new, 0 in the record before, 0 refused." in run(tmp_path / "good", builder.project.slug)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("{folder}", "tarnwader-3"), "There is no project 'tarnwader-3'. There is: tarnwader-2."),
        (("{folder}/none", "tarnwader-2"), "There is no folder"),
        (("{folder}", "tarnwader-2", "--by", "nobody"), "No account 'nobody' belongs to this project. Known: edda"),
        (("{folder}", "tarnwader-2", "--place", "99"), "There is no assembly '99' in this project"),
    ],
)
def test_wrong_use_ends_with_2_and_a_sentence(builder, folder, words, sentence):
    with pytest.raises(CommandError, match=sentence.replace("?", r"\?")) as trouble:
        call_command("import_photos", *(word.format(folder=folder) for word in words))
    assert trouble.value.returncode == 2
    assert not Photo.objects.exists()


def test_an_inspector_may_not_be_named_as_the_sender(builder, folder):
    hal = make_person(builder.project, "inspector", name="Hal Venning")
    with pytest.raises(CommandError, match="Hal Venning may not send photos") as trouble:
        call_command("import_photos", folder, builder.project.slug, by=hal.user.username)
    assert trouble.value.returncode == 2


def test_stopped_on_the_way_what_is_in_is_in_and_another_run_goes_on(builder, folder, monkeypatch):
    take_in, count = evidence.take_in, [0]

    def stopped_at_the_third(**facts):
        count[0] += 1
        if count[0] == 3:
            raise KeyboardInterrupt
        return take_in(**facts)

    monkeypatch.setattr(evidence, "take_in", stopped_at_the_third)
    said = run(folder, builder.project.slug, code=130)
    assert "Stopped. 2 of 6 are in the record. Run it again to go on." in said
    assert Photo.objects.count() == 2
    monkeypatch.undo()
    run(folder, builder.project.slug, code=1)
    assert Photo.objects.count() == 4

"""Clips on their pages in a real browser: one recorded there is kept and plays, under the strict policy."""

import base64

import pytest
from django.core.files.base import ContentFile

from evidence import commands as evidence
from evidence.models import Photo
from tests.evidence import recordings
from tests.factories import NOW, make_project

pytestmark = pytest.mark.browser

# Two seconds of moving color and a tone, as the browser itself records them.
RECORD = """async (kind) => {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [320, 240];
  const pen = canvas.getContext("2d");
  let step = 0;
  const moving = setInterval(() => {
    pen.fillStyle = `hsl(${step++ * 9}, 70%, 50%)`;
    pen.fillRect(0, 0, 320, 240);
  }, 40);
  const audio = new AudioContext();
  const [tone, heard] = [audio.createOscillator(), audio.createMediaStreamDestination()];
  tone.connect(heard);
  tone.start();
  const tracks = [...heard.stream.getTracks()];
  if (kind.startsWith("video")) tracks.push(...canvas.captureStream(25).getTracks());
  const recorder = new MediaRecorder(new MediaStream(tracks), { mimeType: kind });
  const pieces = [];
  recorder.ondataavailable = (event) => pieces.push(event.data);
  const done = new Promise((tell) => { recorder.onstop = tell; });
  recorder.start();
  await new Promise((tell) => setTimeout(tell, 2000));
  recorder.stop();
  await done;
  clearInterval(moving);
  const reader = new FileReader();
  const read = new Promise((tell) => { reader.onload = tell; });
  reader.readAsDataURL(new Blob(pieces, { type: kind }));
  await read;
  return reader.result;
}"""

# Whether the player knows what it has, and whether it can go to the middle of it.
READY = """(player) => new Promise((tell) => {
  const look = () => player.readyState >= 1 && tell([player.duration, player.error && player.error.message]);
  player.addEventListener("loadedmetadata", look);
  player.addEventListener("error", () => tell([0, player.error.message]));
  look();
})"""
SEEK = """(player) => new Promise((tell) => {
  player.addEventListener("seeked", () => tell(player.currentTime));
  player.currentTime = 2;
})"""


def keep(person, data: bytes, name: str) -> Photo:  # noqa: ANN001
    return evidence.take_in(
        by=person, at=NOW, project=person.project, file=ContentFile(data), name=name, caption="Fuel pump running"
    )[0]


@pytest.mark.parametrize("size", ["phone"], indirect=True)
@pytest.mark.parametrize(("kind", "stored"), [("video/webm", "webm"), ("audio/webm", "weba"), ("video/mp4", "mp4")])
def test_what_a_browser_records_is_kept_and_plays(desks, kind: str, stored: str) -> None:
    project, edda = make_project()
    desk = desks(edda.user.username)
    desk.go("/")
    supported = desk.page.evaluate("kind => MediaRecorder.isTypeSupported(kind)", kind)
    if not supported:
        pytest.skip(f"this browser does not record {kind}")
    data = base64.b64decode(desk.page.evaluate(RECORD, kind).partition(",")[2])
    clip = keep(edda, data, "recording")
    assert clip.kind == stored
    assert (clip.width, clip.height) == ((320, 240) if kind.startswith("video") else (0, 0))
    desk.go(f"/{project.slug}/photos/{clip.pk}/")
    lasts, trouble = desk.page.locator("figure.clip :is(video, audio)").evaluate(READY)
    assert trouble is None
    assert lasts is None or lasts > 1  # a running recording does not know how long it will be


def test_a_voice_note_can_be_sought_in_and_its_page_is_for_everybody(desks) -> None:
    project, edda = make_project()
    clip = keep(edda, recordings.sound_file(4.0), "note.wav")
    keep(edda, recordings.movie(), "IMG_0002.MOV")
    desk = desks(edda.user.username)
    page = desk.go(f"/{project.slug}/photos/{clip.pk}/")
    player = page.locator("figure.clip audio")
    lasts, trouble = player.evaluate(READY)
    assert (round(lasts), trouble) == (4, None)
    assert round(player.evaluate(SEEK)) == 2
    desk.look()
    desk.go(f"/{project.slug}/photos/")
    desk.look()
    assert page.get_by_text("Voice note, 0:04").first.is_visible()

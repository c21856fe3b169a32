"""Photographs of a box: what is taken, what is left out of the file, who sees them, how they go."""

import io
import struct
import zlib

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from intake.actions.photographing import MOST, add_photograph, remove_photograph
from intake.errors import EntryProblem, SomebodyWasFaster
from intake.models import Photograph, RecordEntry
from intake.pictures.photographs import KEPT_BYTES, MOST_BYTES, SIDE_PX, reencoded
from tests.factories import RECEIVED, opened, photograph_file, sample, sent

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_the_moment_of_arrival(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: RECEIVED)


@pytest.fixture
def arrival(reception, submitter, group, rulebook):
    return opened(reception, sent(submitter, group, rulebook, sample()))


@pytest.fixture
def client(signed_in, reception):
    return signed_in(reception)


def page_of(arrival):
    return reverse("intake:photographs", args=[arrival.number])


def send(client, arrival, data, name="box.jpg", **more):
    told = {"picture": SimpleUploadedFile(name, data, "image/jpeg"), "caption": "seal torn", "token": "t"}
    return client.post(page_of(arrival), {**told, **more})


def with_exif() -> bytes:
    image = Image.new("RGB", (60, 40), "teal")
    exif = image.getexif()
    exif[0x010F] = "Kamerawerk"  # maker
    exif[0x0112] = 6  # lies on its side
    exif.get_ifd(0x8825)[2] = (48.0, 12.0, 30.0)  # latitude
    written = io.BytesIO()
    image.save(written, "JPEG", exif=exif, comment=b"written by hand")
    return written.getvalue()


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few hundred bytes whose head claims ``width`` × ``height``."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(bytes(100_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


def test_a_photograph_is_kept_and_shown(client, arrival):
    assert send(client, arrival, photograph_file()).url == page_of(arrival)
    (kept,) = Photograph.objects.all()
    page = client.get(page_of(arrival)).text
    assert kept.key in page
    assert "seal torn" in page
    picture = client.get(reverse("intake:photograph", args=[arrival.number, kept.key]))
    assert picture.headers["Content-Type"] == "image/jpeg"
    assert picture.headers["X-Content-Type-Options"] == "nosniff"
    assert picture.headers["Content-Disposition"].startswith("attachment;")
    assert "no-store" in picture.headers["Cache-Control"]
    assert Image.open(io.BytesIO(picture.content)).size == (64, 48)
    told = RecordEntry.objects.get(verb="photograph.add")
    assert told.after["SHA-256"] == kept.digest


def test_nothing_but_the_picture_is_kept(client, arrival):
    data = with_exif()
    assert b"Kamerawerk" in data
    send(client, arrival, data + b"<script>hidden behind the picture</script>")
    kept = bytes(Photograph.objects.get().content)
    image = Image.open(io.BytesIO(kept))
    assert not image.getexif()
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for hidden in (b"Kamerawerk", b"written by hand", b"hidden behind", b"Exif"):
        assert hidden not in kept
    assert image.size == (40, 60), "turned upright, since the note that says so is gone"


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"no picture at all", "not a photograph"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "not a photograph"),
        (b"GIF89a" + bytes(50), "not a photograph"),
        (photograph_file("GIF"), "not a photograph"),
        (photograph_file("TIFF"), "not a photograph"),
        (photograph_file()[:120], "not a photograph"),
        (photograph_file("PNG", (400, 400))[:300], "not a photograph"),
        (bomb(50_000, 50_000), "too many pixels to be read"),
        (bomb(9_000, 9_000), "at most 16 million"),
        (bomb(300, 300)[:-30], "not a photograph"),
        (b"", "is empty"),
    ],
)
def test_what_is_no_photograph_is_told_in_a_sentence(client, arrival, data, sentence):
    answer = send(client, arrival, data)
    assert answer.status_code == 422
    assert sentence in answer.text
    assert not Photograph.objects.exists()


def test_a_file_too_large_is_refused_before_it_is_decoded():
    with pytest.raises(EntryProblem, match="larger than 12 MB"):
        reencoded(photograph_file() + bytes(MOST_BYTES))


def test_a_large_picture_becomes_small(client, arrival):
    noise = Image.effect_noise((3000, 2000), 120).convert("RGB")
    written = io.BytesIO()
    noise.save(written, "JPEG", quality=95)
    kept = reencoded(written.getvalue())
    assert max(kept.width, kept.height) == SIDE_PX
    assert len(kept.content) <= KEPT_BYTES


@pytest.mark.parametrize("mode", ["L", "P", "RGBA", "LA", "I;16", "1"])
def test_every_kind_of_pixel_is_read(mode):
    written = io.BytesIO()
    Image.new(mode, (30, 20)).save(written, "PNG")
    assert reencoded(written.getvalue()).width == 30


@pytest.mark.parametrize("missing", ["picture", "caption"])
def test_a_photograph_needs_a_file_and_what_it_shows(client, arrival, missing):
    answer = send(client, arrival, photograph_file(), **{missing: ""})
    assert answer.status_code == 422
    assert not Photograph.objects.exists()


def test_the_same_form_sent_again_keeps_one(client, arrival):
    for _ in range(2):
        send(client, arrival, photograph_file())
    assert Photograph.objects.count() == 1


def test_there_is_an_end_to_it(client, reception, arrival):
    for _ in range(MOST):
        add_photograph(arrival, by=reception, at=RECEIVED, data=photograph_file(), caption="box")
    assert "at most 12" in send(client, arrival, photograph_file()).text


def test_removing_needs_a_reason_and_takes_the_picture_away(client, reception, arrival):
    kept = add_photograph(arrival, by=reception, at=RECEIVED, data=photograph_file(), caption="a face")
    address = reverse("intake:photograph_remove", args=[arrival.number, kept.key])
    assert client.post(address, {"reason": " ", "token": "r"}).status_code == 422
    client.post(address, {"reason": "shows a person", "token": "r"})
    kept.refresh_from_db()
    assert (bytes(kept.content), kept.removed_reason, kept.removed_by) == (b"", "shows a person", reception)
    assert client.get(reverse("intake:photograph", args=[arrival.number, kept.key])).status_code == 404
    assert "shows a person" in client.get(page_of(arrival)).text
    assert RecordEntry.objects.get(verb="photograph.remove").reason == "shows a person"
    with pytest.raises(SomebodyWasFaster):
        remove_photograph(kept, by=reception, at=RECEIVED, reason="again")


def test_groups_and_strangers_see_no_photograph(signed_in, submitter, stranger, reception, arrival):
    kept = add_photograph(arrival, by=reception, at=RECEIVED, data=photograph_file(), caption="box")
    for person in (submitter, stranger):
        theirs = signed_in(person)
        hidden = theirs.get(reverse("intake:photograph", args=[arrival.number, kept.key]))
        missing = theirs.get(reverse("intake:photograph", args=[arrival.number, "nothing"]))
        assert hidden.status_code == missing.status_code == 404


@pytest.mark.parametrize("count", [2, 12])
def test_the_page_costs_the_same_for_two_and_for_twelve(
    client, reception, arrival, count, django_assert_num_queries
):
    for _ in range(count):
        add_photograph(arrival, by=reception, at=RECEIVED, data=photograph_file(), caption="box")
    client.get(page_of(arrival))
    with django_assert_num_queries(4):
        client.get(page_of(arrival))

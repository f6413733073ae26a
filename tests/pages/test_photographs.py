"""Photographs of a visit: what is taken, what is refused, and where they lie."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import pytest
import toy
from PIL import Image
from visits import Page, new, picture

from assess.job.job_reading import load
from assess.visit.camera_pictures import PictureError
from assess.visit.photographs import MOST_BYTES, reencoded

ABOUT = "wheels.play"
ORIENTATION, MAKER = 0x0112, 0x010F


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def huge_png(width: int, height: int) -> bytes:
    """A few bytes that claim to be a picture of many million pixels."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_becomes_a_jpeg(kind: str) -> None:
    made = opened(reencoded(picture(kind)))
    assert (made.format, made.size, made.mode) == ("JPEG", (60, 40), "RGB")


def test_a_large_picture_is_made_smaller_in_its_shape() -> None:
    assert opened(reencoded(picture(size=(4000, 1000)))).size == (2000, 500)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_what_is_transparent_is_white(kind: str) -> None:
    clear = Image.new("RGBA", (60, 40), (0, 0, 0, 0))
    written = io.BytesIO()
    clear.save(written, kind)
    assert opened(reencoded(written.getvalue())).getpixel((30, 20)) == (255, 255, 255)


def test_metadata_is_left_out_and_the_picture_stands_upright() -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # the camera was held upright
    exif[MAKER] = "a camera"
    sent = picture(exif=exif, comment="12 Some Street")
    made = opened(reencoded(sent))
    assert b"Some Street" in sent
    assert b"Some Street" not in reencoded(sent)
    assert opened(sent).getexif()[MAKER] == "a camera"
    assert not made.getexif()
    assert made.size == (40, 60)
    assert made.getpixel((35, 5)) < (60, 60, 60)  # the black quarter turned to the upper right
    assert made.getpixel((5, 5)) > (200, 200, 200)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "cannot be read as a picture"),
        (b"GIF89a" + b"\0" * 50, "cannot be read as a picture"),
        (b"<svg onload='alert(1)'/>", "cannot be read as a picture"),
        (picture()[:200], "cannot be read as a picture"),
        (huge_png(9000, 9000), "million pixels"),
        (huge_png(60000, 60000), "million pixels"),
        (b"\xff" * (MOST_BYTES + 1), "15 MB"),
    ],
)
def test_what_is_no_photograph_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(PictureError, match=said):
        reencoded(data)


def test_photographs_lie_beside_the_job_file_by_question_and_number(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    for about in (ABOUT, ABOUT, "whole"):
        assert page.photograph(about, picture()).status_code == 200
    named = load(path, toy.knowledge().trade).photographs
    assert named == {
        ABOUT: ("cart_photographs/wheels.play-1.jpg", "cart_photographs/wheels.play-2.jpg"),
        "whole": ("cart_photographs/whole-1.jpg",),
    }
    assert all((tmp_path / file).is_file() for files in named.values() for file in files)
    shown = page.get("/visit").json
    assert shown
    assert shown["questions"][ABOUT]["photographs"] == 2


@pytest.mark.parametrize("about", ["../evil", "/etc/passwd", "wheels.nothing", "", "a\0b"])
def test_only_questions_have_photographs(tmp_path: Path, about: str) -> None:
    refused = Page(new(tmp_path)).photograph(about, picture())
    assert refused.status_code == 422
    assert [p.name for p in tmp_path.iterdir()] == ["cart.toml"]


def test_a_folder_that_leads_elsewhere_is_not_followed(tmp_path: Path) -> None:
    inner, outside = tmp_path / "jobs", tmp_path / "outside"
    inner.mkdir()
    outside.mkdir()
    path = new(inner)
    (inner / "cart_photographs").symlink_to(outside, target_is_directory=True)
    refused = Page(path).photograph(ABOUT, picture())
    assert refused.status_code == 503
    assert refused.json
    assert "leads to another folder" in refused.json["message"]
    assert not list(outside.iterdir())


def test_a_photograph_that_is_too_large_is_refused(tmp_path: Path) -> None:
    refused = Page(new(tmp_path)).photograph(ABOUT, b"\xff\xd8" + b"\0" * (MOST_BYTES + 20_000))
    assert refused.status_code == 413
    assert refused.json
    assert "15 MB" in refused.json["message"]


def test_no_photograph_is_left_where_the_job_file_cannot_name_it(tmp_path: Path) -> None:
    path = new(tmp_path)
    page = Page(path)
    page.get("/visit")
    path.write_text("format = 1\n[broken\n", encoding="utf-8")
    assert page.photograph(ABOUT, picture()).status_code == 503
    assert not list(tmp_path.glob("cart_photographs/*"))


def test_a_photograph_that_was_kept_is_shown_small(tmp_path: Path) -> None:
    page = Page(new(tmp_path))
    assert page.photograph(ABOUT, picture(size=(4000, 1000))).status_code == 200
    shown = page.get(f"/photograph?about={ABOUT}&number=0")
    assert (shown.status_code, shown.mimetype) == (200, "image/jpeg")
    assert opened(shown.data).size == (480, 120)


@pytest.mark.parametrize("asked", ["number=1", "number=-1", "number=x&about=", "about=../evil"])
def test_only_photographs_that_were_kept_are_shown(tmp_path: Path, asked: str) -> None:
    page = Page(new(tmp_path))
    page.photograph(ABOUT, picture())
    about = "" if "about" in asked else f"about={ABOUT}&"
    refused = page.get(f"/photograph?{about}{asked}")
    assert refused.status_code == 422
    assert refused.json
    assert refused.json["message"] == "there is no such photograph"


def test_a_picture_outside_the_folder_is_not_shown(tmp_path: Path) -> None:
    inner = tmp_path / "jobs"
    inner.mkdir()
    (tmp_path / "private.png").write_bytes(picture())
    path = new(inner)
    with path.open("a", encoding="utf-8") as file:
        file.write('[photographs]\nwhole = ["../private.png"]\n')
    refused = Page(path).get("/photograph?about=whole&number=0")
    assert refused.status_code == 422
    assert refused.json
    assert "not in the folder of the job file" in refused.json["message"]

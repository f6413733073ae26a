"""Photographs in the report: scaled, small, without what the camera wrote, and bounded."""

from __future__ import annotations

import base64
import io
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import clean_environment, job_of

import assess
from assess.pages.report_photographs import MOST_BYTES, MOST_PX, photographs_of

Image = pytest.importorskip("PIL.Image")


def noise(width: int, height: int):
    """A picture that hardly gets smaller as a JPEG."""
    return Image.effect_noise((width, height), 120).convert("RGB")


def job(folder: Path, files: str, about: str = "whole"):
    text = f'format = 1\n[photographs]\n"{about}" = {files}\n'
    return job_of(text, folder / "job.toml")


def found(folder: Path, files: str, about: str = "whole"):
    return photographs_of(job(folder, files, about), assess.knowledge_in_use())


def opened(uri: str):
    head, _, data = uri.partition(",")
    assert head == "data:image/jpeg;base64"
    return Image.open(io.BytesIO(base64.b64decode(data)))


@pytest.mark.parametrize("size", [(4000, 3000), (800, 3600), (50, 40)])
def test_a_photograph_is_scaled_to_the_page_and_small(tmp_path: Path, size) -> None:
    noise(*size).save(tmp_path / "a.jpg", quality=95)
    (photograph,) = found(tmp_path, '["a.jpg"]')
    picture = opened(photograph.uri)
    assert max(picture.size) <= min(MOST_PX, max(size))
    assert picture.width / picture.height == pytest.approx(size[0] / size[1], rel=0.05)
    assert len(photograph.uri) <= MOST_BYTES * 4 / 3 + 100


def test_it_stands_upright_and_the_place_where_it_was_taken_is_gone(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was turned
    exif[0x010E] = "12 Some Street"
    noise(60, 40).save(tmp_path / "a.jpg", exif=exif, comment="12 Some Street")
    (photograph,) = found(tmp_path, '["a.jpg"]')
    picture = opened(photograph.uri)
    assert picture.size == (40, 60)
    assert "comment" not in picture.info
    assert not picture.getexif()


def test_what_is_transparent_is_white(tmp_path: Path) -> None:
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(tmp_path / "a.png")
    (photograph,) = found(tmp_path, '["a.png"]')
    assert opened(photograph.uri).getpixel((10, 10)) == (255, 255, 255)


def test_mistakes_are_named_with_their_line_all_at_once(tmp_path: Path) -> None:
    (tmp_path / "text.jpg").write_text("no picture")
    noise(9, 9).save(tmp_path / "front.jpg")
    with pytest.raises(assess.JobFileError) as caught:
        found(tmp_path, '["text.jpg", "fromt.jpg"]', "pneumatics.strap")
    said = str(caught.value)
    assert 'no such criterion; did you mean "pneumatics.straps"' in said
    assert 'fromt.jpg: there is no such file; did you mean "front.jpg"' in said
    assert "text.jpg: cannot be read as a picture" in said
    assert said.count("job.toml:3: photographs.pneumatics.strap") == 3


def test_a_plugin_that_is_not_installed_keeps_its_photographs(tmp_path: Path) -> None:
    noise(9, 9).save(tmp_path / "a.jpg")
    (photograph,) = found(tmp_path, '["a.jpg"]', "candle_arms.arms")
    assert photograph.uri


def test_without_the_library_small_files_stand_as_they_are_and_large_ones_say_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    noise(60, 40).save(tmp_path / "small.png")
    noise(2000, 2000).save(tmp_path / "large.jpg", quality=95)
    monkeypatch.setitem(sys.modules, "PIL", None)
    small, large = found(tmp_path, '["small.png", "large.jpg"]')
    assert small.uri.startswith("data:image/png;base64,")
    assert not large.uri
    assert "pip install pillow" in large.left_out


MEASURED = """
import resource, sys
from pathlib import Path
import assess
from assess.job.job_reading import parse
from assess.pages.report_photographs import photographs_of
names = ", ".join(['"a.jpg"'] * int(sys.argv[2]))
text = f"format = 1\\n[photographs]\\nwhole = [{names}]\\n"
job = parse(text, str(Path(sys.argv[1], "job.toml")), assess.knowledge_in_use().trade)
found = photographs_of(job, assess.knowledge_in_use())
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, sum(len(p.uri) for p in found))
"""


def test_many_photographs_take_no_more_memory_than_what_is_embedded(tmp_path: Path) -> None:
    """Of three scaled, unpacked pictures of 12 megapixels one alone would be 36 MB."""
    noise(4000, 3000).save(tmp_path / "a.jpg", quality=60)

    def peak(count: int) -> tuple[int, int]:
        done = subprocess.run(
            [sys.executable, "-c", MEASURED, tmp_path, str(count)],
            capture_output=True, text=True, check=True,
            env={**clean_environment(), "PYTHONPATH": ":".join(sys.path)},
        )  # fmt: skip
        kilobytes, embedded = map(int, done.stdout.split())
        return kilobytes * 1024, embedded

    (few, few_embedded), (many, many_embedded) = peak(1), peak(4)
    assert many - few < 2 * (many_embedded - few_embedded) + 20_000_000

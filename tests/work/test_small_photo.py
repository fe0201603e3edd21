"""A picture on a page is small, upright and without what its camera wrote; a broken one stays itself."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from lightoff.ground.errors import NotFound
from lightoff.work.small_photo import LONGEST_PX, small, small_photo
from lightoff.work.workshop import open_shop


def picture(width: int, height: int, kind: str = "JPEG") -> bytes:
    noise = np.random.default_rng(1).integers(0, 255, (height, width, 3), dtype=np.uint8)
    written = io.BytesIO()
    Image.fromarray(noise).save(written, kind)
    return written.getvalue()


@pytest.mark.parametrize(("width", "height"), [(1600, 900), (900, 1600), (2000, 2000)])
def test_no_side_is_longer_than_asked(width: int, height: int) -> None:
    drawn = small(picture(width, height), LONGEST_PX)
    assert drawn is not None
    with Image.open(io.BytesIO(drawn.data)) as opened:
        assert opened.size == (drawn.width, drawn.height)
        assert max(opened.size) == LONGEST_PX
        assert drawn.width / drawn.height == pytest.approx(width / height, rel=0.01)


def test_a_small_one_is_made_once_and_outlives_the_program(tmp_path: Path) -> None:
    whole = picture(1600, 1200)
    with open_shop(tmp_path / "shop") as shop:
        sha256 = shop.book.keep_photo(whole, "image/jpeg")
        first = small_photo(shop, sha256)
        assert len(first) < len(whole)
    with open_shop(tmp_path / "shop") as again:
        (kept,) = again.derived.find([f"small photo:{LONGEST_PX}:{sha256}"]).values()
        assert kept == first == small_photo(again, sha256)


def test_what_is_small_already_or_cannot_be_read_stays_itself(tmp_path: Path) -> None:
    tiny, broken = picture(4, 3, "PNG"), picture(1600, 1200)[:900]
    with open_shop(tmp_path / "shop") as shop:
        assert small_photo(shop, shop.book.keep_photo(tiny, "image/png")) == tiny
        assert small_photo(shop, shop.book.keep_photo(broken, "image/jpeg")) == broken
        with pytest.raises(NotFound):
            small_photo(shop, "0" * 64)

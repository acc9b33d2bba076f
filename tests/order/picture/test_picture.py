"""A picture keeps its pixels and loses everything else of its file.

The outside check is Pillow (MIT-CMU licence), which here writes files with Exif, place,
XMP, texts, colour profiles and further pictures, and reads what is left.
"""

import io
import struct
import time
import zlib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from PIL import Image, ImageCms, PngImagePlugin

from auditkit.errors import InputError
from auditkit.order import picture
from auditkit.order.picture import stripped

SECRET = b"SECRET-PLACE"
GPS, GPS_LATITUDE, MODEL, TURNED, COMMENT = 0x8825, 2, 0x0110, 0x0112, 0x9286


def gradient(mode="RGB", size=(67, 41)):
    width, height = size
    pixels = bytes((x * 3 + y * 5) % 256 for y in range(height) for x in range(width))
    return Image.frombytes("L", size, pixels).convert(mode)


def exif(turned=1):
    found = Image.Exif()
    found[MODEL] = SECRET.decode()
    found[TURNED] = turned
    found.get_ifd(GPS)[GPS_LATITUDE] = (48.0, 51.0, 29.0)
    return found.tobytes()


def saved(image, form, **options):
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def segment(marker, body):
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


def chunk(kind, body):
    check = zlib.crc32(kind + body)
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", check)


def texts():
    info = PngImagePlugin.PngInfo()
    info.add_text("Author", SECRET.decode())
    info.add_text("Description", SECRET.decode(), zip=True)
    info.add_itxt("XML:com.adobe.xmp", SECRET.decode())
    info.add(b"tIME", struct.pack(">HBBBBB", 2026, 3, 2, 9, 0, 0))
    return info


SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
JPEGS = {
    "baseline": saved(gradient(), "JPEG"),
    "progressive": saved(gradient(), "JPEG", progressive=True),
    "grey": saved(gradient("L"), "JPEG"),
    "cmyk": saved(gradient("CMYK"), "JPEG"),  # with an Adobe segment
    "rgb": saved(gradient(), "JPEG", keep_rgb=True),
    "restarts": saved(gradient(), "JPEG", restart_marker_blocks=2),
    "full-colour": saved(gradient(), "JPEG", subsampling=0, quality=97),
}
PNGS = {
    "rgb": saved(gradient(), "PNG"),
    "rgba": saved(gradient("RGBA"), "PNG"),
    "grey": saved(gradient("L"), "PNG"),
    "16-bit": saved(gradient("I;16"), "PNG"),
    "palette": saved(gradient("P"), "PNG", transparency=3),
    "bits": saved(gradient("1"), "PNG"),
}
ALL = {f"jpeg-{n}": d for n, d in JPEGS.items()}
ALL |= {f"png-{n}": d for n, d in PNGS.items()}


def with_everything(data):
    """Return the file with what a phone and its programs put into one."""
    image = Image.open(io.BytesIO(data))
    if image.format == "PNG":
        made = saved(
            image, "PNG", exif=exif(6), pnginfo=texts(), icc_profile=SRGB, dpi=(9, 9)
        )
        return made + SECRET
    more = b"".join(
        (
            segment(0xE1, b"Exif\0\0" + exif(6).removeprefix(b"Exif\0\0")),
            segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x>" + SECRET),
            segment(0xE2, b"ICC_PROFILE\0\x01\x01" + SRGB),
            segment(0xED, b"Photoshop 3.0\x008BIM" + SECRET),
            segment(0xE0, b"JFXX\0\x10" + SECRET),
            segment(0xE7, SECRET),
            segment(0xFE, SECRET),
        )
    )
    end = data.rindex(b"\xff\xd9")
    return data[:2] + more + data[2:end] + segment(0xFE, SECRET) + data[end:] + SECRET


@pytest.mark.parametrize("name", ALL)
def test_pixels_stay_and_all_else_goes(name):
    full = with_everything(ALL[name])
    before = Image.open(io.BytesIO(full))
    before.load()
    assert dict(before.getexif())[MODEL] == SECRET.decode()
    assert before.getexif().get_ifd(GPS)
    assert SECRET in full

    found = stripped(full)

    after = Image.open(io.BytesIO(found.data))
    after.load()
    assert (after.mode, after.size) == (before.mode, before.size)
    assert after.tobytes() == before.tobytes()
    assert after.getpalette() == before.getpalette()
    assert not after.getexif()
    allowed = {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "adobe"}
    allowed |= {"adobe_transform", "progressive", "progression", "transparency"}
    assert set(after.info) <= allowed
    assert SECRET not in found.data
    assert (found.width, found.height) == before.size
    assert found.media_type == Image.MIME[before.format]
    assert found.orientation == 6


@pytest.mark.parametrize("name", ALL)
def test_a_picture_gives_itself(name):
    once = stripped(with_everything(ALL[name]))
    again = stripped(once.data)
    assert (again.data, again.orientation) == (once.data, 1)
    assert stripped(ALL[name]).data == stripped(stripped(ALL[name]).data).data


def test_a_thumbnail_of_jfif_goes():
    body = b"JFIF\0\x01\x02\0\0\1\0\1\x02\x01" + SECRET[:6]  # 2 x 1 pixels of 3 bytes
    plain = JPEGS["baseline"]
    assert plain[2:4] == b"\xff\xe0"
    rest = plain[4 + int.from_bytes(plain[4:6]) :]
    found = stripped(plain[:2] + segment(0xE0, body) + rest)
    assert SECRET[:6] not in found.data
    assert Image.open(io.BytesIO(found.data)).info["jfif_version"] == (1, 2)


def test_only_the_first_of_several_pictures_in_a_jpeg_stays():
    made = saved(gradient(), "MPO", save_all=True, append_images=[gradient("L")])
    assert Image.open(io.BytesIO(made)).n_frames == 2
    found = stripped(made)
    assert found.data.count(b"\xff\xd8") == 1
    first = Image.open(io.BytesIO(found.data))
    assert first.format == "JPEG"
    assert first.tobytes() == Image.open(io.BytesIO(made)).tobytes()


def test_only_the_first_picture_of_an_animation_stays():
    frames = [gradient("L").rotate(turn) for turn in (0, 90, 180)]
    made = saved(frames[0], "PNG", save_all=True, append_images=frames[1:])
    assert Image.open(io.BytesIO(made)).n_frames == 3
    found = Image.open(io.BytesIO(stripped(made).data))
    assert (getattr(found, "n_frames", 1), found.tobytes()) == (1, frames[0].tobytes())


@pytest.mark.parametrize("turned", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_how_it_is_turned(form, turned):
    made = saved(gradient(), form, exif=exif(turned))
    assert stripped(made).orientation == turned


def big_endian(entries, count=None):
    count = len(entries) if count is None else count
    return b"MM\0*\0\0\0\x08" + struct.pack(">H", count) + b"".join(entries)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (big_endian([struct.pack(">HHIHH", TURNED, 3, 1, 8, 0)]), 8),
        (big_endian([struct.pack(">HHIHH", TURNED, 3, 1, 9, 0)]), 1),
        (big_endian([struct.pack(">HHIHH", TURNED, 4, 1, 0, 8)]), 1),
        (big_endian([], 65535), 1),
        (b"MM\0*\xff\xff\xff\xff", 1),
        (b"II*\0", 1),
        (b"", 1),
    ],
)
def test_how_it_is_turned_where_exif_is_damaged(data, said):
    made = JPEGS["baseline"]
    made = made[:2] + segment(0xE1, b"Exif\0\0" + data) + made[2:]
    assert stripped(made).orientation == said


@pytest.mark.parametrize("name", ["jpeg-restarts", "jpeg-progressive", "png-palette"])
def test_a_file_that_breaks_off_anywhere_is_refused(name):
    whole = ALL[name]
    for stop in range(len(whole)):
        with pytest.raises(InputError) as caught:
            stripped(whole[:stop], where="display.jpg")
        assert caught.value.where == "display.jpg"
        assert caught.value.what_to_do


@given(data=st.data())
def test_a_file_with_bytes_changed_is_refused_or_gives_itself(data):
    made = bytearray(with_everything(ALL[data.draw(st.sampled_from(sorted(ALL)))]))
    for _ in range(data.draw(st.integers(1, 4))):
        made[data.draw(st.integers(0, len(made) - 1))] = data.draw(st.integers(0, 255))
    try:
        found = stripped(bytes(made))
    except InputError as error:
        assert error.what_to_do
    else:
        assert stripped(found.data).data == found.data


@given(
    start=st.sampled_from([b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b""]),
    rest=st.binary(),
)
@example(b"\xff\xd8\xff", b"\xff" * 100)
def test_bytes_without_meaning_are_refused(start, rest):
    with pytest.raises(InputError):
        stripped(start + rest)


def jpeg(*parts):
    return b"\xff\xd8" + b"".join(parts) + b"\xff\xd9"


TABLES = segment(0xDB, bytes(65)) + segment(0xC4, bytes(17))
FRAME = segment(0xC0, struct.pack(">BHHBBBB", 8, 9, 9, 1, 1, 0x11, 0))
SCAN = segment(0xDA, b"\x01\x01\x00\x00\x3f\x00") + b"\x12"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (jpeg(), "before its picture"),
        (jpeg(FRAME), "before its picture"),
        (jpeg(SCAN), "before the frame"),
        (jpeg(FRAME, FRAME, SCAN), "two frames"),
        (
            jpeg(segment(0xC0, b"\x08\0\x09\0\x09\x02" + b"\0\0\0"), SCAN),
            "another length",
        ),
        (jpeg(segment(0xC0, b"\x08\0\0\0\x09\x01\1\1\1"), SCAN), "how large"),
        (jpeg(segment(0xC3, b"")), "FFC3"),  # lossless
        (jpeg(segment(0xC9, b"")), "FFC9"),  # arithmetic coding
        (jpeg(FRAME, SCAN, b"\xff\xdc\0\x04\0\x09"), "FFDC"),  # lines counted later
        (jpeg(b"\xff\xdb\0\x01"), "breaks off"),
        (jpeg(segment(0xC4, bytes(17 * 9)), FRAME, SCAN), "more than 8 tables"),
        (jpeg(FRAME, b"x"), "no marker at byte 15"),
        (picture.png.PNG_START + chunk(b"IDAT", b""), "header"),
        (picture.png.PNG_START + chunk(b"IHDR", b""), "another length"),
        (picture.png.PNG_START + chunk(b"IHDR", bytes(13)), "no size"),
        (
            picture.png.PNG_START + chunk(b"IHDR", b"\0\0\0\1" * 2 + bytes(5)) * 2,
            "once",
        ),
        (PNGS["rgb"][:33] + chunk(b"IEND", b""), "before its picture"),
        (PNGS["rgb"][:33] + chunk(b"FDAT", b"") + PNGS["rgb"][33:], "chunk FDAT"),
        (PNGS["rgb"].replace(b"IDAT", b"IDAX", 1), "CRC"),
        (b"%PDF-1.7\n", "neither a JPEG nor a PNG"),
        (saved(gradient(), "GIF"), "neither a JPEG nor a PNG"),
    ],
)
def test_what_is_refused_is_named(data, said):
    with pytest.raises(InputError, match=said):
        stripped(data)


def test_limits_are_named():
    large = chunk(b"IHDR", struct.pack(">IIBBBBB", 1 << 14, 1 << 13, 8, 0, 0, 0, 0))
    rows = chunk(b"IDAT", zlib.compress(bytes(1 << 20)))
    made = picture.png.PNG_START + large + rows + chunk(b"IEND", b"")
    with pytest.raises(InputError, match=r"16384 x 8192 pixels, more than 67108864"):
        stripped(made)
    heavy = jpeg(TABLES, FRAME, SCAN, b"\x12" * picture.MAX_PICTURE)
    with pytest.raises(InputError, match=r"more than 8388608 \(8 MiB\)"):
        stripped(heavy)


def test_what_is_left_out_does_not_count_against_the_limit():
    made = PNGS["rgb"][:33] + chunk(b"teXt", b"x" * 9_000_000) + PNGS["rgb"][33:]
    assert stripped(made).data == stripped(PNGS["rgb"]).data


def png(image, *, header=(800, 600, 8, 2, 0, 0, 0), before=b""):
    """Return a PNG of this header, these chunks and this image data."""
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", *header))
    rest = chunk(b"IDAT", image) + chunk(b"IEND", b"")
    return picture.png.PNG_START + head + before + rest


ROW = 1 + 800 * 3
SIZED = segment(0xC0, struct.pack(">BHHBBBB", 8, 600, 800, 1, 1, 0x11, 0))
HEAD_OF_SCAN = SCAN[:-1]
BLOCKS = 100 * 75  # of 8 x 8 in 800 x 600 pixels


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (png(b"no picture 1"), "cannot be unpacked"),
        (png(b""), "within its first rows"),
        (png(zlib.compress(b"\0")), "within its first rows"),
        (png(zlib.compress(bytes(16 * ROW - 1))), "within its first rows"),
        (png(zlib.compress(bytes(ROW) + b"\5" + bytes(15 * ROW))), "no rows"),
        (png(zlib.compress(b"<" * 99_999)), "no rows of pixels"),
        (png(b"", header=(800, 600, 4, 2, 0, 0, 0)), "4 bits of colour type 2"),
        (png(b"", header=(800, 600, 8, 5, 0, 0, 0)), "colour type 5"),
        (png(b"", header=(800, 600, 8, 2, 0, 0, 2)), "way of packing"),
        (jpeg(TABLES, SIZED, HEAD_OF_SCAN), "before its picture"),
        (jpeg(TABLES, SIZED, SCAN), "1 bytes, too few for 800 x 600"),
        (jpeg(SIZED, HEAD_OF_SCAN, b"\x12" * BLOCKS), "tables .* missing"),
        (
            jpeg(TABLES, SIZED, HEAD_OF_SCAN, b"\x12" * (BLOCKS // 8)),
            f"{BLOCKS // 8} bytes, too few",
        ),
    ],
)
def test_a_file_without_image_data_is_no_picture(data, said):
    with pytest.raises(InputError, match=f"the picture is damaged: .*{said}"):
        stripped(data)
    if data.startswith(picture.png.PNG_START):  # Pillow fills up a JPEG cut short
        with pytest.raises((OSError, SyntaxError)):
            Image.open(io.BytesIO(data)).load()


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_the_shortest_jpeg_of_one_colour_is_a_picture(mode):
    """Each block is coded in the fewest bits that Pillow's library finds."""
    flat = Image.new(mode, (1600, 1200))
    for more in ({}, {"progressive": True}, {"subsampling": 2}):
        made = saved(flat, "JPEG", optimize=True, quality=1, **more)
        assert (stripped(made).width, stripped(made).height) == flat.size


def test_rows_of_an_interlaced_png_are_read_as_such():
    """An image of 9 x 9 grey pixels in seven passes (W3C PNG 8.1), packed by hand."""
    passes = ((2, 2), (1, 2), (3, 1), (2, 3), (5, 2), (4, 5), (9, 4))
    rows = b"".join((b"\0" + bytes(wide)) * high for wide, high in passes)
    made = png(zlib.compress(rows), header=(9, 9, 8, 0, 0, 0, 1))
    assert Image.open(io.BytesIO(made)).convert("L").tobytes() == bytes(81)
    assert stripped(made).width == 9


def test_image_data_may_be_cut_anywhere():
    pixels = zlib.compress(bytes(600 * ROW))
    parts = b"".join(chunk(b"IDAT", bytes([one])) for one in pixels[:-1])
    assert stripped(png(pixels[-1:], before=parts)).width == 800


def test_a_small_file_that_unpacks_to_a_large_one_is_unpacked_to_a_bound(monkeypatch):
    bomb = zlib.compress(bytes(50_000_000), 9)
    unpacked = []

    made = zlib.decompressobj

    class Counted:
        eof = False

        def __init__(self):
            self.inner = made()

        def decompress(self, data, most):
            found = self.inner.decompress(data, most)
            unpacked.append(len(found))
            return found

        @property
        def unconsumed_tail(self):
            return self.inner.unconsumed_tail

    monkeypatch.setattr(picture.png_rows, "_LOOKED_AT", 1 << 22)
    monkeypatch.setattr(picture.png_rows.zlib, "decompressobj", Counted)
    stripped(png(bomb, header=(8000, 8000, 8, 2, 0, 0, 0)))
    assert 0 < sum(unpacked) <= (1 << 20) + (1 << 22) + (1 << 16)


MANY = picture.value.MOST_PARTS


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (jpeg(b"\xff" * 20_000_000), "before its picture"),
        (jpeg(segment(0xE1, b"") * 5_000_000), f"more than {MANY} segments"),
        (jpeg(segment(0xE1, b"") * MANY, SCAN), f"more than {MANY} segments"),
        (
            png(b"", before=chunk(b"tEXt", b"") * 1_500_000),
            f"more than {MANY} chunks",
        ),
    ],
    ids=["fill", "segments", "one-too-many", "chunks"],
)
def test_parts_beyond_number_are_refused_soon(data, said):
    started = time.process_time()
    with pytest.raises(InputError, match=said):
        stripped(data)
    assert time.process_time() - started < 2


def test_as_many_parts_as_are_allowed_are_read():
    whole = JPEGS["baseline"]
    held = (whole.count(b"\xff") - whole.count(b"\xff\0")) - 1  # without its start
    made = whole[:2] + segment(0xFE, b"") * (MANY - held) + whole[2:]
    assert stripped(made).data == stripped(whole).data
    with pytest.raises(InputError, match="segments"):
        stripped(made[:2] + segment(0xFE, b"") + made[2:])

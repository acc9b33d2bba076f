"""Folders and archives are walked whole; what is no plain file is told."""

import gzip
import io
import os
import socket
import stat
import tarfile
import zipfile
from pathlib import Path

import pytest

from auditkit.fleet import archives
from auditkit.fleet.found_files import container, files_at, paths_below, read_again
from auditkit.fleet.judging import FoundFile, Refused
from auditkit.proof.packet import MAX_PACKET


def found(folder):
    """Return the contents of files by name, and why others were left out."""
    taken, left = {}, {}
    for path in paths_below([folder]):
        for file in [path] if isinstance(path, Refused) else files_at(path):
            name = os.path.relpath(file.path, folder)
            if isinstance(file, Refused):
                left[name] = file.because
            else:
                taken[name] = file.data
    return taken, left


def zipped(names, *, encrypted=False):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in names.items():
            archive.writestr(name, data)
    data = bytearray(made.getvalue())
    if encrypted:
        for sign, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
            data[data.index(sign) + place] |= 1
    return bytes(data)


def tarred(names, mode="w", kinds=()):
    made = io.BytesIO()
    with tarfile.open(fileobj=made, mode=mode) as archive:
        for name, data in names.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            archive.addfile(info, io.BytesIO(data))
        for name, kind in kinds:
            info = tarfile.TarInfo(name)
            info.type, info.linkname = kind, "/etc/hostname"
            archive.addfile(info)
    return made.getvalue()


def test_nested_folders_and_any_name_are_walked(tmp_path):
    (tmp_path / "a" / "b").mkdir(parents=True)
    (tmp_path / "a" / "b" / "no extension").write_bytes(b"1")
    (tmp_path / "a" / "x.html").write_bytes(b"2")
    (tmp_path / ".hidden").write_bytes(b"3")
    assert found(tmp_path) == (
        {"a/b/no extension": b"1", "a/x.html": b"2", ".hidden": b"3"},
        {},
    )


def test_links_pipes_and_sockets_are_told_and_not_opened(tmp_path):
    (tmp_path / "real").write_bytes(b"1")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    (tmp_path / "up").symlink_to(tmp_path)
    (tmp_path / "nowhere").symlink_to(tmp_path / "gone")
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(tmp_path / "sock"))
        taken, left = found(tmp_path)
    assert taken == {"real": b"1"}
    assert left == {
        "link": "a symbolic link is not followed",
        "up": "a symbolic link is not followed",
        "nowhere": "a symbolic link is not followed",
        "pipe": "this is neither a file nor a folder",
        "sock": "this is neither a file nor a folder",
    }


def test_a_device_that_is_named_itself_is_refused():
    (file,) = files_at(Path("/dev/zero"))
    assert file == Refused("/dev/zero", "this is neither a file nor a folder")


def test_a_file_that_is_too_long_is_not_read(tmp_path):
    with (tmp_path / "long").open("wb") as file:
        file.truncate(MAX_PACKET + 1)
    taken, left = found(tmp_path)
    assert taken == {}
    assert "longer than" in left["long"]


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("a.zip", zipped),
        ("a.tar", tarred),
        ("a.tar.gz", lambda names: tarred(names, "w:gz")),
        ("no name that says it", lambda names: tarred(names, "w:gz")),
    ],
)
def test_the_files_in_an_archive_are_found(tmp_path, name, made):
    (tmp_path / name).write_bytes(made({"in/one.json": b"1", "two": b"22"}))
    taken, left = found(tmp_path)
    assert taken == {f"{name}!in/one.json": b"1", f"{name}!two": b"22"}
    assert left == {}
    path = str(tmp_path / f"{name}!two")
    assert container(path) == tmp_path / name
    assert [file.data for file in read_again(path)] == [b"22"]
    assert list(read_again(str(tmp_path / f"{name}!three"))) == []


def test_a_file_that_is_packed_by_itself_is_read(tmp_path):
    (tmp_path / "one.json.gz").write_bytes(gzip.compress(b"1"))
    (tmp_path / "none.gz").write_bytes(gzip.compress(b""))
    (tmp_path / "empty.tar.gz").write_bytes(tarred({}, "w:gz"))
    (tmp_path / "twice.gz").write_bytes(gzip.compress(gzip.compress(b"1")))
    (tmp_path / "long.gz").write_bytes(gzip.compress(b"1" * (MAX_PACKET + 1)))
    (tmp_path / "cut.gz").write_bytes(gzip.compress(os.urandom(3000))[:-20])
    taken, left = found(tmp_path)
    assert taken == {"one.json.gz!one.json": b"1", "none.gz!none": b""}
    assert "archive within an archive" in left["twice.gz!twice"]
    assert "longer than" in left["long.gz!long"]
    assert "damaged" in left["cut.gz"]
    assert len(left) == 3
    path = str(tmp_path / "one.json.gz!one.json")
    assert [file.data for file in read_again(path)] == [b"1"]


def test_an_archive_in_an_archive_is_refused_by_name(tmp_path):
    inner = {"a.zip": zipped({"x": b"1"}), "b.tar": tarred({"x": b"1"})}
    inner |= {"c.gz": gzip.compress(b"1"), "d.json": b"1"}
    (tmp_path / "outer.zip").write_bytes(zipped(inner))
    taken, left = found(tmp_path)
    assert taken == {"outer.zip!d.json": b"1"}
    assert set(left) == {f"outer.zip!{name}" for name in ("a.zip", "b.tar", "c.gz")}
    assert all("archive within an archive" in why for why in left.values())


def test_links_and_devices_in_archives_are_refused(tmp_path):
    kinds = [("s", tarfile.SYMTYPE), ("h", tarfile.LNKTYPE), ("d", tarfile.CHRTYPE)]
    (tmp_path / "a.tar").write_bytes(tarred({"one": b"1"}, kinds=kinds))
    link = zipfile.ZipInfo("s")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        archive.writestr(link, "/etc/hostname")
    (tmp_path / "a.zip").write_bytes(made.getvalue())
    (tmp_path / "locked.zip").write_bytes(zipped({"one": b"1"}, encrypted=True))
    taken, left = found(tmp_path)
    assert taken == {"a.tar!one": b"1"}
    assert left == {
        "a.tar!s": "a symbolic link is not followed",
        "a.tar!h": "a symbolic link is not followed",
        "a.tar!d": "this is neither a file nor a folder",
        "a.zip!s": "a symbolic link is not followed",
        "locked.zip!one": "it is encrypted: unpack it first",
    }


@pytest.fixture
def strict(monkeypatch):
    """Let an archive give ten times its size and 1,000 bytes more."""
    monkeypatch.setattr(archives, "TIMES", 10)
    monkeypatch.setattr(archives, "AND_BYTES", 1000)


@pytest.mark.usefixtures("strict")
@pytest.mark.parametrize(
    "made", [zipped, lambda names: tarred(names, "w:gz")], ids=["zip", "tar.gz"]
)
def test_an_archive_that_grows_beyond_reason_is_read_no_further(tmp_path, made):
    bomb = {"one.json": b"1", **{f"{n}.json": bytes(100_000) for n in range(40)}}
    (tmp_path / "bomb").write_bytes(made(bomb))
    taken, left = found(tmp_path)
    assert taken["bomb!one.json"] == b"1"
    assert len(taken) < 10
    assert "far more than packets do" in left["bomb"]


@pytest.mark.usefixtures("strict")
def test_what_is_skipped_in_a_packed_archive_counts_too(tmp_path):
    """A member that is too long is passed over, by unpacking it."""
    made = io.BytesIO()
    with tarfile.open(fileobj=made, mode="w:gz") as archive:
        info = tarfile.TarInfo("long")
        info.size = MAX_PACKET + 1
        archive.addfile(info, io.BytesIO(bytes(info.size)))
        archive.addfile(tarfile.TarInfo("after"), io.BytesIO())
    (tmp_path / "bomb").write_bytes(made.getvalue())
    taken, left = found(tmp_path)
    assert taken == {}
    assert "longer than" in left["bomb!long"]
    assert "far more than packets do" in left["bomb"]


def test_a_zip_with_a_list_without_end_is_not_opened(tmp_path, monkeypatch):
    monkeypatch.setattr(archives, "_MOST_DIRECTORY", 1000)
    (tmp_path / "a.zip").write_bytes(zipped({f"{n}": b"" for n in range(40)}))
    taken, left = found(tmp_path)
    assert taken == {}
    assert "far more than packets do" in left["a.zip"]


@pytest.mark.parametrize("made", [zipped, tarred, lambda n: tarred(n, "w:gz")])
def test_a_damaged_archive_is_told_and_stops_nothing(tmp_path, made):
    whole = made({f"{n}.json": os.urandom(3000) for n in range(5)})
    for place in range(0, len(whole), 331):
        (tmp_path / f"cut{place:05}").write_bytes(whole[:place])
        changed = bytearray(whole)
        changed[place] ^= 0xFF
        (tmp_path / f"bit{place:05}").write_bytes(changed)
    (tmp_path / "sound").write_bytes(b"1")
    taken, left = found(tmp_path)
    assert taken["sound"] == b"1"
    assert any("damaged" in why for why in left.values())


def test_a_name_that_is_no_text_is_told_by_its_bytes(tmp_path):
    name = os.fsencode(tmp_path) + b"/\xff\xfe"
    try:
        with open(name, "wb") as file:  # noqa: PTH123  a name of bytes
            file.write(b"1")
    except OSError:
        pytest.skip("this file system has no such names")
    (path,) = paths_below([tmp_path])
    (file,) = files_at(path)
    assert isinstance(file, FoundFile)
    assert file.path.endswith("\\xff\\xfe")

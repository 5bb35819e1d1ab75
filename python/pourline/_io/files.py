"""In: the content of a file. Out: the complete file, or none. All files of the package are written here.

The content goes to a temporary file in the same folder (`.pourline-1a2b3c4d.part`), is synced to the disk and then
renamed atomically. A killed run leaves the old file or the new one, and at most such a part, which may be deleted. An
error or Ctrl-C removes the part.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from os import PathLike
from pathlib import Path
from typing import BinaryIO

from ..errors import PourlineError

# Limit for files written by a person: factors, a recipe.
MOST_BY_HAND = 16 << 20
# Limit for text held in memory: a log of 10^7 rows takes half of it.
MOST_AT_ONCE = 1 << 30
# All readers refuse a longer line, and a longer document without lines.
LONGEST_LINE = MOST_BY_HAND


@contextmanager
def whole_file(path: str | PathLike[str], replace: bool = True) -> Iterator[Path]:
    """Yield a path to write to; it replaces `path` atomically if no error occurred.

    With `replace=False` an existing file is left unchanged, and an error is raised. A link is followed. A pipe or a
    device cannot be replaced; it receives the bytes when they are complete. The same holds for standard output, as
    `-` or by any of its names.
    """
    target = Path(path)
    try:
        if is_stream(target):
            import tempfile  # Rarely needed and slow to load.

            with tempfile.TemporaryDirectory(prefix="pourline-") as folder:
                yield Path(folder) / "part"
                _pass_on((Path(folder) / "part").read_bytes(), target)
        else:
            with _part_for(Path(os.path.realpath(target)), target, replace) as part:
                yield part
    except BrokenPipeError:
        raise
    except OSError as failed:
        raise PourlineError(f"{target}: {failed.strerror or failed}", "io") from failed


def write_whole(path: str | PathLike[str], content: bytes, replace: bool = True) -> None:
    """Write a file completely or not at all."""
    with whole_file(path, replace) as part:
        part.write_bytes(content)


def must_be_file(path: str | PathLike[str]) -> None:
    """Raise, before it is opened, if the path is no regular file: a device or a pipe may never end."""
    try:
        found = os.stat(path)
    except OSError as failed:
        raise PourlineError(f"{os.fspath(path)}: {failed.strerror or failed}", "io") from failed
    if not stat.S_ISREG(found.st_mode):
        what = "a directory" if stat.S_ISDIR(found.st_mode) else "not a regular file"
        raise PourlineError(f"{os.fspath(path)}: this is {what}", "io")


def small_bytes(path: str | PathLike[str]) -> bytes:
    """Return the content of a file written by a person."""
    must_be_file(path)
    try:
        with open(path, "rb") as file:
            found = file.read(MOST_BY_HAND + 1)
    except OSError as failed:
        raise PourlineError(f"{os.fspath(path)}: {failed.strerror or failed}", "io") from failed
    if len(found) > MOST_BY_HAND:
        raise PourlineError(f"{os.fspath(path)}: more than 16 MiB", "format")
    return found


def all_of(stream: BinaryIO, most: int = MOST_AT_ONCE) -> bytes:
    """Return the content of a stream; reading stops after 16 MiB without the end of a line."""
    found, line = bytearray(), 0
    while len(found) - line <= LONGEST_LINE and (some := stream.read(1 << 16)):
        found += some
        end = max(some.rfind(b"\n"), some.rfind(b"\r"))
        line = line if end < 0 else len(found) - len(some) + end + 1
        if len(found) > most:
            raise PourlineError(f"standard input: more than {most >> 20} MiB; a file may be larger", "format")
    return bytes(found)


def must_be_free(path: Path) -> None:
    """Raise if the file exists already."""
    if path.exists() and not is_stream(path):
        raise PourlineError(f"{path} exists already; --force (in Python: overwrite=True) replaces it", "io")


def is_stream(path: Path) -> bool:
    """Return whether the path is a stream (pipe, device, standard output), so that no content can be overwritten."""
    if str(path) == "-":
        return True
    try:
        there = os.stat(path)
    except OSError:
        return False
    if stat.S_ISREG(there.st_mode) or stat.S_ISDIR(there.st_mode):
        return _is_standard_output(there)
    return True


def _is_standard_output(there: os.stat_result) -> bool:
    with suppress(OSError):
        return os.path.samestat(there, os.fstat(1))
    return False


def _pass_on(content: bytes, target: Path) -> None:
    if str(target) == "-" or _is_standard_output(os.stat(target)):
        sys.stdout.flush()
        sys.stdout.buffer.write(content)
        sys.stdout.flush()
    else:
        with open(target, "wb") as stream:
            stream.write(content)


@contextmanager
def _part_for(target: Path, given: Path, replace: bool) -> Iterator[Path]:
    part = target.with_name(f".pourline-{os.urandom(4).hex()}.part")
    try:
        # Created here with O_EXCL, so that it is certainly new and has the permissions of a new file or of the old one.
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
        if replace:
            with suppress(OSError):
                part.chmod(stat.S_IMODE(target.stat().st_mode))
        yield part
        with open(part, "rb+") as written:
            os.fsync(written.fileno())
        if replace:
            os.replace(part, target)
        else:
            _place(part, target, given)
    finally:
        with suppress(OSError):
            part.unlink()


def _place(part: Path, target: Path, given: Path) -> None:
    """Rename the file unless the name is taken."""
    try:
        os.link(part, target)
    except FileExistsError:
        must_be_free(given)
        raise
    except OSError:
        # Without hard links on this file system, the check and the rename are two steps.
        must_be_free(given)
        os.replace(part, target)

"""In: what a file shall hold. Out: the file, whole, or nothing. The only place of the package that writes files.

It is written beside its place under a name of its own (`.pourline-1a2b3c4d.part`), forced to the disk and then given
its name in one step. A run that is killed leaves the old file or the new one, and at most such a part, which may be
deleted; an error or Ctrl-C removes the part.
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

# What is written by hand: factors, a recipe.
MOST_BY_HAND = 16 << 20
# What is held in memory as it came: a log of 10^7 rows is half of it.
MOST_AT_ONCE = 1 << 30
# No reader takes a longer line, nor a longer document without lines.
LONGEST_LINE = MOST_BY_HAND


@contextmanager
def whole_file(path: str | PathLike[str], replace: bool = True) -> Iterator[Path]:
    """Give a path to write to; it takes the place of `path` in one step when all went well.

    With `replace=False` a file that is there already is left as it is, and that is an error. A link is followed.
    What cannot be replaced, a pipe or a device, gets the bytes when they are complete; so does standard output, for
    `-` or by any of its names.
    """
    target = Path(path)
    try:
        if is_stream(target):
            import tempfile  # Rarely needed, and not quick to load.

            with tempfile.TemporaryDirectory(prefix="pourline-") as folder:
                yield Path(folder) / "part"
                _pass_on((Path(folder) / "part").read_bytes(), target)
        else:
            with _part_beside(Path(os.path.realpath(target)), target, replace) as part:
                yield part
    except BrokenPipeError:
        raise
    except OSError as failed:
        raise PourlineError(f"{target}: {failed.strerror or failed}", "io") from failed


def write_whole(path: str | PathLike[str], content: bytes, replace: bool = True) -> None:
    """Write a file as a whole."""
    with whole_file(path, replace) as part:
        part.write_bytes(content)


def must_be_file(path: str | PathLike[str]) -> None:
    """Raise, before it is opened, where there is no file that has an end: a device or a pipe may never come to one."""
    try:
        found = os.stat(path)
    except OSError as failed:
        raise PourlineError(f"{os.fspath(path)}: {failed.strerror or failed}", "io") from failed
    if not stat.S_ISREG(found.st_mode):
        what = "a directory" if stat.S_ISDIR(found.st_mode) else "not a regular file"
        raise PourlineError(f"{os.fspath(path)}: this is {what}", "io")


def small_bytes(path: str | PathLike[str]) -> bytes:
    """Return what a file holds that somebody wrote by hand."""
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
    """Return what comes on a stream, as far as it can be a text: what comes after 16 MiB without the end of a line is
    left to come.
    """
    found, line = bytearray(), 0
    while len(found) - line <= LONGEST_LINE and (some := stream.read(1 << 16)):
        found += some
        end = max(some.rfind(b"\n"), some.rfind(b"\r"))
        line = line if end < 0 else len(found) - len(some) + end + 1
        if len(found) > most:
            raise PourlineError(f"standard input: more than {most >> 20} MiB; a file may be larger", "format")
    return bytes(found)


def must_be_free(path: Path) -> None:
    """Raise where a file is there already."""
    if path.exists() and not is_stream(path):
        raise PourlineError(f"{path} is there already; --force (in Python: overwrite=True) replaces it", "io")


def is_stream(path: Path) -> bool:
    """Tell whether what is written there goes on its way and nothing is kept that could be lost."""
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
def _part_beside(target: Path, told: Path, replace: bool) -> Iterator[Path]:
    part = target.with_name(f".pourline-{os.urandom(4).hex()}.part")
    try:
        # Made here, and not by who writes it: it is new for sure, and has the rights that any new file gets or the old
        # file has.
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
            _place(part, target, told)
    finally:
        with suppress(OSError):
            part.unlink()


def _place(part: Path, target: Path, told: Path) -> None:
    """Give the file its name unless the name is taken."""
    try:
        os.link(part, target)
    except FileExistsError:
        must_be_free(told)
        raise
    except OSError:
        # No hard links on this file system: the check and the step are two.
        must_be_free(told)
        os.replace(part, target)

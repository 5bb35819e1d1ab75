"""In: what a file shall hold. Out: the file, whole, or nothing: a killed run leaves no half of it under its name."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from os import PathLike
from pathlib import Path

from ._errors import PourlineError


@contextmanager
def whole_file(path: str | PathLike[str], replace: bool = True) -> Iterator[Path]:
    """Give a path beside `path` to write to; it takes the place of `path` in one step when all went well.

    With `replace=False` a file that is there already is left as it is, and that is an error.
    """
    target = Path(path)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        # Made here, so that the file gets the rights that any new file gets.
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o666))
        yield part
        with open(part, "rb+") as written:
            os.fsync(written.fileno())
        if replace:
            os.replace(part, target)
        else:
            _place(part, target)
    except OSError as failed:
        raise PourlineError(f"{target}: {failed.strerror or failed}", "io") from failed
    finally:
        with suppress(OSError):
            part.unlink()


def _place(part: Path, target: Path) -> None:
    """Give the file its name unless the name is taken."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise PourlineError(f"{target} is there already", "io") from None
    except OSError:
        # No hard links on this file system: the check and the step are two.
        if target.exists():
            raise PourlineError(f"{target} is there already", "io") from None
        os.replace(part, target)


def write_whole(path: str | PathLike[str], content: bytes, replace: bool = True) -> None:
    """Write a file as a whole."""
    with whole_file(path, replace) as part:
        part.write_bytes(content)

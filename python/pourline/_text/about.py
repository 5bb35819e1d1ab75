"""Out: how to cite the library, and the versions of what it runs on."""

from __future__ import annotations

import os
import platform

from .._pourline import __version__

TITLE = (
    "From the timestamped weights of a hand-poured coffee to its pours, rests, flow rate and extraction, "
    "each with its uncertainty"
)
NEEDED = ("numpy", "arro3-core")
OPTIONAL = ("matplotlib", "pandas", "polars", "pyarrow", "openpyxl", "tqdm", "anywidget")


def cite() -> str:
    """Return a BibTeX entry for this version; state the options that were not at their default beside it.

    >>> import pourline
    >>> print(pourline.cite().splitlines()[0])
    @software{pourline,
    >>> pourline.__version__ in pourline.cite()
    True
    """
    entries = {"author": "{The pourline developers}", "title": f"{{pourline}}: {TITLE}", "version": __version__}
    lines = [f"  {key} = {{{text}}}," for key, text in entries.items()]
    return "\n".join(["@software{pourline,", *lines, "}"])


def show_versions() -> None:
    """Print the versions of pourline, Python, the system and the packages that are used if they are installed.

    A report of a fault needs them.

    >>> import pourline
    >>> pourline.show_versions()  # doctest: +ELLIPSIS
    pourline    ...
    python      ...
    system      ...
    cores       ...
    numpy       ...
    arro3-core  ...
    """
    versions = {
        "pourline": __version__,
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "cores": str(os.cpu_count()),
        **{package: _version(package) for package in (*NEEDED, *OPTIONAL)},
    }
    for name, found in versions.items():
        print(f"{name:<11} {found}")


def _version(package: str) -> str:
    from importlib.metadata import PackageNotFoundError, version  # Rarely needed and slow to load.

    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"

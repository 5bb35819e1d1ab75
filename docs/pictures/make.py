"""In: README.md and the pages of the guide. Out: the pictures that they show, each saved by the page's own example.

`python docs/pictures/make.py` runs the code of each page that shows `pictures/NAME.png`, in a folder of its own, and
takes the file NAME.png that the code saved there, at most 900 px wide and in 64 colours. With names of pages
(`README.md plan.md`) it makes only theirs.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
PICTURES = Path(__file__).parent
BLOCK = re.compile(r"^```(python|sh)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
WIDEST, COLOURS = 900, 64


def shown(page: Path) -> list[str]:
    """Return the pictures of this folder that a page shows."""
    return re.findall(r"!\[[^\]]*\]\((?:docs/)?pictures/(\w+\.png)\)", page.read_text(encoding="utf-8"))


def run(page: Path) -> None:
    """Run the code of a page, its `pourline` lines too, in the folder that is current."""
    names: dict[str, object] = {}
    for language, code in BLOCK.findall(page.read_text(encoding="utf-8")):
        if language == "python" and ">>>" not in code:
            exec(compile(code, page.name, "exec"), names)
        elif language == "sh":
            for line in code.splitlines():
                command = line.partition("#")[0]
                if command.startswith("pourline "):
                    subprocess.run([sys.executable, "-m", *shlex.split(command)], capture_output=True, check=False)


def keep(picture: Path) -> None:
    """Put a picture into this folder, small."""
    from PIL import Image

    with Image.open(picture) as opened:
        image = opened.convert("RGB")
    if image.width > WIDEST:
        image = image.resize((WIDEST, round(image.height * WIDEST / image.width)), Image.Resampling.LANCZOS)
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(PICTURES / picture.name, optimize=True)


def main(wanted: list[str]) -> None:
    """Make the pictures of all pages, or of those named."""
    os.environ["MPLBACKEND"] = "agg"
    import matplotlib.pyplot as plt

    for page in (ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))):
        if (wanted and page.name not in wanted) or not (pictures := shown(page)):
            continue
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "datasets").symlink_to(ROOT / "datasets")
            os.chdir(folder)
            run(page)
            for name in pictures:
                keep(Path(folder) / name)
                print(f"{page.relative_to(ROOT)}: {name}, {(PICTURES / name).stat().st_size / 1e3:.0f} kB")
            os.chdir(ROOT)
            plt.close("all")


if __name__ == "__main__":
    main(sys.argv[1:])

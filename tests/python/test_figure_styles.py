"""Figures follow the style of matplotlib: pictures in four styles are those that were looked at, and colours keep their
contrast.

Contrast is that of WCAG 2.2 (relative luminance, 1.4.3 and 1.4.11), the distance of two pictures that of
`matplotlib.testing.compare`: the root mean square of the differences of their pixels, of 0 to 255.
`UPDATE_PICTURES=1` writes the pictures anew; look at them before they are stored.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest

import pourline
from pourline._figures import looks
from pourline._figures.axes import hue, ink, paper, points

mpl.use("agg")
import matplotlib.pyplot as plt
from matplotlib.testing.compare import calculate_rms

KEPT = Path(__file__).parent / "kept" / "figures"
STYLES: dict[str, list[Any]] = {
    "default": ["default"],
    "dark": ["default", "dark_background"],
    "large": ["default", {"font.size": 18}],
    "ggplot": ["default", "ggplot"],
}
# An empty panel is 25 off, another brew 28, red ink 11 to 13. The font and its renderer come with matplotlib.
TOLERANCE = 8.0
DPI = 40


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


@pytest.fixture(scope="module")
def knocked() -> pourline.Brew:
    return pourline.analyze(pourline.datasets.load("fernspout-ada-02"))


def picture(figure: Any) -> np.ndarray[Any, Any]:
    figure.set_dpi(DPI)
    figure.canvas.draw()
    return np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(np.int16)


def drawn(name: str, brew: pourline.Brew) -> np.ndarray[Any, Any]:
    if name == "brew":
        return picture(pourline.plot(brew)["weight"].figure)
    values = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6]
    found = pourline.contrast(values, ["Fernspout"] * 4 + ["Broadlip"] * 4)
    assert found.pairs
    study = pourline.Study(pourline.Table({"kettle": ["Fernspout"] * 4 + ["Broadlip"] * 4, "flow_g_per_s": values}))
    return picture(pourline.plot_comparison(pourline.compare(study, "flow_g_per_s", by="kettle"))[0].figure)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("name", ["brew", "comparison"])
def test_a_figure_in_a_style_is_the_picture_that_was_looked_at(name: str, style: str, knocked: pourline.Brew) -> None:
    path = KEPT / f"{name}_{style}.png"
    with plt.style.context(STYLES[style]):
        found = drawn(name, knocked)
    if os.environ.get("UPDATE_PICTURES"):
        path.parent.mkdir(exist_ok=True)
        plt.imsave(path, found.astype(np.uint8))
    kept = (plt.imread(path)[..., :3] * 255).round().astype(np.int16)
    assert found.shape == kept.shape
    assert calculate_rms(kept, found) < TOLERANCE


def test_the_tolerance_tells_another_brew_and_another_ink(knocked: pourline.Brew) -> None:
    other = pourline.analyze(pourline.datasets.load("broadlip-ada-09"))
    kept = (plt.imread(KEPT / "brew_default.png")[..., :3] * 255).round().astype(np.int16)
    assert calculate_rms(kept, drawn("brew", other)) > TOLERANCE
    with plt.style.context([{"text.color": "#ff0000", "axes.labelcolor": "#ff0000"}]):
        assert calculate_rms(kept, drawn("brew", knocked)) > TOLERANCE
    axes = pourline.plot(knocked)
    axes["flow"].clear()
    assert calculate_rms(kept, picture(axes["flow"].figure)) > TOLERANCE
    with plt.style.context("dark_background"):
        assert calculate_rms(kept, drawn("brew", knocked)) > 10 * TOLERANCE


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    channels = np.array(mpl.colors.to_rgb(colour))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return float(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])


@pytest.mark.parametrize("style", STYLES)
def test_every_colour_keeps_its_contrast_to_the_paper(style: str) -> None:
    palette = [looks.WATER, looks.BEVERAGE, looks.FLOW, looks.HELD, looks.EVENT, *(one for one, _ in looks.GROUPS)]
    with plt.style.context(STYLES[style]):
        for colour in palette:
            for least in (3.0, 4.5):
                low, high = sorted((luminance(hue(colour, least)), luminance(paper())))
                assert (high + 0.05) / (low + 0.05) >= least - 0.01
        low, high = sorted((luminance(ink()), luminance(paper())))
        assert (high + 0.05) / (low + 0.05) > 7


def test_texts_grow_with_the_font_and_the_figure_with_them(knocked: pourline.Brew) -> None:
    sizes, widths = [], []
    for size in (10, 18):
        with plt.style.context([{"font.size": size}]):
            axes: dict[str, Any] = {**pourline.plot(knocked)}
            assert points(8) == pytest.approx(0.8 * size)
            sizes.append([text.get_fontsize() for text in axes["weight"].texts])
            widths.append(axes["weight"].figure.get_size_inches()[0])
    assert np.divide(sizes[1], sizes[0]) == pytest.approx(1.8)
    assert widths[1] / widths[0] == pytest.approx(1.8)


def test_a_brew_is_drawn_on_one_axes_a_list_an_array_or_a_dict(knocked: pourline.Brew) -> None:
    _, three = plt.subplots(3, 1)
    for given in (three, list(three), three.reshape(3, 1)):
        assert list(pourline.plot(knocked, given).values()) == list(three)
    _, one = plt.subplots()
    assert pourline.plot(knocked, one) == {"weight": one}
    flow: Any = pourline.plot(knocked, figsize=(5, 6))["flow"]
    assert tuple(flow.figure.get_size_inches()) == (5, 6)
    wrongs: list[Any] = [3, [one], {"flows": one}, {}, {"flow": 3}, [one, one, 3]]
    for wrong in wrongs:
        with pytest.raises(
            pourline.PourlineError, match=r"ax: axes are needed: one, a dict .*, or 3 for weight, flow, held"
        ):
            pourline.plot(knocked, wrong)


@pytest.mark.parametrize("panel", ["weight", "flow", "held"])
def test_a_panel_alone_is_whole(panel: str, knocked: pourline.Brew) -> None:
    _, ax = plt.subplots()
    pourline.plot(knocked, {panel: ax})
    texts = [text.get_text().split("\n")[0] for text in ax.texts]
    assert ax.get_title(loc="left") == "fernspout-ada-02"
    assert {"1", "2", "3", "4"} <= set(texts)
    assert knocked.head.split(";")[0] in "".join(texts)
    assert ax.get_xlabel() == "time, min:s"
    assert any(text.startswith("first drip") for text in texts)

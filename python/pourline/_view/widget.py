"""In: the steps of a log. Out: the widget that shows and edits them in a notebook. Needs anywidget."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import traitlets

from .._figures.pointing import pointing
from .._pages.cards import brew_card
from ..errors import PourlineError
from .sent import brew_sent, log_sent

if TYPE_CHECKING:
    from .._pourline import Brew, Labels
    from .steps import Steps

HERE = Path(__file__).parent
WIDTH, NARROWEST, WIDEST = 760.0, 280.0, 4000.0


def _text(*names: str) -> str:
    return "\n".join((HERE / name).read_text(encoding="utf-8") for name in names)


class View(anywidget.AnyWidget):
    """An editable view of a log with its pours, made by `pourline.view`."""

    _esm = f"{pointing()}\n{_text('parts.js', 'view.js')}"
    _css = _text("view.css")
    labels: Labels = traitlets.Any(read_only=True)  # type: ignore[assignment]
    brew: Brew = traitlets.Any(read_only=True)  # type: ignore[assignment]
    _log = traitlets.Dict().tag(sync=True)
    _now = traitlets.Dict().tag(sync=True)

    def __init__(self, steps: Steps) -> None:
        """Show the current steps."""
        super().__init__()
        self._steps = steps
        self._close_s, self._width = steps.span_s, WIDTH
        self._answered: dict[str, Any] = {}
        self._log = log_sent(steps.as_found)
        self._publish()
        self.on_msg(self._answer)

    def _answer(self, _: object, asked: dict[str, Any], __: object) -> None:
        """Apply a request of the page and send the result; a refused request sends the reason and changes nothing."""
        steps, place, said = self._steps, None, ""
        try:
            match asked:
                case {"do": "move", "pour": pour, "start_s": start_s}:
                    steps.move(pour, start_s=start_s)
                    said = f"pour {pour} starts at {start_s:.2f} s"
                case {"do": "move", "pour": pour, "end_s": end_s}:
                    steps.move(pour, end_s=end_s)
                    said = f"pour {pour} ends at {end_s:.2f} s"
                case {"do": "add", "at_s": at_s}:
                    place = steps.add(at_s)
                    said = f"pour {place} added"
                case {"do": "remove", "pour": pour}:
                    steps.remove(pour)
                    said = f"pour {pour} removed"
                case {"do": "undo", "steps": count}:
                    steps.undo(count)
                    said = "step undone"
                case {"do": "reset"}:
                    steps.reset()
                    said = "all pours reset to the detected edges"
                case {
                    "do": "look",
                    "span_s": [float() | int() as low_s, float() | int() as high_s],
                    "width": float() | int() as width,
                }:
                    low_s, high_s = max(low_s, steps.span_s[0]), min(high_s, steps.span_s[1])
                    if low_s < high_s:
                        self._close_s, self._width = (low_s, high_s), min(WIDEST, max(NARROWEST, width))
                    # The pours did not change, so the message of the last step remains.
                    self._publish(**self._answered)
                    return
                case _:
                    said = "not understood"
        except PourlineError as refused:
            said = str(refused)
        self._publish(answer=asked.get("ask"), said=said, added=place)

    def _publish(self, **answer: Any) -> None:
        self.set_trait("brew", self._steps.brew)
        self.set_trait("labels", self._steps.labels)
        self._answered = answer
        self._now = {**brew_sent(self._steps, self._close_s, self._width), **answer}

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        """Return the widget, and the card of the brew for pages that cannot run it."""
        found = super()._repr_mimebundle_(**kwargs)
        if found is not None:
            found[0]["text/html"] = brew_card(self._steps.brew)
        return found

    def __repr__(self) -> str:
        """Return the name of the log in a line."""
        return f"View({self._log['name']!r}, {len(self._steps.labels.pours)} pours)"

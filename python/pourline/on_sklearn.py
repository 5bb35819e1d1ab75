"""In: logs. Out: a table of numbers for a pipeline of scikit-learn: one row per log, one column per measure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ._pourline import Brew, Log, Options, analyze_many, gather
from .errors import PourlineError

try:
    from sklearn.base import BaseEstimator, TransformerMixin
except ImportError as missing:
    raise PourlineError('this needs scikit-learn: pip install "pourline[sklearn]"', "install") from missing

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["BrewFeatures"]

# The measures of a comparison that names none.
MEASURES = ("mean_flow_g_per_s", "time_near_plateau_pct", "flow_cv", "peak_to_mean_flow", "drawdown_end_s")


class BrewFeatures(TransformerMixin, BaseEstimator):  # type: ignore[misc]
    """Turns logs into measures of their brews: a transformer without a state.

    Each of the logs is a `Log` or an argument of `read`, such as a path. An undefined number is NaN, for an imputer.

    Args:
        measures: names of measures of a study, see `gather`. Default: mean flow, steadiness, flow CV, peak to mean flow,
            end of the drawdown.
        pours: "mean" over the pours of a brew, or the number of a pour from 1.
        options: those of all stages: `Options`, or a dict of its stages.
        refused: "raise" the error of a log that cannot be analysed, or give it a row of "nan".
        threads: their number; default one per core. 1 in a job of joblib.

    >>> import pourline
    >>> from pourline.on_sklearn import BrewFeatures
    >>> logs = [pourline.datasets.load(name) for name in ("fernspout-ada-01", "broadlip-ada-09")]
    >>> BrewFeatures(["mean_flow_g_per_s", "flow_cv"]).fit_transform(logs).shape
    (2, 2)
    """

    def __init__(
        self,
        measures: Sequence[str] | None = None,
        *,
        pours: Literal["mean"] | int = "mean",
        options: Options | Mapping[str, Any] | None = None,
        refused: Literal["raise", "nan"] = "raise",
        threads: int | None = None,
    ) -> None:
        """Keep the arguments as they are: the library's own rule, so that it can be cloned."""
        self.measures = measures
        self.pours = pours
        self.options = options
        self.refused = refused
        self.threads = threads

    def fit(self, logs: Iterable[Any], y: object = None) -> BrewFeatures:
        """Return itself: nothing is learnt from the logs."""
        if self.refused not in ("raise", "nan"):
            raise PourlineError(f'refused: "raise" or "nan" is needed, not {self.refused!r}', column="refused")
        if self.pours != "mean" and not isinstance(self.pours, int):
            raise PourlineError(f'pours: "mean" or a number is needed, not {self.pours!r}', column="pours")
        return self

    def transform(self, logs: Iterable[Any]) -> NDArray[np.float64]:
        """Return the measures of the logs: one row per log, in their order, one column per measure.

        Raises `PourlineError` of kind `column` for a name that is no measure, and that of a refused log.
        """
        found = analyze_many(_listed(logs), self._options(), progress=False, threads=self.threads)
        for place, one in enumerate(found, 1):
            if isinstance(one, PourlineError) and self.refused == "raise":
                raise PourlineError(f"log {place}: {one}", one.kind, one.row, one.column) from one
        brews = [one for one in found if isinstance(one, Brew)]
        names = self.get_feature_names_out()
        measured = np.full((len(found), len(names)), np.nan)
        if brews:
            table = gather(brews, pours=self.pours).table()
            rows = [isinstance(one, Brew) for one in found]
            measured[rows] = np.column_stack([_numbers(str(name), table[str(name)]) for name in names])
        return measured

    def get_feature_names_out(self, input_features: object = None) -> NDArray[Any]:
        """Return the names of the measures."""
        return np.array(MEASURES if self.measures is None else list(self.measures), dtype=object)

    def _options(self) -> Options | None:
        given = self.options
        return given if given is None or isinstance(given, Options) else Options(**given)

    def __sklearn_tags__(self) -> Any:
        """Tell the library that the input is a list of logs, and that nothing is fitted."""
        tags = super().__sklearn_tags__()
        tags.input_tags.two_d_array = False
        tags.input_tags.one_d_array = True
        tags.input_tags.allow_nan = False
        tags.no_validation = True
        tags.requires_fit = False
        return tags


def _listed(logs: Any) -> list[Any]:
    """Return the logs as a list; those of one column of a table are its cells."""
    if isinstance(logs, (str, bytes, Log)):
        raise PourlineError("logs: a list of logs is needed, not one", column="logs")
    cells = logs.to_numpy() if hasattr(logs, "to_numpy") else logs
    if isinstance(cells, np.ndarray) and cells.ndim > 1:
        if cells.shape[1] != 1:
            raise PourlineError(f"logs: one column is needed, not {cells.shape[1]}", column="logs")
        cells = cells[:, 0]
    return [str(one) if isinstance(one, np.str_) else one for one in cells]


def _numbers(name: str, values: NDArray[Any]) -> NDArray[np.float64]:
    if values.dtype.kind == "U":
        raise PourlineError(f"measures: {name!r} is a factor, not a measure", "column", column="measures")
    return values.astype(np.float64)

"""A transformer for pipelines of scikit-learn, held against the library's own checks of estimators and a study."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.compose import ColumnTransformer
from sklearn.impute import SimpleImputer
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GridSearchCV, cross_val_score
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler
from sklearn.utils import estimator_checks

import pourline
from pourline.on_sklearn import MEASURES, BrewFeatures

NAMES = [*(f"fernspout-ada-{n:02}" for n in range(1, 5)), *(f"broadlip-ada-{n:02}" for n in range(9, 13))]
KETTLES = ["Fernspout"] * 4 + ["Broadlip"] * 4
# The library's own checks that need no numbers as input: its others pass random matrices.
CHECKS = (
    "check_parameters_default_constructible",
    "check_no_attributes_set_in_init",
    "check_get_params_invariance",
    "check_set_params",
    "check_estimator_cloneable",
    "check_estimator_repr",
    "check_estimator_tags_renamed",
    "check_valid_tag_types",
    "check_mixin_order",
)


@pytest.fixture(scope="module")
def logs() -> list[pourline.Log]:
    return [pourline.datasets.load(name) for name in NAMES]


@pytest.mark.parametrize("check", CHECKS)
def test_the_checks_of_the_library_pass(check: str) -> None:
    getattr(estimator_checks, check)("BrewFeatures", BrewFeatures())


def test_the_numbers_are_those_of_a_study(logs: list[pourline.Log]) -> None:
    table = pourline.gather([pourline.analyze(log) for log in logs]).table()
    found = BrewFeatures().fit_transform(logs)
    np.testing.assert_array_equal(found, np.column_stack([table[name] for name in MEASURES]))
    second = BrewFeatures(["mass_g"], pours=2).fit_transform(logs[:2])
    assert second[:, 0].tolist() == [pourline.analyze(log)[1].mass_g.value for log in logs[:2]]
    strict = BrewFeatures(["pours"], options={"segment": {"mass_g": 50}}).fit_transform(logs[:1])
    assert strict.tolist() == [[len(pourline.analyze(logs[0], {"segment": {"mass_g": 50}}))]]


def test_logs_may_be_paths_arrays_series_or_a_column(logs: list[pourline.Log], tmp_path: Path) -> None:
    paths = []
    for log in logs[:3]:
        assert log.water_g is not None
        path = tmp_path / f"{log.meta.name}.csv"
        rows = "".join(f"{t!r},{g!r}\n" for t, g in zip(log.time_s.tolist(), log.water_g.tolist(), strict=True))
        path.write_text(f"time_s,water_g\n{rows}", encoding="utf-8")
        paths.append(str(path))
    features = BrewFeatures(["mean_flow_g_per_s"])
    expected = features.transform(paths)
    assert np.isfinite(expected).all()
    frame = pd.DataFrame({"log": paths})
    for given in (np.array(paths), np.array(paths, dtype=object), frame["log"], frame, [Path(one) for one in paths]):
        np.testing.assert_array_equal(features.transform(given), expected)
    by_column = ColumnTransformer([("flow", features, ["log"])])
    np.testing.assert_array_equal(by_column.fit_transform(frame), expected)
    wrongs: list[Any] = [paths[0], logs[0], pd.DataFrame({"a": paths, "b": paths})]
    for wrong in wrongs:
        with pytest.raises(pourline.PourlineError, match="logs: "):
            features.transform(wrong)


def test_it_is_cloned_with_its_options_and_named_in_a_frame(logs: list[pourline.Log]) -> None:
    first = BrewFeatures(["flow_cv"], pours=1, options=pourline.Options(segment={"mass_g": 5}), threads=1)
    again = clone(first)
    assert again is not first
    assert again.get_params() == first.get_params()
    frame = first.set_output(transform="pandas").fit_transform(logs[:2])
    assert list(frame.columns) == ["flow_cv"]


def test_a_pipeline_tells_two_kettles_apart_in_cross_validation(logs: list[pourline.Log]) -> None:
    model = make_pipeline(BrewFeatures(threads=1), SimpleImputer(), StandardScaler(), LogisticRegression())
    assert cross_val_score(model, logs, KETTLES, cv=2).shape == (2,)
    searched = GridSearchCV(model, {"brewfeatures__pours": ["mean", 1]}, cv=2).fit(logs, KETTLES)
    assert searched.best_params_["brewfeatures__pours"] in ("mean", 1)
    assert model.fit(logs, KETTLES).score(logs, KETTLES) == 1


def test_a_log_that_is_refused_is_an_error_or_a_row_without_numbers(logs: list[pourline.Log]) -> None:
    given = [logs[0], "no-such-file.csv", logs[1]]
    with pytest.raises(pourline.PourlineError, match=r"log 2: no-such-file\.csv") as caught:
        BrewFeatures().fit_transform(given)
    assert caught.value.kind == "io"
    found = BrewFeatures(refused="nan").fit_transform(given)
    assert np.isnan(found).all(axis=1).tolist() == [False, True, False]
    with pytest.raises(pourline.PourlineError, match="no column 'flow'"):
        BrewFeatures(["flow"]).fit_transform(logs[:1])
    with pytest.raises(pourline.PourlineError, match="'kettle' is a factor"):
        BrewFeatures(["kettle"]).fit_transform(logs[:1])
    wrongs: list[Any] = [{"refused": "drop"}, {"pours": "each"}]
    for wrong in wrongs:
        with pytest.raises(pourline.PourlineError, match="is needed, not"):
            BrewFeatures(**wrong).fit(logs)

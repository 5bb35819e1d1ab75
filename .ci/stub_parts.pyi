"""The head of the stub, and what no list in Rust has: methods, functions, and properties as `name: type`.

The first line of each doc is that of the compiled module; a doc stands here only for what that module finds by name.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from os import PathLike
from typing import Any, Literal, TypeAlias, final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ._io.arrow import ArrowStream
from .errors import PourlineError
from .tables import Table

__version__: str
# Class, its properties with their types; class, its rows (name, sentence, unit, formula, validity, reference); ends of names, units.
_types: list[tuple[str, list[tuple[str, str]]]]
_rows: list[tuple[str, list[str]]]
_units: list[tuple[str, str]]

_Array: TypeAlias = NDArray[np.float64]
_Missing: TypeAlias = Literal["refuse", "flag"]
_Source: TypeAlias = Log | str | PathLike[str] | bytes | ArrowStream
_Number: TypeAlias = float | Estimate | Undefined
_Mass: TypeAlias = _Number | None
_Study: TypeAlias = Study | Iterable[Brew | PourlineError] | ArrowStream
_Data: TypeAlias = _Study | Iterable[_Number]
_Labels: TypeAlias = str | Iterable[object]

class Estimate:
    def __new__(cls, value: float, sd: float = 0.0) -> Estimate: ...
    value: float
    sd: float
    def __hash__(self) -> int: ...

class Undefined:
    def __new__(cls, reason: str) -> Undefined: ...
    reason: str
    def __bool__(self) -> Literal[False]: ...

class Meta:
    def __new__(
        cls,
        *,
        dose_g: float | None = None,
        dose_sd_g: float | None = None,
        tds_pct: float | None = None,
        tds_sd_pct: float | None = None,
        brix_pct: float | None = None,
        brix_sd_pct: float | None = None,
        water_c: float | None = None,
        name: str | float | None = None,
        coffee: str | float | None = None,
        roast: str | float | None = None,
        grinder: str | float | None = None,
        grinder_setting: str | float | None = None,
        kettle: str | float | None = None,
        brewer: str | float | None = None,
        person: str | float | None = None,
        device: str | float | None = None,
        note: str | float | None = None,
        started_at: str | None = None,
        factors: Mapping[str, str] = ...,
    ) -> Meta: ...
    def to_dict(self) -> dict[str, Any]: ...

class Log:
    def __new__(
        cls,
        time_s: ArrayLike,
        water_g: ArrayLike | None = None,
        beverage_g: ArrayLike | None = None,
        *,
        missing: _Missing = "refuse",
        **meta: Any,
    ) -> Log: ...
    time_s: _Array
    water_g: _Array | None
    beverage_g: _Array | None
    meta: Meta
    digest: str

class Trace:
    log_index: NDArray[np.uintp]

class Stream:
    def __new__(
        cls,
        flow_g_per_s: float | Estimate,
        spout_bore_m: float | Estimate,
        fall_height_m: float | Estimate,
        water_c: float,
    ) -> Stream: ...

class Extraction:
    def monte_carlo(self, draws: int = 100000, seed: int = 0) -> MonteCarlo | Undefined: ...

class Options:
    def __new__(
        cls,
        *,
        condition: Mapping[str, Any] | None = None,
        segment: Mapping[str, Any] | None = None,
        metrics: Mapping[str, Any] | None = None,
        agitation: Mapping[str, Any] | None = None,
        bed: Mapping[str, Any] | None = None,
        extraction: Mapping[str, Any] | None = None,
    ) -> Options: ...
    def to_dict(self) -> dict[str, dict[str, Any]]: ...
    def changed(self) -> dict[str, dict[str, Any]]: ...

class Brew:
    pours: list[Pour]
    rests: list[Rest]
    events: list[Event]
    @staticmethod
    def from_json(text: str) -> Brew: ...

class Labels:
    def __new__(
        cls,
        pours: Sequence[tuple[float, float]],
        sd_s: float = 0.05,
        by: str | None = None,
        note: str | None = None,
        log_digest: str | None = None,
    ) -> Labels: ...
    @staticmethod
    def of(brew: Brew, log: Log | None = None) -> Labels: ...
    @staticmethod
    def from_json(text: str) -> Labels: ...
    @staticmethod
    def read(path: str | PathLike[str]) -> Labels: ...
    def moved(self, pour: int, start_s: float | None = None, end_s: float | None = None) -> Labels: ...
    def added(self, start_s: float, end_s: float) -> Labels: ...
    def removed(self, pour: int) -> Labels: ...
    def write(self, path: str | PathLike[str], overwrite: bool = False) -> None: ...

class Labelled:
    by_hand: list[str]
    added: list[int]

class PlannedPour:
    def __new__(
        cls,
        start_s: float,
        mass_g: float,
        flow_g_per_s: float | None = None,
        *,
        start_within_s: float = 3.0,
        mass_within_g: float = 3.0,
        flow_within_g_per_s: float = 0.5,
    ) -> PlannedPour: ...

class Live:
    def __new__(cls, *, options: Options | None = None, keep_log: bool = True, **meta: Any) -> Live: ...
    def push(self, time_s: float, water_g: float | None, beverage_g: float | None = None) -> LiveState: ...
    def extend(
        self, time_s: ArrayLike, water_g: ArrayLike, beverage_g: ArrayLike | None = None
    ) -> LiveState | None: ...
    def log(self) -> Log: ...
    def finish(self) -> Brew: ...

class LiveState:
    pour: int | None
    start_s: float | None
    mass_g: float | None

class Plan:
    def __new__(cls, name: str, pours: Sequence[PlannedPour]) -> Plan: ...
    @staticmethod
    def read(path: str | PathLike[str]) -> Plan: ...
    @staticmethod
    def parse(text: str) -> Plan: ...
    name: str
    pours: list[PlannedPour]
    def follow(self, brew: Brew) -> PlanResult: ...

class PlanResult:
    missed: list[int]

def progress(brews: Iterable[tuple[int | date, PlanResult | _Number]], level: float = 0.95) -> Progress: ...

class TruePour:
    def to_dict(self) -> dict[str, float]: ...

class Profile:
    brews: list[str]
    axis: Literal["time", "water"]
    align: Literal["landmarks", "start"]
    warnings: list[str]
    position: _Array
    flow_g_per_s: _Array
    flow_sd_g_per_s: _Array
    scale_sd_g_per_s: _Array
    scale_share: float
    low_g_per_s: _Array | Undefined
    high_g_per_s: _Array | Undefined
    band_factor: float | Undefined
    level: float
    landmarks: list[Landmark]
    middle: int
    distance_g_per_s: _Array
    odd: Outlier | Undefined

class Landmark:
    pour: int
    kind: Literal["start", "half_rise", "half_fall", "end"]
    mean: Estimate
    sd: float

class Outlier:
    brew: int
    z: float
    threshold: float
    pour: int | None
    quantity: str | None
    value: float
    usual: float
    why: str

class Distance:
    flow_g_per_s: float
    noise_g_per_s: float
    amplitude_g_per_s: float | Undefined
    timing_g_per_s: float | Undefined
    timing_s: Estimate | Undefined

def profile(brews: Iterable[Brew], **options: Any) -> Profile: ...
def distance(one: Brew, other: Brew) -> Distance: ...

class Study:
    def __new__(cls, table: ArrowStream) -> Study: ...
    factors: list[str]
    measures: list[str]
    units: dict[str, str]
    def levels(self, factor: str) -> list[str]: ...
    def only(self, **levels: object) -> Study: ...
    def take(self, measure: str, *factors: str) -> Table: ...
    def missing(self, measure: str, *factors: str) -> Table: ...
    def design(self, first: str, second: str) -> Design: ...

class Comparison:
    measure: str
    unit: str
    by: str
    blocks: list[str]
    independent: str
    pairs: list[Contrast]
    overall_p: Estimate | Undefined
    within_sd: Estimate | Undefined
    measurement_share: Estimate | Undefined
    level: float
    warnings: list[str]
    sentences: list[str]
    def groups_table(self) -> Table: ...
    def values_table(self) -> Table: ...
    def missing_table(self) -> Table: ...

class Design:
    factors: tuple[str, str]
    layout: Literal["crossed", "nested", "partial"]
    balanced: bool
    missing: int

class Errors:
    def bias(self) -> float: ...
    def mean_absolute(self) -> float: ...
    def rms(self) -> float: ...
    def within_2_sd(self) -> float: ...

class Score:
    matched: int
    missed: int
    false_pours: int
    edge_error_s: float
    half_error_s: float
    def f1_edges(self, tolerance_s: float) -> float: ...
    def f1_halves(self, tolerance_s: float) -> float: ...
    def __add__(self, other: Score, /) -> Score: ...

def read(
    source: str | PathLike[str] | bytes | ArrowStream,
    *,
    time: str | int | None = None,
    water: str | int | None = None,
    beverage: str | int | None = None,
    time_unit: Literal["s", "ms", "us", "ns", "min"] | None = None,
    mass_unit: Literal["g", "kg", "mg", "oz"] | None = None,
    missing: _Missing = "refuse",
    **meta: Any,
) -> Log: ...
def calibrate(log: Log, **options: Any) -> Calibration: ...
def condition(log: Log, **options: Any) -> Trace: ...
def segment(trace: Trace, **options: Any) -> Segments: ...
def flow(trace: Trace, segments: Segments) -> Flow: ...
def compare(
    study: Study | Iterable[Brew | PourlineError] | ArrowStream,
    measure: str,
    by: str,
    blocks: str | Sequence[str] | None = None,
    pours: Literal["mean", "each"] | int | None = None,
    **options: Any,
) -> Comparison: ...
def gather(brews: Iterable[Brew | PourlineError], pours: Literal["mean", "each"] | int | None = None) -> Study: ...
def dial_in(
    x: ArrayLike | str,
    y: Iterable[float | Estimate] | str,
    study: Study | Iterable[Brew | PourlineError] | ArrowStream | None = None,
    *,
    target: float | None = None,
    level: float = 0.95,
    direction: Literal["rising", "falling"] | None = None,
    draws: int = 2000,
    seed: int = 1,
) -> SettingFit: ...
def mean_beverage(brews: Study | Iterable[Brew | PourlineError] | ArrowStream) -> MeanBeverage: ...
def metrics(trace: Trace, segments: Segments, **options: Any) -> Metrics: ...
def agitation(trace: Trace, segments: Segments, flow: Flow, **options: Any) -> Agitation: ...
def bed(
    trace: Trace,
    segments: Segments,
    flow: Flow | None = None,
    *,
    extraction: dict[str, Any] | None = None,
    **options: Any,
) -> Bed: ...
def extraction(meta: Meta, water_g: _Mass = None, beverage_g: _Mass = None, **options: Any) -> Extraction: ...
def analyze(log: _Source, options: Options | None = None, labels: Labels | None = None) -> Brew: ...
def analyze_each(
    logs: Iterable[_Source | PourlineError], options: Options | None = None, *, threads: int | None = None
) -> Iterator[Brew | PourlineError]: ...
def analyze_many(
    logs: Iterable[_Source | PourlineError],
    options: Options | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
    *,
    threads: int | None = None,
) -> list[Brew | PourlineError]: ...
def simulate(recipe: str | Mapping[str, Any] | None = None, seed: int = 0) -> tuple[Log, Truth]: ...
def recipe(level: str | None = None) -> dict[str, Any]: ...
def levels() -> list[str]: ...
def score(truth: Truth, found: Brew | Sequence[Pour]) -> Score: ...

class SettingFit:
    x_name: str
    x_unit: str
    y_name: str
    y_unit: str
    x: _Array
    y: list[Estimate]
    brews: list[str]
    missing: Table
    level: float
    target: float | None
    line: DialLine | Undefined
    monotone: Monotone | Undefined
    preferred: Literal["line", "monotone", "neither"]
    setting: Estimate | Undefined
    interval: SettingInterval | Undefined
    by_line: TargetSetting
    by_monotone: TargetSetting
    words: list[str]

class DialLine:
    slope: Estimate
    slope_interval: tuple[float, float]
    intercept: Estimate
    residual_sd: float
    degrees: int
    r2: float
    lack_of_fit: FitTest | Undefined
    curvature: FitTest | Undefined
    measurement_share: float | Undefined
    def at(self, setting: float) -> Estimate: ...
    def confidence(self, setting: float, level: float = 0.95) -> tuple[float, float]: ...
    def prediction(self, setting: float, level: float = 0.95) -> tuple[float, float]: ...

class Monotone:
    direction: Literal["rising", "falling"]
    stated: bool
    settings: _Array
    means: _Array
    values: _Array
    brews: list[int]
    levels: int
    scatter_sd: float | Undefined
    scatter_degrees: int
    turns_back: FitTest | Undefined
    def at(self, setting: float) -> float: ...
    def confidence(self, setting: float, level: float = 0.95) -> tuple[float, float]: ...

class FitTest:
    f: float
    degrees: int
    scatter_degrees: int
    p: float

class SettingInterval:
    shape: Literal["between", "outside", "at_least", "at_most", "anywhere"]
    ends: tuple[float, float]
    def __contains__(self, setting: float) -> bool: ...

class TargetSetting:
    setting: Estimate | Undefined
    interval: SettingInterval | Undefined

class MeanBeverage:
    mean_beverage_g: float
    beverage_spread_g: float
    rank_changes: int
    pairs_flipped: int
    flips: Table
    largest_error_pct: tuple[str, Estimate]
    rms_error_pct: float
    missing: Table
    words: list[str]

class ChartBox:
    def __new__(
        cls,
        document: str,
        strength_pct: Sequence[float],
        yield_pct: Sequence[float],
        coffee_g_per_l: Sequence[float] | None = None,
    ) -> ChartBox: ...
    @staticmethod
    def scaa_2015() -> ChartBox: ...
    @staticmethod
    def sca_home_brewer_2018() -> ChartBox: ...
    def place(self, strength_pct: _Number, yield_pct: _Number) -> Place | Undefined: ...

def fractions(mass_g: Iterable[_Number], strength_pct: Iterable[_Number], dose_g: _Number) -> Fractions | Undefined: ...
def retention_from_pairs(pairs: Sequence[tuple[str, float]], level: float = 0.95) -> list[LearntRetention]: ...
def strength_for_pct(yield_pct: _Number, dose_g: _Number, beverage_g: _Number) -> Estimate | Undefined: ...
def beverage_for_g(yield_pct: _Number, dose_g: _Number, strength_pct: _Number) -> Estimate | Undefined: ...
def water_for_g(
    yield_pct: _Number, dose_g: _Number, strength_pct: _Number, retention_g_per_g: _Number
) -> Estimate | Undefined: ...
def dose_for_g(yield_pct: _Number, beverage_g: _Number, strength_pct: _Number) -> Estimate | Undefined: ...
def dose_for_water_g(
    yield_pct: _Number, water_g: _Number, strength_pct: _Number, retention_g_per_g: _Number
) -> Estimate | Undefined: ...
def chart_line_pct(yield_pct: _Number, brew_ratio: _Number, retention_g_per_g: _Number) -> Estimate | Undefined: ...
def immersion_strength_pct(yield_pct: _Number, brew_ratio: _Number) -> Estimate | Undefined: ...
def density_kg_per_m3(t_c: float) -> float: ...
def dynamic_viscosity_pa_s(t_c: float) -> float: ...
def kinematic_viscosity_m2_per_s(t_c: float) -> float: ...
def surface_tension_n_per_m(t_c: float) -> float: ...
def heat_capacity_j_per_kg_k(t_c: float) -> float: ...
def heat_of_vaporisation_j_per_kg(t_c: float) -> float: ...
def evaporation_share_per_k(t_c: float) -> float: ...
def mass_g(volume_ml: float, t_c: float) -> float: ...

class Interval:
    value: float
    low: float
    high: float

class FTest:
    f: float
    degrees: float
    degrees_below: float
    p: float

class Repeatability:
    brews: int
    values: list[float]
    labels: list[str]
    mean: Estimate
    within_sd: Interval
    of_scale_sd: float
    of_hand_sd: Interval
    between_sd: Interval | Undefined
    reproducibility_sd: Interval | Undefined
    repeatability_limit: Interval
    reproducibility_limit: Interval | Undefined
    within_cv_pct: Interval | Undefined
    reproducibility_cv_pct: Interval | Undefined
    between_share: Interval | Undefined
    difference: FTest | Undefined
    warnings: list[str]

class Icc:
    subjects: int
    raters: int
    forms: list[IccForm]

class IccForm:
    form: str
    meaning: str
    icc: Interval
    test: FTest

class Crossed:
    rows: list[str]
    columns: list[str]
    brews: int
    mean: Estimate | Undefined
    anova: Components | Undefined
    reml: Components | Undefined
    warnings: list[str]

class Components:
    rows: Component
    columns: Component
    interaction: Component | Undefined
    repeatability: Component
    reproducibility: Component
    total: Component
    of_scale_sd: float
    of_hand_sd: Interval

class Component:
    sd: Interval
    share_pct: float
    study_pct: float

class Agreement:
    pairs: int
    bias: Interval
    sd: Interval
    of_scale_sd: float
    lower_limit: Interval
    upper_limit: Interval
    slope: Interval | Undefined
    slope_p: float | Undefined
    means: _Array
    differences: _Array
    warnings: list[str]

def repeatability(data: _Data, *, by: _Labels, measure: str | None = None) -> Repeatability: ...
def icc(data: _Data, *, subjects: _Labels, raters: _Labels, measure: str | None = None) -> Icc: ...
def crossed(data: _Data, *, rows: _Labels, columns: _Labels, measure: str | None = None) -> Crossed: ...
def agreement(
    first: Iterable[_Number] | str, second: Iterable[_Number] | str, *, study: _Study | None = None
) -> Agreement: ...

class Equivalence:
    margin: float
    p: Estimate | Undefined
    interval: tuple[float, float] | Undefined
    alike: bool | None

class GroupSummary:
    group: str
    units: int
    mean: Estimate
    sd: float

class Contrast:
    a: str
    b: str
    units: tuple[int, int]
    difference: Estimate
    interval: tuple[float, float] | Undefined
    bootstrap_interval: tuple[float, float] | Undefined
    tukey_interval: tuple[float, float] | Undefined
    difference_pct: Estimate | Undefined
    interval_pct: tuple[float, float] | Undefined
    hedges_g: Estimate | Undefined
    hedges_g_interval: tuple[float, float] | Undefined
    t: Estimate | Undefined
    degrees: float
    p: Estimate | Undefined
    p_holm: Estimate | Undefined
    p_model: Estimate | Undefined
    arrangements: float
    p_interaction: Estimate | Undefined
    equivalence: Equivalence | None
    minimum_detectable_difference: Estimate | Undefined

class Contrasts:
    groups: list[GroupSummary]
    pairs: list[Contrast]
    overall_p: Estimate | Undefined
    overall_f: Estimate | Undefined
    overall_p_model: Estimate | Undefined
    within_sd: Estimate | Undefined
    measurement_share: Estimate | Undefined
    unit: str
    blocks: list[str]
    level: float
    warnings: list[str]

def contrast(
    values: Iterable[_Number],
    group: Sequence[str],
    *,
    blocks: Mapping[str, Sequence[str]] | None = None,
    unit: Sequence[str] | None = None,
    **options: Any,
) -> Contrasts: ...
def equivalence(difference: _Number, degrees: float, margin: float, level: float = 0.95) -> Equivalence: ...
def sample_size(difference: float, sd: float, power: float = 0.8, level: float = 0.95) -> int: ...
def minimum_detectable_difference(brews: int, sd: float, power: float = 0.8, level: float = 0.95) -> float: ...
def power(difference: float, sd: float, brews: int, level: float = 0.95) -> float: ...

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
_WithinTolerance: TypeAlias = Literal["yes", "no", "too near to tell"]

class Estimate:
    def __new__(cls, value: float, sd: float = 0.0) -> Estimate: ...
    value: float
    sd: float
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

class Undefined:
    def __new__(cls, reason: str) -> Undefined: ...
    reason: str
    def __bool__(self) -> Literal[False]: ...
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str: ...

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
    @property
    def dose_g(self) -> float | None:
        """Dry coffee, g."""
    @property
    def dose_sd_g(self) -> float | None:
        """Standard uncertainty of the dose, g."""
    @property
    def tds_pct(self) -> float | None:
        """Strength of the beverage, percent by mass, measured."""
    @property
    def tds_sd_pct(self) -> float | None:
        """Standard uncertainty of the strength, percentage points."""
    @property
    def brix_pct(self) -> float | None:
        """Brix of the beverage, percent, as read off a refractometer."""
    @property
    def brix_sd_pct(self) -> float | None:
        """Standard uncertainty of that reading, percentage points."""
    @property
    def water_c(self) -> float | None:
        """Temperature of the water poured, C."""
    @property
    def name(self) -> str | None:
        """Name of the brew, such as its file's name."""
    @property
    def coffee(self) -> str | None:
        """Coffee."""
    @property
    def roast(self) -> str | None:
        """Roast."""
    @property
    def grinder(self) -> str | None:
        """Grinder."""
    @property
    def grinder_setting(self) -> str | None:
        """Setting of the grinder, as written on it."""
    @property
    def kettle(self) -> str | None:
        """Kettle."""
    @property
    def brewer(self) -> str | None:
        """Brewer."""
    @property
    def person(self) -> str | None:
        """Who poured."""
    @property
    def device(self) -> str | None:
        """Scale or logger."""
    @property
    def note(self) -> str | None:
        """Free text."""
    @property
    def started_at(self) -> str | None:
        """The first stamp of the log as it was written, where it was a date and time."""
    @property
    def factors(self) -> dict[str, str]:
        """Further factors by name, such as `day`."""
    def to_dict(self) -> dict[str, Any]:
        """What is known, as a dict; what is not known is left out."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

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
    def __len__(self) -> int: ...
    def _repr_html_(self) -> str: ...

class Event:
    kind: str
    channel: Literal["water", "beverage"]
    start_s: float
    end_s: float
    size_g: float
    samples: int
    action: str

class ChannelTrace:
    mass_g: _Array
    flag: NDArray[np.str_]
    noise_sd_g: Estimate
    step_g: float
    drift_g_per_s: Estimate

class Trace:
    time_s: _Array
    log_index: NDArray[np.uintp]
    rate_hz: float
    water: ChannelTrace | None
    beverage: ChannelTrace | None
    events: list[Event]
    brew_start_s: float
    scale_lag_s: Estimate | None
    meta: Meta
    def __len__(self) -> int: ...

class Flow:
    def __len__(self) -> int: ...

class Stream:
    def __new__(
        cls,
        flow_g_per_s: float | Estimate,
        spout_bore_m: float | Estimate,
        fall_height_m: float | Estimate,
        water_c: float,
    ) -> Stream: ...

class BedCurve:
    def __len__(self) -> int: ...

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
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

class Brew:
    pours: list[Pour]
    rests: list[Rest]
    segments: Segments
    trace: Trace
    flow: Flow | None
    water_g: Estimate | Undefined
    beverage_g: Estimate | Undefined
    metrics: Metrics
    agitation: Agitation | None
    bed: Bed
    extraction: Extraction
    events: list[Event]
    meta: Meta
    warnings: list[str]
    labelled: Labelled | None
    log_digest: str | None
    options: Options
    version: str
    def table(self) -> Table: ...
    def to_json(self) -> str: ...
    @staticmethod
    def from_json(text: str) -> Brew: ...
    def _repr_html_(self) -> str: ...

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
    pours: list[tuple[float, float]]
    sd_s: float
    by: str | None
    note: str | None
    log_digest: str | None
    def moved(self, pour: int, start_s: float | None = None, end_s: float | None = None) -> Labels: ...
    def added(self, start_s: float, end_s: float) -> Labels: ...
    def removed(self, pour: int) -> Labels: ...
    def to_json(self) -> str: ...
    def write(self, path: str | PathLike[str], overwrite: bool = False) -> None: ...
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

class Labelled:
    labels: Labels
    by_hand: list[str]
    added: list[int]
    removed: int
    warnings: list[str]
    def table(self) -> Table: ...

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
    start_s: float
    start_within_s: float
    mass_g: float
    mass_within_g: float
    flow_g_per_s: float | None
    flow_within_g_per_s: float
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

class Live:
    def __new__(cls, *, options: Options | None = None, keep_log: bool = True, **meta: Any) -> Live: ...
    def push(self, time_s: float, water_g: float | None, beverage_g: float | None = None) -> LiveState: ...
    def extend(
        self, time_s: ArrayLike, water_g: ArrayLike, beverage_g: ArrayLike | None = None
    ) -> LiveState | None: ...
    def log(self) -> Log: ...
    def finish(self) -> Brew: ...
    def __len__(self) -> int: ...

class LiveState:
    time_s: float
    flag: Literal["used", "after_gap", "missing", "late", "off"]
    water_g: Estimate
    flow_g_per_s: Estimate
    state: Literal["pouring", "rest"]
    pour: int | None
    start_s: float | None
    mass_g: float | None
    poured_g: float
    began: float | None
    ended: float | None
    withdrawn: float | None
    provisional: bool

class Plan:
    def __new__(cls, name: str, pours: Sequence[PlannedPour]) -> Plan: ...
    @staticmethod
    def read(path: str | PathLike[str]) -> Plan: ...
    @staticmethod
    def parse(text: str) -> Plan: ...
    name: str
    pours: list[PlannedPour]
    def follow(self, brew: Brew) -> PlanResult: ...
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

class PlannedPourResult:
    planned: PlannedPour
    pour: int | None
    start_s: Estimate | Undefined
    mass_g: Estimate | Undefined
    flow_g_per_s: Estimate | Undefined
    start_deviation_s: Estimate | Undefined
    mass_deviation_g: Estimate | Undefined
    flow_deviation_g_per_s: Estimate | Undefined
    start_within_tolerance: _WithinTolerance | None
    mass_within_tolerance: _WithinTolerance | None
    flow_within_tolerance: _WithinTolerance | None

class ExtraPour:
    pour: int
    start_s: Estimate | Undefined
    mass_g: Estimate

class PlanResult:
    plan: str
    meta: Meta
    zero_s: Estimate | Undefined
    pours: list[PlannedPourResult]
    extra: list[ExtraPour]
    missed: list[int]
    score: Estimate
    work_on: str
    def table(self) -> Table: ...
    def to_json(self) -> str: ...
    def _repr_html_(self) -> str: ...

class ProgressDay:
    day: int
    brews: int
    mean: float

class Progress:
    days: list[ProgressDay]
    left_out: int
    slope_per_day: Estimate | Undefined
    interval_per_day: tuple[float, float] | None
    level: float
    says: str
    def table(self) -> Table: ...

def progress(brews: Iterable[tuple[int | date, PlanResult | _Number]], level: float = 0.95) -> Progress: ...

class LoadStep:
    at_s: Estimate
    mass_g: Estimate
    lag_s: Estimate

class Calibration:
    scale_lag_s: Estimate
    noise_sd_g: Estimate
    step_g: float
    steps: list[LoadStep]

class TruePour:
    start_s: float
    end_s: float
    half_rise_s: float
    half_fall_s: float
    mass_g: float
    mean_flow_g_per_s: float
    median_flow_g_per_s: float
    plateau_start_s: float
    plateau_end_s: float
    flow_cv: float
    def to_dict(self) -> dict[str, float]: ...

def profile(brews: Iterable[Brew], **options: Any) -> Profile: ...
def distance(one: Brew, other: Brew) -> Distance: ...

class Study:
    def __new__(cls, table: ArrowStream) -> Study: ...
    def levels(self, factor: str) -> list[str]: ...
    def only(self, **levels: object) -> Study: ...
    def take(self, measure: str, *factors: str) -> Table: ...
    def missing(self, measure: str, *factors: str) -> Table: ...
    def design(self, first: str, second: str) -> Design: ...

class Comparison:
    def groups_table(self) -> Table: ...
    def values_table(self) -> Table: ...
    def missing_table(self) -> Table: ...

class Truth:
    pours: list[TruePour]
    brew_start_s: float
    time_s: _Array
    flow_g_per_s: _Array
    water_g: _Array
    beverage_g: _Array
    scale_lag_s: float
    noise_sd_g: float
    dose_g: float
    retention_g_per_g: float
    beverage_end_s: float | None
    events: list[Event]

class Errors:
    error: _Array
    sd: _Array
    def bias(self) -> float: ...
    def mean_absolute(self) -> float: ...
    def rms(self) -> float: ...
    def within_2_sd(self) -> float: ...
    def __len__(self) -> int: ...

class Score:
    brews: int
    true_pours: int
    found_pours: int
    matched: int
    missed: int
    false_pours: int
    start_s: Errors
    end_s: Errors
    half_rise_s: Errors
    half_fall_s: Errors
    mass_g: Errors
    mean_flow_g_per_s: Errors
    flow_g_per_s: Errors
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

class DialLine:
    def at(self, setting: float) -> Estimate: ...
    def confidence(self, setting: float, level: float = 0.95) -> tuple[float, float]: ...
    def prediction(self, setting: float, level: float = 0.95) -> tuple[float, float]: ...

class Monotone:
    def at(self, setting: float) -> float: ...
    def confidence(self, setting: float, level: float = 0.95) -> tuple[float, float]: ...

class SettingInterval:
    shape: Literal["between", "outside", "at_least", "at_most", "anywhere"]
    ends: tuple[float, float]
    def __contains__(self, setting: float) -> bool: ...

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
    document: str
    strength_pct: tuple[float, float]
    yield_pct: tuple[float, float]
    coffee_g_per_l: tuple[float, float] | None
    def place(self, strength_pct: _Number, yield_pct: _Number) -> Place | Undefined: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

class Place:
    strength: Literal["below", "within", "above"]
    extraction: Literal["below", "within", "above"]
    strength_within: float
    yield_within: float

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
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str: ...

class Repeatability:
    values: list[float]

def repeatability(data: _Data, *, by: _Labels, measure: str | None = None) -> Repeatability: ...
def icc(data: _Data, *, subjects: _Labels, raters: _Labels, measure: str | None = None) -> Icc: ...
def crossed(data: _Data, *, rows: _Labels, columns: _Labels, measure: str | None = None) -> Crossed: ...
def agreement(
    first: Iterable[_Number] | str, second: Iterable[_Number] | str, *, study: _Study | None = None
) -> Agreement: ...
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

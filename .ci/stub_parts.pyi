"""The head of the stub, and what no list in Rust has: methods, functions, and properties as `name: type`.

The first line of each doc is that of the compiled module; docs here are only those of names that the module looks up.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from os import PathLike
from pathlib import Path
from typing import Any, Literal, TypeAlias, TypedDict, final, overload

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import ArrayLike, NDArray
from pandas import DataFrame
from typing_extensions import Unpack

from ._io.arrow import ArrowStream
from .errors import PourlineError
from .tables import Table

__version__: str
# Class, its properties with their types; class, its rows (name, sentence, unit, formula, validity, reference); ends of
# names, units.
_types: list[tuple[str, list[tuple[str, str]]]]
_rows: list[tuple[str, list[str]]]
_units: list[tuple[str, str]]

_Array: TypeAlias = NDArray[np.float64]
_Missing: TypeAlias = Literal["refuse", "flag"]
_Source: TypeAlias = Log | str | PathLike[str] | bytes | ArrowStream | Mapping[str, ArrayLike]
# Keywords, so that a misspelt one is found before the program runs.
_Condition = TypedDict(
    "_Condition",
    {
        "brew_gap_s": float,
        "gap_s": float,
        "max_flow_g_per_s": float,
        "noise_sd_g": float | None,
        "scale": ScaleResponse | Calibration | str | PathLike[str] | Mapping[str, Any] | None,
        "scale_lag_s": float | None,
        "scale_lag_sd_s": float,
        "zeroing_starts_brew": bool,
    },
    total=False,
)
_Segment = TypedDict(
    "_Segment",
    {
        "flow_g_per_s": float,
        "half": float,
        "mass_g": float,
        "pause_s": float,
        "ramp_s": float,
        "ramp_sd_s": float,
        "stream_lead_s": float | None,
    },
    total=False,
)
_Metrics = TypedDict(
    "_Metrics",
    {
        "false_alarm": float,
        "fastest_hz": float,
        "near": float,
        "pause_flow_g_per_s": float,
        "plateau_inset_s": float,
    },
    total=False,
)
_Agitation = TypedDict(
    "_Agitation",
    {
        "above_g_per_s": float,
        "fall_height_m": float | None,
        "fall_height_sd_m": float | None,
        "spout_bore_m": float | None,
        "spout_bore_sd_m": float | None,
    },
    total=False,
)
_Bed = TypedDict(
    "_Bed",
    {
        "beverage_lag_s": float | None,
        "cooling_k": float,
        "drip_g": float,
        "drip_g_per_s": float,
        "flat_bed": Mapping[str, float] | None,
        "pour_c": Sequence[float],
        "standing_g": float,
        "transit_s": float,
        "vessel_exponent": float | None,
    },
    total=False,
)
_Extraction = TypedDict(
    "_Extraction",
    {
        "average_beverage_g": float | None,
        "brix_factor": float | None,
        "brix_factor_sd": float,
        "bypass_g": float | None,
        "bypass_sd_g": float,
        "co2_pct": float | None,
        "co2_sd_pct": float,
        "convention": Literal["percolation", "immersion"],
        "dose_sd_g": float,
        "evaporated_g": float,
        "evaporated_sd_g": float,
        "moisture_pct": float | None,
        "moisture_sd_pct": float,
        "retention_g_per_g": float | None,
        "retention_sd_g_per_g": float,
        "tds_after_bypass": bool,
        "tds_sd_pct": float,
    },
    total=False,
)
_Stages = TypedDict(
    "_Stages",
    {
        "condition": _Condition,
        "segment": _Segment,
        "metrics": _Metrics,
        "agitation": _Agitation,
        "bed": _Bed,
        "extraction": _Extraction,
    },
    total=False,
)
_Calibrate = TypedDict("_Calibrate", {"least_step_g": float, "masses_g": Sequence[float]}, total=False)
_Profile = TypedDict(
    "_Profile",
    {
        "align": Literal["landmarks", "start"],
        "axis": Literal["time", "water"],
        "level": float,
        "step_g": float,
        "step_s": float,
    },
    total=False,
)
_Contrast = TypedDict(
    "_Contrast",
    {
        "average_repeats": bool,
        "draws": int,
        "exact_up_to": int,
        "level": float,
        "margin": float | None,
        "measures": int,
        "over": Sequence[str] | None,
        "power": float,
        "seed": int,
    },
    total=False,
)
_Meta = TypedDict(
    "_Meta",
    {
        "dose_g": float | None,
        "dose_sd_g": float | None,
        "tds_pct": float | None,
        "tds_sd_pct": float | None,
        "brix_pct": float | None,
        "brix_sd_pct": float | None,
        "water_c": float | None,
        "name": str | float | None,
        "coffee": str | float | None,
        "roast": str | float | None,
        "grinder": str | float | None,
        "grinder_setting": str | float | None,
        "kettle": str | float | None,
        "brewer": str | float | None,
        "person": str | float | None,
        "device": str | float | None,
        "note": str | float | None,
        "started_at": str | None,
        "factors": Mapping[str, str],
    },
    total=False,
)
_Options: TypeAlias = Options | _Stages
_Number: TypeAlias = float | Estimate | Undefined
_Mass: TypeAlias = _Number | None
_Study: TypeAlias = Study | Iterable[Brew | PourlineError] | ArrowStream
_Data: TypeAlias = _Study | Iterable[_Number]
_Labels: TypeAlias = str | Iterable[object]

class Estimate:
    def __new__(cls, value: float, sd: float = 0.0) -> Estimate: ...
    value: float
    sd: float
    def __lt__(self, other: float | Estimate, /) -> bool: ...
    def __le__(self, other: float | Estimate, /) -> bool: ...
    def __gt__(self, other: float | Estimate, /) -> bool: ...
    def __ge__(self, other: float | Estimate, /) -> bool: ...
    def __add__(self, other: float, /) -> Estimate: ...
    def __radd__(self, other: float, /) -> Estimate: ...
    def __sub__(self, other: float, /) -> Estimate: ...
    def __rsub__(self, other: float, /) -> Estimate: ...
    def __mul__(self, other: float, /) -> Estimate: ...
    def __rmul__(self, other: float, /) -> Estimate: ...
    def __truediv__(self, other: float, /) -> Estimate: ...
    def __neg__(self) -> Estimate: ...
    def __pos__(self) -> Estimate: ...
    def __abs__(self) -> Estimate: ...
    def __round__(self, ndigits: int | None = None, /) -> Estimate: ...

class Undefined:
    def __new__(cls, reason: str) -> Undefined: ...
    reason: str
    def __bool__(self) -> Literal[False]: ...

class Meta:
    _known: str
    def __new__(cls, **fields: Unpack[_Meta]) -> Meta: ...
    def to_dict(self) -> dict[str, Any]: ...

class Log:
    def __new__(
        cls,
        time_s: ArrayLike | ArrowStream | Mapping[str, ArrayLike],
        water_g: ArrayLike | None = None,
        beverage_g: ArrayLike | None = None,
        *,
        missing: _Missing = "refuse",
        **meta: Unpack[_Meta],
    ) -> Log: ...
    time_s: _Array
    water_g: _Array | None
    beverage_g: _Array | None
    meta: Meta
    notes: list[str]
    digest: str

class Trace:
    log_index: NDArray[np.uintp]

class Flow:
    def sample(self, n: int = 100, seed: int = 0) -> _Array: ...
    def spectrum(self, pour: Pour) -> FlowSpectrum | Undefined: ...
    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]: ...

class Segments:
    def regimes(self) -> Table: ...

class Covariance:
    def matrix(self) -> _Array: ...
    def entry(self, one: str, other: str) -> float: ...

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
        condition: _Condition | None = None,
        segment: _Segment | None = None,
        metrics: _Metrics | None = None,
        agitation: _Agitation | None = None,
        bed: _Bed | None = None,
        extraction: _Extraction | None = None,
    ) -> Options: ...
    def to_dict(self) -> _Stages: ...
    def changed(self) -> _Stages: ...

class Brew:
    _brief: list[list[tuple[str, str]]]
    _brief_heads: list[str]
    _in_brief: list[str | None]
    _further: list[str]
    _uncertainty: list[str]
    _samples: list[str]
    _totals: list[tuple[str, str, str]]
    def __iter__(self) -> Iterator[Pour]: ...
    @overload
    def __getitem__(self, place: int, /) -> Pour: ...
    @overload
    def __getitem__(self, place: slice, /) -> list[Pour]: ...
    def table(self, all: bool = False) -> Table: ...
    def events_table(self) -> Table: ...
    def to_pandas(self, all: bool = False) -> DataFrame: ...
    def to_dict(self) -> dict[str, Any]: ...
    def summary(self) -> str: ...
    def plot(
        self,
        ax: Mapping[str, Axes] | Iterable[Axes] | Axes | None = None,
        figsize: tuple[float, float] | None = None,
    ) -> dict[str, Axes]: ...
    def report(self, path: str | PathLike[str], title: str | None = None) -> Path: ...
    def _overview(self, name: str) -> str: ...
    @staticmethod
    def from_json(text: str) -> Brew: ...

class ScaleResponse:
    @staticmethod
    def lag(lag_s: float, delay_sd_s: float = 0.0) -> ScaleResponse: ...
    @staticmethod
    def average(average_s: float, delay_sd_s: float = 0.0) -> ScaleResponse: ...
    def shown(self, after_s: float) -> float: ...

class Calibration:
    def to_toml(self) -> str: ...
    def resolution(self) -> ScaleResolution: ...
    def plot(self, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes, Axes]: ...
    @staticmethod
    def parse(text: str) -> Calibration: ...
    @staticmethod
    def read(path: str | PathLike[str]) -> Calibration: ...

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
        time_near_plateau_pct: float | None = None,
        time_near_plateau_within_pct: float = 10.0,
        pauses: float | None = None,
    ) -> PlannedPour: ...

class Live:
    def __new__(cls, *, options: _Options | None = None, keep_log: bool = True, **meta: Unpack[_Meta]) -> Live: ...
    def push(self, time_s: float, water_g: float | None, beverage_g: float | None = None) -> LiveState: ...
    def extend(
        self, time_s: ArrayLike, water_g: ArrayLike, beverage_g: ArrayLike | None = None
    ) -> LiveState | None: ...
    def log(self) -> Log: ...
    def finish(self) -> Brew: ...

class Plan:
    def __new__(cls, name: str, pours: Sequence[PlannedPour]) -> Plan: ...
    @staticmethod
    def read(path: str | PathLike[str]) -> Plan: ...
    @staticmethod
    def parse(text: str) -> Plan: ...
    name: str
    pours: list[PlannedPour]
    def follow(self, brew: Brew) -> PlanResult: ...

def habits(results: Sequence[PlanResult]) -> list[Habit]: ...
def progress(
    brews: Iterable[tuple[int | date, PlanResult | _Number]],
    level: float = 0.95,
    changes: dict[int, str] | dict[date, str] | None = None,
) -> Progress: ...
def control_chart(
    brews: Iterable[tuple[int | date, PlanResult | _Number]],
    baseline: int | None = None,
    sd: float | None = None,
    weight: float = 0.2,
) -> ControlChart: ...

class TruePour:
    def to_dict(self) -> dict[str, float]: ...

def profile(brews: Iterable[Brew], **options: Unpack[_Profile]) -> Profile: ...
def profile_difference(
    groups: dict[str, list[Brew]], blocks: str | Sequence[str] | None = None, **options: Unpack[_Profile]
) -> ProfileDifference: ...
def distance(one: Brew, other: Brew) -> Distance: ...

class Study:
    def __new__(cls, table: ArrowStream) -> Study: ...
    def levels(self, factor: str) -> list[str]: ...
    def to_pandas(self) -> DataFrame: ...
    def only(self, **levels: object) -> Study: ...
    def take(self, measure: str, *factors: str) -> Table: ...
    def missing(self, measure: str, *factors: str) -> Table: ...
    def design(self, first: str, second: str) -> Design: ...

class Comparison:
    def groups_table(self) -> Table: ...
    def values_table(self) -> Table: ...
    def missing_table(self) -> Table: ...

class Errors:
    def bias(self) -> float: ...
    def mean_absolute(self) -> float: ...
    def rms(self) -> float: ...
    def within_2_sd(self) -> float: ...

class Score:
    def f1_edges(self, tolerance_s: float) -> float: ...
    def f1_halves(self, tolerance_s: float) -> float: ...
    def __add__(self, other: Score, /) -> Score: ...

def read(
    source: str | PathLike[str] | bytes | ArrowStream | Mapping[str, ArrayLike],
    *,
    time: str | int | None = None,
    water: str | int | None = None,
    beverage: str | int | None = None,
    time_unit: Literal["s", "ms", "us", "ns", "min"] | None = None,
    mass_unit: Literal["g", "kg", "mg", "oz"] | None = None,
    missing: _Missing = "refuse",
    **meta: Unpack[_Meta],
) -> Log: ...

class _Rules:
    def __new__(cls, text: str) -> _Rules: ...
    patterns: list[str]
    def rule_for(self, file_name: str) -> tuple[int, bool, dict[str, Any]] | None: ...

def calibrate(log: Log, **options: Unpack[_Calibrate]) -> Calibration: ...
def condition(log: Log, **options: Unpack[_Condition]) -> Trace: ...
def split(log: Log, **options: Unpack[_Condition]) -> list[Log]: ...
def analyze_all(log: Log, options: _Options | None = None) -> list[Brew]: ...
def segment(trace: Trace, **options: Unpack[_Segment]) -> Segments: ...
def flow(trace: Trace, segments: Segments) -> Flow: ...
def compare(
    study: Study | Iterable[Brew | PourlineError] | ArrowStream,
    measure: str,
    by: str,
    blocks: str | Sequence[str] | None = None,
    pours: Literal["mean", "each"] | int | None = None,
    **options: Unpack[_Contrast],
) -> Comparison: ...
def gather(
    brews: Iterable[Brew | PourlineError],
    pours: Literal["mean", "each"] | int | None = None,
    with_warnings: Literal["keep", "drop"] = "keep",
) -> Study: ...
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
def metrics(trace: Trace, segments: Segments, **options: Unpack[_Metrics]) -> Metrics: ...
def agitation(trace: Trace, segments: Segments, flow: Flow, **options: Unpack[_Agitation]) -> Agitation: ...
def bed(
    trace: Trace,
    segments: Segments,
    flow: Flow | None = None,
    *,
    extraction: _Extraction | None = None,
    **options: Unpack[_Bed],
) -> Bed: ...
def extraction(
    meta: Meta, water_g: _Mass = None, beverage_g: _Mass = None, **options: Unpack[_Extraction]
) -> Extraction: ...
def analyze(log: _Source, options: _Options | None = None, labels: Labels | None = None) -> Brew: ...
def analyze_each(
    logs: Iterable[_Source | PourlineError] | str | PathLike[str],
    options: _Options | None = None,
    *,
    threads: int | None = None,
) -> Iterator[Brew | PourlineError]: ...
def analyze_many(
    logs: Iterable[_Source | PourlineError] | str | PathLike[str],
    options: _Options | None = None,
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
    **options: Unpack[_Contrast],
) -> Contrasts: ...
def equivalence(difference: _Number, degrees: float, margin: float, level: float = 0.95) -> Equivalence: ...
def sample_size(
    difference: float,
    sd: float,
    power: float = 0.8,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> int: ...
def minimum_detectable_difference(
    brews: int,
    sd: float,
    power: float = 0.8,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> float: ...
def power(
    difference: float,
    sd: float,
    brews: int,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> float: ...
def power_curve(
    difference: float,
    sd: _Number,
    power: float = 0.8,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> PowerCurve: ...

class Schedule:
    def to_csv(self) -> str: ...

def design(factors: Mapping[str, int | Sequence[str]], repeats: int = 1, days: int = 1, seed: int = 0) -> Schedule: ...

"""The compiled module: logs, the stages as functions, and their results as frozen values. Written by `make columns`."""

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

@final
class Estimate:
    """A number and its standard deviation, in the same unit."""

    def __new__(cls, value: float, sd: float = 0.0) -> Estimate: ...
    @property
    def value(self) -> float:
        """The value."""
    @property
    def sd(self) -> float:
        """Its standard deviation; 0 for a number taken as exact."""
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
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Undefined:
    """An undefined number with its reason. It is falsy, and `float()` of it raises an error with the reason."""

    def __new__(cls, reason: str) -> Undefined: ...
    @property
    def reason(self) -> str:
        """The reason, as a sentence."""
    def __bool__(self) -> Literal[False]: ...
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Log:
    """The timestamped weights of one brew as logged: time in s, mass in g."""

    def __new__(
        cls,
        time_s: ArrayLike | ArrowStream | Mapping[str, ArrayLike],
        water_g: ArrayLike | None = None,
        beverage_g: ArrayLike | None = None,
        *,
        missing: _Missing = "refuse",
        **meta: Unpack[_Meta],
    ) -> Log: ...
    @property
    def time_s(self) -> _Array:
        """Stamps in s, as logged."""
    @property
    def water_g(self) -> _Array | None:
        """Reading of the scale under the brewer, g; None if the water was not weighed."""
    @property
    def beverage_g(self) -> _Array | None:
        """Reading of the scale under the server alone, g; None if the beverage was not weighed."""
    @property
    def meta(self) -> Meta:
        """Metadata of the brew."""
    @property
    def notes(self) -> list[str]:
        """How the file was read, each a sentence without its full stop; empty if the file states all of it, and for arrays."""
    @property
    def digest(self) -> str:
        """SHA-256 of the samples, as 64 hexadecimal digits: independent of the file format."""
    def __len__(self) -> int: ...
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Options:
    """Options of all stages; missing ones have their default."""

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
    def to_dict(self) -> _Stages:
        """All options with their values: a dict of six dicts."""
    def changed(self) -> _Stages:
        """The options that are not at their default: a dict of dicts."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Live:
    """A brew during pouring: takes each sample in turn and returns flow, water and state."""

    def __new__(cls, *, options: _Options | None = None, keep_log: bool = True, **meta: Unpack[_Meta]) -> Live: ...
    def push(self, time_s: float, water_g: float | None, beverage_g: float | None = None) -> LiveState:
        """Takes in a sample: stamp in s, readings in g, None or NaN for a missing one."""
    def extend(self, time_s: ArrayLike, water_g: ArrayLike, beverage_g: ArrayLike | None = None) -> LiveState | None:
        """Takes in columns of samples, in order; returns the state at the last, None if they are empty."""
    def log(self) -> Log:
        """The samples so far as a log."""
    def finish(self) -> Brew:
        """The brew so far, with all stages: the result of `analyze` for the log. More samples may follow."""
    def __len__(self) -> int: ...

@final
class Plan:
    """The planned pours of a brew: built in code, or read from a TOML file."""

    def __new__(cls, name: str, pours: Sequence[PlannedPour]) -> Plan: ...
    @staticmethod
    def read(path: str | PathLike[str]) -> Plan:
        """Reads a plan from a TOML file; without a name it has that of its file."""
    @staticmethod
    def parse(text: str) -> Plan:
        """Reads a plan from a TOML text."""
    @property
    def name(self) -> str:
        """Its name; empty if it has none."""
    @property
    def pours(self) -> list[PlannedPour]:
        """Its pours, in order."""
    def follow(self, brew: Brew) -> PlanResult:
        """Compares a brew with the plan."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class _Rules:
    """The rules of a folder. `text` is that of `rules.toml`."""

    def __new__(cls, text: str) -> _Rules: ...
    @property
    def patterns(self) -> list[str]:
        """The patterns of the rules, in their order."""
    def rule_for(self, file_name: str) -> tuple[int, bool, dict[str, Any]] | None:
        """The place of the rule for this `file_name`, whether it leaves the file out, and the keywords for `read`; or None."""

@final
class SettingInterval:
    """Confidence set of a setting; `setting in interval` tests one."""

    @property
    def shape(self) -> Literal["between", "outside", "at_least", "at_most", "anywhere"]:
        """Shape: `between`, `outside` (all settings except a gap), `at_least`, `at_most` or `anywhere`."""
    @property
    def ends(self) -> tuple[float, float]:
        """Both ends, infinite if there is none; for `outside`, the ends of the gap."""
    def __contains__(self, setting: float) -> bool: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Pour:
    """One pour. Times are those at the bed, corrected for the scale's delay."""

    @property
    def start_s(self) -> Estimate:
        """First instant at which the flow at the bed passes 0.5 g/s, s."""
    @property
    def end_s(self) -> Estimate:
        """Last instant at which the flow at the bed passes 0.5 g/s, s."""
    @property
    def half_rise_s(self) -> Estimate | Undefined:
        """First instant at half of the pour's mean flow, s."""
    @property
    def half_fall_s(self) -> Estimate | Undefined:
        """Last instant at half of the pour's mean flow, s."""
    @property
    def mass_g(self) -> Estimate:
        """Water that arrived in the pour, g."""
    @property
    def mean_flow_g_per_s(self) -> Estimate:
        """Mean flow of the pour, g/s."""
    @property
    def duration_s(self) -> Estimate:
        """Time from start to end, s."""
    @property
    def flow_regimes(self) -> list[FlowRegime]:
        """Stretches of different flow in a pour that goes on, in order; one if the level of the flow does not change."""
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...
    @property
    def rest_before_s(self) -> Estimate | Undefined:
        """Rest before the pour, s."""
    @property
    def water_share_pct(self) -> Estimate | Undefined:
        """Share of the brew's water that the pour brings, percent."""
    @property
    def plateau_flow_g_per_s(self) -> Estimate | Undefined:
        """Mean over time of the flow on the plateau, g/s."""
    @property
    def peak_flow_g_per_s(self) -> Estimate | Undefined:
        """Highest flow, g/s."""
    @property
    def peak_s(self) -> Estimate | Undefined:
        """Instant of the highest flow, s."""
    @property
    def rise_s(self) -> Estimate | Undefined:
        """Time from 10 to 90 % of the pour's mean flow, s."""
    @property
    def fall_s(self) -> Estimate | Undefined:
        """Time from 90 to 10 % of the pour's mean flow, s."""
    @property
    def time_near_plateau_pct(self) -> Estimate | Undefined:
        """Share of the plateau's time at which the flow is near the plateau flow, percent; larger is steadier."""
    @property
    def first_half_water_pct(self) -> Estimate | Undefined:
        """Water of the first half of the pour's time, percent of its mass; 50 is even, more is early."""
    @property
    def flow_cv(self) -> Estimate | Undefined:
        """Coefficient of variation of the flow on the plateau over time, corrected for the scale's noise; 0 is even."""
    @property
    def flow_cv_resolved(self) -> bool:
        """Whether flow_cv is distinguishable from 0."""
    @property
    def flow_cv_upper(self) -> Estimate | Undefined:
        """Upper 97.5 % bound of flow_cv for each kind of hand up to 2.5 Hz."""
    @property
    def flow_cv_seen_upper(self) -> Estimate | Undefined:
        """Upper 97.5 % bound of flow_cv for each kind of hand up to resolved_to_hz."""
    @property
    def flow_cv_trend(self) -> Estimate | Undefined:
        """Part of flow_cv that is a straight line over time."""
    @property
    def flow_cv_slow(self) -> Estimate | Undefined:
        """Part of flow_cv below 0.25 Hz, the straight line taken out."""
    @property
    def flow_cv_fast(self) -> Estimate | Undefined:
        """Part of flow_cv from 0.25 Hz to resolved_to_hz."""
    @property
    def flow_cv_unseen(self) -> Estimate | Undefined:
        """Part of flow_cv beyond resolved_to_hz, mostly from the prior."""
    @property
    def resolved_to_hz(self) -> Estimate | Undefined:
        """Highest frequency of the flow that the readings of the plateau resolve, Hz."""
    @property
    def pulse_mass_cv(self) -> Estimate | Undefined:
        """Coefficient of variation of the masses of the pulses of the pour; 0 if all are alike."""
    @property
    def drift_g_per_s2(self) -> Estimate | Undefined:
        """Slope of the flow on the plateau, g/s2."""
    @property
    def pulsing_hz(self) -> Estimate | Undefined:
        """Frequency of the strongest oscillation of the flow, Hz."""
    @property
    def pulsing_amplitude_g_per_s(self) -> Estimate | Undefined:
        """Amplitude of the strongest oscillation, g/s."""
    @property
    def pulsing_amplitude_pct(self) -> Estimate | Undefined:
        """Amplitude of the strongest oscillation in percent of the pour's mean flow."""
    @property
    def pulsing_p(self) -> Estimate | Undefined:
        """False-alarm probability: that noise alone gives an oscillation as strong in the band, 0 to 1."""
    @property
    def smoothness(self) -> Estimate | Undefined:
        """Spectral arc length of the flow: near -1.4 for one even rise and fall, lower for each one more."""
    @property
    def pauses(self) -> Estimate | Undefined:
        """Number of pauses in the pour: the posterior mean."""
    @property
    def paused_s(self) -> Estimate | Undefined:
        """Time without water in the pour, s."""
    @property
    def flow_impulse_g2_per_s(self) -> Estimate | Undefined:
        """Integral of the squared flow, g2/s."""
    @property
    def mass_weighted_flow_g_per_s(self) -> Estimate | Undefined:
        """Mean flow, weighted by mass, g/s."""
    @property
    def peak_to_mean_flow(self) -> Estimate | Undefined:
        """Largest flow over mean flow."""
    @property
    def time_above_s(self) -> Estimate | Undefined:
        """Time at a flow above `above_g_per_s` of the options (5 g/s), s."""
    @property
    def stream(self) -> Stream:
        """The stream at the bed: a `Stream`."""
    @property
    def speed_source(self) -> Literal["stated", "scale"] | None:
        """Source of the stream's speed: `stated`, `scale` (its force on the scale), or absent if it is undefined."""
    @property
    def energy_j(self) -> Estimate | Undefined:
        """Energy of the water at the bed, J."""
    @property
    def energy_j_per_g(self) -> Estimate | Undefined:
        """Energy of the water at the bed per gram of dose, J/g."""
    @property
    def mixing_time_s(self) -> Estimate | Undefined:
        """Time for which the stream arrived likely unbroken, s."""
    @property
    def swirls(self) -> int:
        """Swirls of the vessel on the scale until the next pour; a stir looks the same."""
    @property
    def lifts(self) -> int:
        """Lifts of the vessel off the scale and back until the next pour."""
    @property
    def knocks(self) -> int:
        """Knocks until the next pour."""
    @property
    def splashes(self) -> int:
        """Splashes of water too small for a pour until the next pour."""
    @property
    def holdup_at_start_g(self) -> Estimate | Undefined:
        """Holdup when the pour starts, g."""
    @property
    def drained_fraction_before(self) -> Estimate | Undefined:
        """Fraction of the water poured before that is collected when the pour starts, 0 to 1."""
    @property
    def drawdown_end_s(self) -> Estimate | Undefined:
        """Instant from which the beverage's flow stays under 0.1 g/s after the pour, s."""
    @property
    def drawdown_s(self) -> Estimate | Undefined:
        """From the end of the pour until the beverage stays under 0.1 g/s, s."""
    @property
    def conductance_g_per_s(self) -> Estimate | Undefined:
        """Flow through the bed with 50 g standing in it (`standing_g` of the options), g/s."""
    @property
    def conductance_ratio(self) -> Estimate | Undefined:
        """Conductance over that after the previous pour, at one viscosity."""
    @property
    def permeability_m2(self) -> Estimate | Undefined:
        """Permeability of the bed by Darcy's law, if its size is given, m2."""

@final
class PourMetrics:
    """Flow metrics of one pour."""

    @property
    def rest_before_s(self) -> Estimate | Undefined:
        """Rest before the pour, s."""
    @property
    def water_share_pct(self) -> Estimate | Undefined:
        """Share of the brew's water that the pour brings, percent."""
    @property
    def plateau_flow_g_per_s(self) -> Estimate | Undefined:
        """Mean over time of the flow on the plateau, g/s."""
    @property
    def peak_flow_g_per_s(self) -> Estimate | Undefined:
        """Highest flow, g/s."""
    @property
    def peak_s(self) -> Estimate | Undefined:
        """Instant of the highest flow, s."""
    @property
    def rise_s(self) -> Estimate | Undefined:
        """Time from 10 to 90 % of the pour's mean flow, s."""
    @property
    def fall_s(self) -> Estimate | Undefined:
        """Time from 90 to 10 % of the pour's mean flow, s."""
    @property
    def time_near_plateau_pct(self) -> Estimate | Undefined:
        """Share of the plateau's time at which the flow is near the plateau flow, percent; larger is steadier."""
    @property
    def first_half_water_pct(self) -> Estimate | Undefined:
        """Water of the first half of the pour's time, percent of its mass; 50 is even, more is early."""
    @property
    def flow_cv(self) -> Estimate | Undefined:
        """Coefficient of variation of the flow on the plateau over time, corrected for the scale's noise; 0 is even."""
    @property
    def flow_cv_resolved(self) -> bool:
        """Whether flow_cv is distinguishable from 0."""
    @property
    def flow_cv_upper(self) -> Estimate | Undefined:
        """Upper 97.5 % bound of flow_cv for each kind of hand up to 2.5 Hz."""
    @property
    def flow_cv_seen_upper(self) -> Estimate | Undefined:
        """Upper 97.5 % bound of flow_cv for each kind of hand up to resolved_to_hz."""
    @property
    def flow_cv_trend(self) -> Estimate | Undefined:
        """Part of flow_cv that is a straight line over time."""
    @property
    def flow_cv_slow(self) -> Estimate | Undefined:
        """Part of flow_cv below 0.25 Hz, the straight line taken out."""
    @property
    def flow_cv_fast(self) -> Estimate | Undefined:
        """Part of flow_cv from 0.25 Hz to resolved_to_hz."""
    @property
    def flow_cv_unseen(self) -> Estimate | Undefined:
        """Part of flow_cv beyond resolved_to_hz, mostly from the prior."""
    @property
    def resolved_to_hz(self) -> Estimate | Undefined:
        """Highest frequency of the flow that the readings of the plateau resolve, Hz."""
    @property
    def pulse_mass_cv(self) -> Estimate | Undefined:
        """Coefficient of variation of the masses of the pulses of the pour; 0 if all are alike."""
    @property
    def drift_g_per_s2(self) -> Estimate | Undefined:
        """Slope of the flow on the plateau, g/s2."""
    @property
    def pulsing_hz(self) -> Estimate | Undefined:
        """Frequency of the strongest oscillation of the flow, Hz."""
    @property
    def pulsing_amplitude_g_per_s(self) -> Estimate | Undefined:
        """Amplitude of the strongest oscillation, g/s."""
    @property
    def pulsing_amplitude_pct(self) -> Estimate | Undefined:
        """Amplitude of the strongest oscillation in percent of the pour's mean flow."""
    @property
    def pulsing_p(self) -> Estimate | Undefined:
        """False-alarm probability: that noise alone gives an oscillation as strong in the band, 0 to 1."""
    @property
    def smoothness(self) -> Estimate | Undefined:
        """Spectral arc length of the flow: near -1.4 for one even rise and fall, lower for each one more."""
    @property
    def pauses(self) -> Estimate | Undefined:
        """Number of pauses in the pour: the posterior mean."""
    @property
    def paused_s(self) -> Estimate | Undefined:
        """Time without water in the pour, s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class PourAgitation:
    """Ordinal proxies for the agitation by one pour; the first ones need only its flow."""

    @property
    def flow_impulse_g2_per_s(self) -> Estimate | Undefined:
        """Integral of the squared flow, g2/s."""
    @property
    def mass_weighted_flow_g_per_s(self) -> Estimate | Undefined:
        """Mean flow, weighted by mass, g/s."""
    @property
    def peak_to_mean_flow(self) -> Estimate | Undefined:
        """Largest flow over mean flow."""
    @property
    def time_above_s(self) -> Estimate | Undefined:
        """Time at a flow above `above_g_per_s` of the options (5 g/s), s."""
    @property
    def stream(self) -> Stream:
        """The stream at the bed: a `Stream`."""
    @property
    def speed_source(self) -> Literal["stated", "scale"] | None:
        """Source of the stream's speed: `stated`, `scale` (its force on the scale), or absent if it is undefined."""
    @property
    def energy_j(self) -> Estimate | Undefined:
        """Energy of the water at the bed, J."""
    @property
    def energy_j_per_g(self) -> Estimate | Undefined:
        """Energy of the water at the bed per gram of dose, J/g."""
    @property
    def mixing_time_s(self) -> Estimate | Undefined:
        """Time for which the stream arrived likely unbroken, s."""
    @property
    def swirls(self) -> int:
        """Swirls of the vessel on the scale until the next pour; a stir looks the same."""
    @property
    def lifts(self) -> int:
        """Lifts of the vessel off the scale and back until the next pour."""
    @property
    def knocks(self) -> int:
        """Knocks until the next pour."""
    @property
    def splashes(self) -> int:
        """Splashes of water too small for a pour until the next pour."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class PourDrain:
    """The bed before and after one pour."""

    @property
    def holdup_at_start_g(self) -> Estimate | Undefined:
        """Holdup when the pour starts, g."""
    @property
    def drained_fraction_before(self) -> Estimate | Undefined:
        """Fraction of the water poured before that is collected when the pour starts, 0 to 1."""
    @property
    def drawdown_end_s(self) -> Estimate | Undefined:
        """Instant from which the beverage's flow stays under 0.1 g/s after the pour, s."""
    @property
    def drawdown_s(self) -> Estimate | Undefined:
        """From the end of the pour until the beverage stays under 0.1 g/s, s."""
    @property
    def conductance_g_per_s(self) -> Estimate | Undefined:
        """Flow through the bed with 50 g standing in it (`standing_g` of the options), g/s."""
    @property
    def conductance_ratio(self) -> Estimate | Undefined:
        """Conductance over that after the previous pour, at one viscosity."""
    @property
    def permeability_m2(self) -> Estimate | Undefined:
        """Permeability of the bed by Darcy's law, if its size is given, m2."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Bed:
    """Holdup, retained water and drainage of the bed in one brew."""

    @property
    def curve(self) -> BedCurve | Undefined:
        """Holdup, beverage and its flow over time: a `BedCurve`."""
    @property
    def water_g(self) -> Estimate | Undefined:
        """Water poured in all, g."""
    @property
    def beverage_g(self) -> Estimate | Undefined:
        """Beverage collected by the end, g."""
    @property
    def first_drip_s(self) -> Estimate | Undefined:
        """First instant of a beverage flow of 0.1 g/s that lasts, s."""
    @property
    def drawdown_end_s(self) -> Estimate | Undefined:
        """Instant from which the beverage's flow stays under 0.1 g/s after the last pour, s."""
    @property
    def drawdown_s(self) -> Estimate | Undefined:
        """From the end of the last pour until the beverage stays under 0.1 g/s, s."""
    @property
    def retention_g_per_g(self) -> Estimate | Undefined:
        """Water less beverage at the end, per gram of dose, g/g."""
    @property
    def retained_water_g_per_g(self) -> Estimate | Undefined:
        """Water that the bed retained, without dissolved coffee, per gram of dose, g/g."""
    @property
    def law(self) -> DrainLaw | Undefined:
        """How the bed drains after the last pour: a `DrainLaw`."""
    @property
    def loss_g(self) -> Estimate | Undefined:
        """Mass lost while nothing was removed from the scales, g."""
    @property
    def most_vapour_g(self) -> Estimate | Undefined:
        """Upper bound of the evaporated mass, g."""
    @property
    def pours(self) -> list[PourDrain]:
        """One row per pour, in their order."""
    @property
    def warnings(self) -> list[str]:
        """Warnings on these numbers, each a sentence without its full stop."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Extraction:
    """Extraction of one brew, with its uncertainty budget."""

    @property
    def yield_pct(self) -> Estimate | Undefined:
        """Extraction yield: dissolved fraction of the dose, strength times beverage over dose, percent."""
    @property
    def strength_pct(self) -> Estimate | Undefined:
        """Strength (TDS) of the liquid that left the bed, by mass, percent."""
    @property
    def brew_ratio(self) -> Estimate | Undefined:
        """Water over dose; bypass water does not count."""
    @property
    def retention_g_per_g(self) -> Estimate | Undefined:
        """Retained water over dose: water less beverage, g/g."""
    @property
    def retained_water_g_per_g(self) -> Estimate | Undefined:
        """Poured water that the bed retained, per gram of dose, g/g."""
    @property
    def spent_water_g_per_g(self) -> Estimate | Undefined:
        """All water in the spent bed, per gram of its dry mass, g/g."""
    @property
    def spent_moisture_pct(self) -> Estimate | Undefined:
        """All water in the spent bed in percent of its whole mass (wet basis)."""
    @property
    def water_g(self) -> Estimate | Undefined:
        """Water poured in the brew, g."""
    @property
    def beverage_g(self) -> Estimate | Undefined:
        """Beverage collected in the brew, g."""
    @property
    def cup_g(self) -> Estimate | Undefined:
        """The beverage with its bypass water, g."""
    @property
    def cup_strength_pct(self) -> Estimate | Undefined:
        """Strength of the cup with its bypass water, by mass, percent."""
    @property
    def convention(self) -> Literal["percolation", "immersion"]:
        """Mass balance of the yield: `percolation` or `immersion`."""
    @property
    def beverage_source(self) -> Literal["weighed", "from_retention"] | None:
        """Source of the beverage mass: `weighed`, `from_retention`, or absent if there is none."""
    @property
    def budget(self) -> list[BudgetRow]:
        """Contribution of each input to the sd of the yield; empty if the yield is undefined."""
    @property
    def average_beverage_error_pct(self) -> Estimate | Undefined:
        """Yield by the stated average beverage mass less the yield by this brew's own, percentage points."""
    @property
    def stated_retention_error_pct(self) -> Estimate | Undefined:
        """Yield by the stated retention less the yield by this brew's own beverage, percentage points."""
    @property
    def assumed_sd(self) -> list[str]:
        """Names of the inputs whose sd nobody stated: it is the default of its option."""
    @property
    def warnings(self) -> list[str]:
        """Warnings on impossible or unusual numbers, each a sentence without its full stop."""
    def monte_carlo(self, draws: int = 100000, seed: int = 0) -> MonteCarlo | Undefined:
        """The yield by the Monte Carlo method, as a check of its sd; 1,000 to 10 million draws."""
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Metrics:
    """Flow metrics of the pours of a brew."""

    @property
    def pours(self) -> list[PourMetrics]:
        """One row per pour, in their order."""
    @property
    def pouring_flow_g_per_s(self) -> Estimate | Undefined:
        """Mean flow over the time of all pours, g/s."""
    @property
    def longest_rest_s(self) -> Estimate | Undefined:
        """Longest rest, s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Segments:
    """The pours and rests of a brew, and the response of the scale."""

    @property
    def pours(self) -> list[Pour]:
        """The pours, in order."""
    @property
    def rests(self) -> list[Rest]:
        """The rests, one fewer than the pours."""
    @property
    def response(self) -> ScaleResponse:
        """How the scale shows a load: given, or estimated jointly from all edges of the log."""
    @property
    def stream_lead_s(self) -> Estimate | Undefined:
        """Lead of the reading due to the stream's force, s: its speed at the bed over g, given or estimated."""
    @property
    def covariance(self) -> Covariance:
        """Joint covariance of the edges and masses of all pours."""
    def regimes(self) -> Table:
        """One row per stretch of different flow: the place of its pour and its own from 1, its numbers with their sd."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Rest:
    """One rest: between the end of a pour and the start of the next."""

    @property
    def start_s(self) -> Estimate:
        """End of the pour before, s."""
    @property
    def end_s(self) -> Estimate:
        """Start of the pour after, s."""
    @property
    def duration_s(self) -> Estimate:
        """Duration, s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Flow:
    """Flow at each stamp of the trace, corrected for the scale's delay; each array has the trace's length."""

    @property
    def time_s(self) -> _Array:
        """Stamps in s."""
    @property
    def flow_g_per_s(self) -> _Array:
        """Flow of water at the bed, g/s; never below 0."""
    @property
    def flow_sd_g_per_s(self) -> _Array:
        """Its standard deviation, g/s."""
    @property
    def water_g(self) -> _Array:
        """Water poured so far, g, smoothed and corrected for the lag."""
    @property
    def water_sd_g(self) -> _Array:
        """Its standard deviation, g."""
    def sample(self, n: int = 100, seed: int = 0) -> _Array:
        """Flow curves drawn from the posterior, g/s: a new float64 array of `n` rows, one column per stamp."""
    def spectrum(self, pour: Pour) -> FlowSpectrum | Undefined:
        """Power spectral density of the flow on the plateau of `pour`, a `Pour` of the same brew."""
    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]: ...
    def table(self) -> Table:
        """One row per stamp: time, flow and water poured so far, each with its sd."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class FlowRegime:
    """A stretch of a pour with one level of flow, between changes of that level."""

    @property
    def start_s(self) -> Estimate:
        """Start of the stretch, s: that of the pour, or the middle of a change of its flow."""
    @property
    def end_s(self) -> Estimate:
        """End of the stretch, s."""
    @property
    def mass_g(self) -> Estimate:
        """Water that arrived in the stretch, g."""
    @property
    def flow_g_per_s(self) -> Estimate:
        """Flow of the stretch away from its ends, g/s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Covariance:
    """Joint covariance of the numbers of all pours: start, end, half-rise, half-fall and mass, as far as they are defined."""

    @property
    def names(self) -> list[str]:
        """Names of the numbers, such as `pour_1_start_s`, in the order of the matrix; each ends in its unit."""
    @property
    def sd(self) -> _Array:
        """Standard deviation of each number, as stated with the pour; its unit is that of the number."""
    def matrix(self) -> _Array:
        """The matrix: a new float64 array, one row and one column per name; its units are the products of those of the"""
    def entry(self, one: str, other: str) -> float:
        """Covariance of the numbers `one` and `other`, two of `names`."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class FlowSpectrum:
    """Power spectral density of the flow on the plateau of one pour."""

    @property
    def frequency_hz(self) -> _Array:
        """Frequencies, Hz: even steps from 0 to half the rate of the model's grid."""
    @property
    def density_g2_per_s(self) -> _Array:
        """Power spectral density, one-sided, (g/s)2/Hz: the posterior mean."""
    @property
    def density_sd_g2_per_s(self) -> _Array:
        """Its standard deviation over the posterior, (g/s)2/Hz."""
    @property
    def noise_g2_per_s(self) -> _Array:
        """Noise of the readings seen as flow, (g/s)2/Hz."""
    @property
    def transmission(self) -> _Array:
        """Share of the flow's power that the scale passes on, 1 without lag."""
    @property
    def readings_to_hz(self) -> float:
        """Highest frequency that the readings resolve, Hz: half of their rate. Above it the density is that of the prior."""
    @property
    def from_s(self) -> float:
        """Start of the plateau, s."""
    @property
    def to_s(self) -> float:
        """End of the plateau, s."""
    def table(self) -> Table:
        """One row per frequency: density with its sd, noise floor, transmission of the scale."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Agitation:
    """Ordinal proxies for agitation: they order pours, and none gives the displacement of the grounds."""

    @property
    def pours(self) -> list[PourAgitation]:
        """One row per pour, in their order."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Stream:
    """A stream from the spout to the bed: its quantities there are ordinal proxies for agitation."""

    def __new__(
        cls,
        flow_g_per_s: float | Estimate,
        spout_bore_m: float | Estimate,
        fall_height_m: float | Estimate,
        water_c: float,
    ) -> Stream: ...
    @property
    def fall_height_m(self) -> Estimate | Undefined:
        """Height of the fall, as stated or from the stream's force on the scale, m."""
    @property
    def fall_s(self) -> Estimate | Undefined:
        """Time of the fall, s."""
    @property
    def spout_speed_m_per_s(self) -> Estimate | Undefined:
        """Speed at the spout, m/s."""
    @property
    def speed_m_per_s(self) -> Estimate | Undefined:
        """Speed of the stream at the bed, m/s."""
    @property
    def width_mm(self) -> Estimate | Undefined:
        """Width of the stream at the bed if it is unbroken, mm."""
    @property
    def reynolds(self) -> Estimate | Undefined:
        """The Reynolds number of the stream at the bed."""
    @property
    def weber(self) -> Estimate | Undefined:
        """The Weber number of the stream at the bed."""
    @property
    def break_up_m(self) -> Estimate | Undefined:
        """Break-up length of the stream, uncertain by a factor of at least 1.5, m."""
    @property
    def arrival(self) -> Literal["likely_unbroken", "may_be_broken", "likely_broken"] | Undefined:
        """Whether the stream likely arrives unbroken, by a band around the break-up length."""
    @property
    def drop_mm(self) -> Estimate | Undefined:
        """Width of the drops if the stream breaks up, mm."""
    @property
    def force_n(self) -> Estimate | Undefined:
        """Force of the stream on the bed, N."""
    @property
    def power_w(self) -> Estimate | Undefined:
        """Power of the stream at the bed, W."""
    @property
    def in_flight_g(self) -> Estimate | Undefined:
        """Water between spout and bed, g."""
    @property
    def pressed_g(self) -> Estimate | Undefined:
        """Reading of the stream's force on the scale, beyond the landed mass, g."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class BedCurve:
    """Holdup of the bed over time; each array has the trace's length, NaN if nothing is estimated."""

    @property
    def time_s(self) -> _Array:
        """Stamps in s."""
    @property
    def held_g(self) -> _Array:
        """Water poured less beverage collected, g: in the bed, or on its way to the server."""
    @property
    def held_sd_g(self) -> _Array:
        """Its standard deviation, g."""
    @property
    def beverage_g(self) -> _Array:
        """Beverage collected so far, g."""
    @property
    def beverage_sd_g(self) -> _Array:
        """Its standard deviation, g."""
    @property
    def beverage_flow_g_per_s(self) -> _Array:
        """Flow of beverage into the server, g/s; never below 0."""
    @property
    def beverage_flow_sd_g_per_s(self) -> _Array:
        """Its standard deviation, g/s."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class DrainLaw:
    """The law by which the bed drains, `Q = Q0 (V/V0)^p`, from the drawdown after the last pour."""

    @property
    def exponent(self) -> Estimate:
        """The exponent `p`: 1/3 for Darcy flow in a cone, 1/2 for a hole under a straight wall, 1 for an exponential."""
    @property
    def head_exponent(self) -> Estimate | Undefined:
        """The exponent `n` of the head: `p m`, if `vessel_exponent` gives `m`."""
    @property
    def start_s(self) -> float:
        """First instant of the readings that it was fitted to, s."""
    @property
    def end_s(self) -> float:
        """Last instant of the readings that it was fitted to, s."""
    @property
    def standing_g(self) -> Estimate:
        """Drainable water in the bed at the first instant, g."""
    @property
    def flow_g_per_s(self) -> Estimate:
        """Flow at the first instant, g/s."""
    @property
    def empty_after_s(self) -> Estimate | Undefined:
        """Time from the first instant until the bed is empty, s."""
    @property
    def beverage_g(self) -> Estimate:
        """Beverage once all has drained, g."""
    @property
    def residual_g(self) -> float:
        """Root mean square of the residuals of the law, g."""
    @property
    def residual_over_noise(self) -> float:
        """`residual_g` over the noise of a reading: 1 is a perfect fit."""
    @property
    def exponential_residual_g(self) -> float:
        """`residual_g` for the best exponential."""
    @property
    def exponential_rejected_sd(self) -> float:
        """Evidence against an exponential, in sd; above 3 it is rejected."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class BudgetRow:
    """One input of the yield and its contribution to the yield's sd."""

    @property
    def name(self) -> str:
        """Name of the input, which ends in its unit."""
    @property
    def value(self) -> Estimate:
        """The input with its standard uncertainty."""
    @property
    def sensitivity(self) -> float:
        """Sensitivity: percentage points of yield per unit of the input."""
    @property
    def contribution_pct(self) -> float:
        """Sd of the yield from this input alone, percentage points."""
    @property
    def share(self) -> float:
        """Share of the yield's variance, 0 to 1; the rows add up to 1."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class MonteCarlo:
    """A yield by the Monte Carlo method: every input drawn from a normal distribution (JCGM 101:2008)."""

    @property
    def yield_pct(self) -> Estimate:
        """Mean and sd of the drawn yields, percent."""
    @property
    def interval_pct(self) -> tuple[float, float]:
        """Ends of the central 95 % interval of the drawn yields, percent."""
    @property
    def draws(self) -> int:
        """Number of draws."""
    @property
    def seed(self) -> int:
        """The seed: equal seeds give equal numbers."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Fractions:
    """The yield of a brew by its fractions, of each and of all."""

    @property
    def beverage_g(self) -> Estimate:
        """Mass of all fractions, g."""
    @property
    def strength_pct(self) -> Estimate:
        """Strength of the mixed fractions, percent."""
    @property
    def yield_pct(self) -> Estimate:
        """Yield of all, percent of the dose."""
    @property
    def each_pct(self) -> list[Estimate]:
        """Contribution of each fraction to that yield, percentage points."""
    @property
    def so_far_pct(self) -> list[Estimate]:
        """The yield after each fraction, percent of the dose."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class LearntRetention:
    """The retention of one group of brews, with a prediction for its next brew."""

    @property
    def group(self) -> str:
        """The group, such as a roast or a coffee."""
    @property
    def brews(self) -> int:
        """Number of brews of this group."""
    @property
    def mean_g_per_g(self) -> Estimate:
        """Its mean retention, with the sd of that mean, g/g."""
    @property
    def next_g_per_g(self) -> Estimate:
        """Predicted retention of its next brew, with the sd of one brew, g/g."""
    @property
    def interval_g_per_g(self) -> tuple[float, float]:
        """Prediction interval of the next brew, g/g."""
    @property
    def level(self) -> float:
        """Coverage of such intervals."""
    @property
    def degrees(self) -> int:
        """Degrees of freedom of the pooled sd: brews less groups."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Event:
    """One thing that the scale did and the hand did not."""

    @property
    def kind(
        self,
    ) -> Literal[
        "knock",
        "lift",
        "swirl",
        "zeroing",
        "gap",
        "missing",
        "stuck",
        "placed",
        "removed",
        "reordered",
        "duplicate",
        "retimed",
        "drift",
        "preparation",
        "next_brew",
    ]:
        """What kind, in a word."""
    @property
    def channel(self) -> Literal["water", "beverage"]:
        """On which weight: `water` or `beverage`."""
    @property
    def start_s(self) -> float:
        """First instant, s."""
    @property
    def end_s(self) -> float:
        """Last instant, s."""
    @property
    def size_g(self) -> float:
        """Size, g: how far the reading moved; 0 if that has no meaning, as for a gap."""
    @property
    def samples(self) -> int:
        """Number of samples concerned."""
    @property
    def action(self) -> str:
        """What was done about it, in a sentence."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ChannelTrace:
    """One weight after conditioning; each array has the trace's length."""

    @property
    def mass_g(self) -> _Array:
        """The reading with offsets and drift taken out, g; NaN if it is missing; neither smoothed nor filled."""
    @property
    def flag(self) -> NDArray[np.str_]:
        """What became of each sample, an array of words."""
    @property
    def noise_sd_g(self) -> Estimate:
        """Standard deviation of the noise at rest, quantisation included, g."""
    @property
    def step_g(self) -> float:
        """Step of the readout, g; 0 if none is seen."""
    @property
    def drift_g_per_s(self) -> Estimate:
        """Drift of zero that was taken out, g/s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Trace:
    """A conditioned log: stamps in order, each weight with its flags, and the events. The log's own samples, none added."""

    @property
    def time_s(self) -> _Array:
        """Instants of the readings on the log's clock, s, never decreasing: its stamps, or restored from them."""
    @property
    def rate_hz(self) -> float:
        """Usual sampling rate, Hz: one over the median interval."""
    @property
    def time_sd_s(self) -> float:
        """Standard deviation of the times, if they were restored, s; 0 for times that are the log's stamps."""
    @property
    def water(self) -> ChannelTrace | None:
        """Water poured; None if it was not weighed."""
    @property
    def beverage(self) -> ChannelTrace | None:
        """Beverage collected; None if it was not weighed."""
    @property
    def events(self) -> list[Event]:
        """All that was found, in order of time."""
    @property
    def brew_start_s(self) -> float:
        """First instant of the brew, s: after the preparation, or the first stamp."""
    @property
    def scale(self) -> ScaleResponse | None:
        """How the scale shows a load, if that was given."""
    @property
    def meta(self) -> Meta:
        """What is known of the brew."""
    @property
    def log_index(self) -> NDArray[np.uintp]:
        """For each sample its index in the log."""
    def table(self) -> Table:
        """One row per sample: time, index in the log, and for each weight its mass with its flag."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Errors:
    """Errors of one quantity, found less true, with the sd that was stated for each."""

    @property
    def error(self) -> _Array:
        """Found less true, in the unit of the quantity."""
    @property
    def sd(self) -> _Array:
        """The sd stated beside each, in the unit of the quantity."""
    def bias(self) -> float:
        """Mean of the errors; NaN if there is none."""
    def mean_absolute(self) -> float:
        """Mean absolute error; NaN if there is none."""
    def rms(self) -> float:
        """Root of the mean square error; NaN if there is none."""
    def within_2_sd(self) -> float:
        """Share of the errors that lie within two stated sd, 0 to 1; NaN if there is none."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Score:
    """How near the found pours of one brew, or of many, are to the true ones."""

    @property
    def brews(self) -> int:
        """Brews scored."""
    @property
    def true_pours(self) -> int:
        """Pours that there were."""
    @property
    def found_pours(self) -> int:
        """Pours that were found."""
    @property
    def start_s(self) -> Errors:
        """Errors of the start, s."""
    @property
    def end_s(self) -> Errors:
        """Errors of the end, s."""
    @property
    def half_rise_s(self) -> Errors:
        """Errors of the half-rise, s; of pours that have one."""
    @property
    def half_fall_s(self) -> Errors:
        """Errors of the half-fall, s; of pours that have one."""
    @property
    def mass_g(self) -> Errors:
        """Errors of the mass, g."""
    @property
    def mean_flow_g_per_s(self) -> Errors:
        """Errors of the mean flow, g/s."""
    @property
    def flow_g_per_s(self) -> Errors:
        """Errors of the flow at the stamps within true pours, g/s; empty unless a whole brew was scored."""
    @property
    def matched(self) -> int:
        """Matched pairs."""
    @property
    def missed(self) -> int:
        """True pours without a matching detected pour."""
    @property
    def false_pours(self) -> int:
        """Detected pours without a matching true pour."""
    @property
    def edge_error_s(self) -> float:
        """Mean absolute error of starts and ends together, s."""
    @property
    def half_error_s(self) -> float:
        """Mean absolute error of half-rises and half-falls together, s."""
    def f1_edges(self, tolerance_s: float) -> float:
        """F1 of the pours; one is detected if start and end are within the tolerance. NaN without any pour."""
    def f1_halves(self, tolerance_s: float) -> float:
        """F1 of the pours; one is detected if half-rise and half-fall are within the tolerance."""
    def __add__(self, other: Score, /) -> Score: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class TruePour:
    """One pour as it truly was."""

    @property
    def start_s(self) -> float:
        """First instant at which the flow passes 0.5 g/s, s."""
    @property
    def end_s(self) -> float:
        """Last instant at which the flow passes 0.5 g/s, s."""
    @property
    def half_rise_s(self) -> float:
        """First instant at which the flow passes half of the pour's mean flow, s."""
    @property
    def half_fall_s(self) -> float:
        """Last instant at which the flow passes half of the pour's mean flow, s."""
    @property
    def mass_g(self) -> float:
        """Mass that arrived from start to end, g."""
    @property
    def mean_flow_g_per_s(self) -> float:
        """Mass over duration, g/s."""
    @property
    def median_flow_g_per_s(self) -> float:
        """Median over time of the flow from start to end, g/s."""
    @property
    def plateau_start_s(self) -> float:
        """Start of the plateau, 0.5 s after half-rise, s; of a pour whose plateau is shorter than 1 s, the middle."""
    @property
    def plateau_end_s(self) -> float:
        """End of the plateau, 0.5 s before half-fall, s; of a pour whose plateau is shorter than 1 s, the middle."""
    @property
    def plateau_flow_g_per_s(self) -> float:
        """Mean over time of the flow on the plateau, g/s."""
    @property
    def flow_cv(self) -> float:
        """Sd over mean of the flow on the plateau, over time."""
    def to_dict(self) -> dict[str, float]:
        """All numbers, as a dict."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Truth:
    """What a simulated log is made from. The arrays have a value for each row of the log."""

    @property
    def pours(self) -> list[TruePour]:
        """The pours of the brew, in order; a rinse is not among them."""
    @property
    def brew_start_s(self) -> float:
        """First instant of the brew, s: the zeroing that ends the preparation, or the first stamp."""
    @property
    def time_s(self) -> _Array:
        """Instants at which the weights were taken, s; the log's stamps may differ."""
    @property
    def flow_g_per_s(self) -> _Array:
        """Flow of the brew's water at the bed, g/s."""
    @property
    def water_g(self) -> _Array:
        """Water of the brew poured by then, g."""
    @property
    def beverage_g(self) -> _Array:
        """Beverage in the server by then, g."""
    @property
    def scale_lag_s(self) -> float:
        """Time constant of the scale's lag, s."""
    @property
    def stream_lead_s(self) -> float:
        """Speed of the stream at the bed over g, s: its force reads as the flow times this."""
    @property
    def noise_sd_g(self) -> float:
        """Standard deviation of the noise before the readout is rounded, g."""
    @property
    def dose_g(self) -> float:
        """Dry coffee, g."""
    @property
    def retention_g_per_g(self) -> float:
        """Liquid held by the bed for good, per dose, g/g."""
    @property
    def beverage_end_s(self) -> float | None:
        """Last instant at which the beverage flows at 0.1 g/s or more, s; None if none flows that fast."""
    @property
    def events(self) -> list[Event]:
        """What went wrong, in order of time."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Labels:
    """All the pours of a brew as somebody set them by hand, in order; kept beside the log, never in it."""

    def __new__(
        cls,
        pours: Sequence[tuple[float, float]],
        sd_s: float = 0.05,
        by: str | None = None,
        note: str | None = None,
        log_digest: str | None = None,
    ) -> Labels: ...
    @property
    def pours(self) -> list[tuple[float, float]]:
        """The pours, each its start and its end, s."""
    @property
    def sd_s(self) -> float:
        """How well a hand places an edge: sd, s."""
    @property
    def by(self) -> str | None:
        """Who set them."""
    @property
    def note(self) -> str | None:
        """A note on them."""
    @property
    def log_digest(self) -> str | None:
        """SHA-256 of the samples of the log that they belong to, if it was stated; see [`Log::digest`]."""
    @staticmethod
    def of(brew: Brew, log: Log | None = None) -> Labels:
        """The pours of a `brew`, unchanged: the start of a correction. With its `log` they are bound to that log."""
    @staticmethod
    def from_json(text: str) -> Labels:
        """From the JSON `text` of `to_json`."""
    @staticmethod
    def read(path: str | PathLike[str]) -> Labels:
        """Reads labels from the file at `path`, written by `write`."""
    def moved(self, pour: int, start_s: float | None = None, end_s: float | None = None) -> Labels:
        """The same with the edges of a `pour`, counted from 1, at `start_s` and `end_s`; None does not move an edge."""
    def added(self, start_s: float, end_s: float) -> Labels:
        """The same with one more pour, from `start_s` to `end_s`, in order of time."""
    def removed(self, pour: int) -> Labels:
        """The same without one `pour`; pours are counted from 1."""
    def write(self, path: str | PathLike[str], overwrite: bool = False) -> None:
        """Writes them to the file at `path`, atomically; an existing file is replaced only if `overwrite` is True."""
    def to_json(self) -> str:
        """As JSON text."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Labelled:
    """What labels changed in a brew."""

    @property
    def labels(self) -> Labels:
        """The labels, as they were given."""
    @property
    def removed(self) -> int:
        """Number of found pours that share no time with any label."""
    @property
    def warnings(self) -> list[str]:
        """Warnings on the labels, each a sentence without its full stop."""
    @property
    def by_hand(self) -> list[str]:
        """Which edges of each pour were set by hand: `none`, `start`, `end` or `both`."""
    @property
    def added(self) -> list[int]:
        """The pours, counted from 1, that overlap no detected one."""
    def table(self) -> Table:
        """One row per pour: its label, its edges set by hand, and whether it was added (yes, no)."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class LiveState:
    """What is known at a sample of a brew that is being poured. All of it is provisional."""

    @property
    def time_s(self) -> float:
        """Stamp of the sample, s."""
    @property
    def flag(self) -> Literal["used", "after_gap", "missing", "late", "off"]:
        """What became of the sample."""
    @property
    def water_g(self) -> Estimate:
        """Water on the scale now, g, from 0 at the first sample: noise, lag and jumps of level taken out."""
    @property
    def flow_g_per_s(self) -> Estimate:
        """Flow of water at the bed now, g/s."""
    @property
    def state(self) -> Literal["pouring", "rest"]:
        """Whether water arrives: `pouring` or `rest`."""
    @property
    def poured_g(self) -> float:
        """Mass of all pours so far, the one that runs included, g."""
    @property
    def began(self) -> float | None:
        """Start of a pour, s, at the sample at which it is called; else None."""
    @property
    def ended(self) -> float | None:
        """End of a pour, s, at the sample at which it is called; else None."""
    @property
    def withdrawn(self) -> float | None:
        """Start of a pour, s, that was called and is withdrawn, at the sample at which that is seen; else None."""
    @property
    def provisional(self) -> bool:
        """Whether later samples may still change these values: true until the log is whole."""
    @property
    def pour(self) -> int | None:
        """Number of the current pour, from 1; None at rest."""
    @property
    def start_s(self) -> float | None:
        """Start of the current pour, s; None at rest."""
    @property
    def mass_g(self) -> float | None:
        """Mass of the current pour so far, g; None at rest."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class LoadStep:
    """One mass put on the scale, or taken off."""

    @property
    def at_s(self) -> Estimate:
        """When half of it was down, s."""
    @property
    def mass_g(self) -> Estimate:
        """The mass, g; below 0 if it was taken off."""
    @property
    def deviation_g(self) -> Estimate | Undefined:
        """By how much more than the known mass is shown, g."""
    @property
    def hand_s(self) -> float:
        """How long the hand took, s."""
    @property
    def misfit(self) -> float:
        """Root mean square of what the response leaves over, in sd of a reading."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Linearity:
    """What a scale shows of known masses."""

    @property
    def n_masses(self) -> int:
        """Masses put on and taken off that were compared."""
    @property
    def sensitivity_deviation_pct(self) -> Estimate:
        """How far the sensitivity is off: slope of the shown mass over the known one through 0, less 1, %."""
    @property
    def nonlinearity_g(self) -> Estimate:
        """The largest difference of a shown mass from that slope, with its sign, g."""
    @property
    def nonlinearity_at_s(self) -> float:
        """When the mass with the largest difference was put on or taken off, s."""
    @property
    def nonlinearity_load_g(self) -> float:
        """Load on the scale with that mass, g."""
    @property
    def hysteresis_g(self) -> Estimate | Undefined:
        """Mean rise of the level from before a mass was put on until it was taken off, g: hysteresis, and creep."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Stamps:
    """How the readings of a scale are stamped."""

    @property
    def interval_s(self) -> float:
        """Usual interval between two readings, s."""
    @property
    def jitter_s(self) -> float:
        """Sd of the stamps about regular instants, s; half the width of the middle 68 %."""
    @property
    def rows_per_packet(self) -> float:
        """Readings that arrive together: the mean number of rows of a packet, 1 without packets."""
    @property
    def late_s(self) -> float:
        """Mean time by which a stamp is later than the promptest, s; 0 if stamps are the instants of the readings."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class CalibrationCurves:
    """What a figure of a calibration shows: the measured step response, the noise, the stamps."""

    @property
    def after_s(self) -> _Array:
        """Time after a mass was put on or taken off, s."""
    @property
    def shown(self) -> _Array:
        """Share of it that is shown then: the mean of all masses, corrected for the time of the hand."""
    @property
    def frequency_hz(self) -> _Array:
        """Frequencies of the noise at rest, Hz."""
    @property
    def noise_g2_per_hz(self) -> _Array:
        """Its power density, one-sided, g2/Hz."""
    @property
    def interval_s(self) -> _Array:
        """Intervals between two stamps, s: middles of bins, the last of which has all longer ones."""
    @property
    def n_intervals(self) -> _Array:
        """Number of intervals in each bin."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ScaleResponse:
    """How a scale shows a load."""

    @property
    def family(self) -> Literal["none", "lag", "two_lags", "overshoot", "average", "lag_and_average"]:
        """How it is built: `none`, `lag`, `two_lags`, `overshoot`, `average` or `lag_and_average`."""
    @property
    def delay_s(self) -> Estimate:
        """Delay of the reading behind the load, s: the mean time of its response to a step."""
    @property
    def lag_s(self) -> float:
        """Sum of its lags, s; 0 without one."""
    @property
    def damping_ratio(self) -> Estimate | Undefined:
        """Damping ratio of a response with two lags (1 and above) or one that overshoots (below 1)."""
    @property
    def average_s(self) -> float:
        """Length of its moving average, s; 0 without one."""
    @property
    def source(self) -> Literal["given", "calibrated", "estimated", "expected"]:
        """Where it is from: `given`, `calibrated`, `estimated` or `expected`."""
    @staticmethod
    def lag(lag_s: float, delay_sd_s: float = 0.0) -> ScaleResponse:
        """A first-order lag. `lag_s` is its time constant, s, and `delay_sd_s` its sd."""
    @staticmethod
    def average(average_s: float, delay_sd_s: float = 0.0) -> ScaleResponse:
        """A moving average. `average_s` is its length, s, and `delay_sd_s` the sd of its delay, s."""
    def shown(self, after_s: float) -> float:
        """What the scale shows of a step of 1 so many seconds after it. `after_s` is that time, s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Calibration:
    """What a scale does to a mass that is put on it."""

    @property
    def step_g(self) -> float:
        """Step of the readout, g; 0 if none is seen."""
    @property
    def settling_s(self) -> float:
        """Time until a step of 100 g shows within .1 g, s."""
    @property
    def misfit(self) -> float:
        """Root mean square of what the response leaves over, in sd of a reading: some 1 if it fits."""
    @property
    def fits(self) -> bool:
        """Whether the response fits: the misfit is below 1.4."""
    @property
    def left_out(self) -> int:
        """Masses that were left out: put down in pieces, pushed or let go of slowly."""
    @property
    def noise_sd_g(self) -> Estimate:
        """Standard deviation of the noise at rest, quantisation included, g."""
    @property
    def noise_correlation(self) -> Estimate | Undefined:
        """Correlation of the noise of a reading with that of the next, at rest; 0 if it is white."""
    @property
    def drift_g_per_s(self) -> Estimate | Undefined:
        """Drift of the reading while the load stays, g/s."""
    @property
    def creep_pct(self) -> Estimate | Undefined:
        """Creep: what a load that stays is shown to grow by within its first 10 s, %."""
    @property
    def held_g(self) -> float:
        """The least change of a reading that is held until it differs enough, g; 0 if it moves by single steps."""
    @property
    def follows_zero(self) -> bool:
        """Whether the reading follows zero without load: water that flows slowly from zero on is lost."""
    @property
    def stamps(self) -> Stamps:
        """How the readings are stamped."""
    @property
    def linearity(self) -> Linearity | Undefined:
        """How far the scale is off, if the masses are known."""
    @property
    def response(self) -> ScaleResponse:
        """How the scale shows a load."""
    @property
    def steps(self) -> list[LoadStep]:
        """The masses that were used, in order of time."""
    @property
    def curves(self) -> CalibrationCurves:
        """What a figure shows."""
    def to_toml(self) -> str:
        """Writes it as a TOML text; a file of it can be given as `Options(condition={"scale": path})`."""
    def resolution(self) -> ScaleResolution:
        """What an analysis can resolve of a brew on this scale: twelve pours on it are simulated and analysed."""
    def plot(self, ax: Sequence[Axes] | None = None) -> tuple[Axes, Axes, Axes]:
        """Draws the step response, the noise and the stamps: as `pourline.plot_calibration`. `ax` are three axes."""
    @staticmethod
    def parse(text: str) -> Calibration:
        """Reads it from a TOML text. `text` is that of `to_toml`."""
    @staticmethod
    def read(path: str | PathLike[str]) -> Calibration:
        """Reads it from a TOML file. `path` is that of the file."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ScaleResolution:
    """What a scale can resolve of a pour of 6 g/s for 10 s."""

    @property
    def half_rise_sd_s(self) -> float:
        """Sd of the instant at which the flow rises to half, that of the delay included, s."""
    @property
    def flow_sd_g_per_s(self) -> float:
        """Rms error of the flow over 1 s, g/s."""
    @property
    def flow_cv_sd(self) -> float:
        """Sd of flow_cv."""
    @property
    def resolved_to_hz(self) -> float:
        """The fastest variation of the flow that readings resolve, Hz."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ChartBox:
    """A box of the brewing control chart, with the document that recommends it."""

    def __new__(
        cls,
        document: str,
        strength_pct: Sequence[float],
        yield_pct: Sequence[float],
        coffee_g_per_l: Sequence[float] | None = None,
    ) -> ChartBox: ...
    @property
    def document(self) -> str:
        """The document with its date."""
    @property
    def strength_pct(self) -> tuple[float, float]:
        """Lowest and highest strength, percent."""
    @property
    def yield_pct(self) -> tuple[float, float]:
        """Lowest and highest yield, percent."""
    @property
    def coffee_g_per_l(self) -> tuple[float, float] | None:
        """From and to how much coffee to a litre of water, g/L; None if the document does not say."""
    @staticmethod
    def scaa_2015() -> ChartBox:
        """SCAA Golden Cup Standard, 23 December 2015: 1.15 to 1.35 %, 18 to 22 %, 49.5 to 60.5 g/L."""
    @staticmethod
    def sca_home_brewer_2018() -> ChartBox:
        """SCA certification of home brewers, text of 2018: a strength up to 1.45 %."""
    def place(self, strength_pct: _Number, yield_pct: _Number) -> Place | Undefined:
        """Position of a strength (that of the cup, if water was added) and a yield."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Place:
    """Where a brew lies on the brewing control chart, and how sure that is."""

    @property
    def strength(self) -> Literal["below", "within", "above"]:
        """Side of its strength: `below`, `within` or `above`."""
    @property
    def extraction(self) -> Literal["below", "within", "above"]:
        """Side of its yield: `below`, `within` or `above`."""
    @property
    def strength_within(self) -> float:
        """Probability that the true strength lies within the box's, 0 to 1."""
    @property
    def yield_within(self) -> float:
        """Probability that the true yield lies within the box's, 0 to 1."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ProgressDay:
    """One day of somebody's progress."""

    @property
    def day(self) -> int:
        """The day: as given, or the ordinal of the date."""
    @property
    def brews(self) -> int:
        """Number of brews of that day with a defined number."""
    @property
    def mean(self) -> float:
        """Mean of the number over the brews of that day."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Progress:
    """The trend of a number over days."""

    @property
    def days(self) -> list[ProgressDay]:
        """The days, in order."""
    @property
    def left_out(self) -> int:
        """Number of brews for which the number is undefined."""
    @property
    def slope_per_day(self) -> Estimate | Undefined:
        """Growth in a day, in the number's own unit."""
    @property
    def interval_per_day(self) -> tuple[float, float] | None:
        """Interval of the growth in a day; None if it is undefined."""
    @property
    def level(self) -> float:
        """Coverage of such intervals."""
    @property
    def correlation(self) -> float:
        """Correlation of neighbouring days, 0 to 1; 0 for fewer than eight days, which are taken as independent."""
    @property
    def changes(self) -> list[ProgressChange]:
        """Steps, stated or found; the trend is that between them."""
    @property
    def bend_per_day(self) -> Estimate | Undefined:
        """Growth in a day in the second half of the days less that in the first: below 0 if a rise levels off."""
    @property
    def bend_interval_per_day(self) -> tuple[float, float] | None:
        """Interval of the bend; None if it is undefined."""
    @property
    def last_week(self) -> Estimate | Undefined:
        """Mean of the last seven days less that of the days before, after the last step."""
    @property
    def last_week_interval(self) -> tuple[float, float] | None:
        """Interval of `last_week`; None if it is undefined."""
    @property
    def says(self) -> str:
        """What the trend means, in a sentence."""
    def table(self) -> Table:
        """One row per day."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ProgressChange:
    """A day at which the number changed by a step."""

    @property
    def day(self) -> int:
        """The first day after the change."""
    @property
    def what(self) -> str:
        """What changed, as stated; empty if the step was found."""
    @property
    def found(self) -> bool:
        """Whether the step was found, and not stated."""
    @property
    def step(self) -> Estimate | Undefined:
        """Size of the step, in the number's own unit."""
    @property
    def interval(self) -> tuple[float, float] | None:
        """Interval of the step; None if it is undefined."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ControlPoint:
    """One day of a control chart."""

    @property
    def day(self) -> int:
        """The day: as given, or the ordinal of the date."""
    @property
    def mean(self) -> float:
        """Mean of the number over the brews of that day."""
    @property
    def moving_range(self) -> float:
        """Difference to the day before, without its sign; NaN for the first."""
    @property
    def ewma(self) -> float:
        """Exponentially weighted moving average."""
    @property
    def cusum_high(self) -> float:
        """Sum of the deviations above the centre, beyond the slack."""
    @property
    def cusum_low(self) -> float:
        """Sum of the deviations below the centre, beyond the slack."""
    @property
    def signals(self) -> list[str]:
        """The charts whose limits it passes: "individual", "range", "ewma", "cusum"."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ControlChart:
    """The control chart of a number over days."""

    @property
    def points(self) -> list[ControlPoint]:
        """The days, in order."""
    @property
    def baseline(self) -> int:
        """Number of days from the first on that centre and sd are those of."""
    @property
    def center(self) -> float:
        """Mean of the baseline."""
    @property
    def sd(self) -> float:
        """Sd of a day: as stated, or from the moving ranges of the baseline."""
    @property
    def limits(self) -> tuple[float, float]:
        """Limits of a day's mean."""
    @property
    def range_limit(self) -> float:
        """Limit of a moving range."""
    @property
    def ewma_limits(self) -> tuple[float, float]:
        """Limits of the moving average."""
    @property
    def cusum_limit(self) -> float:
        """Limit of both sums."""
    @property
    def correlation(self) -> float:
        """Correlation of neighbouring days of the baseline, 0 to 1."""
    @property
    def left_out(self) -> int:
        """Number of brews for which the number is undefined."""
    @property
    def says(self) -> str:
        """What the chart shows, in a sentence."""
    def table(self) -> Table:
        """One row per day."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class PlannedPourResult:
    """One planned pour and what became of it. A deviation is poured less planned."""

    @property
    def planned(self) -> PlannedPour:
        """The planned pour."""
    @property
    def pour(self) -> int | None:
        """Place of the pour in the brew, from 1; None if the pour was missed."""
    @property
    def start_s(self) -> Estimate | Undefined:
        """Start on the plan's clock, s: half-rise of the pour less that of the pour at which the clocks agree."""
    @property
    def mass_g(self) -> Estimate | Undefined:
        """Mass that arrived, g."""
    @property
    def flow_g_per_s(self) -> Estimate | Undefined:
        """Flow on the plateau, g/s."""
    @property
    def start_deviation_s(self) -> Estimate | Undefined:
        """Start less the planned one: above 0 is late, s."""
    @property
    def mass_deviation_g(self) -> Estimate | Undefined:
        """Poured mass less the planned one: above 0 is too much, g."""
    @property
    def flow_deviation_g_per_s(self) -> Estimate | Undefined:
        """Flow less the planned one: above 0 is too fast, g/s."""
    @property
    def start_within_tolerance(self) -> Literal["yes", "no", "too near to tell"] | None:
        """Whether the start is within its tolerance."""
    @property
    def mass_within_tolerance(self) -> Literal["yes", "no", "too near to tell"] | None:
        """Whether the mass is within its tolerance."""
    @property
    def flow_within_tolerance(self) -> Literal["yes", "no", "too near to tell"] | None:
        """Whether the flow is within its tolerance."""
    @property
    def time_near_plateau_pct(self) -> Estimate | Undefined:
        """Steadiness: share of the time near the pour's own plateau flow, %."""
    @property
    def time_near_plateau_deviation_pct(self) -> Estimate | Undefined:
        """Steadiness less the planned one: below 0 is less steady, %."""
    @property
    def time_near_plateau_within_tolerance(self) -> Literal["yes", "no", "too near to tell"] | None:
        """Whether the steadiness is within its tolerance; more than planned always is."""
    @property
    def pauses(self) -> Estimate | Undefined:
        """Pauses in the pour."""
    @property
    def pauses_deviation(self) -> Estimate | Undefined:
        """Pauses less the planned ones: above 0 is too many."""
    @property
    def pauses_within_tolerance(self) -> Literal["yes", "no", "too near to tell"] | None:
        """Whether the pauses are no more than planned."""
    @property
    def points_lost(self) -> float:
        """Points of the score that the pour loses."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class PlanResult:
    """How near a brew came to a plan."""

    @property
    def plan(self) -> str:
        """Name of the plan."""
    @property
    def meta(self) -> Meta:
        """Metadata of the brew."""
    @property
    def zero_s(self) -> Estimate | Undefined:
        """Where the plan's clock stands at 0, on the log's own, s."""
    @property
    def pours(self) -> list[PlannedPourResult]:
        """One row per planned pour, in the plan's order."""
    @property
    def extra(self) -> list[ExtraPour]:
        """Pours that are not in the plan."""
    @property
    def score(self) -> Estimate:
        """How near the brew came to the plan, 0 to 100."""
    @property
    def lost(self) -> list[tuple[str, float]]:
        """Where the other points are, the largest loss first: each item with its points; together they make 100."""
    @property
    def work_on(self) -> str:
        """The one thing to work on next, in a sentence: a pour that is missed or not planned, or a habit."""
    @property
    def missed(self) -> list[int]:
        """Numbers of the missed pours in the plan, from 1."""
    @property
    def head(self) -> str:
        """The head, a line: the score, where the other points are, and the one thing to work on."""
    def table(self) -> Table:
        """One row per planned pour, then one per additional pour."""
    def to_json(self) -> str:
        """Everything as JSON text."""
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ExtraPour:
    """A pour that the plan does not have."""

    @property
    def pour(self) -> int:
        """Place in the brew, from 1."""
    @property
    def start_s(self) -> Estimate | Undefined:
        """Start on the plan's clock, s."""
    @property
    def mass_g(self) -> Estimate:
        """Mass that arrived, g."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Habit:
    """A deviation from a plan that recurs beyond chance."""

    @property
    def item(self) -> Literal["start", "mass", "flow", "steadiness", "pauses"]:
        """What deviates: start, mass, flow, steadiness or pauses."""
    @property
    def pour(self) -> int | None:
        """The planned pour, from 1; None if it is all of them."""
    @property
    def deviation(self) -> Estimate:
        """Mean deviation, poured less planned, in the unit of the item, with its standard error."""
    @property
    def count(self) -> int:
        """Number of pours of the brew, or of brews."""
    @property
    def p(self) -> float:
        """p of a mean within the tolerance, times the number of items tested."""
    @property
    def says(self) -> str:
        """The habit in a sentence."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class PlannedPour:
    """One pour as it is planned: targets, each with its tolerance to either side."""

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
    @property
    def start_s(self) -> float:
        """Start relative to that of the plan's first pour, s; 0 for that one."""
    @property
    def start_within_s(self) -> float:
        """Tolerance of the start, to either side, s."""
    @property
    def mass_g(self) -> float:
        """Mass of this pour alone, g."""
    @property
    def mass_within_g(self) -> float:
        """Tolerance of the mass, to either side, g."""
    @property
    def flow_g_per_s(self) -> float | None:
        """Flow on the plateau, g/s; None for any."""
    @property
    def flow_within_g_per_s(self) -> float:
        """Tolerance of the flow, to either side, g/s."""
    @property
    def time_near_plateau_pct(self) -> float | None:
        """Steadiness: least share of the time near the pour's own plateau flow, percent; None for any."""
    @property
    def time_near_plateau_within_pct(self) -> float:
        """Tolerance of the steadiness, below, percentage points."""
    @property
    def pauses(self) -> float | None:
        """Most pauses; None for any number."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Meta:
    """What is known of a brew beside its weights; what is not known is None."""

    def __new__(cls, **fields: Unpack[_Meta]) -> Meta: ...
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
        """Standard uncertainty of the Brix reading, percentage points."""
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
        """The first stamp of the log as it was written, if it was a date and time."""
    @property
    def factors(self) -> dict[str, str]:
        """Further factors by name, such as `day`."""
    @property
    def _known(self) -> str:
        """The metadata except the name, in a line: numbers first."""
    def to_dict(self) -> dict[str, Any]:
        """The given metadata, as a dict."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Brew:
    """All results from one log."""

    @property
    def meta(self) -> Meta:
        """Metadata of the brew."""
    @property
    def trace(self) -> Trace:
        """The conditioned log."""
    @property
    def segments(self) -> Segments:
        """Pours, rests and the response of the scale."""
    @property
    def flow(self) -> Flow | None:
        """Flow of water on the log's own stamps; None if the water was not weighed."""
    @property
    def metrics(self) -> Metrics:
        """What the pours show of the hand."""
    @property
    def agitation(self) -> Agitation | None:
        """Ordinal proxies for the agitation by each pour; None if the water was not weighed."""
    @property
    def bed(self) -> Bed:
        """Holdup, retained water and drainage of the bed."""
    @property
    def water_g(self) -> Estimate | Undefined:
        """Water poured in all, g."""
    @property
    def beverage_g(self) -> Estimate | Undefined:
        """Beverage collected by the end, g."""
    @property
    def extraction(self) -> Extraction:
        """Yield, strength, ratio and retention."""
    @property
    def warnings(self) -> list[str]:
        """Warnings on the whole log, each a sentence without its full stop; bed and extraction have their own."""
    @property
    def notes(self) -> list[str]:
        """How the file was read, each a sentence without its full stop: as `Log.notes`."""
    @property
    def labelled(self) -> Labelled | None:
        """What labels changed; None if none were given."""
    @property
    def log_digest(self) -> str | None:
        """SHA-256 of the samples of the log, as `Log.digest`; None if an earlier version made the brew."""
    @property
    def options(self) -> Options:
        """The options of the analysis."""
    @property
    def version(self) -> str:
        """Version of the library that made the brew."""
    @property
    def pours(self) -> list[Pour]:
        """The pours, in order."""
    @property
    def rests(self) -> list[Rest]:
        """The rests, one fewer than the pours."""
    @property
    def events(self) -> list[Event]:
        """Disturbances of the log, in order of time."""
    @property
    def time_zero_s(self) -> float:
        """Start of the first pour on the clock of the log, s; 0 without a pour."""
    @property
    def head(self) -> str:
        """The answer in one sentence: pours, water, time, flow, steadiness, drawdown, ratio and yield, if defined."""
    @property
    def _brief(self) -> list[list[tuple[str, str]]]:
        """The rows of the pours in text: each cell with the reason if it is undefined."""
    @property
    def _brief_heads(self) -> list[str]:
        """The heads of these rows."""
    @property
    def _in_brief(self) -> list[str | None]:
        """The numbers of the head as text, None if undefined."""
    @property
    def _further(self) -> list[str]:
        """Warnings on the log and on the labels, notes on the file."""
    @property
    def _uncertainty(self) -> list[str]:
        """Uncertainty of the yield and its largest source, with the warnings of all stages."""
    @property
    def _samples(self) -> list[str]:
        """Number of samples by flag, noise and readout step: one sentence per weight."""
    @property
    def _totals(self) -> list[tuple[str, str, str]]:
        """The numbers of the whole brew: name, text, and the reason if it is undefined."""
    def __iter__(self) -> Iterator[Pour]: ...
    @overload
    def __getitem__(self, place: int, /) -> Pour: ...
    @overload
    def __getitem__(self, place: slice, /) -> list[Pour]: ...
    def table(self, all: bool = False) -> Table:
        """One row per pour: the numbers that most people need and the metadata that are given; with `all` every number with its"""
    def events_table(self) -> Table:
        """One row per event of the log, in order of time: kind, weight, instants, size, samples, what was done."""
    def to_pandas(self, all: bool = False) -> DataFrame:
        """The same table as a pandas DataFrame; with `all` every number with its sd."""
    def to_dict(self) -> dict[str, Any]:
        """Everything as a dict, as in the JSON; a number that is not finite is None."""
    def summary(self) -> str:
        """The answer as text: one sentence, one line per pour, and the warnings, as `print` writes them."""
    def plot(
        self, ax: Mapping[str, Axes] | Iterable[Axes] | Axes | None = None, figsize: tuple[float, float] | None = None
    ) -> dict[str, Axes]:
        """Draws the brew: the result of `plot`, with the same `ax` and `figsize`."""
    def report(self, path: str | PathLike[str], title: str | None = None) -> Path:
        """Writes a page of the brew to `path`: that of `report`, with `title` as its title."""
    def _overview(self, name: str) -> str: ...
    @staticmethod
    def from_json(text: str) -> Brew:
        """A brew from the JSON `text` of `to_json`, of this version or an earlier one: identical to the last bit."""
    def to_json(self) -> str:
        """Everything as JSON text; a number that is not finite is null."""
    def __len__(self) -> int: ...
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Profile:
    """The mean flow of a group of brews, with a simultaneous band of a stated coverage."""

    @property
    def brews(self) -> list[str]:
        """Names of the brews, in the order given; a brew without a name is named by its index."""
    @property
    def axis(self) -> Literal["time", "water"]:
        """Axis of `position`: time since the start of the first pour, or water poured since then."""
    @property
    def align(self) -> Literal["landmarks", "start"]:
        """Alignment of the brews, as applied."""
    @property
    def warnings(self) -> list[str]:
        """Warnings: another alignment than the requested one, or an early end of the axis."""
    @property
    def position(self) -> _Array:
        """Positions along the axis, in s or g; each array has this length."""
    @property
    def flow_g_per_s(self) -> _Array:
        """Mean flow of the brews, g/s."""
    @property
    def flow_sd_g_per_s(self) -> _Array:
        """Sd between the brews, the scale's share included, g/s."""
    @property
    def scale_sd_g_per_s(self) -> _Array:
        """Measurement part of that sd, from the scale and its noise, g/s."""
    @property
    def scale_share(self) -> float:
        """Share of measurement in the variance between the brews, over the whole axis; 0 to 1."""
    @property
    def landmarks(self) -> list[Landmark]:
        """Landmarks that the brews were aligned on; none if only the first start was."""
    @property
    def middle(self) -> int:
        """Index of the medoid: the brew with the least sum of distances to the others."""
    @property
    def distance_g_per_s(self) -> _Array:
        """For each brew the median of its distances to the others, aligned on the first start, g/s."""
    @property
    def odd(self) -> Outlier | Undefined:
        """The outlier among the brews, or the reason for none."""
    @property
    def low_g_per_s(self) -> _Array | Undefined:
        """Lower edge of the band, or the reason for none, g/s."""
    @property
    def high_g_per_s(self) -> _Array | Undefined:
        """Upper edge of the band, or the reason for none, g/s."""
    @property
    def band_factor(self) -> float | Undefined:
        """Half-width of the band in sd of the mean, or the reason for none."""
    @property
    def level(self) -> float:
        """Simultaneous coverage of the band."""
    def table(self) -> Table:
        """One row per point of the axis; the band is NaN if there is none."""
    def to_json(self) -> str:
        """Everything as JSON text; a number that is not finite is null."""
    def __len__(self) -> int: ...
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Landmark:
    """A landmark that the brews of a profile were aligned on."""

    @property
    def pour(self) -> int:
        """Number of the pour in its brew, from 1."""
    @property
    def kind(self) -> Literal["start", "half_rise", "half_fall", "end"]:
        """Instant of the pour."""
    @property
    def mean(self) -> Estimate:
        """Mean over the brews, with the sd of that mean, in the unit of the axis."""
    @property
    def sd(self) -> float:
        """Sd between the brews, in the unit of the axis."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Outlier:
    """The outlier of a group of brews."""

    @property
    def brew(self) -> int:
        """Index of the brew."""
    @property
    def z(self) -> float:
        """Robust z of the logarithm of the brew's distance to the others."""
    @property
    def threshold(self) -> float:
        """Threshold of z for an outlier."""
    @property
    def pour(self) -> int | None:
        """The pour with the largest share of the distance, from 1; None if the numbers of pours differ."""
    @property
    def quantity(self) -> str | None:
        """The quantity of that pour that differs: `rest_before_s`, `duration_s` or `flow_g_per_s`."""
    @property
    def value(self) -> float:
        """Value of the quantity in this brew."""
    @property
    def usual(self) -> float:
        """Median of the quantity in the other brews."""
    @property
    def why(self) -> str:
        """The finding in a sentence."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Distance:
    """Distance of two brews: symmetric, 0 for a brew and itself."""

    @property
    def flow_g_per_s(self) -> float:
        """Root mean square difference of the flows, first starts aligned, g/s."""
    @property
    def noise_g_per_s(self) -> float:
        """Distance of two equal pours from measurement noise only, g/s."""
    @property
    def amplitude_g_per_s(self) -> float | Undefined:
        """Part after alignment of every pour with its counterpart: higher or lower flow, g/s."""
    @property
    def timing_g_per_s(self) -> float | Undefined:
        """Part that the alignment removes: timing and duration, g/s."""
    @property
    def timing_s(self) -> Estimate | Undefined:
        """Root mean square difference of the instants of half-rise and half-fall, counted from the first start, s."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class ProfileDifference:
    """The difference of the mean flows of two groups on common landmarks, with a simultaneous band."""

    @property
    def a(self) -> str:
        """Name of the first group."""
    @property
    def b(self) -> str:
        """Name of the second group."""
    @property
    def brews(self) -> tuple[int, int]:
        """Number of brews of the two groups."""
    @property
    def blocks(self) -> list[str]:
        """Blocking factors: groups are compared and dealt within each combination of their levels."""
    @property
    def axis(self) -> Literal["time", "water"]:
        """Axis of `position`: time since the start of the first pour, or water poured since then."""
    @property
    def align(self) -> Literal["landmarks", "start"]:
        """Alignment of the brews, as applied."""
    @property
    def warnings(self) -> list[str]:
        """Warnings: another alignment than the requested one, an early end of the axis, brews without a counterpart."""
    @property
    def position(self) -> _Array:
        """Positions along the common axis, in s or g; each array has this length."""
    @property
    def a_flow_g_per_s(self) -> _Array:
        """Mean flow of the first group, g/s."""
    @property
    def b_flow_g_per_s(self) -> _Array:
        """Mean flow of the second group, g/s."""
    @property
    def difference_g_per_s(self) -> _Array:
        """Second less first within blocks, g/s."""
    @property
    def low_g_per_s(self) -> _Array | Undefined:
        """Lower edge of the simultaneous band of the difference, or the reason for none, g/s."""
    @property
    def high_g_per_s(self) -> _Array | Undefined:
        """Upper edge of the band, or the reason for none, g/s."""
    @property
    def level(self) -> float:
        """Simultaneous coverage of the band."""
    @property
    def p(self) -> Estimate | Undefined:
        """p of no difference anywhere, by dealing: at most 1 - level if, and only if, the band leaves zero."""
    @property
    def arrangements(self) -> float:
        """Number of distinct ways to deal the groups within blocks."""
    @property
    def stretches(self) -> list[tuple[float, float]]:
        """Parts of the axis in which the band leaves zero, each from its first to its last position."""
    @property
    def landmarks(self) -> list[LandmarkDifference]:
        """Landmarks of the two groups, compared; none if only the first start was aligned."""
    @property
    def says(self) -> str:
        """What the difference means, in a sentence."""
    def table(self) -> Table:
        """One row per position; the band is NaN if there is none."""
    def to_json(self) -> str:
        """Everything as JSON text; a number that is not finite is null."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class LandmarkDifference:
    """A landmark of two groups, compared; interval and p hold for all landmarks together."""

    @property
    def pour(self) -> int:
        """Number of the pour in its brew, from 1."""
    @property
    def kind(self) -> Literal["start", "half_rise", "half_fall", "end"]:
        """Instant of the pour."""
    @property
    def a(self) -> float:
        """Mean over the brews of the first group, in the unit of the axis."""
    @property
    def b(self) -> float:
        """Mean over the brews of the second group, in the unit of the axis."""
    @property
    def difference(self) -> Estimate:
        """Second less first within blocks, with its standard error, in the unit of the axis."""
    @property
    def interval(self) -> tuple[float, float] | Undefined:
        """Interval of the difference, simultaneous for all landmarks."""
    @property
    def p(self) -> Estimate | Undefined:
        """p of no difference, by dealing, for all landmarks together."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Study:
    """Brews in rows: the input of every comparison."""

    def __new__(cls, table: ArrowStream) -> Study: ...
    @property
    def factors(self) -> list[str]:
        """Names of the factors, sorted."""
    @property
    def measures(self) -> list[str]:
        """Names of the measures, sorted."""
    @property
    def warned(self) -> list[str]:
        """Names of the brews that carry warnings, sorted."""
    @property
    def units(self) -> dict[str, str]:
        """Unit of each measure that has one."""
    def levels(self, factor: str) -> list[str]:
        """The levels of a factor, sorted."""
    def to_pandas(self) -> DataFrame:
        """The same table as a pandas DataFrame."""
    def only(self, **levels: object) -> Study:
        """The study of the rows that have all the given levels."""
    def take(self, measure: str, *factors: str) -> Table:
        """One measure with its sd and the levels of some factors, one row per brew that has them all."""
    def missing(self, measure: str, *factors: str) -> Table:
        """Missing values of a measure and some factors: brew, pour, name and reason."""
    def design(self, first: str, second: str) -> Design:
        """Layout of two factors: crossed, nested or partial."""
    def table(self) -> Table:
        """One row per brew, or per pour: name, factors, and every number with its sd."""
    def __len__(self) -> int: ...
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Design:
    """Number of brews of each pair of levels of two factors."""

    @property
    def factors(self) -> tuple[str, str]:
        """The two factors."""
    @property
    def layout(self) -> Literal["crossed", "nested", "partial"]:
        """Layout: "crossed" (all pairs), "nested" (each level of the first has one of the second) or "partial"."""
    @property
    def balanced(self) -> bool:
        """Whether the design is balanced: every pair has the same number of brews."""
    @property
    def missing(self) -> int:
        """Number of brews that lack one of the two factors."""
    def table(self) -> Table:
        """Number of brews: one row per level of the first factor, one column per level of the second."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Schedule:
    """The brews of a study in a balanced random order."""

    @property
    def factors(self) -> list[str]:
        """The factors, as given."""
    @property
    def blocks(self) -> list[str]:
        """Blocking factors of the comparison: "person", if it is a factor, and "day"."""
    @property
    def brews(self) -> int:
        """Number of brews."""
    @property
    def seed(self) -> int:
        """Seed of the order."""
    @property
    def smallest_p(self) -> float:
        """Smallest p that comparing two levels of the first factor within the blocks can give."""
    @property
    def says(self) -> str:
        """The design in sentences."""
    def to_csv(self) -> str:
        """The table as CSV text, for `--factors`."""
    def table(self) -> Table:
        """One row per brew, in the planned order."""
    def to_json(self) -> str:
        """Everything as JSON text."""
    def __len__(self) -> int: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Comparison:
    """Differences of kettles, grinders, brewers or people in one measure."""

    @property
    def measure(self) -> str:
        """Name of the measure."""
    @property
    def unit(self) -> str:
        """Unit of the measure, empty if it has none."""
    @property
    def by(self) -> str:
        """The factor whose levels are the groups."""
    @property
    def basis(self) -> str:
        """What the comparison rests on, a sentence: brews of each group, people, days."""
    @property
    def blocks(self) -> list[str]:
        """The blocking factors within whose levels the groups were compared."""
    @property
    def independent(self) -> str:
        """The experimental unit: "brew", or the factor whose levels carry the groups."""
    @property
    def inference(self) -> Literal["dealing", "games_howell", "people"]:
        """Method of p and interval: "dealing", "games_howell" (unequal counts without blocks) or "people"."""
    @property
    def pairs(self) -> list[Contrast]:
        """Every pair of groups."""
    @property
    def overall_p(self) -> Estimate | Undefined:
        """p by permutation of all groups, against no difference between any."""
    @property
    def within_sd(self) -> Estimate | Undefined:
        """Sd within groups and blocks, with its standard error."""
    @property
    def measurement_share(self) -> Estimate | Undefined:
        """Share of the variance within groups that is measurement uncertainty, 0 to 1."""
    @property
    def level(self) -> float:
        """Confidence level of the intervals."""
    @property
    def measures(self) -> int:
        """Number of measures that are tested together: p and intervals hold for all of them."""
    @property
    def warnings(self) -> list[str]:
        """Warnings: what limits these numbers."""
    @property
    def cautions(self) -> list[Caution]:
        """The same warnings, each with its kind and what it is about."""
    @property
    def sentences(self) -> list[str]:
        """The result, one sentence per pair of groups."""
    def groups_table(self) -> Table:
        """One row per group: experimental units, mean with standard error, sd."""
    def values_table(self) -> Table:
        """One row per compared value: brew, group, levels of the blocks, value and its sd."""
    def missing_table(self) -> Table:
        """One row per brew that is excluded, or lacks some pours, with the reason."""
    def table(self) -> Table:
        """One row per pair of groups; differences in the unit of the measure."""
    def _repr_html_(self) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Caution:
    """One warning of a comparison, with a kind to select by."""

    @property
    def kind(
        self,
    ) -> Literal[
        "confounded",
        "uneven",
        "alike_names",
        "order",
        "order_unknown",
        "not_as_planned",
        "trend",
        "correlated",
        "one_person",
        "few_people",
        "tied",
        "unequal_scatter",
        "unequal_counts",
        "outlier",
        "missing",
        "missing_leans",
        "partial",
        "warned",
        "averaged",
        "unit",
        "left_out",
        "interaction",
        "no_p",
        "measurement",
    ]:
        """Its kind."""
    @property
    def about(self) -> str:
        """The factor, group, pair or brew that it is about; empty if it is about the study."""
    @property
    def text(self) -> str:
        """The warning: the fact, then what to do."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Interval:
    """An estimate with its 95 % interval, all in the same unit."""

    @property
    def value(self) -> float:
        """The estimate."""
    @property
    def low(self) -> float:
        """Lower end of the interval."""
    @property
    def high(self) -> float:
        """Upper end of the interval."""
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str: ...
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class FTest:
    """A test of a ratio of two mean squares by Fisher's F distribution."""

    @property
    def f(self) -> float:
        """Ratio of the two mean squares."""
    @property
    def degrees(self) -> float:
        """Degrees of freedom of the numerator."""
    @property
    def degrees_below(self) -> float:
        """Degrees of freedom of the denominator."""
    @property
    def p(self) -> float:
        """p: the probability of a ratio at least as large by chance alone."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Repeatability:
    """Spread within and between groups of brews, in the unit of the values; intervals of 95 %."""

    @property
    def brews(self) -> int:
        """Number of brews."""
    @property
    def mean(self) -> Estimate:
        """Mean of all brews; its sd includes the correlation within groups."""
    @property
    def within_sd(self) -> Interval:
        """Repeatability sd: that of brews of one group."""
    @property
    def of_scale_sd(self) -> float:
        """Measurement part of the repeatability sd."""
    @property
    def of_hand_sd(self) -> Interval:
        """Part of the repeatability sd from pouring and coffee, without the measurement."""
    @property
    def between_sd(self) -> Interval | Undefined:
        """Sd between groups, of their true means."""
    @property
    def reproducibility_sd(self) -> Interval | Undefined:
        """Reproducibility sd: that of brews of different groups, from both variances."""
    @property
    def repeatability_limit(self) -> Interval:
        """Repeatability limit: two brews of one group differ by less in 95 % of cases."""
    @property
    def reproducibility_limit(self) -> Interval | Undefined:
        """Reproducibility limit: two brews of different groups differ by less in 95 % of cases."""
    @property
    def within_cv_pct(self) -> Interval | Undefined:
        """Coefficient of variation within groups: `within_sd` in percent of the mean."""
    @property
    def reproducibility_cv_pct(self) -> Interval | Undefined:
        """Coefficient of variation across groups: `reproducibility_sd` in percent of the mean."""
    @property
    def between_share(self) -> Interval | Undefined:
        """Share of the variance of single brews that lies between groups, 0 to 1: ICC(1,1), for groups of any size."""
    @property
    def difference(self) -> FTest | Undefined:
        """F test of whether groups differ: mean square between over mean square within."""
    @property
    def warnings(self) -> list[str]:
        """Warnings, in sentences."""
    @property
    def labels(self) -> list[str]:
        """Group of each brew."""
    @property
    def values(self) -> list[float]:
        """Value of each brew."""
    def table(self) -> Table:
        """One row per group: group, brews, mean, sd."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Icc:
    """The intraclass correlation in its six forms."""

    @property
    def subjects(self) -> int:
        """Number of subjects."""
    @property
    def raters(self) -> int:
        """Number of raters, the k of the last three forms."""
    @property
    def forms(self) -> list[IccForm]:
        """The forms (1,1), (2,1), (3,1), (1,k), (2,k), (3,k)."""
    def table(self) -> Table:
        """One row per form: form, icc, low, high, f, degrees, degrees_below, p, meaning."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class IccForm:
    """One form of the intraclass correlation."""

    @property
    def form(self) -> str:
        """Name of the form, `ICC(1,1)` to `ICC(3,k)`, after Shrout and Fleiss."""
    @property
    def meaning(self) -> str:
        """Meaning of the form."""
    @property
    def icc(self) -> Interval:
        """The correlation with its 95 % interval; by sampling error it can be below 0."""
    @property
    def test(self) -> FTest:
        """F test of whether subjects differ at all."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Crossed:
    """A study of rows by columns."""

    @property
    def rows(self) -> list[str]:
        """Names of the rows, in the order in which they first occur."""
    @property
    def columns(self) -> list[str]:
        """Names of the columns."""
    @property
    def brews(self) -> int:
        """Number of brews."""
    @property
    def mean(self) -> Estimate | Undefined:
        """General mean, by restricted maximum likelihood."""
    @property
    def anova(self) -> Components | Undefined:
        """Components by analysis of variance; undefined if cells differ in number."""
    @property
    def reml(self) -> Components | Undefined:
        """Components by restricted maximum likelihood."""
    @property
    def warnings(self) -> list[str]:
        """Warnings, in sentences."""
    def table(self) -> Table:
        """One row per method and source: method, source, sd, low, high, share_pct, study_pct."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Components:
    """The sources of variance by one method."""

    @property
    def rows(self) -> Component:
        """Sd between rows, such as people."""
    @property
    def columns(self) -> Component:
        """Sd between columns, such as kettles."""
    @property
    def interaction(self) -> Component | Undefined:
        """Interaction of rows and columns."""
    @property
    def repeatability(self) -> Component:
        """Repeatability: sd between brews of one row and column."""
    @property
    def reproducibility(self) -> Component:
        """Reproducibility: sd between brews of one column by different rows."""
    @property
    def total(self) -> Component:
        """Total of all sources."""
    @property
    def of_scale_sd(self) -> float:
        """Measurement part of the repeatability sd."""
    @property
    def of_hand_sd(self) -> Interval:
        """Part of the repeatability sd from pouring and coffee, without the measurement."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Component:
    """One source of variance."""

    @property
    def sd(self) -> Interval:
        """Sd of the source, in the unit of the values, with its 95 % interval."""
    @property
    def share_pct(self) -> float:
        """Variance of the source in percent of the total variance."""
    @property
    def study_pct(self) -> float:
        """Sd of the source in percent of the total sd (study variation)."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Agreement:
    """Limits of agreement of two scales or methods, first less second, in their unit; intervals of 95 %."""

    @property
    def pairs(self) -> int:
        """Number of pairs."""
    @property
    def bias(self) -> Interval:
        """Mean difference, with its interval."""
    @property
    def sd(self) -> Interval:
        """Sd of the differences, with its interval."""
    @property
    def of_scale_sd(self) -> float:
        """Measurement part of that sd, from the stated sd of the values."""
    @property
    def lower_limit(self) -> Interval:
        """Lower limit of agreement: 95 % of differences lie between the limits."""
    @property
    def upper_limit(self) -> Interval:
        """Upper limit of agreement."""
    @property
    def slope(self) -> Interval | Undefined:
        """Slope of the difference on the mean of the two, with its 95 % interval."""
    @property
    def slope_p(self) -> float | Undefined:
        """p of the slope against 0."""
    @property
    def means(self) -> _Array:
        """Mean of each pair, in order."""
    @property
    def differences(self) -> _Array:
        """Difference of each pair, in order."""
    @property
    def warnings(self) -> list[str]:
        """Warnings, in sentences."""
    def table(self) -> Table:
        """One row per pair: mean, difference, and whether it lies outside of the limits (1) or not (0)."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class SettingFit:
    """A measure against a setting: a line and a monotone curve, the preferred one, and the setting for the target."""

    @property
    def x_name(self) -> str:
        """Name of the setting."""
    @property
    def x_unit(self) -> str:
        """Unit of the setting, empty if it has none."""
    @property
    def y_name(self) -> str:
        """Name of the measure."""
    @property
    def y_unit(self) -> str:
        """Unit of the measure, empty if it has none."""
    @property
    def x(self) -> _Array:
        """Setting of each brew."""
    @property
    def y(self) -> list[Estimate]:
        """Measured value of each brew."""
    @property
    def brews(self) -> list[str]:
        """Name of each brew; empty if plain numbers were given."""
    @property
    def level(self) -> float:
        """Level of every interval and band."""
    @property
    def target(self) -> float | None:
        """The target, if one was given."""
    @property
    def line(self) -> DialLine | Undefined:
        """The straight line."""
    @property
    def monotone(self) -> Monotone | Undefined:
        """The monotone curve."""
    @property
    def preferred(self) -> Literal["line", "monotone", "neither"]:
        """Which of the two fits is preferred."""
    @property
    def by_line(self) -> TargetSetting:
        """The setting for the target by the line, with its Fieller interval."""
    @property
    def by_monotone(self) -> TargetSetting:
        """The setting for the target by the monotone curve, with the interval of the sampled curves."""
    @property
    def words(self) -> list[str]:
        """The result in sentences."""
    @property
    def missing(self) -> Table:
        """Brews that are excluded, or included with some of their pours only, each with the reason."""
    @property
    def setting(self) -> Estimate | Undefined:
        """The setting for the target by the preferred fit, or the reason for none."""
    @property
    def interval(self) -> SettingInterval | Undefined:
        """The confidence set of the setting, by the preferred fit, or the reason for none."""
    def table(self) -> Table:
        """One row per setting, 61 from the lowest to the highest: both fits, their bands, prediction interval."""
    def to_json(self) -> str:
        """Everything as JSON text; a number that is not finite is null."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class DialLine:
    """The least-squares line of a measure against a setting."""

    @property
    def slope(self) -> Estimate:
        """Slope: the change of the measure per step of the setting."""
    @property
    def slope_interval(self) -> tuple[float, float]:
        """Ends of the slope's interval at the stated level."""
    @property
    def intercept(self) -> Estimate:
        """Intercept: the line at setting 0, possibly far from the settings tried."""
    @property
    def residual_sd(self) -> float:
        """Residual sd of brews about the line."""
    @property
    def degrees(self) -> int:
        """Degrees of freedom of the residual sd: brews less 2."""
    @property
    def r2(self) -> float:
        """Coefficient of determination: the share of the measure's variance that the line explains, 0 to 1."""
    @property
    def lack_of_fit(self) -> FitTest | Undefined:
        """Test of lack of fit: means of the settings about the line, against the variance of repeated brews."""
    @property
    def curvature(self) -> FitTest | Undefined:
        """Test of curvature: a parabola against the line."""
    @property
    def measurement_share(self) -> float | Undefined:
        """Share of the residual variance that is measurement variance."""
    def at(self, setting: float) -> Estimate:
        """The line at a setting, with the sd of the line there."""
    def confidence(self, setting: float, level: float = 0.95) -> tuple[float, float]:
        """Confidence interval of the line at a setting."""
    def prediction(self, setting: float, level: float = 0.95) -> tuple[float, float]:
        """Prediction interval of one more brew at a setting."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Monotone:
    """The monotone curve of a measure against a setting, linear between the settings tried."""

    @property
    def direction(self) -> Literal["rising", "falling"]:
        """Direction of the curve with increasing setting."""
    @property
    def stated(self) -> bool:
        """Whether the direction was stated; otherwise it is the one with the smaller sum of squares."""
    @property
    def settings(self) -> _Array:
        """Settings tried, in increasing order."""
    @property
    def means(self) -> _Array:
        """Mean measured at each setting."""
    @property
    def values(self) -> _Array:
        """Value of the curve at each setting."""
    @property
    def brews(self) -> list[int]:
        """Number of brews at each setting."""
    @property
    def levels(self) -> int:
        """Number of distinct values of the curve."""
    @property
    def scatter_sd(self) -> float | Undefined:
        """Sd of one brew, independent of the curve."""
    @property
    def scatter_degrees(self) -> int:
        """Degrees of freedom of that sd."""
    @property
    def turns_back(self) -> FitTest | Undefined:
        """Test of monotonicity: deviations of the means against the variance of repeated brews."""
    def at(self, setting: float) -> float:
        """The curve at a setting; NaN outside of those tried."""
    def confidence(self, setting: float, level: float = 0.95) -> tuple[float, float]:
        """Confidence interval of the curve at a setting; NaN outside of those tried, or if the variance is unknown."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class FitTest:
    """F test of the residuals of a fit against the variance of repeated brews."""

    @property
    def f(self) -> float:
        """F: mean square of the residuals of the fit over that of repeated brews."""
    @property
    def degrees(self) -> int:
        """Degrees of freedom of the residuals of the fit."""
    @property
    def scatter_degrees(self) -> int:
        """Degrees of freedom of the denominator."""
    @property
    def p(self) -> float:
        """p: the probability of an F at least as large if the fit holds."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class TargetSetting:
    """The setting at which a target is met, by one fit."""

    @property
    def setting(self) -> Estimate | Undefined:
        """The setting with its sd, or the reason for none."""
    @property
    def interval(self) -> SettingInterval | Undefined:
        """The confidence set of the setting, or the reason for none."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class MeanBeverage:
    """Effect of the mean beverage mass on the yields of brews, and on their ranks."""

    @property
    def mean_beverage_g(self) -> float:
        """Mean beverage of the brews that are included, g."""
    @property
    def beverage_spread_g(self) -> float:
        """Sd of the beverage from brew to brew, g."""
    @property
    def rank_changes(self) -> int:
        """Number of brews whose rank changes."""
    @property
    def pairs_flipped(self) -> int:
        """Number of pairs of brews, neighbours or not, whose order is reversed."""
    @property
    def rms_error_pct(self) -> float:
        """Root mean square of the errors, percentage points."""
    @property
    def words(self) -> list[str]:
        """The result in sentences."""
    @property
    def largest_error_pct(self) -> tuple[str, Estimate]:
        """Name of the brew with the largest error, and that error, percentage points."""
    @property
    def flips(self) -> Table:
        """Neighbours by own yield whose order is reversed; `clear` if their own yields differ by more than two sd."""
    @property
    def missing(self) -> Table:
        """Excluded brews, each with the reason."""
    def table(self) -> Table:
        """One row per brew: beverage, yield by its own beverage and by the mean, error, each with its sd, and both ranks."""
    def to_json(self) -> str:
        """Everything as JSON text."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Contrasts:
    """Every pair of groups, with cautions."""

    @property
    def groups(self) -> list[GroupSummary]:
        """The groups, in the order of their first rows."""
    @property
    def pairs(self) -> list[Contrast]:
        """The pairs of groups."""
    @property
    def overall_p(self) -> Estimate | Undefined:
        """p by permutation of all groups within cells, against no difference between any."""
    @property
    def overall_f(self) -> Estimate | Undefined:
        """F of all groups: Welch's without blocks, that of least squares with them."""
    @property
    def overall_p_model(self) -> Estimate | Undefined:
        """p of the F of all groups."""
    @property
    def within_sd(self) -> Estimate | Undefined:
        """Sd within groups and cells, with its standard error."""
    @property
    def measurement_share(self) -> Estimate | Undefined:
        """Share of the variance within groups and cells that is measurement uncertainty, 0 to 1."""
    @property
    def inference(self) -> Literal["dealing", "games_howell", "people"]:
        """Method of p and interval: "dealing", "games_howell" (unequal counts without blocks) or "people"."""
    @property
    def unit(self) -> str:
        """The experimental unit: "brew", or the factor whose levels carry the groups."""
    @property
    def blocks(self) -> list[str]:
        """The blocking factors within whose combinations the groups were compared."""
    @property
    def level(self) -> float:
        """Level of the intervals: the share of them that hold the true value."""
    @property
    def measures(self) -> int:
        """Number of measures that are tested together: p and intervals hold for all of them."""
    @property
    def cautions(self) -> list[Caution]:
        """What limits these numbers, each with its kind."""
    @property
    def warnings(self) -> list[str]:
        """Warnings: what limits these numbers."""
    def table(self) -> Table:
        """One row per pair. Undefined values are NaN; the column `p_reason` has the reason for no p."""
    def to_json(self) -> str:
        """Everything as JSON text; a number that is not finite is null."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Contrast:
    """One pair of groups: the second less the first."""

    @property
    def a(self) -> str:
        """The first group."""
    @property
    def b(self) -> str:
        """The second group."""
    @property
    def units(self) -> tuple[int, int]:
        """Experimental units of the two groups in cells that have both."""
    @property
    def difference(self) -> Estimate:
        """b less a within cells, with its standard error (NaN if the variance is unknown)."""
    @property
    def interval(self) -> tuple[float, float] | Undefined:
        """Interval of the difference: the differences that p does not reject. Those of all pairs hold together."""
    @property
    def difference_pct(self) -> Estimate | Undefined:
        """The difference in percent of the mean of a."""
    @property
    def interval_pct(self) -> tuple[float, float] | Undefined:
        """Interval of the difference in percent: it has 0 only if the interval of the difference has."""
    @property
    def hedges_g(self) -> Estimate | Undefined:
        """Hedges' g: the difference over the sd within groups and cells, corrected for few values."""
    @property
    def hedges_g_interval(self) -> tuple[float, float] | Undefined:
        """Interval of Hedges' g."""
    @property
    def t(self) -> Estimate | Undefined:
        """Student's t: the difference over its standard error."""
    @property
    def degrees(self) -> float:
        """Degrees of freedom of t."""
    @property
    def p(self) -> Estimate | Undefined:
        """p of no difference, by the method of `inference`; with several pairs it holds for all of them together."""
    @property
    def verdict(self) -> Literal["shown", "not shown", "equivalent"]:
        """ "shown" (p is at most 1 - level), "equivalent" (within the margin, and no difference is shown) or "not shown"."""
    @property
    def p_model(self) -> Estimate | Undefined:
        """p by Student's t for this pair alone, which assumes normal residuals."""
    @property
    def arrangements(self) -> float:
        """Number of distinct permutations, if these give p; else 1."""
    @property
    def p_interaction(self) -> Estimate | Undefined:
        """p of the test that the difference is the same at every level of the first blocking factor."""
    @property
    def equivalence(self) -> Equivalence | None:
        """Whether the two are equivalent within the margin, if one was stated."""
    @property
    def minimum_detectable_difference(self) -> Estimate | Undefined:
        """Minimum detectable difference: the smallest one that this study detects with the stated power."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class GroupSummary:
    """One group of a contrast."""

    @property
    def group(self) -> str:
        """Name of the group."""
    @property
    def units(self) -> int:
        """Experimental units of the group: brews, or people or days if these are the unit."""
    @property
    def mean(self) -> Estimate:
        """Plain mean of the units, with its standard error (NaN for a single one)."""
    @property
    def sd(self) -> float:
        """Sd of the units; it includes the variance between blocks."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Equivalence:
    """Test of equivalence of two groups within a margin."""

    @property
    def margin(self) -> float:
        """Equivalence margin, as stated."""
    @property
    def p(self) -> Estimate | Undefined:
        """The larger p of the two one-sided tests."""
    @property
    def interval(self) -> tuple[float, float] | Undefined:
        """Interval of the difference at twice the tail: 90 % for a level of 95 %."""
    @property
    def alike(self) -> bool | None:
        """Whether equivalence is significant; None if undefined."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class PowerCurve:
    """Power by the number of brews, with the uncertainty of the sd that it was planned with."""

    @property
    def difference(self) -> float:
        """The true difference."""
    @property
    def sd(self) -> float:
        """The sd between brews that was planned with."""
    @property
    def sd_interval(self) -> tuple[float, float] | None:
        """Interval of the sd, 95 %; None if it was given without an sd of its own."""
    @property
    def needed(self) -> int:
        """Brews per group that have the power."""
    @property
    def needed_interval(self) -> tuple[int, int] | None:
        """Brews per group that would be needed if the sd were either end of its interval."""
    @property
    def brews(self) -> list[int]:
        """Numbers of brews per group."""
    @property
    def power(self) -> _Array:
        """Power of each number."""
    @property
    def power_low(self) -> _Array:
        """Power if the sd were the upper end of its interval."""
    @property
    def power_high(self) -> _Array:
        """Power if the sd were the lower end of its interval."""
    @property
    def power_wanted(self) -> float:
        """The power that was asked for."""
    @property
    def says(self) -> str:
        """The result in a sentence."""
    def table(self) -> Table:
        """One row per number of brews."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

def habits(results: Sequence[PlanResult]) -> list[Habit]:
    """The habits in several brews of one plan, the largest first; in a single brew, those of its pours."""

def progress(
    brews: Iterable[tuple[int | date, PlanResult | _Number]],
    level: float = 0.95,
    changes: dict[int, str] | dict[date, str] | None = None,
) -> Progress:
    """The trend of one person's brews over days, from pairs of a day and a number or a plan's result, by its score."""

def control_chart(
    brews: Iterable[tuple[int | date, PlanResult | _Number]],
    baseline: int | None = None,
    sd: float | None = None,
    weight: float = 0.2,
) -> ControlChart:
    """The control chart of one person's brews over days: individuals and moving ranges, EWMA, CUSUM."""

def profile(brews: Iterable[Brew], **options: Unpack[_Profile]) -> Profile:
    """The mean flow of a group of brews with its band, the medoid and the outlier."""

def profile_difference(
    groups: dict[str, list[Brew]], blocks: str | Sequence[str] | None = None, **options: Unpack[_Profile]
) -> ProfileDifference:
    """The difference of the mean flows of two groups of brews, with a simultaneous band; landmarks are compared, too."""

def distance(one: Brew, other: Brew) -> Distance:
    """The distance between the flows of two brews, with its parts by amplitude and by timing."""

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
) -> Log:
    """Reads a log from a file (CSV, TSV, JSON Lines, Parquet, a workbook), the bytes of such a text, or a table with an Arrow stream."""

def calibrate(log: Log, **options: Unpack[_Calibrate]) -> Calibration:
    """How a scale shows a load, from a log of masses put on by hand and left for some seconds, or taken off."""

def condition(log: Log, **options: Unpack[_Condition]) -> Trace:
    """Finds the disturbances of a log: flags every sample and lists every event."""

def split(log: Log, **options: Unpack[_Condition]) -> list[Log]:
    """The brews of a log, each as a log of its own, in order of time; a log of one brew is returned as it is."""

def analyze_all(log: Log, options: _Options | None = None) -> list[Brew]:
    """Analyses each brew of a log that may hold several, in order of time: `split`, then `analyze`."""

def segment(trace: Trace, **options: Unpack[_Segment]) -> Segments:
    """Finds the pours and the rests, each number with its sd."""

def flow(trace: Trace, segments: Segments) -> Flow:
    """Flow of water on the trace's own stamps, with sd, corrected for the scale's delay."""

def compare(
    study: Study | Iterable[Brew | PourlineError] | ArrowStream,
    measure: str,
    by: str,
    blocks: str | Sequence[str] | None = None,
    pours: Literal["mean", "each"] | int | None = None,
    **options: Unpack[_Contrast],
) -> Comparison:
    """Compares the levels of a factor in one measure, within the levels of the blocks, such as one person on one day."""

def gather(
    brews: Iterable[Brew | PourlineError],
    pours: Literal["mean", "each"] | int | None = None,
    with_warnings: Literal["keep", "drop"] = "keep",
) -> Study:
    """Study of these brews, one row per brew."""

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
) -> SettingFit:
    """Fits a measure against a setting by a line and a monotone curve, and finds the setting for a target."""

def mean_beverage(brews: Study | Iterable[Brew | PourlineError] | ArrowStream) -> MeanBeverage:
    """Compares the yields of brews with the yields by the mean beverage mass of all brews."""

def metrics(trace: Trace, segments: Segments, **options: Unpack[_Metrics]) -> Metrics:
    """Metrics of the pours, each number with its sd or the reason for none."""

def agitation(trace: Trace, segments: Segments, flow: Flow, **options: Unpack[_Agitation]) -> Agitation:
    """Ordinal proxies for the agitation by each pour, each with its sd or the reason for none."""

def bed(
    trace: Trace,
    segments: Segments,
    flow: Flow | None = None,
    *,
    extraction: _Extraction | None = None,
    **options: Unpack[_Bed],
) -> Bed:
    """Water balance of the bed: held, retained and drained water. An undefined number has its reason."""

def extraction(
    meta: Meta, water_g: _Mass = None, beverage_g: _Mass = None, **options: Unpack[_Extraction]
) -> Extraction:
    """Extraction from the strength, the dose and this brew's own masses. An undefined number has its reason."""

def analyze(log: _Source, options: _Options | None = None, labels: Labels | None = None) -> Brew:
    """All stages for one log: `condition`, `segment`, `flow`, `metrics`, `agitation`, `bed` and `extraction`."""

def analyze_each(
    logs: Iterable[_Source | PourlineError] | str | PathLike[str],
    options: _Options | None = None,
    *,
    threads: int | None = None,
) -> Iterator[Brew | PourlineError]:
    """Analyses logs on all cores and yields each brew in the order of the logs."""

def analyze_many(
    logs: Iterable[_Source | PourlineError] | str | PathLike[str],
    options: _Options | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
    *,
    threads: int | None = None,
) -> list[Brew | PourlineError]:
    """Analyses many logs on all cores. The results are in the order of the logs."""

def simulate(recipe: str | Mapping[str, Any] | None = None, seed: int = 0) -> tuple[Log, Truth]:
    """A simulated log and its true values; recipe and seed fix the result."""

def recipe(level: str | None = None) -> dict[str, Any]:
    """All parameters of `simulate`, with the values of a level or the defaults, as a dict of dicts."""

def levels() -> list[str]:
    """Names of the levels of disturbance of `simulate` and `recipe`."""

def score(truth: Truth, found: Brew | Sequence[Pour]) -> Score:
    """Scores pours that were `found` against the `truth`: a brew, or a list of its pours."""

def fractions(mass_g: Iterable[_Number], strength_pct: Iterable[_Number], dose_g: _Number) -> Fractions | Undefined:
    """The yield of a brew in several vessels, from the mass and strength of each, in their order."""

def retention_from_pairs(pairs: Sequence[tuple[str, float]], level: float = 0.95) -> list[LearntRetention]:
    """Learns from pairs of a group's name and a brew's retention, g/g; `pourline.balance.learn_retention` takes brews too."""

def strength_for_pct(yield_pct: _Number, dose_g: _Number, beverage_g: _Number) -> Estimate | Undefined:
    """Strength of the beverage at which a yield is met, percent: E D/B."""

def beverage_for_g(yield_pct: _Number, dose_g: _Number, strength_pct: _Number) -> Estimate | Undefined:
    """Beverage mass at which a yield is met at a strength, g: E D/T."""

def water_for_g(
    yield_pct: _Number, dose_g: _Number, strength_pct: _Number, retention_g_per_g: _Number
) -> Estimate | Undefined:
    """Water to pour for a yield at a strength, g: D (E/T + r)."""

def dose_for_g(yield_pct: _Number, beverage_g: _Number, strength_pct: _Number) -> Estimate | Undefined:
    """Dose for a yield and a strength in a beverage mass, g: T B/E."""

def dose_for_water_g(
    yield_pct: _Number, water_g: _Number, strength_pct: _Number, retention_g_per_g: _Number
) -> Estimate | Undefined:
    """Dose for a yield and a strength at a mass of poured water, g: W/(E/T + r)."""

def chart_line_pct(yield_pct: _Number, brew_ratio: _Number, retention_g_per_g: _Number) -> Estimate | Undefined:
    """Line of the brewing control chart: the strength at a yield and a brew ratio, percent: E/(W/D - r)."""

def immersion_strength_pct(yield_pct: _Number, brew_ratio: _Number) -> Estimate | Undefined:
    """The line of full immersion, with all the water, percent: E/(W/D + E)."""

def density_kg_per_m3(t_c: float) -> float:
    """Density of liquid water at 1 atm, kg/m3, from 0 to 100 C: IAPWS SR6-08(2011)."""

def dynamic_viscosity_pa_s(t_c: float) -> float:
    """Dynamic viscosity of liquid water at 1 atm, Pa s, from 0 to 100 C: IAPWS SR6-08(2011)."""

def kinematic_viscosity_m2_per_s(t_c: float) -> float:
    """Kinematic viscosity of liquid water at 1 atm, m2/s, from 0 to 100 C: dynamic viscosity over density."""

def surface_tension_n_per_m(t_c: float) -> float:
    """Surface tension of water, N/m, from 0 to 100 C: IAPWS R1-76(2014)."""

def heat_capacity_j_per_kg_k(t_c: float) -> float:
    """Heat capacity of liquid water at 1 atm, J/(kg K), from 0 to 100 C: IAPWS SR6-08(2011)."""

def heat_of_vaporisation_j_per_kg(t_c: float) -> float:
    """Heat of vaporisation of water, J/kg, from 0 to 100 C, by Clapeyron's equation."""

def evaporation_share_per_k(t_c: float) -> float:
    """Upper bound of the mass fraction lost per kelvin of cooling, 1/K: all heat leaves by evaporation."""

def mass_g(volume_ml: float, t_c: float) -> float:
    """Mass of water that was measured by volume, g; the temperature is that at which the volume was read off."""

def repeatability(data: _Data, *, by: _Labels, measure: str | None = None) -> Repeatability:
    """Repeatability and reproducibility: sd of brews within a group and across groups (ISO 5725-2)."""

def icc(data: _Data, *, subjects: _Labels, raters: _Labels, measure: str | None = None) -> Icc:
    """Intraclass correlation, the share of the variance between subjects, in its six forms."""

def crossed(data: _Data, *, rows: _Labels, columns: _Labels, measure: str | None = None) -> Crossed:
    """A crossed study: random effects of rows (such as people) and columns (such as kettles)."""

def agreement(
    first: Iterable[_Number] | str, second: Iterable[_Number] | str, *, study: _Study | None = None
) -> Agreement:
    """Limits of agreement of two scales or methods (Bland and Altman 1986), with exact intervals."""

def contrast(
    values: Iterable[_Number],
    group: Sequence[str],
    *,
    blocks: Mapping[str, Sequence[str]] | None = None,
    unit: Sequence[str] | None = None,
    **options: Unpack[_Contrast],
) -> Contrasts:
    """Differences between groups, within blocks, of plain numbers; `compare` is the same for brews."""

def equivalence(difference: _Number, degrees: float, margin: float, level: float = 0.95) -> Equivalence:
    """Test of equivalence within a margin, by two one-sided tests."""

def sample_size(
    difference: float,
    sd: float,
    power: float = 0.8,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> int:
    """Number of brews per group that detects a true difference with that power; `sd` is that within groups and blocks."""

def minimum_detectable_difference(
    brews: int,
    sd: float,
    power: float = 0.8,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> float:
    """Minimum detectable difference of a study with that many brews per group, at that power."""

def power(
    difference: float,
    sd: float,
    brews: int,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> float:
    """Power: the probability that a study with that many brews per group detects a true difference at that level."""

def power_curve(
    difference: float,
    sd: _Number,
    power: float = 0.8,
    level: float = 0.95,
    blocks: int = 1,
    people: int = 0,
    people_sd: float = 0.0,
) -> PowerCurve:
    """Power by the number of brews per group, with what the uncertainty of the sd does to it."""

def design(factors: Mapping[str, int | Sequence[str]], repeats: int = 1, days: int = 1, seed: int = 0) -> Schedule:
    """The brews of a study in a balanced random order, before the first one is brewed."""

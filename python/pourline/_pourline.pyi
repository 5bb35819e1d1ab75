"""The compiled module. In: arrays and files. Out: logs, the stages as functions, and their results as frozen values."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from os import PathLike
from typing import Any, Literal, TypeAlias, final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ._arrow import ArrowStream
from ._errors import PourlineError
from .tables import Table

__version__: str

_Array: TypeAlias = NDArray[np.float64]
_Missing: TypeAlias = Literal["refuse", "flag"]
_Source: TypeAlias = Log | str | PathLike[str] | bytes | ArrowStream
_Number: TypeAlias = float | Estimate | Undefined
_Mass: TypeAlias = _Number | None

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
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str:
        """Both numbers in the given format, ` ± ` between them; the sd decides the decimals where no format is given."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...
    def __hash__(self) -> int: ...

@final
class Undefined:
    """A number that has no value here, with the reason. It is falsy, and `float()` of it raises the reason."""

    def __new__(cls, reason: str) -> Undefined: ...
    @property
    def reason(self) -> str:
        """Why there is no number, in a sentence."""
    def __bool__(self) -> Literal[False]: ...
    def __float__(self) -> float: ...
    def __format__(self, spec: str, /) -> str:
        """The word `undefined`, whatever the format."""

@final
class Meta:
    """What is known of a brew beside its weights; what is not known is None."""

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

@final
class Log:
    """The timestamped weights of one brew as they were logged: time in s, mass in g."""

    def __new__(
        cls,
        time_s: ArrayLike,
        water_g: ArrayLike | None = None,
        beverage_g: ArrayLike | None = None,
        *,
        missing: _Missing = "refuse",
        **meta: Any,
    ) -> Log: ...
    @property
    def time_s(self) -> _Array:
        """Stamps in s, as logged."""
    @property
    def water_g(self) -> _Array | None:
        """Reading of the scale under the brewer, g; None where the water was not weighed."""
    @property
    def beverage_g(self) -> _Array | None:
        """Reading of the scale under the server alone, g; None where the beverage was not weighed."""
    @property
    def meta(self) -> Meta:
        """What is known of the brew beside the weights."""
    def __len__(self) -> int: ...
    def _repr_html_(self) -> str: ...

@final
class Event:
    """One thing that the scale did and the hand did not."""

    @property
    def kind(self) -> str:
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
        """Size, g: how far the reading moved; 0 where that has no meaning."""
    @property
    def samples(self) -> int:
        """Number of samples concerned."""
    @property
    def action(self) -> str:
        """What was done about it, in a sentence."""

@final
class ChannelTrace:
    """One weight after conditioning; each array has the trace's length."""

    @property
    def mass_g(self) -> _Array:
        """The reading with offsets and drift taken out, g; NaN where it is missing; neither smoothed nor filled."""
    @property
    def flag(self) -> NDArray[np.str_]:
        """What became of each sample, an array of words."""
    @property
    def noise_sd_g(self) -> Estimate:
        """Standard deviation of the noise at rest, quantisation included, g."""
    @property
    def step_g(self) -> float:
        """Step of the readout, g; 0 where none is seen."""
    @property
    def drift_g_per_s(self) -> Estimate:
        """Drift of zero that was taken out, g/s."""

@final
class Trace:
    """A conditioned log: stamps in order, each weight with its flags, and the events. The log's own samples, none added."""

    @property
    def time_s(self) -> _Array:
        """Stamps in s, never decreasing."""
    @property
    def log_index(self) -> NDArray[np.uintp]:
        """For each sample its index in the log."""
    @property
    def rate_hz(self) -> float:
        """Usual sampling rate, Hz: one over the median interval."""
    @property
    def water(self) -> ChannelTrace | None:
        """Water poured; None where it was not weighed."""
    @property
    def beverage(self) -> ChannelTrace | None:
        """Beverage collected; None where it was not weighed."""
    @property
    def events(self) -> list[Event]:
        """All that was found, in order of time."""
    @property
    def brew_start_s(self) -> float:
        """First instant of the brew, s: after the preparation, or the first stamp."""
    @property
    def scale_lag_s(self) -> Estimate | None:
        """The lag that was given, s; None where none was."""
    @property
    def meta(self) -> Meta:
        """What is known of the brew."""
    def __len__(self) -> int: ...

@final
class Pour:
    """One pour. Times are true times at the bed: the scale's lag is taken out."""

    @property
    def start_s(self) -> Estimate:
        """First instant at which the flow passes 0.5 g/s (`flow_g_per_s` of the options), s."""
    @property
    def end_s(self) -> Estimate:
        """Last such instant, s."""
    @property
    def half_rise_s(self) -> Estimate:
        """First instant at which the flow passes half of the pour's median flow, s."""
    @property
    def half_fall_s(self) -> Estimate:
        """Last such instant, s."""
    @property
    def mass_g(self) -> Estimate:
        """Mass that arrived, g."""
    @property
    def mean_flow_g_per_s(self) -> Estimate:
        """Mass over duration, g/s."""
    @property
    def duration_s(self) -> Estimate:
        """Duration from start to end, s."""

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

@final
class Segments:
    """The pours and rests of a brew, and the lag of the scale."""

    @property
    def pours(self) -> list[Pour]:
        """The pours, in order."""
    @property
    def rests(self) -> list[Rest]:
        """The rests, one fewer than the pours."""
    @property
    def scale_lag_s(self) -> Estimate:
        """Time constant of the scale's lag, s: as given, or estimated from all edges of the log together."""
    @property
    def lag_source(self) -> Literal["given", "estimated", "expected"]:
        """Where the lag comes from: `given`, `estimated`, or `expected` where the log has no edge to tell."""
    @property
    def stream_lead_s(self) -> Estimate | Undefined:
        """Lead of the reading by the force of the stream, s: its speed at the bed over g, as given or seen in this log."""

@final
class Flow:
    """Flow at each stamp of the trace, the scale's lag taken out; each array has the trace's length."""

    @property
    def time_s(self) -> _Array:
        """Stamps in s."""
    @property
    def flow_g_per_s(self) -> _Array:
        """Flow of water at the bed, g/s."""
    @property
    def flow_sd_g_per_s(self) -> _Array:
        """Its standard deviation, g/s."""
    @property
    def water_g(self) -> _Array:
        """Water poured so far, g, noise and lag taken out."""
    @property
    def water_sd_g(self) -> _Array:
        """Its standard deviation, g."""
    def __len__(self) -> int: ...

@final
class Measures:
    """What the pours of a brew tell of the hand. What cannot be had is an `Undefined` that tells why."""

    @property
    def pours(self) -> list[PourMeasures]:
        """A row a pour, in their order."""
    @property
    def pouring_flow_g_per_s(self) -> Estimate | Undefined:
        """Mean over the time of all pours of their flow, g/s."""
    @property
    def longest_rest_s(self) -> Estimate | Undefined:
        """Longest rest, s."""

@final
class PourMeasures:
    """What one pour tells of the hand."""

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
        """Time from 10 to 90 % of the pour's median flow, s."""
    @property
    def fall_s(self) -> Estimate | Undefined:
        """Time from 90 to 10 % of it, s."""
    @property
    def near_plateau_pct(self) -> Estimate | Undefined:
        """Share of the pour's time at which the flow is near the plateau flow (within `near` of the options, 10 %), percent."""
    @property
    def steadiness_cv(self) -> Estimate | Undefined:
        """Sd over mean of the flow on the plateau, over time, the scale's noise taken out."""
    @property
    def steadiness_likely_cv(self) -> Estimate | Undefined:
        """The same, also where the scale hardly resolves it: there it leans on what is expected of hands, and its sd is large."""

    @property
    def steadiness_at_most_cv(self) -> Estimate | Undefined:
        """What the steadiness is at most, with a probability of 97.5 %: known too where the steadiness itself is below what the scale resolves."""
    @property
    def drift_g_per_s2(self) -> Estimate | Undefined:
        """Slope of the flow on the plateau, g/s2."""
    @property
    def pulsing_hz(self) -> Estimate | Undefined:
        """Frequency of the strongest beat, Hz."""
    @property
    def pulsing_amplitude_g_per_s(self) -> Estimate | Undefined:
        """Its amplitude, g/s."""
    @property
    def pulsing_amplitude_pct(self) -> Estimate | Undefined:
        """Its amplitude in percent of the pour's mean flow."""
    @property
    def pulsing_false_alarm(self) -> Estimate | Undefined:
        """Probability that noise alone would feign a beat as strong somewhere in the band, 0 to 1."""
    @property
    def smoothness(self) -> Estimate | Undefined:
        """Spectral arc length of the pour's flow: near -1.4 for one even swell, lower the more it goes up and down."""
    @property
    def pauses(self) -> Estimate | Undefined:
        """Number of pauses inside the pour: expected, where the log leaves it open."""
    @property
    def paused_s(self) -> Estimate | Undefined:
        """Time without water inside the pour, s."""

@final
class Bed:
    """What the bed did in one brew. What cannot be had is an `Undefined` that tells why."""

    @property
    def curve(self) -> BedCurve | Undefined:
        """Water held, beverage and its flow over time: a `BedCurve`."""
    @property
    def water_g(self) -> Estimate | Undefined:
        """Water poured in all, g."""
    @property
    def beverage_g(self) -> Estimate | Undefined:
        """Beverage collected by the end, g."""
    @property
    def first_drip_s(self) -> Estimate | Undefined:
        """First instant of the first flow of beverage that lasts, s."""
    @property
    def drawdown_end_s(self) -> Estimate | Undefined:
        """Instant from which the beverage's flow stays under 0.1 g/s after the last pour, s."""
    @property
    def drawdown_s(self) -> Estimate | Undefined:
        """From the end of the last pour until then, s."""
    @property
    def retention_g_per_g(self) -> Estimate | Undefined:
        """Water less beverage at the end, per gram of dose, g/g."""
    @property
    def retained_water_g_per_g(self) -> Estimate | Undefined:
        """Water alone that the bed kept, per gram of dose, g/g: retention plus yield; in a brew, less the vapour that was stated."""
    @property
    def law(self) -> DrainLaw | Undefined:
        """How the bed drains after the last pour: a `DrainLaw`."""
    @property
    def loss_g(self) -> Estimate | Undefined:
        """What the readings lost while nothing was taken away, g."""
    @property
    def most_vapour_g(self) -> Estimate | Undefined:
        """The most of it that evaporation can have taken, g."""
    @property
    def pours(self) -> list[PourDrain]:
        """A row a pour."""
    @property
    def cautions(self) -> list[str]:
        """What to know before these numbers are trusted, in sentences."""

@final
class BedCurve:
    """What the bed held over time; each array has the trace's length, NaN where nothing is claimed."""

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
        """Flow of beverage into the server, g/s."""
    @property
    def beverage_flow_sd_g_per_s(self) -> _Array:
        """Its standard deviation, g/s."""
    def __len__(self) -> int: ...

@final
class DrainLaw:
    """The law by which the bed drains, `Q = Q0 (V/V0)^p`, from the drawdown after the last pour."""

    @property
    def exponent(self) -> Estimate:
        """The exponent `p`: 1/3 for a cone in proportion to its head, 1/2 for a hole under a straight wall, 1 for an exponential."""
    @property
    def head_exponent(self) -> Estimate | Undefined:
        """The exponent of the head, where `vessel_exponent` is given."""
    @property
    def start_s(self) -> float:
        """First instant of the readings that it was fitted to, s."""
    @property
    def end_s(self) -> float:
        """The last of them, s."""
    @property
    def standing_g(self) -> Estimate:
        """What stood in the bed at the first instant, g, beyond what it keeps."""
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
        """Root mean square of what the law leaves of the readings, g."""
    @property
    def residual_over_noise(self) -> float:
        """The same over the noise of a reading: 1 is a perfect fit."""
    @property
    def exponential_residual_g(self) -> float:
        """What the best exponential leaves, g."""
    @property
    def exponential_rejected_sd(self) -> float:
        """How surely an exponential is worse, in sd; above 3 it is rejected."""

@final
class PourDrain:
    """What the bed did before and after one pour."""

    @property
    def held_at_start_g(self) -> Estimate | Undefined:
        """Water held when the pour starts, g."""
    @property
    def drained_share(self) -> Estimate | Undefined:
        """Share of the water poured before that had been collected when the pour starts, 0 to 1."""
    @property
    def drawdown_end_s(self) -> Estimate | Undefined:
        """Instant from which the beverage's flow stays under 0.1 g/s after the pour, s."""
    @property
    def drawdown_s(self) -> Estimate | Undefined:
        """From the end of the pour until then, s."""
    @property
    def conductance_g_per_s(self) -> Estimate | Undefined:
        """Flow with 50 g (`standing_g` of the options) standing in the bed, g/s."""
    @property
    def conductance_ratio(self) -> Estimate | Undefined:
        """Conductance over that after the pour before, both at one viscosity."""
    @property
    def permeability_m2(self) -> Estimate | Undefined:
        """Permeability of the bed, m2, where its size is given."""

@final
class BudgetRow:
    """One input of the yield and what it adds to the yield's sd."""

    @property
    def name(self) -> str:
        """Name of the input, which ends in its unit."""
    @property
    def value(self) -> Estimate:
        """The input with its standard uncertainty."""
    @property
    def sensitivity(self) -> float:
        """Percentage points of yield to one unit of the input."""
    @property
    def contribution_pct(self) -> float:
        """Sd of the yield from this input alone, percentage points."""
    @property
    def share(self) -> float:
        """Share of the yield's variance, 0 to 1; the rows add up to 1."""

@final
class Extraction:
    """What was extracted, and how well that is known. What cannot be had is an `Undefined` that tells why."""

    @property
    def yield_pct(self) -> Estimate | Undefined:
        """Extraction yield: dissolved coffee, percent of the dose, or of its dry part where its moisture was stated."""
    @property
    def strength_pct(self) -> Estimate | Undefined:
        """Strength (TDS) of what left the bed, percent by mass."""
    @property
    def brew_ratio(self) -> Estimate | Undefined:
        """Water over dose, g/g; bypass water does not count."""
    @property
    def retention_g_per_g(self) -> Estimate | Undefined:
        """(Water - beverage) over dose, g/g: of this brew, or as stated where the beverage was not weighed."""
    @property
    def retained_water_g_per_g(self) -> Estimate | Undefined:
        """Water poured that stayed in the bed, to a gram of dose, g/g."""
    @property
    def spent_water_g_per_g(self) -> Estimate | Undefined:
        """All water in the spent bed, to a gram of its dry mass, g/g."""
    @property
    def spent_moisture_pct(self) -> Estimate | Undefined:
        """All water in the spent bed, percent of its whole mass (wet basis)."""
    @property
    def cup_g(self) -> Estimate | Undefined:
        """The beverage with its bypass water, g."""
    @property
    def cup_strength_pct(self) -> Estimate | Undefined:
        """Strength of that, percent by mass."""
    @property
    def water_g(self) -> Estimate | Undefined:
        """Water poured, g."""
    @property
    def beverage_g(self) -> Estimate | Undefined:
        """Beverage, g; see `beverage_source`."""
    @property
    def convention(self) -> Literal["percolation", "immersion"]:
        """Which mass balance the yield is taken from: `percolation` or `immersion`."""
    @property
    def beverage_source(self) -> Literal["weighed", "from_retention"] | None:
        """Where the beverage mass comes from: `weighed`, `from_retention`, or None where there is none."""
    @property
    def budget(self) -> list[BudgetRow]:
        """What each input adds to the sd of the yield; empty where the yield is undefined."""
    @property
    def average_beverage_error_pct(self) -> Estimate | Undefined:
        """Yield that the stated average beverage mass would give, less the yield of this brew's own, percentage points."""
    @property
    def stated_retention_error_pct(self) -> Estimate | Undefined:
        """Yield that the stated retention would give, less the yield of this brew's own beverage, percentage points."""
    def monte_carlo(self, draws: int = 100_000, seed: int = 0) -> MonteCarlo | Undefined:
        """The yield by the Monte Carlo method, to hold its sd against; 1,000 to 10 million draws."""
    @property
    def cautions(self) -> list[str]:
        """What looks impossible or unusual, in sentences."""

@final
class Options:
    """Options of all stages; what is not given keeps its default."""

    def __new__(
        cls,
        *,
        condition: Mapping[str, Any] | None = None,
        segment: Mapping[str, Any] | None = None,
        measures: Mapping[str, Any] | None = None,
        bed: Mapping[str, Any] | None = None,
        extraction: Mapping[str, Any] | None = None,
    ) -> Options: ...
    def to_dict(self) -> dict[str, dict[str, Any]]:
        """All options with their values: a dict of five dicts."""
    def changed(self) -> dict[str, dict[str, Any]]:
        """The options that are not at their default: a dict of dicts."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

@final
class Brew:
    """All that one log tells."""

    @property
    def pours(self) -> list[Pour]:
        """The pours, in order."""
    @property
    def rests(self) -> list[Rest]:
        """The rests, one fewer than the pours."""
    @property
    def segments(self) -> Segments:
        """Pours, rests and the lag of the scale."""
    @property
    def trace(self) -> Trace:
        """The conditioned log."""
    @property
    def flow(self) -> Flow | None:
        """Flow of water on the log's own stamps; None where the water was not weighed."""
    @property
    def water_g(self) -> Estimate | Undefined:
        """Water poured in all, g."""
    @property
    def beverage_g(self) -> Estimate | Undefined:
        """Beverage collected by the end, g."""
    @property
    def measures(self) -> Measures:
        """What each pour tells of the hand."""
    @property
    def bed(self) -> Bed:
        """What the bed held, kept and let through."""
    @property
    def extraction(self) -> Extraction:
        """Yield, strength, ratio and retention."""
    @property
    def events(self) -> list[Event]:
        """What the scale did and the hand did not, in order of time."""
    @property
    def meta(self) -> Meta:
        """What is known of the brew beside its weights."""
    @property
    def options(self) -> Options:
        """The options that led here."""
    @property
    def version(self) -> str:
        """Version of the library that led here."""
    def table(self) -> Table:
        """A row a pour: its place, its numbers with their sd, and the brew's factors."""
    def to_json(self) -> str:
        """Everything as JSON text; a number that is not finite is null."""
    def _repr_html_(self) -> str: ...

@final
class LoadStep:
    """One mass put on the scale, or taken off."""

    @property
    def at_s(self) -> Estimate:
        """When, s."""
    @property
    def mass_g(self) -> Estimate:
        """The mass, g; below 0 where it was taken off."""
    @property
    def lag_s(self) -> Estimate:
        """The lag through which it shows, s."""

@final
class Calibration:
    """What a scale does to a mass that is put on it."""

    @property
    def scale_lag_s(self) -> Estimate:
        """Time constant of the first-order lag, s. The time that a hand takes to put a mass down is part of it."""
    @property
    def noise_sd_g(self) -> Estimate:
        """Standard deviation of the noise at rest, quantisation included, g."""
    @property
    def step_g(self) -> float:
        """Step of the readout, g; 0 where none is seen."""
    @property
    def steps(self) -> list[LoadStep]:
        """The steps that were fitted, in order of time."""

@final
class TruePour:
    """One pour as it truly was."""

    @property
    def start_s(self) -> float:
        """First instant at which the flow passes 0.5 g/s, s."""
    @property
    def end_s(self) -> float:
        """Last such instant, s."""
    @property
    def half_rise_s(self) -> float:
        """First instant at which the flow passes half of the pour's median flow, s."""
    @property
    def half_fall_s(self) -> float:
        """Last such instant, s."""
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
        """First instant at which the flow is at least 90 % of the median, s."""
    @property
    def plateau_end_s(self) -> float:
        """Last such instant, s."""
    @property
    def steadiness(self) -> float:
        """Sd over mean of the flow on the plateau, over time."""
    def to_dict(self) -> dict[str, float]:
        """All numbers, as a dict."""

@final
@final
class Study:
    """Many brews in rows, with their factors and numbers: what every comparison starts from."""

    def __new__(cls, table: ArrowStream) -> Study: ...
    @property
    def factors(self) -> list[str]:
        """Names of the factors, sorted."""

    @property
    def measures(self) -> list[str]:
        """Names of the numbers, sorted."""

    @property
    def units(self) -> dict[str, str]:
        """Unit of each number that has one."""

    def levels(self, factor: str) -> list[str]:
        """The levels of a factor, sorted."""

    def only(self, **levels: object) -> Study:
        """The rows that have all the given levels."""

    def take(self, measure: str, *factors: str) -> Table:
        """One measure with its sd and the levels of some factors, a row for each brew that has them all."""

    def missing(self, measure: str, *factors: str) -> Table:
        """What is missing of a measure and some factors: brew, pour, what, and why; a row for each brew that cannot take part or takes part
        with some of its pours.
        """

    def design(self, first: str, second: str) -> Design:
        """How two factors lie to each other."""

    def table(self) -> Table:
        """A row a brew, or a pour: name, factors, and every number with its sd."""

    def __len__(self) -> int: ...

@final
class Design:
    """How many brews there are of each pair of levels of two factors."""

    @property
    def factors(self) -> tuple[str, str]:
        """The two factors."""

    @property
    def layout(self) -> Literal["crossed", "nested", "partial"]:
        """ "crossed": every pair is there; "nested": each level of the first has one of the second only; "partial": anything else."""

    @property
    def balanced(self) -> bool:
        """Whether every pair has as many brews as every other."""

    @property
    def missing(self) -> int:
        """Number of brews that lack one of the two factors."""

    def table(self) -> Table:
        """Number of brews: a row for each level of the first factor, a column for each of the second."""

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
        """Last instant at which the beverage flows at 0.1 g/s or more, s; None where none flows that fast."""
    @property
    def events(self) -> list[Event]:
        """What went wrong, in order of time."""

@final
class Errors:
    """Errors of one quantity, found less true, with the sd that was stated for each."""

    @property
    def error(self) -> _Array:
        """Found less true, in the unit of the quantity."""
    @property
    def sd(self) -> _Array:
        """The sd stated beside each."""
    def bias(self) -> float:
        """Mean of the errors; NaN where there is none."""
    def mean_absolute(self) -> float:
        """Mean absolute error; NaN where there is none."""
    def rms(self) -> float:
        """Root of the mean square error; NaN where there is none."""
    def within_2_sd(self) -> float:
        """Share of the errors that lie within two stated sd, 0 to 1; NaN where there is none."""
    def __len__(self) -> int: ...

@final
class Score:
    """How near the found pours of one brew, or of many, are to the true ones. Scores of several brews are added with `+`."""

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
    def matched(self) -> int:
        """Pairs that belong together."""
    @property
    def missed(self) -> int:
        """True pours that overlap no found pour of their own."""
    @property
    def false_pours(self) -> int:
        """Found pours that overlap no true pour of their own."""
    @property
    def start_s(self) -> Errors:
        """Errors of the start, s."""
    @property
    def end_s(self) -> Errors:
        """Errors of the end, s."""
    @property
    def half_rise_s(self) -> Errors:
        """Errors of the half-rise, s."""
    @property
    def half_fall_s(self) -> Errors:
        """Errors of the half-fall, s."""
    @property
    def mass_g(self) -> Errors:
        """Errors of the mass, g."""
    @property
    def mean_flow_g_per_s(self) -> Errors:
        """Errors of the mean flow, g/s."""
    @property
    def flow_g_per_s(self) -> Errors:
        """Errors of the flow at the stamps within true pours, g/s; there only where a whole brew was scored."""
    @property
    def edge_error_s(self) -> float:
        """Mean absolute error of starts and ends together, s."""
    @property
    def half_error_s(self) -> float:
        """Mean absolute error of half-rises and half-falls together, s."""
    def f1_edges(self, tolerance_s: float) -> float:
        """F1 of the pours, one counting as found when start and end both lie within the tolerance; NaN without any pour."""
    def f1_halves(self, tolerance_s: float) -> float:
        """F1 of the pours, one counting as found when half-rise and half-fall both lie within the tolerance."""
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
) -> Log:
    """Reads a log from a file (CSV, TSV, JSON Lines, Parquet), from bytes of such a text, or from a table that speaks Arrow."""

def calibrate(log: Log, **options: Any) -> Calibration:
    """Finds the lag of a scale from a log in which masses were put on at once and left, or taken off."""

def condition(log: Log, **options: Any) -> Trace:
    """Finds what the scale did that the hand did not: flags every sample and lists every event."""

def segment(trace: Trace, **options: Any) -> Segments:
    """Finds the pours and the rests, each number with its sd."""

def flow(trace: Trace, segments: Segments) -> Flow:
    """Flow of water on the trace's own stamps, with sd, the scale's lag taken out."""

def gather(brews: Iterable[Brew | PourlineError], pours: Literal["mean", "each"] | int | None = None) -> Study:
    """Puts brews into one study, a row a brew."""

def measures(trace: Trace, segments: Segments, **options: Any) -> Measures:
    """What each pour tells of the hand, each number with its sd or the reason why it has none."""

def bed(trace: Trace, segments: Segments, flow: Flow | None = None, **options: Any) -> Bed:
    """What the bed held, kept and let through. What cannot be had says why."""

def extraction(meta: Meta, water_g: _Mass = None, beverage_g: _Mass = None, **options: Any) -> Extraction:
    """Extraction from the strength, the dose and this brew's own masses. What cannot be had says why."""

def analyze(log: _Source, options: Options | None = None) -> Brew:
    """One log the whole way: `condition`, `segment`, `flow`, `measures`, `bed` and `extraction` in one call."""

def analyze_many(
    logs: Iterable[_Source | PourlineError],
    options: Options | None = None,
    progress: bool | Callable[[int, int], object] | None = None,
) -> list[Brew | PourlineError]:
    """Analyses many logs on all cores. The results stand in the order of the logs."""

def simulate(recipe: str | Mapping[str, Any] | None = None, seed: int = 0) -> tuple[Log, Truth]:
    """A log of a brew that never was, and the truth about it; the same recipe and seed give the same log."""

def recipe(level: str | None = None) -> dict[str, Any]:
    """Everything that `simulate` can be told, with the values of a level or the defaults, as a dict of dicts."""

def score(truth: Truth, found: Brew | Sequence[Pour]) -> Score:
    """Scores what was found against the truth: a brew, or a list of its pours."""

@final
class MonteCarlo:
    """A yield by the Monte Carlo method: every input drawn from a normal distribution (JCGM 101:2008)."""

    @property
    def yield_pct(self) -> Estimate:
        """Mean and sd of the yields drawn, percent."""
    @property
    def interval_pct(self) -> tuple[float, float]:
        """Ends of the interval that holds the middle 95 % of them, percent."""
    @property
    def draws(self) -> int:
        """Number of draws."""
    @property
    def seed(self) -> int:
        """The seed: the same one gives the same numbers for ever."""

@final
class Fractions:
    """What the fractions of a brew gave, each and all together."""

    @property
    def beverage_g(self) -> Estimate:
        """All fractions together, g."""
    @property
    def strength_pct(self) -> Estimate:
        """Strength of all poured together, percent."""
    @property
    def yield_pct(self) -> Estimate:
        """Yield of all, percent of the dose."""
    @property
    def each_pct(self) -> list[Estimate]:
        """What each added to that yield, percentage points."""
    @property
    def so_far_pct(self) -> list[Estimate]:
        """The yield after each."""

@final
class LearntRetention:
    """What was learnt of one group's retention."""

    @property
    def group(self) -> str:
        """The group: a roast, a coffee."""
    @property
    def brews(self) -> int:
        """Brews of this group."""
    @property
    def mean_g_per_g(self) -> Estimate:
        """Its mean retention, with the sd of that mean, g/g."""
    @property
    def next_g_per_g(self) -> Estimate:
        """The retention to expect of its next brew, with the sd of one brew, g/g."""
    @property
    def interval_g_per_g(self) -> tuple[float, float]:
        """Prediction interval of that next brew, g/g."""
    @property
    def level(self) -> float:
        """Share of next brews that such intervals hold."""
    @property
    def degrees(self) -> int:
        """Degrees of freedom of the spread: brews less groups."""

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
    @staticmethod
    def scaa_2015() -> ChartBox:
        """SCAA Golden Cup Standard, 23 December 2015: 1.15 to 1.35 %, 18 to 22 %, 49.5 to 60.5 g/L."""
    @staticmethod
    def sca_home_brewer_2018() -> ChartBox:
        """SCA certification of home brewers, text of 2018: a strength up to 1.45 %."""
    @property
    def document(self) -> str:
        """The document that recommends it, with its date."""
    @property
    def strength_pct(self) -> tuple[float, float]:
        """From and to which strength, percent."""
    @property
    def yield_pct(self) -> tuple[float, float]:
        """From and to which yield, percent."""
    @property
    def coffee_g_per_l(self) -> tuple[float, float] | None:
        """From and to how much coffee to a litre of water, g/L; None where the document does not say."""
    def place(self, strength_pct: _Number, yield_pct: _Number) -> Place | Undefined:
        """Where a strength (of the cup, where water was added to it) and a yield lie."""
    def __eq__(self, other: object, /) -> bool: ...
    def __ne__(self, other: object, /) -> bool: ...

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

def fractions(mass_g: Iterable[_Number], strength_pct: Iterable[_Number], dose_g: _Number) -> Fractions | Undefined:
    """The yield of a brew that was caught in several vessels, from the mass and strength of each, in their order."""

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
    """Dose for a yield and a strength with the water that is to be poured, g: W/(E/T + r)."""

def chart_line_pct(yield_pct: _Number, brew_ratio: _Number, retention_g_per_g: _Number) -> Estimate | Undefined:
    """Line of the brewing control chart: the strength that goes with a yield at a brew ratio, percent: E/(W/D - r)."""

def immersion_strength_pct(yield_pct: _Number, brew_ratio: _Number) -> Estimate | Undefined:
    """The line of full immersion, where all the water counts, percent: E/(W/D + E)."""

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
    """Heat of vaporisation of water, J/kg, from 0 to 100 C: Clapeyron's equation on the saturation line of IAPWS SR1-86(1992)."""

def evaporation_share_per_k(t_c: float) -> float:
    """The most of its mass that hot water can lose for each kelvin it cools, 1/K: all heat leaves by evaporation."""

def mass_g(volume_ml: float, t_c: float) -> float:
    """Mass of water that was measured by volume, g; the temperature is that at which the volume was read off."""

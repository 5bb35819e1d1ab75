"""Time of general-purpose methods for a part of the task, compared with the whole analysis, in one run.

In: nothing. Out: a table of time and of how near the pours' edges come, over the same simulated brews. The other
methods see one channel, and return only the edges of pours or only a smoothed line; `pourline.analyze`
does all stages of both channels. An edge is within reach if it lies within 0.3 s of the true one. No method is given
the lag of the scale.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

import pourline

Array = NDArray[np.float64]
FLOW_G_PER_S = 0.5
REACH_S = 0.3
BREWS = 12
# Approximate limit on the time of one method, s.
PATIENCE_S = 60.0


def savgol(time_s: Array, water_g: Array) -> list[tuple[float, float]]:
    """Slope by local parabolas over 0.9 s; a pour begins above 1 g/s and ends below 0.5 g/s."""
    from scipy.signal import savgol_filter

    dt = float(np.median(np.diff(time_s)))
    window = max(5, int(0.9 / dt) | 1)
    slope = savgol_filter(water_g, window, 2, deriv=1, delta=dt)
    return hysteresis(time_s, slope)


def hysteresis(time_s: Array, slope: Array) -> list[tuple[float, float]]:
    """Runs above 0.5 g/s that reach 1 g/s somewhere."""
    above = np.concatenate(([False], slope > FLOW_G_PER_S, [False]))
    edges = np.flatnonzero(np.diff(above.astype(np.int8)))
    starts, ends = edges[::2], edges[1::2] - 1
    high = np.add.reduceat(slope > 2 * FLOW_G_PER_S, starts) if len(starts) else np.array([])
    return [(float(time_s[i]), float(time_s[j])) for i, j, k in zip(starts, ends, high, strict=True) if k]


def of_breaks(time_s: Array, water_g: Array, breaks: list[int]) -> list[tuple[float, float]]:
    """Pieces between change points in which more than 0.5 g/s arrive; adjacent ones are joined."""
    pours: list[tuple[float, float]] = []
    for i, j in zip([0, *breaks[:-1]], breaks, strict=True):
        j = min(j, len(time_s) - 1)
        if j <= i or (water_g[j] - water_g[i]) / (time_s[j] - time_s[i]) < FLOW_G_PER_S:
            continue
        if pours and pours[-1][1] >= time_s[i]:
            pours[-1] = (pours[-1][0], float(time_s[j]))
        else:
            pours.append((float(time_s[i]), float(time_s[j])))
    return pours


def kernel(time_s: Array, water_g: Array) -> list[tuple[float, float]]:
    """Change points of the mean of the flow by kernels (linear); the penalty is that of ten thousand variances of its
    noise.
    """
    import ruptures

    flow = np.gradient(water_g, time_s)
    noise = 1.4826 * float(np.median(np.abs(np.diff(flow)))) / 2**0.5
    cost = ruptures.KernelCPD(kernel="linear", min_size=2).fit(flow)
    return of_breaks(time_s, water_g, cost.predict(pen=max(noise, 1e-3) ** 2 * 3 * np.log(len(flow))))


def pelt(time_s: Array, water_g: Array) -> list[tuple[float, float]]:
    """The same by pruned exact search on every sample."""
    import ruptures

    flow = np.gradient(water_g, time_s)
    noise = 1.4826 * float(np.median(np.abs(np.diff(flow)))) / 2**0.5
    cost = ruptures.Pelt(model="l2", jump=1, min_size=2).fit(flow)
    return of_breaks(time_s, water_g, cost.predict(pen=max(noise, 1e-3) ** 2 * 3 * np.log(len(flow))))


def hidden_markov(time_s: Array, water_g: Array) -> list[tuple[float, float]]:
    """Two hidden states of the slope, fitted to the log itself."""
    from hmmlearn.hmm import GaussianHMM

    slope = np.gradient(water_g, time_s)
    model = GaussianHMM(n_components=2, n_iter=10, random_state=1)
    states = model.fit(slope[:, None]).predict(slope[:, None])
    pouring = states == np.argmax(model.means_[:, 0])
    return hysteresis(time_s, np.where(pouring, 4 * FLOW_G_PER_S, 0.0))


def local_trend(time_s: Array, water_g: Array) -> list[tuple[float, float]]:
    """A smoothed local linear trend with variances given; its slope above 0.5 g/s."""
    from statsmodels.tsa.statespace.structural import UnobservedComponents

    model = UnobservedComponents(water_g, "local linear trend")
    dt = float(np.median(np.diff(time_s)))
    smoothed = model.smooth([0.01, 1e-6, (0.3 * dt) ** 2 * dt])
    return hysteresis(time_s, np.asarray(smoothed.smoothed_state[1]) / dt)


def ours(log: pourline.Log) -> list[tuple[float, float]]:
    """All stages, both channels."""
    brew = pourline.analyze(log)
    return [(p.start_s.value, p.end_s.value) for p in brew.pours]


METHODS: dict[str, Callable[[Array, Array], list[tuple[float, float]]]] = {
    "savgol_filter, two thresholds": savgol,
    "KernelCPD, linear": kernel,
    "Pelt, l2": pelt,
    "GaussianHMM, two states": hidden_markov,
    "UnobservedComponents": local_trend,
}


def log_of(samples: int, seed: int) -> tuple[pourline.Log, list[tuple[float, float]]]:
    """A usual brew of about three minutes with this number of samples, and the true pours."""
    log, truth = pourline.simulate("usual" if samples < 5000 else "usual_50_hz", seed)
    return log, [(p.start_s, p.end_s) for p in truth.pours]


def near(found: list[tuple[float, float]], true: list[tuple[float, float]]) -> list[float]:
    """Error of each true edge, s: that of the nearest detected edge of the same kind; 10 s if there is none."""
    errors = []
    for side in (0, 1):
        edges = np.array([f[side] for f in found])
        errors += [float(np.min(np.abs(edges - t[side]))) if len(edges) else 10.0 for t in true]
    return errors


def best_of(run: Callable[[], object]) -> tuple[float, object]:
    """Least time of the runs that fit into a second, s, and the last result."""
    least, spent, given = float("inf"), 0.0, None
    while spent < 1.0:
        start = time.perf_counter()
        given = run()
        took = time.perf_counter() - start
        least, spent = min(least, took), spent + took
    return least, given


def row(name: str, times_s: list[float], beside_s: float, errors: list[float]) -> str:
    """One line of the table."""
    time_ms = 1e3 * float(np.median(times_s))
    within = float(np.mean(np.array(errors) < REACH_S))
    return f"| {name} | {time_ms:.2f} | {time_ms / 1e3 / beside_s:.2f} | {np.median(errors):.3f} | {within:.3f} |"


def main() -> None:
    """Print the table."""
    warnings.simplefilter("ignore")
    print(
        "| samples, method | ms | times savgol | median error of an edge s | edges within 0.3 s |\n|---|---|---|---|---|"
    )
    for samples in (1800, 9000):
        brews = [log_of(samples, 40 + k) for k in range(BREWS)]
        beside_s = float("nan")
        for name, method in METHODS.items():
            times, errors = [], []
            for log, true in brews:
                time_s, water_g = np.asarray(log.time_s), np.asarray(log.water_g)
                took, found = best_of(lambda m=method, t=time_s, w=water_g: m(t, w))  # type: ignore[misc]
                times.append(took)
                errors += near(found, true)  # type: ignore[arg-type]
                if took > PATIENCE_S / BREWS:
                    break
            beside_s = float(np.median(times)) if method is savgol else beside_s
            print(row(f"{samples}, {name}", times, beside_s, errors), flush=True)
        times, errors = [], []
        for log, true in brews:
            took, found = best_of(lambda of=log: ours(of))  # type: ignore[misc]
            times.append(took)
            errors += near(found, true)  # type: ignore[arg-type]
        print(row(f"{samples}, **pourline.analyze**", times, beside_s, errors), flush=True)


if __name__ == "__main__":
    main()

"""Many logs: the same brews as one by one, in order, whatever the threads; taken lazily; Ctrl-C is heard and nothing is
lost.
"""

from __future__ import annotations

import itertools
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

import pourline

# Ctrl-C is answered within this time, s: the requirement.
HEARD_S = 0.2


def short_log(seed: int, samples: int = 300) -> pourline.Log:
    """One pour of 5 g/s from 5 s on, under noise."""
    time_s = np.arange(samples) / 10
    noise = np.random.default_rng(seed).normal(0, 0.03, samples)
    return pourline.Log(time_s, np.round(5 * np.clip(time_s - 5, 0, 8 + seed % 5) + noise, 1), name=f"log {seed}")


@pytest.fixture(scope="module")
def logs() -> list[pourline.Log]:
    # The first is by far the longest: the others wait for it.
    return [short_log(0, 2000), *(short_log(seed, 80 + 60 * (seed % 4)) for seed in range(1, 40))]


@pytest.fixture(scope="module")
def one_by_one(logs: list[pourline.Log]) -> list[str]:
    return [pourline.analyze(log).to_json() for log in logs]


def texts(
    brews: Iterator[pourline.Brew | pourline.PourlineError] | list[pourline.Brew | pourline.PourlineError],
) -> list[str]:
    return [brew.to_json() if isinstance(brew, pourline.Brew) else repr(brew) for brew in brews]


@pytest.mark.parametrize("threads", [1, 2, 5, None])
def test_brews_are_the_same_to_the_last_bit_and_in_order(
    threads: int | None, logs: list[pourline.Log], one_by_one: list[str]
) -> None:
    assert texts(pourline.analyze_each(iter(logs), threads=threads)) == one_by_one
    assert texts(pourline.analyze_many(logs, threads=threads)) == one_by_one


@pytest.mark.parametrize("threads", [0, -1, 5000])
def test_a_number_of_threads_that_cannot_be_is_refused(threads: int) -> None:
    with pytest.raises(pourline.PourlineError, match="threads: 1 to 1024"):
        pourline.analyze_each([], threads=threads)


def test_logs_are_taken_one_at_a_time_and_not_far_ahead(logs: list[pourline.Log]) -> None:
    taken = itertools.count()
    endless = (log for log in itertools.cycle(logs) if next(taken) >= 0)
    brews = pourline.analyze_each(endless, threads=2)
    for given in range(1, 60):
        next(brews)
        assert next(taken) <= given + 2 * 16 + given
    assert iter(brews) is brews


def test_what_the_logs_raise_has_its_turn_after_the_brews_before_it(logs: list[pourline.Log]) -> None:
    def breaks() -> Iterator[pourline.Log]:
        yield from logs[1:4]
        raise OSError("the disk is gone")

    brews = pourline.analyze_each(breaks(), threads=2)
    assert [next(brews).meta.name for _ in range(3)] == ["log 1", "log 2", "log 3"]  # type: ignore[union-attr]
    with pytest.raises(OSError, match="the disk is gone"):
        next(brews)
    assert next(brews, None) is None


def test_other_threads_of_python_go_on_meanwhile(logs: list[pourline.Log]) -> None:
    beats, ended = [0], threading.Event()

    def beat() -> None:
        while not ended.wait(0.001):
            beats[0] += 1

    other = threading.Thread(target=beat)
    other.start()
    pourline.analyze_many(logs, threads=1)
    ended.set()
    other.join()
    assert beats[0] > 20


def test_the_environment_decides_how_many_threads_there_are() -> None:
    code = """
import pourline
names = pourline.datasets.names()[:4]
print([brew.to_json() for brew in pourline.analyze_many(map(pourline.datasets.load, names))])
"""
    outs = {
        subprocess.run(
            [sys.executable, "-c", code], env=os.environ | {"RAYON_NUM_THREADS": n}, capture_output=True, check=True
        ).stdout
        for n in ("1", "3")
    }
    assert len(outs) == 1


# Each prints when it begins to work and, once interrupted, that time and its number of brews.
BEGIN = """
import itertools, sys, time
import pourline
log = pourline.datasets.load("thimblebeak-ada-20")
logs = itertools.repeat(log)
kept = []
"""
END = """
except KeyboardInterrupt as stop:
    heard = time.monotonic()
    kept = getattr(stop, "done", kept)
    assert all(len(brew.pours) > 0 for brew in kept)
    print(heard, len(kept))
"""
WAYS = {
    "analyze_many": "print('begun', flush=True)\ntry:\n    pourline.analyze_many(logs)",
    "analyze_each": "print('begun', flush=True)\ntry:\n    for brew in pourline.analyze_each(logs):\n        kept.append(brew)",
    "analyze_many with progress": "print('begun', flush=True)\ntry:\n    pourline.analyze_many([log] * 10000, progress=lambda *n: None)",
}


@pytest.mark.skipif(sys.platform == "win32", reason="a signal is sent")
@pytest.mark.parametrize("way", WAYS)
def test_ctrl_c_is_heard_at_once_and_what_is_done_is_kept(way: str) -> None:
    best_s = np.inf
    # The machine may be busy with something else: one quick answer of three shows that it is quick.
    for _ in range(3):
        with subprocess.Popen(
            [sys.executable, "-c", BEGIN + WAYS[way] + END], stdout=subprocess.PIPE, text=True
        ) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == "begun\n"
            time.sleep(1.0)
            sent = time.monotonic()
            child.send_signal(signal.SIGINT)
            told = child.stdout.read().split()
        heard, kept = float(told[0]), int(told[1])
        assert child.returncode == 0
        assert kept > 0
        best_s = min(best_s, heard - sent)
        if best_s < HEARD_S:
            break
    assert best_s < HEARD_S


def test_an_interrupt_by_what_tells_the_progress_keeps_what_is_done(
    logs: list[pourline.Log], one_by_one: list[str]
) -> None:
    def stop(done: int, total: int) -> None:
        assert total == len(logs)
        if done == 7:
            raise KeyboardInterrupt

    with pytest.raises(pourline.Interrupted, match="7 logs were done") as caught:
        pourline.analyze_many(iter(logs), progress=stop)
    assert texts(caught.value.done) == one_by_one[:7]
    assert isinstance(caught.value.__cause__, KeyboardInterrupt)

"""Logs and results go to worker processes and back, whichever way these start; a fork does not hang; Ctrl-C is heard."""

from __future__ import annotations

import multiprocessing
import os
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import joblib
import pytest

import pourline

NAMES = ["fernspout-ada-01", "broadlip-ada-09"]
METHODS = [one for one in ("spawn", "forkserver", "fork") if one in multiprocessing.get_all_start_methods()]
TIMEOUT_S = 60
# Newer versions of Python warn of forks beside threads, which is what is tested.
forks = pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")


def logs() -> list[pourline.Log]:
    return [pourline.datasets.load(name) for name in NAMES]


@forks
@pytest.mark.parametrize("method", METHODS)
def test_a_pool_of_processes_gives_the_same_brews(method: str) -> None:
    expected = pourline.analyze_many(logs(), progress=False)
    options = pourline.Options(segment={"mass_g": 2})
    with ProcessPoolExecutor(2, multiprocessing.get_context(method)) as pool:
        found = list(pool.map(partial(pourline.analyze, options=options), logs(), timeout=TIMEOUT_S))
    assert found == expected


def test_joblib_gives_the_same_brews() -> None:
    found = joblib.Parallel(n_jobs=2)(joblib.delayed(pourline.analyze)(log) for log in logs())
    assert found == pourline.analyze_many(logs(), progress=False)


def test_joblib_keeps_results_between_runs(tmp_path: os.PathLike[str]) -> None:
    memory = joblib.Memory(tmp_path, verbose=0)
    calls = []

    def analysed(log: pourline.Log) -> pourline.Brew:
        calls.append(log)
        return pourline.analyze(log)

    kept = memory.cache(analysed)
    log = logs()[0]
    assert kept(log) == kept(pourline.datasets.load(NAMES[0])) == pourline.analyze(log)
    assert len(calls) == 1


@forks
@pytest.mark.skipif("fork" not in METHODS, reason="needs fork")
def test_a_forked_worker_uses_its_own_threads() -> None:
    # The parent's pool has its threads before the fork.
    expected = pourline.analyze_many(logs(), progress=False)
    context = multiprocessing.get_context("fork")
    receive, send = context.Pipe(duplex=False)
    worker = context.Process(target=lambda: send.send(pourline.analyze_many(logs(), progress=False)))
    worker.start()
    try:
        assert receive.poll(TIMEOUT_S), "the forked worker hangs"
        assert receive.recv() == expected
    finally:
        worker.kill()
        worker.join()


@forks
@pytest.mark.skipif("fork" not in METHODS, reason="needs fork")
def test_an_iterator_of_the_parent_is_an_error_in_a_forked_worker() -> None:
    running = pourline.analyze_each(logs() * 5)
    next(running)
    context = multiprocessing.get_context("fork")
    receive, send = context.Pipe(duplex=False)

    def work() -> None:
        try:
            next(running)
        except pourline.PourlineError as error:
            send.send(str(error))

    worker = context.Process(target=work)
    worker.start()
    try:
        assert receive.poll(TIMEOUT_S), "the forked worker hangs"
        assert "began before this process was forked" in receive.recv()
    finally:
        worker.kill()
        worker.join()


INTERRUPTED = """
import numpy as np, pourline, signal, threading, os, time
time_s = np.arange({n}) / 100
water_g = np.round(4 * np.clip((time_s % 40) - 20, 0, 10) + 40 * (time_s // 40), 1)
log = pourline.Log(time_s, water_g)
sent = []
def press():
    sent.append(time.monotonic())
    os.kill(os.getpid(), signal.SIGINT)
threading.Timer(0.5, press).start()
try:
    {call}
except KeyboardInterrupt:
    print(time.monotonic() - sent[0])
else:
    print("ended")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="sends a signal of Unix")
@pytest.mark.parametrize(
    "call", ["pourline.analyze(log)", "pourline.analyze_all(log)", "pourline.segment(pourline.condition(log))"]
)
def test_ctrl_c_is_heard_within_three_tenths_of_a_second(call: str) -> None:
    code = INTERRUPTED.format(n=1_000_000, call=call)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=TIMEOUT_S, check=True)
    assert done.stdout.strip() != "ended", "the work ended before the key was pressed"
    assert float(done.stdout) < 0.3

"""Recorded drills at length and in numbers: time, memory, processes.

Run: ``pytest tests/benchmarks/bench_replay.py --benchmark-enable -o python_files='bench_*.py' -s``;
``-k hours`` for the long recording alone, ``-k folder`` for the 200. Bounds: three hours under
400 MB in all processes together; at most 10 % more processor time than the bare recogniser takes
for the same hours; 2 processes 1.8 times as fast as 1 (only an idle machine with two cores tells);
one process, two and a cluster of two workers print the same bytes, a worker killed or not.
"""

import importlib.util
import json
import os
import resource
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from readback.phraseology.grammar import load_grammar
from readback.speech.audio import Recording
from readback.speech.ear import EarRecogniser
from readback.speech.segments import find_segments

ROOT = Path(__file__).parents[2]
RATE_HZ = 16_000
HOURS, EVERY_S, PIECE_S = 3, 20, 20
MEMORY_MB, OVERHEAD, FASTER = 400, 0.10, 1.8
RECORDINGS, BROKEN = 200, 10
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
"""As the recogniser's own process has it."""


@dataclass(frozen=True)
class Done:
    out: str
    status: int
    wall_s: float
    processor_s: float
    memory_mb: float
    """The most that all its processes held at one time."""


def replay(*arguments: str, results: Path | None = None) -> Done:
    command = [sys.executable, "-m", "readback", "replay", "--json", "--engine", "ear", *arguments]
    if results is not None:
        command += ["--results", str(results)]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.monotonic()
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd=ROOT
    ) as run:
        watch = _Watch(run.pid)
        out, _ = run.communicate()
        memory_mb = watch.stop()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Done(out, run.returncode, time.monotonic() - began, spent, memory_mb)


class _Watch(threading.Thread):
    """Looks ten times a second how much memory a process and all that came of it hold."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self._pid = pid
        self._most = 0.0
        self._ended = threading.Event()
        self.start()

    def run(self) -> None:
        while not self._ended.wait(0.1):
            self._most = max(self._most, sum(map(resident_mb, family(self._pid))))

    def stop(self) -> float:
        self._ended.set()
        self.join()
        return self._most


def family(pid: int) -> list[int]:
    found = [pid]
    for parent in found:
        for tasks in Path(f"/proc/{parent}/task").glob("*/children"):
            try:
                found += map(int, tasks.read_text().split())
            except OSError:
                continue
    return found


def resident_mb(pid: int) -> float:
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGESIZE") / 2**20


def load() -> str:
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"


# ---- three hours ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def three_hours(tmp_path_factory) -> Path:
    """The shipped recordings again and again, one every 20 s, a quiet line between."""
    path = tmp_path_factory.mktemp("long") / "three_hours.flac"
    rng = np.random.default_rng(1)
    recordings = sorted((ROOT / "audio_demo_synth" / "recordings").glob("*.flac"))
    with soundfile.SoundFile(path, "w", RATE_HZ, 1) as file:
        for number in range(HOURS * 3600 // EVERY_S):
            line = rng.normal(0, 1e-4, EVERY_S * RATE_HZ)
            samples, _ = soundfile.read(recordings[number % len(recordings)], always_2d=True)
            line[: len(samples)] += samples.sum(axis=1)
            file.write(line)
    return path


def test_three_hours(three_hours: Path) -> None:
    done = replay(str(three_hours))
    (one,) = json.loads(done.out)["recordings"]
    bare = subprocess.run(
        [sys.executable, __file__, str(three_hours)],
        env={**os.environ, **ONE_THREAD, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        check=True,
    )
    whole_s, spoken_s, speech_s = json.loads(bare.stdout)
    ours = done.processor_s / HOURS

    print(
        f"\n{HOURS} h, {len(one['transmissions'])} transmissions ({speech_s / HOURS:.0f} s of sound"
        f" in each hour): {done.memory_mb:.0f} MB in all processes; for an hour {ours:.1f} s of"
        f" processor time, the bare recogniser {whole_s / HOURS:.1f} s for all of it and"
        f" {spoken_s / HOURS:.1f} s for the transmissions alone; starting, finding and judging them"
        f" {ours - spoken_s / HOURS:.1f} s; wall {done.wall_s:.0f} s; {load()}"
    )
    assert one["error"] is None
    assert done.memory_mb < MEMORY_MB
    assert ours <= whole_s / HOURS * (1 + OVERHEAD)


def bare_recogniser(path: Path) -> tuple[float, float, float]:
    """Give the recogniser's own time for the whole recording in pieces, for the transmissions
    alone, and how long these are."""
    ear = EarRecogniser(load_grammar().search())
    segments = list(find_segments(Recording(path)))
    ear.recognise(segments[0].pcm.tobytes())
    began = time.process_time()
    for segment in segments:
        ear.recognise(segment.pcm.tobytes())
    spoken_s = time.process_time() - began
    whole_s = 0.0
    with soundfile.SoundFile(path) as file:
        for block in file.blocks(PIECE_S * RATE_HZ, dtype="int16"):
            began = time.process_time()
            ear.recognise(block.tobytes())
            whole_s += time.process_time() - began
    return whole_s, spoken_s, sum(len(one.pcm) for one in segments) / RATE_HZ


# ---- a folder of 200 -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    path = ROOT / "audio_demo_synth" / "make_folder.py"
    spec = importlib.util.spec_from_file_location("make_folder", path)
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    made = tmp_path_factory.mktemp("many") / "folder"
    maker.make_folder(made, RECORDINGS, BROKEN)
    return made


@pytest.fixture(scope="module")
def one(folder: Path, tmp_path_factory) -> Done:
    """What one process makes of it."""
    return replay(str(folder), results=tmp_path_factory.mktemp("kept") / "one")


def test_folder(folder: Path, one: Done, tmp_path: Path) -> None:
    two = replay(str(folder), "--workers", "2", results=tmp_path / "two")

    print(f"\n{describe(folder, one.out)}")
    print(
        f"1 process {one.wall_s:.0f} s (processor {one.processor_s:.0f} s), 2 processes"
        f" {two.wall_s:.0f} s, {two.memory_mb:.0f} MB: {one.wall_s / two.wall_s:.2f} times as"
        f" fast; {load()}"
    )
    assert one.out == two.out
    assert len(json.loads(one.out)["broken"]) == BROKEN
    if os.getloadavg()[0] < 3:
        assert one.wall_s / two.wall_s >= FASTER


def describe(folder: Path, out: str) -> str:
    """Compare with the verdicts that are right."""
    expected = json.loads((folder / "expected.json").read_text(encoding="utf-8"))
    document = json.loads(out)
    broken = {Path(one["file"]).name for one in document["broken"]}
    assert broken == {name for name, verdicts in expected.items() if verdicts is None}
    counts: Counter[tuple[str, str]] = Counter()
    paired = 0
    for one in document["recordings"]:
        wanted = expected[Path(one["file"]).name]
        if wanted is not None:
            verdicts = [exchange["verdict"] for exchange in one["exchanges"]]
            paired += len(verdicts) == len(wanted)
            counts.update(zip(wanted, verdicts, strict=False))
    right = sum(count for (wanted, got), count in counts.items() if wanted == got)
    passed = sum(
        count for (wanted, got), count in counts.items() if got == "correct" and wanted != got
    )
    accused = sum(
        count
        for (wanted, got), count in counts.items()
        if wanted == "correct" and got not in ("correct", "say again")
    )
    assert passed == 0
    return (
        f"{len(expected)} recordings, {len(broken)} broken and listed; all exchanges found in"
        f" {paired} of {len(expected) - len(broken)}; of {counts.total()} verdicts {right} as"
        f" expected, {passed} wrong readbacks passed, {accused} right ones rejected"
    )


def test_folder_on_a_cluster_that_loses_a_worker(folder: Path, one: Done, tmp_path: Path) -> None:
    import distributed

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50
    ) as cluster:
        address = cluster.scheduler_address
        both = replay(str(folder), "--scheduler", address, results=tmp_path / "both")
        kept = tmp_path / "killed"
        killer = threading.Thread(target=kill_after, args=(kept, 40, cluster))
        killer.start()
        killed = replay(str(folder), "--scheduler", address, results=kept)
        killer.join()

    print(
        f"\ncluster of 2 workers {both.wall_s:.0f} s, one killed in mid-run {killed.wall_s:.0f} s,"
        f" 1 process {one.wall_s:.0f} s; {load()}"
    )
    assert both.out == one.out
    assert killed.out == one.out


def kill_after(kept: Path, results: int, cluster) -> None:
    """Kill a worker when so many results are there."""
    while len(list(kept.glob("*/*.json"))) < results:
        time.sleep(0.1)
    os.kill(next(iter(cluster.workers.values())).pid, signal.SIGKILL)


if __name__ == "__main__":
    print(json.dumps(bare_recogniser(Path(sys.argv[1]))))

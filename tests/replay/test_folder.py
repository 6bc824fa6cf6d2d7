"""A folder of mixed and broken recordings, with one process, two, and a cluster."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from readback.cli import main
from readback.replay.kept import KeptResults
from readback.replay.many import replay_all
from readback.replay.model import Replayed
from readback.replay.workers import cluster_workers, local_workers

from .conftest import SETTINGS


@pytest.fixture(scope="module")
def by_one(folder, tmp_path_factory) -> str:
    """What one process prints as JSON."""
    return printed(folder, tmp_path_factory.mktemp("one"))


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, silence_logs=50
    ) as started:
        yield started


def replaying(folder, results: Path) -> list[str]:
    command = [sys.executable, "-m", "readback", "replay", str(folder.path), "--json"]
    return [*command, "--engine", "ear", "--results", str(results)]


def printed(folder, results: Path, *options: str) -> str:
    command = [*replaying(folder, results), *options]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    return done.stdout


def test_broken_recordings_are_listed_and_all_others_heard(folder, by_one):
    document = json.loads(by_one)

    heard = {Path(one["file"]).name for one in document["recordings"] if one["error"] is None}
    assert [Path(one["file"]).name for one in document["broken"]] == folder.broken
    assert all(one["error"].startswith(one["file"]) for one in document["broken"])
    assert heard == {*folder.expected} - {*folder.broken}


def test_exchanges_are_found_and_no_planted_error_passes(folder, by_one):
    accused = total = 0
    for one in json.loads(by_one)["recordings"]:
        expected = folder.expected[Path(one["file"]).name]
        if expected is None:
            continue
        verdicts = [exchange["verdict"] for exchange in one["exchanges"]]
        assert len(verdicts) == len(expected), one["file"]
        for verdict, wanted in zip(verdicts, expected, strict=True):
            assert verdict != "correct" or wanted == "correct", one["file"]
            accused += verdict not in (wanted, "say again")
            total += 1

    # What the recogniser mishears is measured elsewhere; one exchange in five is far above that.
    assert accused <= total / 5, (accused, total)


def test_two_processes_print_the_same_bytes(folder, by_one, tmp_path):
    assert printed(folder, tmp_path, "--workers", "2") == by_one


def test_a_cluster_prints_the_same_bytes(folder, by_one, cluster, tmp_path):
    assert printed(folder, tmp_path, "--scheduler", cluster.scheduler_address) == by_one


def test_a_cluster_that_loses_a_worker_completes(folder, by_one, cluster, tmp_path):
    workers = cluster_workers(cluster.scheduler_address, len(folder.files))
    killed = []

    def kill_one(_) -> None:
        if not killed:
            pid = next(iter(cluster.workers.values())).pid
            os.kill(pid, signal.SIGKILL)
            killed.append(pid)

    results = replay_all(folder.files, lambda some: workers.hear(some, SETTINGS), told=kill_one)

    assert killed
    assert [one.document() for one in results] == json.loads(by_one)["recordings"]


def test_a_pool_that_loses_a_process_completes(folder, by_one):
    killed = []

    def kill_one(_) -> None:
        if not killed:
            killed.extend(children_of(os.getpid())[:1])
            os.kill(killed[0], signal.SIGKILL)

    workers = local_workers(2)
    results = replay_all(folder.files, lambda some: workers.hear(some, SETTINGS), told=kill_one)

    assert [one.document() for one in results] == json.loads(by_one)["recordings"]


def wait_until_gone(processes: list[int], longest_s: float = 30.0) -> None:
    until = time.monotonic() + longest_s
    while any(Path(f"/proc/{pid}").exists() for pid in processes):
        assert time.monotonic() < until, f"{processes} outlive the run"
        time.sleep(0.05)


def children_of(pid: int) -> list[int]:
    """The processes of a pool: spawned ones, not the one that tracks resources."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((process / "stat").read_text().rpartition(")")[2].split()[1])
            line = (process / "cmdline").read_bytes()
        except OSError:
            continue
        if parent == pid and b"spawn_main" in line:
            found.append(int(process.name))
    return sorted(found)


def test_a_killed_run_goes_on_where_it_stopped(folder, by_one, tmp_path):
    command = [*replaying(folder, tmp_path / "kept"), "--workers", "2"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as first:
        while first.poll() is None and len(list(tmp_path.glob("kept/*/*.json"))) < 3:
            time.sleep(0.02)
        workers = children_of(first.pid)
        first.kill()
    wait_until_gone(workers)
    kept = {path: path.stat().st_mtime_ns for path in tmp_path.glob("kept/*/*.json")}

    again = printed(folder, tmp_path / "kept")

    assert len(workers) == 2
    assert 3 <= len(kept) < len(folder.expected) - len(folder.broken)
    assert again == by_one
    assert kept == {path: path.stat().st_mtime_ns for path in kept}


def test_results_of_other_settings_do_not_count(tmp_path):
    result = Replayed(file="a.wav", content="0123")
    kept = KeptResults(tmp_path, SETTINGS, "ear")
    other = SETTINGS.model_copy(update={"authority": "faa"})

    kept.keep(result)

    assert kept.find("0123") == result
    assert KeptResults(tmp_path, other, "ear").find("0123") is None
    assert KeptResults(tmp_path, SETTINGS, "pocketsphinx").find("0123") is None


def test_a_damaged_result_does_not_count(tmp_path):
    kept = KeptResults(tmp_path, SETTINGS, "ear")
    kept.keep(Replayed(file="a.wav", content="0123"))
    (path,) = tmp_path.glob("*/*.json")
    path.write_text('{"file": "a.w')

    assert kept.find("0123") is None


def test_only_their_owner_may_read_kept_results(tmp_path):
    KeptResults(tmp_path / "kept", SETTINGS, "ear").keep(Replayed(file="a.wav", content="0123"))

    paths = [*tmp_path.glob("kept/*"), *tmp_path.glob("kept/*/*.json")]
    assert len(paths) == 2
    assert all(path.stat().st_mode & 0o077 == 0 for path in paths)


def test_results_are_not_kept_longer_than_the_run(folder, tmp_path, capsys):
    few = tmp_path / "few"
    few.mkdir()
    shutil.copy(next(one for one in folder.files if "drill" in one), few)
    shutil.copy(folder.path / "silence.wav", few)

    status = main(["replay", str(few), "--engine", "ear"])

    assert status in (0, 1)
    assert capsys.readouterr().out.splitlines()[0].startswith("recording")
    assert list(tmp_path.glob("data/**/*.json")) == []


def test_no_scheduler_is_told_in_one_line(folder, capsys):
    status = main(["replay", str(folder.path), "--scheduler", "tcp://127.0.0.1:9"])

    err = capsys.readouterr().err
    assert status == 2
    assert "no scheduler answers there" in err
    assert err.count("\n") == 1

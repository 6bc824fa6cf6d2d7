"""The wheel is built, installed apart from the checkout, and used from another folder."""

import json
import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def pip(*arguments: str) -> None:
    subprocess.run(
        [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", *arguments],
        check=True,
        cwd=ROOT,
        timeout=300,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    pip("wheel", "--no-deps", "--no-build-isolation", "--no-index", "-w", str(folder), ".")
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("site")
    pip("install", "--no-deps", "--no-index", "--target", str(folder), str(wheel))
    return folder


def run_installed(installed: Path, folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    # Before the checkout on the path; the dependencies are those of the tests' environment.
    environment = os.environ | {"PYTHONPATH": str(installed)}
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=False
    )


def test_the_installed_command_works_from_another_folder(installed, tmp_path):
    script = installed / ("Scripts" if os.name == "nt" else "bin") / "readback"

    done = run_installed(
        installed, tmp_path, str(script), "check", "cross runway one four", "crossing runway 14"
    )

    assert done.stdout.splitlines()[0] == "correct"
    assert done.returncode == 0


def test_the_installed_package_finds_its_own_data(installed, tmp_path):
    done = run_installed(installed, tmp_path, sys.executable, "-m", "readback", "doctor", "--json")

    checks = {check["name"]: check for check in json.loads(done.stdout)["checks"]}
    assert str(installed) in checks["readback"]["detail"]
    assert str(installed) in checks["recordings"]["detail"]
    assert all(checks[name]["works"] for name in ("grammar", "lexicon", "rules", "recordings"))


@pytest.mark.parametrize("folder", ["grammars", "audio_demo_synth/recordings"])
def test_the_wheel_holds_every_data_file(wheel, folder):
    shipped = {name for name in zipfile.ZipFile(wheel).namelist() if not name.endswith("/")}
    files = [path for path in (ROOT / folder).rglob("*") if path.is_file()]

    assert len(files) > 5
    assert all(f"readback/_data/{path.relative_to(ROOT).as_posix()}" in shipped for path in files)


def test_the_wheel_holds_nothing_of_the_checkout_besides(wheel):
    tops = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}

    assert tops == {"readback", "readback-0.1.0.dist-info"}


def test_the_wheel_carries_the_licence(wheel):
    names = zipfile.ZipFile(wheel).namelist()

    assert any(name.endswith("licenses/LICENSE") for name in names)


def test_the_version_is_written_once_in_each_of_two_places():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

    from readback import __version__

    assert project["version"] == __version__

"""Three plots of a report, each as PNG and SVG."""

from pathlib import Path
from typing import Any

from readback.errors import InputError
from readback.measure.report import Curve, Report

_FORMATS = ("png", "svg")
# Okabe and Ito's palette; marks differ too, for print and for all kinds of colour vision.
_COLOURS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00", "#000000")
_MARKS = "osD^vX*"


def save_plots(report: Report, folder: Path) -> tuple[Path, ...]:
    """Draw detection against false alarm, coverage against error, and calibration.

    Args:
        report: What was measured.
        folder: Made if it is not there.

    Returns:
        The files.

    Raises:
        InputError: matplotlib is not installed, or the folder cannot be written.
    """
    pyplot = _pyplot()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        paths: list[Path] = []
        for name, draw in _DRAWINGS.items():
            figure, axes = pyplot.subplots(figsize=(7, 5), layout="constrained")
            draw(axes, report)
            for form in _FORMATS:
                paths.append(folder / f"{name}.{form}")
                figure.savefig(paths[-1], dpi=120, metadata={"Date": None} if form == "svg" else {})
            pyplot.close(figure)
    except OSError as error:
        why = f"{folder}: cannot be written ({error.strerror})."
        raise InputError(why, "Name another.") from error
    return tuple(paths)


def check_plots() -> None:
    """Find out before a long run whether plots can be drawn.

    Raises:
        InputError: matplotlib is not installed.
    """
    _pyplot()


def _pyplot() -> Any:
    try:
        import matplotlib

        matplotlib.use("Agg")
        from matplotlib import pyplot
    except ImportError as error:
        raise InputError(
            "Plots need matplotlib, which is not installed.", 'Run pip install "readback[plots]".'
        ) from error
    # The same report gives the same file.
    matplotlib.rcParams["svg.hashsalt"] = "readback"
    return pyplot


def _detection(axes: Any, report: Report) -> None:
    for number, curve in enumerate(report.curves):
        alarms = [100 * (point.rejected.share or 0) for point in curve.points]
        caught = [100 * (point.caught.share or 0) for point in curve.points]
        _line(axes, number, curve, alarms, caught)
    axes.set(xlabel="right readbacks rejected, %", ylabel="wrong readbacks caught, %")
    axes.set_title("Detection against false alarm")
    axes.set_ylim(-2, 102)
    axes.legend(fontsize="small")


def _coverage(axes: Any, report: Report) -> None:
    for number, curve in enumerate(report.curves):
        points = [point for point in curve.points if point.error is not None]
        covered = [100 * point.coverage for point in points]
        _line(axes, number, curve, covered, [100 * (point.error or 0) for point in points])
    axes.set(xlabel="readbacks with a verdict, %", ylabel="wrong verdicts among them, %")
    axes.set_title("Coverage against error")
    axes.set_xlim(-2, 102)
    axes.legend(fontsize="small")


def _calibration(axes: Any, report: Report) -> None:
    axes.plot([0, 1], [0, 1], color="0.6", linestyle=":", label="certainty as claimed")
    whole = [one for one in report.figures if one.voice is None and one.calibration]
    for number, one in enumerate(whole):
        x = [part.certainty for part in one.calibration]
        y = [part.right for part in one.calibration]
        label = f"{one.engine}, {one.name} (error {one.calibration_error:.3f})"
        axes.plot(x, y, label=label, **_style(number))
    axes.set(xlabel="certainty claimed", ylabel="share that was right")
    axes.set_title("Calibration of the elements' certainty")
    axes.legend(fontsize="small")


def _line(axes: Any, number: int, curve: Curve, x: list[float], y: list[float]) -> None:
    axes.plot(x, y, label=f"{curve.engine}, {curve.condition}", **_style(number))


def _style(number: int) -> dict[str, Any]:
    return {
        "color": _COLOURS[number % len(_COLOURS)],
        "marker": _MARKS[number % len(_MARKS)],
        "linestyle": ("-", "--", "-.")[number // len(_COLOURS) % 3],
        "markersize": 4,
        "linewidth": 1,
    }


_DRAWINGS = {"detection": _detection, "coverage": _coverage, "calibration": _calibration}

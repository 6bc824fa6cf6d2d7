"""The arguments of ``readback replay``, and what they ask of a run."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from readback.commands.hearing import (
    add_channel_argument,
    add_engine_arguments,
    add_judging_arguments,
    add_local_argument,
)
from readback.commands.record_arguments import add_session_details
from readback.data import user_data_folder
from readback.errors import InputError

if TYPE_CHECKING:
    from readback.replay.kept import KeptResults
    from readback.replay.model import ReplaySettings
    from readback.replay.workers import Workers


def add_replay_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what ``replay`` takes."""
    parser.add_argument("files", nargs="+", metavar="FILE|FOLDER", help="recordings")
    add_judging_arguments(parser)
    # None: that of the drill counts, where there is one.
    parser.set_defaults(authority=None)
    add_local_argument(parser)
    add_engine_arguments(parser)
    add_channel_argument(parser)
    parser.add_argument("--drill", metavar="NAME", help="the drill that was recorded, or its file")
    parser.add_argument(
        "--seed", type=int, metavar="N", help="of the drill's values; else found from what was said"
    )
    parser.add_argument("--seat", metavar="NAME", help="the trainee's seat in the drill")
    parser.add_argument(
        "--station",
        action="append",
        default=[],
        metavar="N=NAME",
        help="who spoke transmission N, or in channel left or right: headset, flight_deck, ...",
    )
    parser.add_argument(
        "--workers", type=int, default=1, metavar="N", help="hear N recordings at a time"
    )
    parser.add_argument(
        "--scheduler", metavar="ADDRESS", help="hear on a Dask cluster (extra cluster)"
    )
    parser.add_argument(
        "--results",
        type=Path,
        metavar="FOLDER",
        help="keep results there, to go on from; else they are kept until the run is complete",
    )
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")
    stored = parser.add_argument_group("training records")
    stored.add_argument(
        "--store", action="store_true", help="keep each recording as a session of the records"
    )
    stored.add_argument("--records", metavar="PATH|URL", help="the records; see readback records")
    add_session_details(stored, required=False)


def read_settings(arguments: argparse.Namespace, recordings: int) -> "ReplaySettings":
    """Make the settings of a run from what was typed and from the user's file of settings."""
    from readback.replay.model import ReplaySettings
    from readback.settings import load_settings
    from readback.speech.engines import default_engine

    authority = _drill_authority(arguments)
    own = load_settings()
    vosk_model = arguments.vosk_model or own.vosk_model
    local = arguments.local or own.local
    return ReplaySettings(
        authority=arguments.authority or authority or "icao",
        callsign=arguments.callsign,
        # Named here, so that each process hears with the same one.
        engine=arguments.engine or own.engine or default_engine(vosk_model),
        vosk_model=None if vosk_model is None else vosk_model.absolute(),
        local=None if local is None else local.absolute(),
        channel=arguments.channel,
        drill=_drill(arguments.drill),
        seed=arguments.seed,
        seat=arguments.seat,
        stations=_stations(arguments.station, recordings),
    )


def read_workers(arguments: argparse.Namespace, recordings: int) -> "Workers | None":
    """Give what hears; None for this process."""
    if arguments.workers < 1:
        raise InputError(f"--workers {arguments.workers} hears nothing.", "Give 1 or more.")
    if arguments.scheduler is None and arguments.workers == 1:
        return None
    from readback.replay.workers import cluster_workers, local_workers

    if arguments.scheduler is not None:
        return cluster_workers(arguments.scheduler, recordings)
    return local_workers(arguments.workers)


def read_kept(
    arguments: argparse.Namespace, settings: "ReplaySettings", recordings: int
) -> "KeptResults | None":
    """Give where results are kept as they come; None for one recording that is not to be kept."""
    from readback.replay.kept import KeptResults

    if recordings == 1 and arguments.results is None:
        return None
    folder = arguments.results or user_data_folder() / "replay"
    return KeptResults(folder, settings, str(settings.engine))


def _drill_authority(arguments: argparse.Namespace) -> str | None:
    """Give the authority of the drill; check what only counts with one."""
    if arguments.drill is None:
        for name in ("seed", "seat"):
            if getattr(arguments, name) is not None:
                raise InputError(f"--{name} counts with a drill only.", "Give --drill NAME, too.")
        return None
    from readback.drills.files import find_drill, load_drill

    drill = load_drill(find_drill(arguments.drill))
    if arguments.seat is not None and arguments.seat not in drill.seats:
        raise InputError(
            f"This drill has no seat {arguments.seat!r}.", f"Use one of {', '.join(drill.seats)}."
        )
    return drill.setting.authority


def _drill(name: str | None) -> str | None:
    """Give a drill of the catalogue as it is, the path of a file from wherever it is read."""
    if name is None:
        return None
    from readback.drills.files import find_drills

    return name if name in find_drills() else str(Path(name).absolute())


def _stations(given: Sequence[str], recordings: int) -> dict[str, str]:
    from readback.replay.stations import read_station

    stations = dict(map(read_station, given))
    if recordings > 1 and any(name.isdigit() for name in stations):
        raise InputError(
            f"--station names a transmission, and there are {recordings} recordings.",
            "Correct one recording at a time.",
        )
    return stations

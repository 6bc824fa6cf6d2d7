"""The terminal screens opened from a command: what must be right before they take the terminal."""

import os
import sys
from pathlib import Path

from readback.errors import InputError
from readback.settings import load_settings


def open_screens(
    *,
    first: str | None = None,
    drill: str | None = None,
    seat: str | None = None,
    files: tuple[Path, ...] = (),
    seed: int | None = None,
    authority: str = "icao",
    engine: str | None = None,
    vosk_model: Path | None = None,
    device: str | None = None,
    trainee: str | None = None,
    consent: bool = False,
    timed: bool = False,
    records: str | Path | None = None,
) -> int:
    """Open the screens; returns when they are left.

    Args:
        first: Opened over the start screen: ``practise``, ``drills``, ``self_check``, ``replay``.
        drill: Name or file of a drill that is opened at once.
        seat: The trainee's seat in it.
        files: Recordings that Replay offers; empty: those that come with the package.
        seed: Draws what is practised; None: another each time.
        authority: Whose rules count.
        engine: Recogniser; None takes the default.
        vosk_model: Folder of a Vosk model.
        device: Input to listen to.
        trainee: Whose practice is kept in the records; None: whom the settings name, or nobody's.
        consent: Whether that person agreed that the voice is kept as well.
        timed: Whether a drill judges too how long the trainee takes.
        records: Where the records are; None: as ``readback records`` finds them.

    Returns:
        The exit status: 0.

    Raises:
        InputError: There is no terminal, or no such drill, authority or seat.
    """
    import random

    from readback.judging.rules import load_rules

    check_terminal()
    load_rules(authority)
    if drill is not None:
        _check_drill(drill, seat)
    from readback.screens.app import ReadbackApp
    from readback.screens.services import open_services

    settings = load_settings()
    services = open_services(
        engine=engine or settings.engine,
        vosk_model=vosk_model or settings.vosk_model,
        device=device or settings.device,
        authority=authority,
        seed=random.SystemRandom().randrange(10_000) if seed is None else seed,
        trainee=trainee or settings.trainee,
        # What one trainee agreed to is not another's consent.
        consent=consent or (bool(settings.consent) and trainee in (None, settings.trainee)),
        hands_free=bool(settings.hands_free),
        timed=timed,
        records=records or _find_records(),
        local=settings.local,
    )
    try:
        app = ReadbackApp(services, first=first, drill=drill, seat=seat, files=files)
        app.run()
    finally:
        services.close()
    return app.return_code or 0


def _find_records() -> str | Path:
    from readback.data import user_data_folder

    return os.environ.get("READBACK_RECORDS") or user_data_folder() / "records.sqlite3"


def check_terminal() -> None:
    """Refuse where screens cannot be shown or typed into.

    Raises:
        InputError: An input or output is not a terminal.
    """
    if "TEXTUAL_DRIVER" in os.environ:
        return  # Served to a browser, which is the terminal then.
    # The screens are written to standard error's terminal, as Textual does.
    streams = (sys.stdin, sys.stdout, sys.__stderr__)
    if not all(stream is not None and stream.isatty() for stream in streams):
        raise InputError(
            "The screens need a terminal.", "Use practise --plain, check, listen or replay instead."
        )


def _check_drill(name: str, seat: str | None) -> None:
    from readback.drills.files import find_drill, load_drill

    drill = load_drill(find_drill(name))
    if seat is not None and seat not in drill.seats:
        raise InputError(f"{name} has no seat {seat!r}.", f"Take one of {', '.join(drill.seats)}.")

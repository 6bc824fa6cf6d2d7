"""A program that keeps a session as fast as it can, and tells each transmission kept."""

import os
import sys
from datetime import date
from itertools import count

from readback.judging.model import Outcome, Said, Verdict
from readback.records.model import SessionHead
from readback.records.store import Store
from readback.transmission import Transmission

SAID = Said(text="")
VERDICT = Verdict(verdict=Outcome.CORRECT, authority="icao", instruction=SAID, readback=SAID)
HEAD = SessionHead(training="T", trainee="Tam", training_date=date(2026, 3, 2), consent=True)
SOUND = bytes(range(256)) * 16


def write(where: str, told: int, most: int = 10**9) -> None:
    """Keep one session of so many transmissions.

    Args:
        where: The records.
        told: File descriptor; takes a line for the session, then one for each transmission that is
            committed.
        most: How many.
    """
    with Store(where) as store:
        session = store.begin(HEAD)
        os.write(told, f"{session}\n".encode())
        for number in count(1):
            if number > most:
                break
            said = Transmission.typed(f"word {number}")
            kept = store.keep_transmission(session, said, flac=SOUND)
            os.write(told, f"{number}\n".encode())
            store.keep_verdict(session, VERDICT, instruction=kept, readback=None)
        store.finish(session)


if __name__ == "__main__":
    write(sys.argv[1], sys.stdout.fileno(), int(sys.argv[2]))

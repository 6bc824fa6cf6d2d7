"""Transmissions given to stations: by hand, by their channel, by turns and what was said."""

from collections.abc import Mapping, Sequence

from readback.errors import InputError
from readback.phraseology.grammar import Grammar
from readback.replay.model import HeardTransmission
from readback.replay.speakers import load_speakers
from readback.transmission import Transmission


def name_by_hand(
    spoken: Sequence[Transmission], by_hand: Mapping[str, str]
) -> tuple[HeardTransmission, ...]:
    """Number transmissions, and take the station of those that a person named.

    Args:
        spoken: Each ``station`` is the name of its channel.
        by_hand: Number of a transmission, or name of a channel -> station.

    Raises:
        InputError: There is no transmission of a number.
    """
    for name in by_hand:
        if name.isdigit() and not 1 <= int(name) <= len(spoken):
            raise InputError(
                f"There is no transmission {name}; {len(spoken)} were heard.",
                "Give the number that stands before it.",
            )
    named = []
    for number, transmission in enumerate(spoken, start=1):
        track = transmission.station
        one = HeardTransmission(number=number, transmission=transmission, track=track)
        station = by_hand.get(str(number)) or by_hand.get(track or "")
        named.append(one.spoken_by(station, "hand" if station else None))
    return tuple(named)


def name_by_track(
    heard: Sequence[HeardTransmission], stations: Mapping[str, str]
) -> tuple[HeardTransmission, ...]:
    """Give each channel its station, or its own name; what a person named stays."""
    return tuple(
        one
        if one.track is None or one.told_by == "hand"
        else one.spoken_by(stations.get(one.track, one.track), "channel")
        for one in heard
    )


def in_tracks(heard: Sequence[HeardTransmission]) -> list[Transmission]:
    """Give the transmissions with the names of their channels as stations."""
    return [one.transmission.model_copy(update={"station": one.track}) for one in heard]


def name_by_talk(
    heard: Sequence[HeardTransmission], grammar: Grammar
) -> tuple[HeardTransmission, ...]:
    """Find the stations from what was said; what a person named stays."""
    speakers = load_speakers(grammar)
    if any(one.track is not None for one in heard):
        return name_by_track(heard, speakers.name_channels(in_tracks(heard)))
    known = {
        one.number - 1: one.transmission.station
        for one in heard
        if one.transmission.station is not None
    }
    named = speakers.name([one.transmission for one in heard], known)
    return tuple(
        one if one.told_by == "hand" or station is None else one.spoken_by(station, "turn")
        for one, station in zip(heard, named, strict=True)
    )

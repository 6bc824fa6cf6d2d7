"""A recogniser with what it listens for: made when the first recording is to be heard."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from readback.errors import ReadbackError

if TYPE_CHECKING:
    from readback.judging.local import LocalWording
    from readback.phraseology.grammar import Grammar
    from readback.phraseology.pronouncing import Pronunciation
    from readback.speech.audio import Recording
    from readback.speech.recogniser import Recogniser
    from readback.transmission import Transmission


class Listener:
    """Hears recordings with one recogniser.

    Args:
        engine: The recogniser's name; None takes the default.
        vosk_model: Folder of a Vosk model; None looks in the usual places.
        recogniser: One that is made already; the names then do not count.
        authority: Whose numbers are listened for, where no other is named: in group form (four
            twenty-one) only where the rules know it, as each digit is else halfway to a group.
        local: An operator's own wording; None: the shipped one alone.
        channel: Over which the sound comes, where the user says it; None: it is found out.
        second: Another engine's listener, for a second opinion; closed with this one.
    """

    def __init__(
        self,
        engine: str | None = None,
        vosk_model: Path | None = None,
        recogniser: "Recogniser | None" = None,
        authority: str = "icao",
        local: "LocalWording | None" = None,
        channel: str | None = None,
        second: "Listener | None" = None,
    ) -> None:
        self.local = local
        self.second = second
        self._channel = channel
        self._authority = authority
        self._engine = engine
        self._vosk_model = vosk_model
        self._started: dict[bool, Recogniser] = {}
        """Whether numbers in group form are listened for -> the recogniser that does."""
        self._failure: ReadbackError | None = None
        self._given = recogniser
        self._names: set[str] = set()

    def expect_names(self, texts: Iterable[str]) -> "tuple[Pronunciation, ...]":
        """Listen for the names that stand in typed texts, beside those of the local wording.

        Args:
            texts: All instructions of a run: what is listened for is then the same for each.

        Returns:
            The names whose pronunciation is guessed from their letters, for the user to confirm.
            None where the recogniser is not the ear, or was given: that hears what it hears.

        Raises:
            ReadbackError: The local wording holds a mistake.
        """
        from readback.phraseology.names import find_names
        from readback.speech.engines import default_engine

        if self._given is not None or (self._engine or default_engine(self._vosk_model)) != "ear":
            return ()

        grammar = self._grammar()
        fresh = {name for text in texts for name in find_names(text, grammar)} - self._names
        if fresh:
            self._names |= fresh
            self.close()
        return tuple(said for name, said in self.names.items() if said.guessed and name in fresh)

    @property
    def names(self) -> "dict[str, Pronunciation]":
        """The names that are listened for, and how they are said.

        Raises:
            ReadbackError: The local wording holds a mistake.
        """
        from readback.phraseology.names import load_names, pronunciations

        names = set(self._names)
        if self.local is not None:
            names.update(name for path in self.local.names for name in load_names(path))
        lexicons = self.local.lexicons if self.local else ()
        return pronunciations(sorted(names), self._grammar(), lexicons)

    def _grammar(self) -> "Grammar":
        from readback.phraseology.grammar import load_grammar

        return load_grammar(self.local.grammars if self.local else ())

    @property
    def recogniser(self) -> "Recogniser":
        """The recogniser, started in its own process at first use.

        Raises:
            ReadbackError: It cannot work; the same again at each later use.
        """
        return self._recogniser_for(self._authority)

    def _recogniser_for(self, authority: str) -> "Recogniser":
        if self._given is not None:
            return self._given
        if self._failure is not None:
            raise self._failure
        grouped = authority == "faa"
        if grouped not in self._started:
            try:
                self._started[grouped] = self._start(grouped)
            except ReadbackError as error:
                self._failure = error
                raise
        return self._started[grouped]

    def _start(self, grouped: bool) -> "Recogniser":
        # A typed check needs none of this.
        from readback.speech.engines import default_engine, make_recogniser

        engine = self._engine or default_engine(self._vosk_model)
        if self.local is not None:
            self.local.require_pronunciations()
        names = {name: said.phones for name, said in self.names.items()}
        search = self._grammar().search(
            self.local.lexicons if self.local else (),
            grouped_numbers=grouped,
            names=names if engine == "ear" else None,
        )
        return make_recogniser(engine, search, vosk_model=self._vosk_model)

    @property
    def least_certainty(self) -> float:
        """How certain a verdict must be where nobody knows over which channel the sound came.

        Raises:
            ReadbackError: The recogniser cannot work, or the file of thresholds is damaged.
        """
        return self.least_certainty_of()

    def least_certainty_of(self, *heard: "Transmission | str | None") -> float:
        """How certain a verdict on what was heard must be: measured, by engine and channel.

        Args:
            heard: What came over one channel, or over several: then the strictest counts. Typed
                texts and what came over a channel that was not found do not count.

        Raises:
            ReadbackError: The recogniser cannot work, or the file of thresholds is damaged.
        """
        from readback.measure.certainty import ANY, load_thresholds

        sounds = (one for one in heard if one is not None and not isinstance(one, str))
        found = {one.channel for one in sounds if one.channel is not None}
        channels = {self._channel} if self._channel else found or {ANY}
        listening = next(iter(self._started.values()), None) or self.recogniser
        thresholds, engine = load_thresholds(), listening.name
        return max(thresholds.least_certainty(engine, channel) for channel in channels)

    def hear_transmission(self, path: Path, authority: str | None = None) -> "Transmission":
        """Hear a recording that holds one transmission.

        Args:
            path: The recording.
            authority: Whose numbers are listened for; None: as the listener was made.
        """
        from readback.speech.hearing import hear_transmission

        self._look_at(path)
        return hear_transmission(path, self._recogniser_for(authority or self._authority))

    def hear_file(self, path: "Path | Recording") -> Iterator["Transmission"]:
        """Hear every transmission of a recording."""
        from readback.speech.hearing import hear_file

        if isinstance(path, Path):
            self._look_at(path)
        return hear_file(path, self.recogniser)

    def _look_at(self, path: Path) -> None:
        """Refuse a file that is no recording before seconds go by in starting a recogniser."""
        if self._given is None and not self._started:
            from readback.speech.audio import Recording

            Recording(path)

    def close(self) -> None:
        """End the recognisers that were started, and the one that was given."""
        for recogniser in (*self._started.values(), *([self._given] if self._given else [])):
            recogniser.close()
        self._started = {}
        if self.second is not None:
            self.second.close()

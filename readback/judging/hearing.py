"""What was heard too uncertainly to be judged."""

from collections.abc import Iterable, Sequence

from readback.judging.items import Item
from readback.phraseology.model import Call, Element, Reading

TALK = frozenset({"courtesy", "filler", "station"})
"""Calls that say nothing to be judged."""
STAND_BY = frozenset({"stand_by", "push_back_stand_by"})
"""Told to stand by, standing by is an answer and delays none."""
SLIGHT_WORDS = frozenset({"a", "and", "at", "for", "from", "in", "is", "of", "on", "the", "to"})
"""Short words that are often heard faintly and tell no call from another."""


class Hearing:
    """Answers, for one transmission, what of it is too uncertain.

    Args:
        reading: The transmission; typed words are certain.
        least_certainty: What was heard with less is not certain.
    """

    def __init__(self, reading: Reading, least_certainty: float) -> None:
        self._reading = reading
        self._least = least_certainty
        self._all_certain = not any(
            word.certainty is not None and word.certainty < least_certainty
            for word in reading.words
        )

    def doubts_element(self, element: Element) -> bool:
        """Tell whether a value is uncertain: heard so, or repaired with another one as near."""
        if element.doubtful:
            return True
        return element.certainty is not None and element.certainty < self._least

    def doubts_verb(self, item: Item) -> bool:
        """Tell whether it is uncertain that a call was said at all, apart from its values."""
        return not self._all_certain and all(self._doubts_words(call) for call in item.calls)

    def _doubts_words(self, call: Call) -> bool:
        values = [range(*element.span) for element in call.elements]
        return any(
            self._faint(index)
            for index in range(*call.span)
            if self._reading.words[index].word not in SLIGHT_WORDS
            and not any(index in value for value in values)
        )

    def doubts_item(self, item: Item) -> bool:
        """Tell whether a call's words or any of its values are uncertain."""
        return self.doubts_verb(item) or any(map(self.doubts_element, item.elements.values()))

    def certain_names(self, items: Iterable[Item]) -> set[str]:
        """Name the calls that were certainly said."""
        return {item.name for item in items if not self.doubts_verb(item)}

    def doubts_rest(self, answered: Sequence[Item]) -> bool:
        """Tell whether something faint was left over that may be what is missing."""
        if self._all_certain:
            return False
        left_over = [index for span in self._reading.unparsed for index in range(*span)]
        for item in answered:
            if not item.used and item.name not in TALK:
                left_over += [index for call in item.calls for index in range(*call.span)]
        return any(map(self._faint, left_over))

    def _faint(self, index: int) -> bool:
        certainty = self._reading.words[index].certainty
        return certainty is not None and certainty < self._least

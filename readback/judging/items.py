"""Calls of one name on one side, joined so that they can be compared."""

from collections.abc import Iterable
from dataclasses import dataclass

from readback.judging.compare import same_element
from readback.judging.rules import RuleBook
from readback.phraseology.model import Call, Element, Span


@dataclass
class Item:
    """Calls of one name on one side whose elements do not collide, joined."""

    name: str
    calls: list[Call]
    elements: dict[str, Element]
    used: bool = False
    """Set on an answer once it has answered something."""

    @property
    def span(self) -> Span:
        """The words of the first of its calls."""
        return self.calls[0].span

    def agreement(self, other: "Item") -> int:
        """Count the elements that agree, less those that differ."""
        return sum(
            1 if same_element(element, other.elements[name]) else -1
            for name, element in self.elements.items()
            if name in other.elements
        )

    def contradicts(self, other: "Item") -> bool:
        """Tell whether an element that both carry differs."""
        return any(
            name in other.elements and not same_element(element, other.elements[name])
            for name, element in self.elements.items()
        )


def join_items(calls: Iterable[Call], rules: RuleBook) -> list[Item]:
    """Join calls of one name whose elements do not collide; a repetition adds nothing.

    Args:
        calls: Of one transmission, in the order spoken.
        rules: Tell which calls stand for others.

    Returns:
        Items in the order in which their first call was spoken.
    """
    items: list[Item] = []
    for call in calls:
        rule = rules.rule(call.name)
        for name in rule.stands_for if rule and rule.stands_for else (call.name,):
            new = Item(name, [call], {element.name: element for element in call.elements})
            for item in items:
                if item.name == name and not item.contradicts(new):
                    item.calls.append(call)
                    item.elements = {**new.elements, **item.elements}
                    break
            else:
                items.append(new)
    return items

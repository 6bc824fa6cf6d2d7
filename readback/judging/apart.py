"""Elements that came back apart from their verb: in a bare runway, in a call that goes with it."""

from collections.abc import Sequence

from readback.judging.compare import same_element
from readback.judging.items import Item
from readback.judging.rules import CallRule
from readback.phraseology.model import Element


def find_carried(
    item: Item, rule: CallRule, answered: Sequence[Item], *, verb: bool = False
) -> dict[str, Element]:
    """Find the elements of an instructed call that came back right, but elsewhere.

    Args:
        item: What was instructed.
        rule: Its rule, which says what may carry its elements.
        answered: The readback; what carries an element is marked used.
        verb: Whether the call itself came back: then elements may stand in a call that goes with
            it, "backtracking, lining up runway two seven".

    Returns:
        Name -> the element heard.
    """
    carried: dict[str, Element] = {}
    for answer in answered:
        bare = answer.name in rule.carried_by and not answer.used
        joint = verb and answer.name in rule.carried_by and answer.name != "runway"
        if bare or joint or answer.name == item.name:
            for name, element in answer.elements.items():
                if name in item.elements and same_element(item.elements[name], element):
                    carried[name] = element
                    answer.used = True
    return carried


def find_astray(name: str, rule: CallRule, answered: Sequence[Item]) -> Element | None:
    """Find another value of an element that came apart from its verb and answers nothing else."""
    for answer in answered:
        if answer.name in rule.carried_by and not answer.used and name in answer.elements:
            answer.used = True
            return answer.elements[name]
    return None

"""Which call of the readback answers which call of the instruction."""

from collections.abc import Sequence

from readback.judging.compare import same_element
from readback.judging.items import Item
from readback.judging.rules import RuleBook


def pair_items(
    issued: Sequence[Item], answered: Sequence[Item], rules: RuleBook
) -> list[Item | None]:
    """Give each instructed item the answering item that agrees with it most.

    Args:
        issued: Of the instruction.
        answered: Of the readback; those that answer are marked used.
        rules: Tell what may answer what.

    Returns:
        For each of ``issued`` its answer, None where there is none.
    """
    partners: list[Item | None] = [None] * len(issued)
    taken: set[int] = set()
    for rank, _, number, place in sorted(_options(issued, answered, rules)):
        item, answer = issued[number], answered[place]
        # The same call answers once; another call (a runway in a hold short) answers several.
        if partners[number] is not None or (rank == 0 and place in taken):
            continue
        echo = answer.name == item.name
        if not echo and item.name == "runway" and not _names_runway(answer, item):
            continue
        partners[number] = answer
        if echo:
            taken.add(place)
        # A hold short that names the runway in use has still to be instructed itself.
        if echo or item.name != "runway":
            answer.used = True
    return partners


def _options(
    issued: Sequence[Item], answered: Sequence[Item], rules: RuleBook
) -> list[tuple[int, int, int, int]]:
    """List who can answer what, the best first: (rank of the name, less agreement, indices)."""
    options = []
    for number, item in enumerate(issued):
        rule = rules.rule(item.name)
        if rule is None:
            continue
        names = (*((item.name,) if rule.echo else ()), *rule.answered_by)
        for place, answer in enumerate(answered):
            if answer.name in names:
                rank = names.index(answer.name) if rule.echo else names.index(answer.name) + 1
                options.append((rank, -item.agreement(answer), number, place))
    return options


def _names_runway(answer: Item, item: Item) -> bool:
    """Tell whether an answer of any name carries the runway of a bare runway."""
    return any(
        element.kind == "runway" and same_element(item.elements["runway"], element)
        for element in answer.elements.values()
    )

"""Where a taxi goes, told from the way there: "taxi C1 via D C", "taxi via D C, C1", "taxi C1"."""

from collections.abc import Mapping

from readback.phraseology.model import Element

_Elements = Mapping[str, Element]


def align_destination(issued: _Elements, answered: _Elements) -> _Elements:
    """Word the answer's holding point and route as the instruction has them, where all came back.

    A numbered name before VIA, or at either end of a route, may be the holding point that the
    other side names as such: common practice, no source.

    Args:
        issued: Elements of a taxi instruction.
        answered: Elements of its readback.

    Returns:
        The answer's elements; as they are where they say something else.
    """
    if "route" not in issued or "route" not in answered:
        return answered
    if issued["route"].value == answered["route"].value:
        return answered
    ours, theirs = issued.get("holding_point"), answered.get("holding_point")
    said = answered["route"]
    if ours is not None and theirs is None:
        route = _without(said.value, ours.value)
        if route is None:
            return answered
        point = said.model_copy(update={"name": ours.name, "kind": ours.kind, "value": ours.value})
        way = {"route": said.model_copy(update={"value": route})} if route else {}
        rest = {name: value for name, value in answered.items() if name != "route"}
        return {**rest, "holding_point": point, **way}
    if theirs is None or ours is not None:
        return answered
    if _without(issued["route"].value, theirs.value) != said.value:
        return answered
    rest = {name: value for name, value in answered.items() if name != "holding_point"}
    return {**rest, "route": said.model_copy(update={"value": issued["route"].value})}


def _without(route: str, point: str) -> str | None:
    """Take a holding point off either end of a route; None where it stands at neither.

    Alone it is one where it has a number: most names of taxiways have none.
    """
    names = route.split()
    if len(names) < 2:
        return "" if names == [point] and point[-1:].isdigit() else None
    if names[0] == point:
        return " ".join(names[1:])
    return " ".join(names[:-1]) if names[-1] == point else None

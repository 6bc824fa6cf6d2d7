"""Keys: in the order in which they lie, and each as a command of the palette in words."""

from collections.abc import Iterator
from functools import partial
from typing import ClassVar

from textual.binding import ActiveBinding, Binding
from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.screen import Screen, ScreenResultType


class KeyCommands(Provider):
    """Each binding of the open screen: one table drives key, footer and palette."""

    async def discover(self) -> Hits:
        """Give all of them, before anything is typed."""
        for binding in self._bindings():
            yield DiscoveryHit(
                _title(binding), partial(self._run, binding.action), help=_key(binding)
            )

    async def search(self, query: str) -> Hits:
        """Give those that match."""
        matcher = self.matcher(query)
        for binding in self._bindings():
            title = _title(binding)
            score = matcher.match(title)
            if score > 0:
                yield Hit(
                    score,
                    matcher.highlight(title),
                    partial(self._run, binding.action),
                    help=_key(binding),
                )

    def _bindings(self) -> Iterator[Binding]:
        for entry in self.screen.active_bindings.values():
            if entry.node in (self.screen, self.app) and entry.binding.description:
                yield entry.binding

    async def _run(self, action: str) -> None:
        await self.screen.run_action(action)


class KeyedScreen(Screen[ScreenResultType]):
    """A screen whose keys are commands of the palette too."""

    COMMANDS: ClassVar[set[type[Provider]]] = {KeyCommands}  # type: ignore[assignment]

    @property
    def active_bindings(self) -> dict[str, ActiveBinding]:
        """Give the keys in the order in which they lie: F1 to F12, then the others."""
        found = super().active_bindings
        return {key: found[key] for key in sorted(found, key=_place_of)}


def _place_of(key: str) -> int:
    number = key.removeprefix("f")
    return int(number) if number.isdigit() and number != key else 99


def _title(binding: Binding) -> str:
    return binding.tooltip or binding.description


def _key(binding: Binding) -> str:
    return f"key: {binding.key_display or binding.key}"

"""The command palette: every key of the screen that is open, as a command in words."""

from collections.abc import Iterator
from functools import partial

from textual.binding import Binding
from textual.command import DiscoveryHit, Hit, Hits, Provider


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


def _title(binding: Binding) -> str:
    return binding.tooltip or binding.description


def _key(binding: Binding) -> str:
    return f"key: {binding.key_display or binding.key}"

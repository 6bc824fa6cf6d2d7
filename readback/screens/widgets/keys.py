"""The keys at the bottom of each screen."""

from textual.widgets import Footer


class Keys(Footer):
    """Names the keys of the screen; each can be clicked."""

    def __init__(self) -> None:
        super().__init__(compact=True, show_command_palette=False)

    async def recompose(self) -> None:
        """Lay the keys out anew, and have the whole screen drawn after it."""
        await super().recompose()
        # Textual 8.2.8 drops what a screen draws meanwhile: App._display returns while a batch
        # runs, and what was to be drawn is forgotten by then. On a busy machine the first picture
        # of Practise was dropped in 56 of 62 openings; mostly Textual draws it again by itself.
        # Meanwhile this screen may have closed, or another have been opened over it.
        if self.app.screen_stack:
            self.app.screen.refresh()

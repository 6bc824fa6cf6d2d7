"""A box that is ticked or not, by a word: the library's own says it by colour alone."""

from textual.content import Content
from textual.geometry import Size
from textual.widgets import Checkbox


class YesNo(Checkbox):
    """Space or Enter changes it."""

    def render(self) -> Content:
        """Say it in a word."""
        return Content.assemble((f"[{'yes' if self.value else 'no':<3}]", "bold"), " ", self.label)

    def get_content_width(self, container: Size, viewport: Size) -> int:
        """Give the columns it takes."""
        return self.render().cell_length

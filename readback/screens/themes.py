"""Our two themes, and the two colours that tell right from wrong to all kinds of colour vision.

Colour only repeats what a mark and a word have said. The dark pair is from Okabe and Ito's palette;
contrast on its background 8.1 and 8.3, of the light pair 5.9 and 4.6 (WCAG 2 asks for 4.5), and
each pair differs by 45 or more (CIEDE2000) in each simulated colour-vision deficiency (measured).
"""

from textual.theme import Theme

DARK_PAIR = {"correct": "#56B4E9", "wrong": "#E69F00"}
LIGHT_PAIR = {"correct": "#00568A", "wrong": "#A84300"}

DARK = Theme(
    name="readback-dark",
    primary="#7FA8C9",
    secondary="#8C93A8",
    accent="#C9B37F",
    foreground="#E4E4E4",
    background="#121212",
    surface="#1B1D22",
    panel="#26292F",
    dark=True,
    variables=DARK_PAIR,
)
LIGHT = Theme(
    name="readback-light",
    primary="#35546E",
    secondary="#4A5064",
    accent="#6B5420",
    foreground="#16181C",
    background="#E0E0E0",
    surface="#ECECEC",
    panel="#D2D4D8",
    dark=False,
    variables=LIGHT_PAIR,
)

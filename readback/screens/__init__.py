"""The terminal screens: thin, each driven by the parts behind it."""

"""Drills: exchanges judged for words, for order and for the state of the aircraft."""

"""Judging: which elements must come back, and whether they did."""

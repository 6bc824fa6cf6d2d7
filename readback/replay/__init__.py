"""Recorded drills at length and in numbers: heard, given to stations, paired, judged, kept."""

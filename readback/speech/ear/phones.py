"""What the ear's network names, and the numbers of its spectrum: fixed by how it was trained."""

_PHONES = """
<b> AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W
Y Z ZH
"""
PHONES = _PHONES.split()
"""ARPABET in the order of the network's output; ``<b>`` is the blank of CTC."""
BLANK = 0
NAME_BEGINS, NAME_GOES_ON = len(PHONES), len(PHONES) + 1
"""Columns that the search adds for a name that is not listened for: any phone, paid for."""
SAMPLE_RATE_HZ = 16_000
WINDOW = 400
"""Samples in one Hann window."""
HOP = 160
"""Samples between windows."""
MEL_BANDS = 80
FRAME_S = 0.02
"""Seconds between the network's outputs: it halves the frames of the spectrum."""

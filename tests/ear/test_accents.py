"""Accents over Kokoro's phonemes: what they change, and that labels' words stay apart."""

import random

from audio_demo_synth.ear.accents import (
    ACCENTS,
    BRITISH,
    CHINESE,
    FRENCH,
    INDIAN,
    SHARES,
    speak_with_accent,
)

THREE, RUNWAY, FOUR, HOLD = "θɹˈi", "ɹˈʌnwˌA", "fˈɔɹ", "hˈOld"


def always(voice, rules, phonemes):
    """The accent with every rule applied: the draw that comes out most often."""
    made = [speak_with_accent(phonemes, voice, random.Random(seed)) for seed in range(500)]
    assert rules in ACCENTS[voice[0]]
    return max(set(made) - {phonemes}, key=made.count)


def test_british_drops_r_before_consonants_and_keeps_it_before_vowels():
    assert always("bf_alice", BRITISH, FOUR) == "fˈɔː"
    spoken = [speak_with_accent(THREE, "bf_alice", random.Random(s)) for s in range(300)]
    assert max(set(spoken), key=spoken.count) == THREE


def test_accents_change_the_sounds_they_are_known_for():
    assert always("zf_xiaoni", CHINESE, THREE) == "sɹˈi"
    assert always("hm_omega", INDIAN, THREE).startswith(("t", "ʈ"))
    assert always("ff_siwis", FRENCH, HOLD) == "ˈold"


def test_an_accent_is_drawn_as_often_as_stated():
    rng = random.Random(4)

    for voice, word in (("bm_fable", "ˈæt"), ("zm_yunjian", THREE)):
        # one sound of each word is changed, and each rule applies four times in five
        share = SHARES.get(voice[0], 2 / 3) * 0.8
        changed = sum(speak_with_accent(word, voice, rng) != word for _ in range(600))
        assert abs(changed / 600 - share) < 0.06


def test_the_same_seed_speaks_the_same():
    made = {speak_with_accent(THREE + HOLD, "jm_nezumi", random.Random(7)) for _ in range(5)}

    assert len(made) == 1

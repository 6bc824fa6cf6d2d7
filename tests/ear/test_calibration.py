"""How sure a word is, and the fit of it."""

import json
from dataclasses import replace

import numpy as np
import pytest

from audio_demo_synth.ear import calibrate, sharpness
from audio_demo_synth.ear.calibrate import (
    Listener,
    Outcome,
    Table,
    aligned,
    choose,
    expected_calibration_error,
    fit_odds,
    how_usual,
    refuse_below,
    weigh,
)
from audio_demo_synth.ear.kept import Kept, load_kept, save_kept
from audio_demo_synth.ear.report import grammar_of, scored, wilson, word_errors
from audio_demo_synth.ear.sharpness import fit_sharpness, make_cases
from readback.speech.ear.calibration import (
    Calibration,
    load_calibration,
    noise_of,
    save_calibration,
)
from readback.speech.ear.decoder import Decoder, Heard, Settings, Unrefused
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.network import MODEL
from readback.speech.ear.phones import PHONES
from readback.speech.ear.readings import Reading


def word(probability, fit=0.0, phones=3):
    return Heard("one", 0, 5, probability, fit, phones)


def test_more_probable_words_are_surer():
    shipped = load_calibration(MODEL.with_suffix(".json"))
    sure = [shipped.certainty(word(p)) for p in (0.2, 0.5, 0.9, 0.99, 0.9999)]

    assert sure == sorted(sure)
    assert sure[-1] > 0.98
    assert shipped.certainty(word(0.9999, fit=-3)) < shipped.certainty(word(0.9999))


def test_noise_takes_certainty_away_and_makes_readings_more_alike():
    calibration = Calibration(Settings(), posterior=0.6, noise=-0.7, posterior_noise=-0.2)

    quiet, noisy = (calibration.certainty(word(0.99), noise) for noise in (0.0, 1.0))

    # By hand: ln(0.99 / 0.01) = 4.595; 0.6 of it are 2.757, 0.4 of it less 0.7 are 1.138.
    assert (quiet, noisy) == (pytest.approx(0.940, abs=1e-3), pytest.approx(0.757, abs=1e-3))
    assert calibration.sharpness(0.5) == pytest.approx(0.5)
    assert Calibration(Settings(), posterior=0.1, posterior_noise=-1).sharpness(1.0) > 0


def test_readings_are_surer_than_words_in_quiet_alone():
    calibration = Calibration(Settings(), posterior=0.6, posterior_noise=-0.2, sharp=0.8)

    assert [calibration.sharpness(noise) for noise in (0, 0.5, 1)] == pytest.approx(
        [0.8, 0.65, 0.4]
    )


@pytest.mark.parametrize(
    ("above_db", "noise"), [(None, 0), (59, 0), (14, 0), (10, 0.5), (6, 1), (0, 1)]
)
def test_noise_counts_from_where_it_hurts_to_where_speech_is_drowned(above_db, noise):
    assert noise_of(above_db) == noise


def test_words_that_fit_badly_refuse_the_transmission():
    calibration = Calibration(Settings(), posterior=1.0, least_worth=0.6)

    assert calibration.accept([word(0.9), word(0.8)]) != ()
    assert calibration.accept([word(0.9, fit=-2), word(0.8)]) == ()
    assert calibration.accept([word(0.3), word(0.6)]) == ()
    assert calibration.accept([]) == ()


def test_numbers_come_back_as_they_were_saved(tmp_path):
    calibration = Calibration(
        Settings(beam=1e-4, usual=(0.0, -0.5)),
        bias=0.5,
        posterior=0.7,
        fit=0.2,
        noise=-0.6,
        posterior_noise=-0.1,
        sharp=0.8,
        least_worth=0.4,
    )
    save_calibration(tmp_path / "ear.json", calibration, {"steps": 7})

    assert load_calibration(tmp_path / "ear.json") == calibration
    assert json.loads((tmp_path / "ear.json").read_text())["steps"] == 7


def test_fit_finds_odds_that_are_half_as_sure_as_the_posterior():
    rng = np.random.default_rng(3)
    odds = rng.uniform(-3, 3, 6000)
    chance = 1 / (1 + np.exp(-0.5 * odds))
    right = (rng.random(6000) < chance).astype(float)

    bias, posterior = fit_odds(np.column_stack([np.ones(6000), odds]), right)

    assert posterior == pytest.approx(0.5, abs=0.08)
    assert bias == pytest.approx(0.0, abs=0.1)
    certainties = 1 / (1 + np.exp(-bias - posterior * odds))
    assert expected_calibration_error(certainties, right) < 0.03


def test_calibration_error_is_the_distance_from_the_share_right():
    assert expected_calibration_error(np.full(10, 0.95), np.ones(10)) == pytest.approx(0.05)
    assert expected_calibration_error(np.full(10, 0.95), np.zeros(10)) == pytest.approx(0.95)


@pytest.mark.parametrize(("silent", "passed"), [(0, 2), (150, 2), (199, 1), (200, 0)])
def test_refusal_lets_one_outsider_in_a_hundred_pass(silent, passed):
    worth = np.random.default_rng(1).uniform(0, 1, 200)
    worth[:silent] = -np.inf

    least = refuse_below(worth)

    assert (worth >= least).sum() == passed


def test_words_are_right_where_they_align_with_what_was_said():
    heard = "one two nine four".split()

    assert aligned(heard, "one two three four".split()) == [True, True, False, True]
    assert aligned(heard, "two".split()) == [False, True, False, False]


def outcome(people, errors):
    return Outcome(Calibration(Settings()), people, 0, 0, errors, 0, 0, 0, 0.0)


@pytest.mark.parametrize(
    ("before", "others", "best"),
    [
        ((900, 0), [(990, 40), (989, 30), (988, 31)], (989, 30)),
        ((990, 40), [(990, 39)], (990, 40)),
        ((990, 40), [(990, 38)], (990, 38)),
        ((990, 40), [(987, 0)], (990, 40)),
    ],
)
def test_people_come_first_then_words_of_readbacks_then_what_was_set(before, others, best):
    outcomes = [outcome(*numbers) for numbers in (before, *others)]

    assert choose(outcomes, people=1000, words=500) == outcome(*best)


def test_phones_come_back_as_they_were_kept(tmp_path):
    clips = [
        made("three", noise=0.25),
        Kept("outside", "10", "noise", "", np.zeros((0, 40), np.float32)),
    ]

    save_kept(tmp_path / "kept.npz", clips)

    for kept, clip in zip(load_kept(tmp_path / "kept.npz"), clips, strict=True):
        facts = ("kind", "level", "voice", "text", "noise")
        assert [getattr(kept, name) for name in facts] == [getattr(clip, name) for name in facts]
        assert kept.phones == pytest.approx(clip.phones, rel=1e-3)


def test_clips_that_were_kept_without_their_noise_are_refused(tmp_path):
    meta = json.dumps([["digit", "clean", "made", "one"]])
    phones = np.zeros((3, 40), np.float16)
    np.savez(tmp_path / "kept.npz", phones=phones, starts=[0, 3], meta=meta)

    with pytest.raises(SystemExit, match=r"kept.npz: was kept without .* Make it again"):
        load_kept(tmp_path / "kept.npz")


SOUNDS = {"one": "W AH N", "two": "T UW", "three": "TH R IY", "six": "S IH K S", "": "M ER ZH"}


def made(text, kind="digit", seed=0, sure=0.9, noise=0.0):
    """A clip in which these phones follow each other, a blank after each, the network unsure."""
    rng = np.random.default_rng(seed)
    phones = [p for word in text.split(" ") for p in SOUNDS[word].split()]
    rows = np.zeros((4 * len(phones), len(PHONES)))
    rows[:, 0] = 1
    for number, phone in enumerate(phones):
        rows[4 * number, [0, PHONES.index(phone)]] = 0, 1
    rows = sure * rows + (1 - sure) * rng.dirichlet(np.full(len(PHONES), 0.3), len(rows)) + 1e-5
    rows /= rows.sum(axis=1, keepdims=True)
    return Kept(kind, "clean", "made", text, np.log(rows).astype(np.float32), noise)


CLIPS = [
    *(made(text, "digit", seed) for seed in range(8) for text in ("one", "two", "three", "six")),
    *(made("one two three", "sentence", seed) for seed in range(2)),
    *(made("", "outside", seed, sure=0.7) for seed in range(10)),
]


def test_words_that_are_wrong_in_noise_alone_are_less_certain_there():
    rng = np.random.default_rng(5)
    wrong = {"one": "two", "two": "three", "three": "six", "six": "one"}
    clips = []
    for seed in range(60):
        for text, other in wrong.items():
            noise = float(seed % 2)
            clip = made(text, "digit", seed, sure=0.8, noise=noise)
            misheard = noise and rng.random() < 0.4
            clips.append(replace(clip, text=other) if misheard else clip)
    clips += [made("", "outside", seed, sure=0.7) for seed in range(10)]

    table = Listener(clips).hear(clips, Settings())

    fitted = weigh(table, 1.5, 9.0).calibration

    said = table.right & ~table.outside[table.clip]
    for noise, most_wrong in ((0.0, 0.05), (1.0, 0.5)):
        own = (table.noise[table.clip] == noise) & ~table.outside[table.clip]
        numbers = zip(table.probability[own], table.fit[own], strict=True)
        certainty = np.mean([fitted.certainty(word(p, fit), noise) for p, fit in numbers])
        assert certainty == pytest.approx(said[own].mean(), abs=0.03)
        assert 1 - said[own].mean() < most_wrong
    assert fitted.certainty(word(0.999), 1.0) < fitted.certainty(word(0.999)) - 0.05


def readings_of(*pairs):
    """Readings with distances from the best, each of other sounds."""
    return [
        Reading(tuple(text.split()), (), -nats, bytes([number]))
        for number, (text, nats) in enumerate(pairs)
    ]


def test_readings_are_as_sure_as_they_were_right():
    right, wrong = "hold short of runway two seven", "hold short of runway two six"
    read = readings_of((right, 0.0), (wrong, 2.0))
    best = [word(0.99)]
    # At a sharpness of 0.7 the second has 1 / (1 + exp(1.4)) = 0.198.
    heard = [(right, 0.0, best, read)] * 802 + [(wrong, 0.0, best, read)] * 198
    calibration = Calibration(Settings(), posterior=0.4)

    cases = list(make_cases([*heard, ("taxi to stand five", 0.0, best, read)], calibration))

    assert len(cases) == 1000
    assert fit_sharpness(cases, calibration).sharp == pytest.approx(0.7)


def test_readings_that_mean_the_same_are_right_alike():
    read = readings_of(("hold short of the runway two seven", 0.0), ("cross runway two seven", 1.0))
    said = "hold short runway two seven"

    (case,) = make_cases([(said, 0.5, [word(0.9)], read)], Calibration(Settings()))

    assert (case.right.tolist(), case.noise) == ([True, False], 0.5)


@pytest.mark.parametrize(("phone", "entry"), [(1.5, 9.0), (0.5, 2.0), (0.0, 0.0)])
def test_what_is_weighed_in_arrays_is_what_the_ear_accepts(phone, entry):
    clips = CLIPS[:32]
    found = weigh(Listener(clips).hear(clips, Settings()), phone, entry)
    graph = compile_graph(grammar_of("digit"))
    decoder = Decoder(graph, found.calibration.settings)

    heard = [found.calibration.accept(decoder.decode(clip.phones)) for clip in clips]

    texts = [" ".join(word.word for word in words) for words in heard]
    assert found.people == sum(a == b.text for a, b in zip(texts, clips, strict=True))
    assert found.wrong == sum(bool(a) and a != b.text for a, b in zip(texts, clips, strict=True))


def test_a_refused_readback_has_as_many_word_errors_as_words():
    silence = np.zeros((0, 40), np.float32)
    clips = [Kept("sentence", "clean", "voice", "one two three", silence)] * 2
    refused = Unrefused((), best=0.0, whole=0.0, free=0.0, begun=0)
    heard = Unrefused((word(0.9), word(0.8)), best=0.0, whole=0.0, free=-9.0, begun=6)

    table = Table(clips, [clip.text.split() for clip in clips], [refused, heard], Settings())

    # The second: ONE ONE for ONE TWO THREE, one wrong and one missing.
    assert weigh(table, 1.0, 9.0).errors == 3 + 2


def test_one_command_fits_prices_certainty_and_refusal(tmp_path, monkeypatch, capsys):
    save_kept(tmp_path / "kept.npz", CLIPS)
    model = tmp_path / "ear.onnx"
    nothing_heard = Calibration(Settings(stranger_phone=0.0, stranger_entry=-50.0))
    save_calibration(model.with_suffix(".json"), nothing_heard, {"steps": 7})
    monkeypatch.setattr(calibrate, "GRID", {"filler_entry": (15.0, 12.0)})
    arguments = ["calibrate", str(tmp_path / "kept.npz"), "--model", str(model)]
    monkeypatch.setattr("sys.argv", [*arguments, "--prices"])

    calibrate.main()

    fitted = load_calibration(model.with_suffix(".json"))
    card = json.loads(model.with_suffix(".json").read_text())
    assert fitted.settings.stranger_entry > 0
    assert card["steps"] == 7
    assert card["fitted_on"]["people_right"] >= 30
    assert card["fitted_on"]["outside_passed"] == 0
    assert fitted.sharp in sharpness.GRID
    kept = load_kept(tmp_path / "kept.npz")
    assert fitted.settings.usual == tuple(calibrate.USUAL_SHARE * how_usual(kept))
    assert "all clips: strangers" in capsys.readouterr().out


def test_how_often_a_phone_is_named_is_counted_in_readbacks_alone():
    phones = np.full((3, 40), 1e-9)
    phones[:, 0], phones[:, 5], phones[0, 0], phones[0, 5] = 0.9, 0.1, 0.2, 0.8
    heard = Kept("sentence", "clean", "voice", "one", np.log(phones).astype(np.float32))
    silent = Kept("sentence", "clean", "voice", "one", np.zeros((0, 40), np.float32))

    usual = how_usual([heard, silent, *CLIPS[:3], CLIPS[-1]])

    # Means over the steps: 2 / 3 and 1 / 3.
    assert usual[[0, 5]] == pytest.approx([0.0, np.log(0.5)])


@pytest.mark.parametrize("lacking", ["sentence", "outside"])
def test_fitting_needs_readbacks_and_sounds_that_are_no_call(
    lacking, tmp_path, monkeypatch, capsys
):
    save_kept(tmp_path / "kept.npz", [clip for clip in CLIPS if clip.kind != lacking])
    monkeypatch.setattr("sys.argv", ["calibrate", str(tmp_path / "kept.npz")])

    with pytest.raises(SystemExit) as stopped:
        calibrate.main()

    assert stopped.value.code == 2
    assert "give readbacks and clips that are no call" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("hits", "total", "low", "high"),
    # Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3.
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals_are_the_published_ones(hits, total, low, high):
    assert wilson(hits, total) == pytest.approx((low, high), abs=2e-4)


@pytest.mark.parametrize(
    ("reference", "hypothesis", "errors"),
    [
        ("a b c", "a b c", 0),
        ("a b c", "a x c", 1),
        ("a b c", "a c", 1),
        ("a", "x a y", 2),
        ("", "a", 1),
    ],
)
def test_word_errors_count_each_change(reference, hypothesis, errors):
    assert word_errors(reference.split(), hypothesis.split()) == errors


def test_back_track_is_no_error_where_backtrack_is_heard():
    assert scored("back track runway one niner") == scored("backtrack runway one nine")
    assert scored("back in track") == ["back", "in", "track"]

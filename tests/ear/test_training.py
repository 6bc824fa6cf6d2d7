"""The training programs end to end, tiny, on the processor: texts, speech, training, export."""

import csv
import json
import os
import random
import shutil
import struct
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import soundfile
import torch

from audio_demo_synth.ear.augment import Spoiler, codec, first_sound, log_mel, open_gate
from audio_demo_synth.ear.kept import load_kept
from audio_demo_synth.ear.network import EarNetwork, read_ct2
from audio_demo_synth.ear.people import load_split, read_manifest
from audio_demo_synth.ear.shards import load_shard
from audio_demo_synth.ear.speak import Kokoro
from audio_demo_synth.ear.train import edit_distance
from readback.search import Arc, SearchGrammar
from readback.speech.ear import EarRecogniser, spectrum
from readback.speech.ear.network import Network
from readback.speech.ear.phones import PHONES

ROOT = Path(__file__).parents[2]
MEASURE_SET = ROOT / "audio_demo_synth/measure_set"
RATE = 16_000
VOICE = """#!{python}
import sys, wave
import numpy as np
text = sys.argv[sys.argv.index("-t") + 1] if "-t" in sys.argv else sys.argv[-1]
tones = [np.sin(2 * np.pi * (300 + 90 * (ord(c) % 27)) * np.arange(1600) / 16000) for c in text]
sound = (np.concatenate(tones) * 9000).astype("<i2")
with wave.open(sys.stdout.buffer, "wb") as file:
    file.setnchannels(1); file.setsampwidth(2); file.setframerate(16000)
    file.writeframes(sound.tobytes())
"""
"""Stands in for flite and espeak-ng: a tone for each letter."""


def run(*arguments, path=None):
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "2"}
    if path:
        environment["PATH"] = f"{path}{os.pathsep}{environment['PATH']}"
    command = [sys.executable, "-m", *map(str, arguments)]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Everything that the programs make, step by step."""
    folder = tmp_path_factory.mktemp("training")
    voices = folder / "voices"
    voices.mkdir()
    for name in ("flite", "espeak-ng"):
        (voices / name).write_text(VOICE.format(python=sys.executable))
        (voices / name).chmod(0o755)
    data = folder / "data"
    data.mkdir()
    ear = "audio_demo_synth.ear"
    run(f"{ear}.texts", data / "texts.json", "--count", 60, "--seed", 3)
    spoken = ("--method", "formant", "--count", 16, "--jobs", 1, "--seed", 5)
    run(f"{ear}.speak", data / "texts.json", data, *spoken, path=voices)
    speech = record_people(folder / "speech")
    run(f"{ear}.people", "pack", speech, data)
    cut = run(f"{ear}.cut", speech, data, "--jobs", 1)
    sentences = [row["text"] for row in read_manifest(speech)]
    size = ("--width", 48, "--layers", 1, "--seconds", 12, "--rate", "2e-3")
    printed = run(f"{ear}.train", "tiny", data, folder, "--steps", 40, "--every", 20, *size)
    exported = run(f"{ear}.export", folder / "ear.onnx", folder / "tiny.pt", folder / "tiny.pt")
    return {
        "folder": folder,
        "data": data,
        "printed": printed,
        "exported": exported,
        "cut": cut,
        "sentences": sentences,
    }


def record_people(folder):
    """A folder of recordings as the programs read it: tones for words, and a voice's sentences."""
    chooser = next(s for s in load_split()["choosing"] if s.startswith("sc-"))
    rows = []
    for speaker in (chooser, "sc-trains"):
        for number, word in enumerate(["one", "two", "go", "left"] * 3):
            path = folder / f"speech_commands/{speaker}-{number}.flac"
            path.parent.mkdir(parents=True, exist_ok=True)
            tone = np.sin(2 * np.pi * 90 * (len(word) + number) * np.arange(8000) / RATE)
            soundfile.write(path, np.pad(0.3 * tone, 3000), RATE)
            rows.append(
                {
                    "file": str(path.relative_to(folder)),
                    "text": word,
                    "speaker": speaker,
                    "seconds": "0.9",
                    "source": "speech_commands",
                    "licence": "none: made by this test",
                    "text_source": "label",
                }
            )
    with (MEASURE_SET / "labels.csv").open(encoding="utf-8", newline="") as file:
        sentences = [row for row in csv.DictReader(file) if row["voice"] == "flite:rms"][:8]
    for row in sentences:
        path = folder / f"speechocean762/{row['file']}"
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(MEASURE_SET / row["file"], path)
        rows.append(
            {
                **rows[0],
                "file": str(path.relative_to(folder)),
                "text": row["readback"].replace(",", ""),
                "speaker": "so-trains",
                "source": "speechocean762",
            }
        )
    with (folder / "manifest.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return folder


def test_training_lowers_its_loss_and_measures_on_people(made):
    losses = [float(x.split("loss ")[1]) for x in made["printed"].splitlines() if "loss" in x]
    rows = json.loads((made["folder"] / "tiny.json").read_text())["rows"]

    assert losses[0] > 5
    assert [row["step"] for row in rows] == [20, 39]
    assert rows[-1]["clips"] > 20
    assert 0 <= rows[-1]["words_right_99"] <= 1
    state = torch.load(made["folder"] / "tiny.pt")
    assert all(torch.isfinite(value).all() for value in state.values())


def test_a_run_goes_on_from_the_mean_of_earlier_ones(made):
    folder = made["folder"]
    size = ("--width", 48, "--layers", 1, "--seconds", 12, "--rate", "1e-9")
    tiny = torch.load(folder / "tiny.pt")
    torch.save({name: -value for name, value in tiny.items()}, folder / "opposite.pt")
    starts = ("--start", folder / "tiny.pt", folder / "opposite.pt", folder / "tiny.pt")

    run("audio_demo_synth.ear.train", "on", made["data"], folder, "--steps", 2, *size, *starts)

    went_on = torch.load(folder / "on.pt")
    for name, value in tiny.items():
        assert went_on[name].float().numpy() == pytest.approx(value.float().numpy() / 3, abs=1e-3)


def test_the_exported_file_names_phones_in_sound(made):
    steps = Network(made["folder"] / "ear.onnx").hear(np.zeros(RATE, np.float32))

    assert steps.shape == (50, len(PHONES))
    assert np.exp(steps).sum(axis=1) == pytest.approx(1, abs=1e-3)
    assert "MB" in made["exported"]


def test_what_a_model_names_in_choosing_people_is_kept(made):
    kept = made["folder"] / "kept.npz"
    speech = ("people", made["folder"] / "speech", "--part", "choosing", "--levels", "clean", "10")
    run(
        "audio_demo_synth.ear.report",
        *speech,
        "--model",
        made["folder"] / "ear.onnx",
        "--phones",
        kept,
    )

    clips = load_kept(kept)

    assert {clip.level for clip in clips} == {"clean", "10"}
    assert {clip.text for clip in clips if clip.kind == "digit"} == {"one", "two"}
    assert all(np.exp(clip.phones).sum(axis=1) == pytest.approx(1, abs=0.01) for clip in clips)


def test_the_ear_runs_on_a_model_of_ones_own(made):
    search = SearchGrammar("", {"one": ("W AH N",)}, (), (Arc(0, 1, "one"),), frozenset({1}))
    ear = EarRecogniser(search, model=made["folder"] / "ear.onnx")

    heard = ear.recognise(np.random.default_rng(1).normal(0, 900, RATE).astype("<i2").tobytes())

    assert {word.word for word in heard.words} <= {"one"}


def test_training_never_loads_the_shards_that_choose(made):
    shards = {path.name for path in made["data"].glob("*.npz")}

    assert {"choose_speech_commands.npz", "people_0.npz", "formant_0_0.npz"} <= shards


def test_words_are_cut_out_of_training_sentences_as_they_were_transcribed(made):
    texts = [text for text in made["sentences"] if " " in text]

    clips = load_shard(made["data"] / "people_cut_0.npz")

    cut = [text for _, text, voice in clips if not voice.endswith("+")]
    assert len(cut) > 10
    assert all(any(f" {text} " in f" {whole} " for whole in texts) for text in cut)
    assert {voice.split(":")[1] for *_, voice in clips} == {"cut", "cut_digit"}
    assert all(RATE // 10 < len(samples) < 4 * RATE for samples, *_ in clips)
    assert f"{len(clips)} in all" in made["cut"]


def test_the_network_learns_what_it_is_shown():
    torch.manual_seed(1)
    network = EarNetwork(width=48, layers=1, dropout=0.0)
    mel = torch.randn(4, 80, 40)
    labels = torch.tensor([[3, 5, 7], [5, 3, 9], [7, 7, 3], [9, 5, 3]])
    optimizer = torch.optim.AdamW(network.parameters(), lr=3e-3)
    losses = []
    for _ in range(60):
        phones = network(mel, torch.full((4,), 40))
        loss = torch.nn.functional.ctc_loss(
            phones.transpose(0, 1), labels, torch.full((4,), 20), torch.full((4,), 3)
        )
        optimizer.zero_grad()
        loss.backward()
        optimizer.step()
        losses.append(float(loss.detach()))

    assert losses[-1] < 0.3 * losses[0]


def test_a_padded_clip_is_heard_as_it_is_alone():
    network = EarNetwork(width=48, layers=2).eval()
    mel = torch.randn(1, 80, 60)
    padded = torch.zeros(2, 80, 100)
    padded[0, :, :60] = mel

    alone, together = network(mel), network(padded, torch.tensor([60, 100]))

    assert torch.allclose(alone[0], together[0, :30], atol=1e-4)


def test_training_and_listening_take_the_same_spectrum():
    samples = np.random.default_rng(1).normal(0, 0.1, 2 * RATE).astype(np.float32)
    filters = torch.tensor(spectrum.mel_filters())

    batch, frames = log_mel(torch.tensor(samples)[None], torch.tensor([len(samples)]), filters)

    assert int(frames) == 200
    assert batch[0].numpy() == pytest.approx(spectrum.log_mel(samples), abs=1e-5)


def test_spoiled_sound_is_whole_and_comes_from_its_seed():
    spoiler = Spoiler(torch.device("cpu"))
    sound = torch.randn(8, RATE) * 0.1
    lengths = torch.full((8,), RATE)
    torch.manual_seed(4)
    one, sizes, _ = spoiler.spoil(sound, lengths)
    torch.manual_seed(4)
    two, _, _ = spoiler.spoil(sound, lengths)

    assert torch.equal(one, two)
    assert torch.isfinite(one).all()
    assert one.abs().max() <= 1.1
    assert (sizes >= RATE / 1.23).all()


def test_sound_without_a_talker_is_loud_enough_and_of_many_kinds():
    torch.manual_seed(3)
    spoiler = Spoiler(torch.device("cpu"))
    speech = torch.randn(32, 32_000)

    made = spoiler.no_speech(speech)

    assert made.shape == speech.shape and made.isfinite().all()
    loudest = made.abs().amax(1)
    assert (loudest > 0.01).all() and (loudest < 4).all()
    power = torch.fft.rfft(made).abs() ** 2
    flatness = (power + 1e-9).log().mean(1).exp() / power.mean(1)
    assert (flatness < 0.01).any(), "tones"
    assert (flatness > 0.1).any(), "noise or a crowd"


def test_notes_follow_one_another_and_none_is_longer_than_it_is():
    torch.manual_seed(4)
    sound, since, span, gain = Spoiler(torch.device("cpu")).melody(torch.zeros(8, 32_000))

    assert sound.abs().amax(1).min() > 0.01
    assert (since >= 0).all() and (since <= span).all()
    begun = (since[:, 1:] < since[:, :-1]).sum(1)
    assert (begun > 1).all(), "more than one note in two seconds"
    assert ((gain == 0) | ((gain >= 0.4) & (gain <= 1))).all()


def test_speech_begins_where_it_is_within_26_db_of_the_loudest():
    sound = torch.zeros(2, RATE)
    sound[:, 4000:] = 1.0
    sound[0, 3200:4000] = 0.06  # -24 dB
    sound[1, 3200:4000] = 0.04  # -28 dB

    assert first_sound(sound).tolist() == [[3200], [4000]]


def test_a_gate_worked_by_the_voice_loses_weak_ends_and_keeps_weak_middles():
    sound = torch.zeros(2, 4003)
    sound[:, 800:1600] = 0.1
    sound[:, 1600:2000] = 1.0
    sound[:, 2400:2800] = -1.0
    sound[:, 2800:4003] = 0.1
    gate = open_gate(sound, torch.tensor([[12.0], [26.0]]))
    assert gate.shape == sound.shape
    assert [row.nonzero()[[0, -1], 0].tolist() for row in gate] == [[1600, 2799], [800, 4002]]
    assert gate.sum(1).tolist() == [1200, 3203]


def test_where_the_key_opens_just_before_the_speech_there_is_no_noise_before():
    torch.manual_seed(6)
    noise = torch.ones(400, RATE)
    begins = torch.full((400, 1), 8000)

    heard = Spoiler(torch.device("cpu")).open_key(noise, begins)

    opened = heard.argmax(1)[heard[:, 0] == 0]
    assert 80 < len(opened) < 160
    assert 8000 - 1600 <= opened.min() < 6600 and 7800 < opened.max() <= 8000
    assert (heard[:, 8000:] == 1).all()


def test_every_language_of_the_voices_is_drawn_as_often():
    kokoro = Kokoro.__new__(Kokoro)
    kokoro.voices = ["af_one", "bm_two", "ff_one", *(f"jf_{n}" for n in range(6))]
    rng = random.Random(1)

    drawn = [kokoro.draw(rng) for _ in range(2000)]

    first = Counter(name[0] for name in drawn)
    assert abs(first["a"] + first["b"] - 1000) < 100
    assert abs(first["f"] - first["j"]) < 100
    assert 700 < sum("*" not in name for name in drawn) < 900


def test_the_codec_keeps_loud_sound_near():
    sound = torch.linspace(-1, 1, 201)[None]

    assert (codec(sound) - sound).abs().max() < 0.1


@pytest.mark.parametrize(
    ("a", "b", "distance"),
    # Wagner and Fischer, J. ACM 21 (1974); kitten and sitting is the usual textbook case.
    [("kitten", "sitting", 3), ("", "abc", 3), ("abc", "abc", 0)],
)
def test_edit_distance_is_that_of_the_textbook(a, b, distance):
    assert edit_distance([*map(ord, a)], [*map(ord, b)]) == distance


def test_ct2_weights_are_read_as_they_were_written(tmp_path):
    def text(value):
        return struct.pack("H", len(value) + 1) + value.encode() + b"\0"

    weights = np.arange(6, dtype=np.float16).reshape(2, 3)
    other = np.zeros(2, np.float32)
    body = struct.pack("I", 6) + text("WhisperSpec") + struct.pack("II", 3, 2)
    for name, array, kind in (("encoder/a/weight", weights, 4), ("decoder/b", other, 0)):
        raw = array.tobytes()
        body += (
            text(name) + struct.pack("B", array.ndim) + struct.pack(f"{array.ndim}I", *array.shape)
        )
        body += struct.pack("B", kind) + struct.pack("I", len(raw)) + raw
    (tmp_path / "model.bin").write_bytes(body)

    read = read_ct2(tmp_path / "model.bin")

    assert list(read) == ["a/weight"]
    assert read["a/weight"] == pytest.approx(weights.astype(np.float32))

"""Train the ear: phones by CTC on spoiled speech, from the pre-trained encoder.

    python -m audio_demo_synth.ear.train NAME DATA OUT --minutes 9 --rate 1e-4

DATA holds ``texts.json`` (`texts`), shards (`speak`, `people pack`) and the encoder's weights
(`start`). OUT gets NAME.pt (float16 weights, averaged over steps) and NAME.json (every measure on
the choosing people, never on synthetic voices). Seeds: ``--seed``.
"""

import argparse
import json
import math
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as functional
from torch import Tensor, nn
from torch.nn.utils import parametrize

from audio_demo_synth.ear.augment import Spoiler, log_mel
from audio_demo_synth.ear.export import load_average
from audio_demo_synth.ear.network import EarNetwork
from audio_demo_synth.ear.pool import Pool
from audio_demo_synth.ear.vocabulary import DIGITS, load_dictionary
from readback.speech.ear.spectrum import mel_filters

TRAINING_SHARDS = ["people_*.npz", "formant_*.npz", "neural_*.npz"]
MEASURE_SNRS_DB = (99, 20, 10)
SINGLE_WORDS = [*DIGITS[:11], "up", "down", "left", "right", "go"]
HEAD_STEPS = 400
"""Steps at the start that train the head alone, so that random errors spoil no encoder."""


class Training:
    """One run."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        self.rng = np.random.default_rng(options.seed)
        self.spoiler = Spoiler(self.device)
        self.filters = torch.tensor(mel_filters(), device=self.device)
        lexicon = json.loads((options.data / "texts.json").read_text("utf-8"))["lexicon"]
        self.lexicon = load_dictionary() | lexicon
        self.pool = Pool(
            options.data,
            TRAINING_SHARDS,
            self.lexicon,
            options.people,
            self.device,
            without=options.without,
        )
        self.choosing = Measures(options.data, self.device)
        torch.manual_seed(0)  # One head to start from, so that runs may be averaged.
        self.network = EarNetwork(options.width, options.layers).to(self.device)
        torch.manual_seed(options.seed)
        if options.start:
            self.network.load_state_dict(load_average(options.start).state_dict())
        elif (options.data / options.encoder).exists():
            with np.load(options.data / options.encoder) as weights:
                self.network.load_whisper({k: weights[k].astype("f4") for k in weights.files})
        self.average = plain_state(self.network)
        freeze(self.network, options.freeze)
        if options.rank:
            lower_rank(self.network, options.rank)
        self.learned = {k: v for k, v in self.network.named_parameters() if v.requires_grad}
        self.origin = {k: v.detach().clone() for k, v in self.learned.items()}
        self.measures: list[dict[str, Any]] = []

    def run(self) -> None:
        """Train until the minutes or the steps are over."""
        options, network = self.options, self.network
        while not self.pool.scan():
            time.sleep(1)
        head = [p for name, p in self.learned.items() if name.startswith("head")]
        body = [p for name, p in self.learned.items() if not name.startswith("head")]
        groups = [{"params": body, "lr": options.rate}, {"params": head, "lr": options.rate * 5}]
        optimizer = torch.optim.AdamW(groups, betas=(0.9, 0.98), weight_decay=0.01)
        network.train()
        began, last_scan = time.time(), time.time()
        for step in self.steps(began):
            progress = self.progress(step, began)
            if time.time() - last_scan > 20 and progress < 0.9:
                self.pool.scan()
                last_scan = time.time()
            warm = 0 if options.start else min(HEAD_STEPS, options.steps // 10 or HEAD_STEPS)
            rise = min(1.0, max(0, step - warm) / max(warm, 1)) if warm else min(1.0, step / 400)
            fall = 0.5 + 0.5 * math.cos(math.pi * progress)
            optimizer.param_groups[0]["lr"] = options.rate * rise * fall
            optimizer.param_groups[1]["lr"] = 1e-3 if step < warm else options.rate * 3 * fall
            loss = self.step(optimizer, body + head)
            self.pull(optimizer.param_groups[0]["lr"])
            self.keep_average(step)
            if step % 500 == 0:
                pace = (time.time() - began) / (step + 1) * 1000
                print(
                    f"{options.name} step {step} {time.time() - began:.0f} s {pace:.0f} ms a step,"
                    f" {len(self.pool)} clips {self.pool.hours:.1f} h, loss {loss:.3f}",
                    flush=True,
                )
            if step and step % options.every == 0:
                self.measure(step)
        self.measure(step)

    def progress(self, step: int, began: float) -> float:
        """How much of the run is done, 0 to 1."""
        by_steps = step / self.options.steps if self.options.steps else 0.0
        return max(by_steps, (time.time() - began) / 60 / self.options.minutes)

    def steps(self, began: float) -> Iterator[int]:
        """Count steps until the run is over."""
        step = 0
        while self.progress(step, began) < 1:
            yield step
            step += 1

    def step(self, optimizer: torch.optim.Optimizer, parameters: list[Any]) -> float | Tensor:
        """Learn from one batch; returns the loss per phone."""
        sound, lengths, labels = self.pool.draw(self.rng, self.options.seconds)
        with torch.no_grad():
            sound, lengths, muted = self.spoiler.spoil(sound, lengths)
            mel, frames = log_mel(sound, lengths, self.filters)
            mel, frames = self.spoiler.mask(mel, frames)
        kind = self.device.type
        with torch.autocast(kind, dtype=torch.bfloat16, enabled=kind == "cuda"):
            phones = self.network(mel, frames)
        silent = muted.tolist()
        labels = [[] if mute else label for label, mute in zip(labels, silent, strict=True)]
        sizes = torch.tensor([len(label) for label in labels])
        targets = torch.tensor([phone for label in labels for phone in label], device=self.device)
        steps = (frames + 1) // 2
        losses = functional.ctc_loss(
            phones.transpose(0, 1),
            targets,
            steps.cpu(),
            sizes,
            zero_infinity=True,
            reduction="none",
        )
        # A mute clip weighs as one word, lest minutes of noise outweigh the speech.
        weights = torch.where(muted, 4 / steps.float(), torch.ones_like(losses))
        loss = (losses * weights).sum() / float(sizes.sum() + 1)
        inside = torch.arange(phones.shape[1], device=self.device)[None] < steps[:, None]
        loss = loss - self.options.smooth * phones.mean(-1)[inside].mean()
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        norm = torch.nn.utils.clip_grad_norm_(parameters, 1.0)
        if torch.isfinite(norm):
            optimizer.step()
        return loss.detach()

    @torch.no_grad()
    def pull(self, rate: float) -> None:
        """Draw the encoder back towards the weights it started from."""
        if self.options.pull and not self.options.start:
            for name, value in self.learned.items():
                if not name.startswith("head"):
                    value.lerp_(self.origin[name], rate * self.options.pull)

    @torch.no_grad()
    def keep_average(self, step: int) -> None:
        """Keep a running average of the weights."""
        if step % 4 == 0:
            share = 1 - min(0.999, (step + 1) / (step + 20)) ** 4
            for name, value in plain_state(self.network).items():
                self.average[name].lerp_(value, share)

    def measure(self, step: int) -> None:
        """Measure the averaged weights on the choosing people; save both."""
        network = EarNetwork(self.options.width, self.options.layers).to(self.device)
        network.load_state_dict(self.average)
        network.eval()
        row: dict[str, Any] = {"step": step, "clips": len(self.pool), "hours": self.pool.hours}
        row |= self.choosing.take(network, MEASURE_SNRS_DB)
        torch.manual_seed(self.options.seed * 100_003 + step)
        self.measures.append(row)
        print(self.options.name, json.dumps(row), flush=True)
        self.options.out.mkdir(parents=True, exist_ok=True)
        path = self.options.out / self.options.name
        torch.save({k: v.half() for k, v in self.average.items()}, path.with_suffix(".pt"))
        facts = {k: str(v) for k, v in vars(self.options).items()}
        path.with_suffix(".json").write_text(json.dumps({"options": facts, "rows": self.measures}))


class LowRank(nn.Module):
    """A weight that learns only a product of two thin matrices on top of itself."""

    def __init__(self, rows: int, columns: int, rank: int) -> None:
        super().__init__()
        self.down = nn.Parameter(torch.randn(rank, columns) / columns**0.5)
        self.up = nn.Parameter(torch.zeros(rows, rank))

    def forward(self, weight: Tensor) -> Tensor:
        """The weight with what was learned."""
        return weight + self.up @ self.down


def freeze(network: EarNetwork, layers: int) -> None:
    """Hold the convolutions and the lowest ``layers`` layers as they are; 0 holds nothing."""
    for part in [network.c1, network.c2, *network.layers[:layers]] if layers else []:
        part.requires_grad_(False)


def lower_rank(network: EarNetwork, rank: int) -> None:
    """Let every layer's products learn low-rank updates alone. Source: Hu et al., ICLR 2022."""
    freeze(network, len(network.layers))
    for layer in network.layers:
        for linear in (layer.qkv, layer.o, layer.f1, layer.f2):
            update = LowRank(*linear.weight.shape, rank).to(linear.weight.device)
            parametrize.register_parametrization(linear, "weight", update)


def plain_state(network: EarNetwork) -> dict[str, Tensor]:
    """The weights under their plain names, low-rank updates added in; copies."""
    state = {}
    for name, value in network.state_dict().items():
        module = name.split(".parametrizations.")[0]
        if module == name:
            state[name] = value.detach().clone()
        elif name.endswith("original"):
            state[f"{module}.weight"] = network.get_submodule(module).weight.detach().clone()
    return state


class Measures:
    """What the choosing people tell about a network.

    Args:
        data: Folder with ``choose_speech_commands.npz`` and ``choose_speechocean762.npz``; a
            missing one is left out.
        device: Where to compute.
    """

    def __init__(self, data: Path, device: torch.device) -> None:
        self.device, self.spoiler = device, Spoiler(device)
        self.filters = torch.tensor(mel_filters(), device=device)
        lexicon = load_dictionary()
        self.words = Pool(data, ["choose_speech_commands.npz"], lexicon, None, device)
        self.sentences = Pool(data, ["choose_speechocean762.npz"], lexicon, None, device)
        self.words.scan()
        self.sentences.scan()

    def take(self, network: EarNetwork, snrs_db: Sequence[float]) -> dict[str, float]:
        """Measure at several levels of noise (99: clean), the same noise for every network."""
        row = {}
        for snr in snrs_db:
            torch.manual_seed(5)
            if len(self.words):
                row[f"words_right_{snr}"] = self.single_words_right(network, snr)
            if len(self.sentences):
                row[f"phone_errors_{snr}"] = self.phone_errors(network, snr)
        return row

    @torch.no_grad()
    def hear(self, network: EarNetwork, pool: Pool, snr: float) -> Iterator[Any]:
        """Yield (phones' log-probabilities, steps, clip numbers) of a pool."""
        order = np.argsort([len(label) for label in pool.labels], kind="stable")
        for at in range(0, len(order), 64):
            which = order[at : at + 64]
            sound, lengths, _ = pool.take(which)
            sound, lengths = self.spoiler.measure(sound, lengths, snr)
            mel, frames = log_mel(sound, lengths, self.filters)
            yield network(mel, frames), (frames + 1) // 2, which

    def single_words_right(self, network: EarNetwork, snr: float) -> float:
        """Share of single words that score best among `SINGLE_WORDS`."""
        labels = [self.words.label(word) for word in SINGLE_WORDS]
        sizes = torch.tensor([len(label) for label in labels])
        targets = torch.tensor([p for label in labels for p in label], device=self.device)
        right = total = 0
        for phones, steps, which in self.hear(network, self.words, snr):
            for row, clip in enumerate(which):
                if self.words.texts[clip] not in SINGLE_WORDS:
                    continue
                many = phones[row, : int(steps[row]), None].expand(-1, len(labels), -1)
                lengths = torch.full((len(labels),), int(steps[row]))
                losses = functional.ctc_loss(many, targets, lengths, sizes, reduction="none")
                right += SINGLE_WORDS[int(losses.argmin())] == self.words.texts[clip]
                total += 1
        return right / max(total, 1)

    def phone_errors(self, network: EarNetwork, snr: float) -> float:
        """Phone errors per phone, each clip read greedily without a grammar."""
        errors = total = 0
        for phones, steps, which in self.hear(network, self.sentences, snr):
            best = phones.argmax(-1).cpu().numpy()
            for row, clip in enumerate(which):
                heard = best[row, : int(steps[row])]
                heard = heard[np.r_[True, heard[1:] != heard[:-1]]]
                label = self.sentences.labels[clip]
                errors += edit_distance([int(p) for p in heard if p], label)
                total += len(label)
        return errors / max(total, 1)


def edit_distance(a: list[int], b: list[int]) -> int:
    """Levenshtein distance."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        before, row[0] = row[0], i
        for j, y in enumerate(b, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (x != y))
    return row[-1]


def main() -> None:
    """Train once."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name")
    parser.add_argument("data", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--minutes", type=float, default=9.0)
    parser.add_argument("--steps", type=int, default=0, help="end after so many steps; 0: by time")
    parser.add_argument("--rate", type=float, default=1e-4)
    parser.add_argument("--pull", type=float, default=0.0, help="towards the starting weights")
    parser.add_argument("--people", type=float, default=0.35, help="share of people in a batch")
    parser.add_argument("--without", nargs="*", default=[], help="sources of people left out")
    parser.add_argument("--smooth", type=float, default=0.1, help="label smoothing")
    parser.add_argument("--start", type=Path, nargs="+", help="weights of earlier runs: their mean")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--every", type=int, default=4000, help="steps between measures")
    parser.add_argument("--seconds", type=float, default=400.0, help="sound in a batch")
    parser.add_argument("--encoder", default="encoder.npz", help="starting weights in DATA")
    parser.add_argument("--freeze", type=int, default=0, help="layers held as they are")
    parser.add_argument("--rank", type=int, default=0, help="learn low-rank updates alone")
    parser.add_argument("--width", type=int, default=384)
    parser.add_argument("--layers", type=int, default=4)
    Training(parser.parse_args()).run()


if __name__ == "__main__":
    main()

"""A sound server of the tests' own: PulseAudio with outputs that are no hardware.

It lives in a private folder, on a socket there: the user's own server is neither asked nor started.
PortAudio reaches it by ALSA's plugin for PulseAudio, configured for these tests alone.
"""

import ctypes.util
import os
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

PROGRAMS = ("pulseaudio", "pactl", "pacat", "parec")
RATE_HZ = 16_000
"""Of what is played into it and recorded from it here."""
_START_S = 15.0


def what_is_missing() -> list[str]:
    """Name what these tests need of the system and do not find."""
    missing = [name for name in PROGRAMS if shutil.which(name) is None]
    if ctypes.util.find_library("portaudio") is None:
        missing.append("libportaudio2")
    if not any(Path("/usr/lib").glob("**/alsa-lib/libasound_module_pcm_pulse.so")):
        missing.append("libasound2-plugins")
    return missing


class SoundServer:
    """PulseAudio without hardware.

    Args:
        folder: Its own; all it writes is there.
        headsets: Names of the devices that PortAudio is told of. Each is an output whose monitor
            is the microphone; `plug_in` makes it.
    """

    def __init__(self, folder: Path, headsets: tuple[str, ...]) -> None:
        self._folder = folder
        self._server = f"unix:{folder / 'native'}"
        self.environment = {
            "ALSA_CONFIG_PATH": str(folder / "alsa.conf"),
            "PULSE_SERVER": self._server,
            "PULSE_COOKIE": str(folder / "cookie"),
        }
        """What programs need to find it."""
        self._modules: dict[str, str] = {}
        (folder / "alsa.conf").write_text(self._alsa_configuration(headsets))
        own = {"HOME", "XDG_RUNTIME_DIR", "XDG_CONFIG_HOME"}
        own |= {"PULSE_RUNTIME_PATH", "PULSE_STATE_PATH"}
        environment = {**os.environ, **dict.fromkeys(own, str(folder))}
        environment |= {"PULSE_COOKIE": str(folder / "cookie")}
        with (folder / "log").open("wb") as log:
            self._process = subprocess.Popen(
                [
                    *("pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no"),
                    *("--exit-idle-time=-1", "--disable-shm=true"),
                    "--load=module-native-protocol-unix auth-anonymous=1"
                    f" socket={folder / 'native'}",
                ],
                env=environment,
                stdout=log,
                stderr=log,
            )
        self._wait_until_it_answers()

    def _alsa_configuration(self, headsets: tuple[str, ...]) -> str:
        devices = {name: name for name in headsets}
        devices |= {f"{name}_mic": f"{name}.monitor" for name in headsets}
        lines = [
            f'pcm.{name} {{ type pulse server "{self._server}" device "{device}" }}'
            for name, device in devices.items()
        ]
        # Without a default PortAudio 19.6 ends in an assertion.
        both = f"playback.pcm {headsets[0]} capture.pcm {headsets[0]}_mic"
        return "\n".join([*lines, f"pcm.!default {{ type asym {both} }}", ""])

    def _wait_until_it_answers(self) -> None:
        until = time.monotonic() + _START_S
        while self._run("pactl", "info", check=False).returncode:
            if time.monotonic() > until or self._process.poll() is not None:
                raise RuntimeError(f"PulseAudio: {(self._folder / 'log').read_text()}")
            time.sleep(0.05)

    def close(self) -> None:
        """End the server, and with it all that is connected to it."""
        for name in self.plugged_in:
            self.unplug(name)
        self._process.terminate()
        self._process.wait(10.0)

    @property
    def plugged_in(self) -> tuple[str, ...]:
        """Names of the devices that there are."""
        return tuple(self._modules)

    def plug_in(self, name: str, rate_hz: int = 48_000) -> None:
        """Make a device; its microphone hears what is played on it."""
        module = self._run(
            *("pactl", "load-module", "module-null-sink"),
            # Else it makes its first sound in a block of two seconds.
            *(f"sink_name={name}", f"rate={rate_hz}", "channels=2", "norewinds=1"),
        )
        self._modules[name] = module.stdout.decode().strip()

    def unplug(self, name: str) -> None:
        """Take a device away, whoever uses it."""
        self._run("pactl", "unload-module", self._modules.pop(name))

    def play(self, name: str, samples: np.ndarray) -> None:
        """Play mono samples at 16 kHz in [-1, 1] on a device; waits until they are over."""
        pcm = np.clip(np.rint(samples * 32_767), -32_768, 32_767).astype("<i2")
        player = self._start("pacat", name, "--latency-msec=250", stdin=subprocess.PIPE)
        player.communicate(pcm.tobytes(), timeout=60.0)

    @contextmanager
    def playing(self, name: str, samples: np.ndarray) -> Iterator[None]:
        """Play meanwhile; waits at the end until it is over."""
        thread = threading.Thread(target=self.play, args=(name, samples))
        thread.start()
        try:
            yield
        finally:
            thread.join()

    @contextmanager
    def recording(self, name: str) -> Iterator[bytearray]:
        """Record meanwhile what is to be heard on a device: 16-bit mono at 16 kHz."""
        heard = bytearray()
        recorder = self._start("parec", name, "--latency-msec=20", stdout=subprocess.PIPE)

        def read() -> None:
            while block := recorder.stdout.read(320):
                heard.extend(block)

        thread = threading.Thread(target=read)
        thread.start()
        try:
            until = time.monotonic() + _START_S
            while not heard and time.monotonic() < until:
                time.sleep(0.01)
            yield heard
        finally:
            # What was played last is on its way still.
            time.sleep(0.3)
            recorder.terminate()
            thread.join()
            recorder.wait()

    def _start(self, program: str, name: str, *options: str, **pipes) -> subprocess.Popen:
        device = f"{name}.monitor" if program == "parec" else name
        form = ("--format=s16le", "--channels=1", f"--rate={RATE_HZ}", f"--device={device}")
        return subprocess.Popen(
            [program, *form, *options], env={**os.environ, **self.environment}, **pipes
        )

    def _run(self, *command: str, check: bool = True) -> subprocess.CompletedProcess:
        return subprocess.run(
            command,
            env={**os.environ, **self.environment},
            check=check,
            capture_output=True,
            timeout=_START_S,
        )

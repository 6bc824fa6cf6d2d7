"""The sound devices of this machine, through PortAudio: found, chosen, opened for listening."""

import ctypes
import platform
import sys
import threading
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from readback.errors import AudioError, InputError
from readback.speech.engine_errors import one_line
from readback.speech.microphone import BLOCK_S, InputStream, OpenStream, Take
from readback.speech.quiet import quiet_standard_error

_CHOOSE = "Close other programs that use it, or choose another microphone."
_INSTALLERS = {
    "debian": "apt-get install libportaudio2",
    "fedora": "dnf install portaudio",
    "arch": "pacman -S portaudio",
    "suse": "zypper install libportaudio2",
    "alpine": "apk add portaudio",
}
"""By what ``/etc/os-release`` calls a system, or one it is like; Debian's tried, the others from
memory."""


@dataclass(frozen=True)
class Device:
    """One input that sound can be taken from."""

    number: int
    name: str
    """With the sound system it is reached through."""
    sample_rate_hz: int
    """Its own rate."""
    is_default: bool = False


# ---- the library ---------------------------------------------------------------------------------


class OpenStreams:
    """Counts the streams that are open: PortAudio can only be started anew while none is."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._count = 0

    def add(self) -> None:
        """Count one more; waits while PortAudio is started anew."""
        with self._lock:
            self._count += 1

    def remove(self) -> None:
        """Count one less."""
        with self._lock:
            self._count -= 1

    def find_new_devices(self, sounddevice: Any) -> None:
        """Start PortAudio anew, unless something is open.

        It looks for devices only when it starts; what was plugged in since is not seen otherwise.
        """
        with self._lock:
            if not self._count:
                # sounddevice has no public way (0.5).
                sounddevice._terminate()
                # 0.5.6 leads standard error away meanwhile, and so may another thread.
                with quiet_standard_error():
                    sounddevice._initialize()


OPEN_STREAMS = OpenStreams()
"""Of this process, in both directions."""


def import_sounddevice() -> Any:
    """Import the library that records and plays, which starts it.

    Raises:
        AudioError: It is not there; says what to install on this system.
    """
    library = _start_sounddevice()
    if isinstance(library, AudioError):
        raise AudioError(library.what, library.remedy)
    return library


@cache
def _start_sounddevice() -> Any:
    """Import it once; an error that says what is missing is remembered as well."""
    try:
        # It starts PortAudio, as in find_new_devices.
        with quiet_standard_error():
            import sounddevice
    except ImportError:
        return AudioError("The package sounddevice is not there.", "Install readback again.")
    except OSError:
        return AudioError("The PortAudio library is not there.", how_to_install())
    _quieten_c_libraries()
    return sounddevice


def _quieten_c_libraries() -> None:
    """Lead what C libraries print nowhere: PortAudio and ALSA would write into a screen.

    They do when a device is late or unplugged. Only the ``stderr`` of C is led away; Python's own
    writes to the file descriptor and goes on. Known for the GNU library alone.
    """
    if sys.platform != "linux" or platform.libc_ver()[0] != "glibc":
        return
    c = ctypes.CDLL(None)
    c.fopen.restype = ctypes.c_void_p
    nowhere = c.fopen(b"/dev/null", b"w")
    if nowhere:
        ctypes.c_void_p.in_dll(c, "stderr").value = nowhere


def how_to_install(os_release: Path = Path("/etc/os-release")) -> str:
    """Say in one line how to install PortAudio on this system.

    Args:
        os_release: The file by which a Linux says what it is.
    """
    if sys.platform == "darwin":
        command = "brew install portaudio"
    elif sys.platform == "linux":
        names = _names_of(os_release)
        command = next((_INSTALLERS[name] for name in names if name in _INSTALLERS), "")
    else:
        return "Install the package sounddevice again, which brings it; typing works without."
    return f"Install it{f' ({command})' if command else ''}; typing works without."


def _names_of(os_release: Path) -> list[str]:
    """Give what a Linux is called, then what it is like."""
    found: dict[str, str] = {}
    with suppress(OSError, UnicodeDecodeError):
        for line in os_release.read_text("utf-8").splitlines():
            name, _, value = line.partition("=")
            found[name] = value.strip("\"'")
    return f"{found.get('ID', '')} {found.get('ID_LIKE', '')}".split()


# ---- inputs --------------------------------------------------------------------------------------


def list_devices() -> tuple[Device, ...]:
    """List the inputs that there are now, the default one marked.

    Raises:
        AudioError: The PortAudio library is not there, or does not answer.
    """
    sounddevice = import_sounddevice()
    try:
        OPEN_STREAMS.find_new_devices(sounddevice)
        default = sounddevice.default.device[0]
        return tuple(
            Device(
                number=number,
                name=name,
                sample_rate_hz=round(entry["default_samplerate"]),
                is_default=number == default,
            )
            for number, name, entry in _entries(sounddevice)
            if entry["max_input_channels"] > 0
        )
    except sounddevice.PortAudioError as error:
        raise _device_error("The devices cannot be listed", error) from error


def _entries(sounddevice: Any) -> list[tuple[int, str, Any]]:
    """Give each device's number, its name with its sound system, and what is known of it."""
    systems = sounddevice.query_hostapis()
    return [
        (number, f"{entry['name']} ({systems[entry['hostapi']]['name']})", entry)
        for number, entry in enumerate(sounddevice.query_devices())
    ]


def choose_device(devices: tuple[Device, ...], wanted: str | None = None) -> Device:
    """Choose an input.

    Args:
        devices: See `list_devices`.
        wanted: Its number, its name, or a part of the name that no other has; None takes the
            system's default, or the only one.

    Raises:
        AudioError: There is no input.
        InputError: None, or more than one, is meant.
    """
    if not devices:
        raise AudioError("This machine has no microphone.", "Plug one in, or type instead.")
    if wanted is None:
        return next((device for device in devices if device.is_default), devices[0])
    text = wanted.strip().casefold()
    exact = [one for one in devices if text in (str(one.number), one.name.casefold())]
    found = exact or [one for one in devices if text and text in one.name.casefold()]
    names = "; ".join(f"{one.number} {one.name}" for one in (found or devices))
    if not found:
        raise InputError(f'There is no input "{wanted}".', f"Choose one of: {names}.")
    if len(found) > 1:
        raise InputError(f'"{wanted}" is more than one input.', f"Choose one of: {names}.")
    return found[0]


def device_opener(device: Device) -> OpenStream:
    """Make what opens a device with PortAudio."""

    def open_stream(take: Take) -> InputStream:
        return _PortAudioStream(device, take)

    return open_stream


class _PortAudioStream:
    """An input opened by sounddevice; see `InputStream`."""

    def __init__(self, device: Device, take: Take) -> None:
        self._sounddevice = import_sounddevice()
        self.sample_rate_hz = device.sample_rate_hz
        self._device = device
        self._closed = False

        def callback(samples: Any, _frames: int, _times: Any, status: Any) -> None:
            take(samples[:, 0].copy(), bool(status.input_overflow))

        OPEN_STREAMS.add()
        try:
            self._stream = self._open(callback)
        except BaseException as error:
            OPEN_STREAMS.remove()
            if isinstance(error, self._sounddevice.PortAudioError):
                raise _device_error(f"{device.name} cannot be opened", error) from error
            raise

    def _open(self, callback: Any) -> Any:
        number, most = self._find()
        try:
            return self._open_channels(number, 1, callback)
        except self._sounddevice.PortAudioError:
            # Some drivers give a device whole or not at all.
            return self._open_channels(number, most, callback)

    def _find(self) -> tuple[int, int]:
        """Give the device's number now, and its channels; numbers change when others come."""
        named = [
            (number, entry["max_input_channels"])
            for number, name, entry in _entries(self._sounddevice)
            if name == self._device.name
        ]
        if not named:
            raise AudioError(
                f"{self._device.name} is not there any more.", "Plug it in, or choose another."
            )
        return next((one for one in named if one[0] == self._device.number), named[0])

    def _open_channels(self, number: int, channels: int, callback: Any) -> Any:
        return self._sounddevice.InputStream(
            samplerate=self.sample_rate_hz,
            blocksize=round(self.sample_rate_hz * BLOCK_S),
            device=number,
            channels=channels,
            dtype="float32",
            callback=callback,
        )

    @property
    def active(self) -> bool:
        """See `InputStream.active`."""
        return bool(self._stream.active)

    def start(self) -> None:
        """See `InputStream.start`."""
        try:
            self._stream.start()
        except self._sounddevice.PortAudioError as error:
            raise _device_error(f"{self._device.name} cannot be started", error) from error

    def close(self) -> None:
        """See `InputStream.close`."""
        if not self._closed:
            self._closed = True
            # Errors while closing tell nothing: the device may be gone.
            self._stream.close(ignore_errors=True)
            OPEN_STREAMS.remove()


def _device_error(what: str, error: Exception) -> AudioError:
    return AudioError(f"{what} ({one_line(error)}).", _CHOOSE)

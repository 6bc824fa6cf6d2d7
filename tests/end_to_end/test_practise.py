"""The Practise screen with a real microphone and a real voice, through PortAudio."""

import asyncio
import time
from dataclasses import replace

import numpy as np
import pytest

from readback.commands.demo import load_manifest
from readback.judging.pairs import Pair
from readback.screens.app import ReadbackApp
from readback.screens.practise import InstructionDrawn
from readback.screens.services import open_services
from readback.screens.widgets.verdict import VerdictView
from tests.live.fakes import RECORDINGS, quiet, read_speech

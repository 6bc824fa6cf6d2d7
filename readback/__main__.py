"""``python -m readback``, for where the program's folder is not on the path."""

import sys

from readback.entry import main

if __name__ == "__main__":
    sys.exit(main())

"""`python -m tepal`, the same as the command `tepal`."""

import sys

from tepal.cli import main

if __name__ == "__main__":
    sys.exit(main())

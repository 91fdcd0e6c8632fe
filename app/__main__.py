"""Arguments in, window or command out."""

from __future__ import annotations

import sys

from app.command_line import run


def main() -> int:
    """Run the program; returns the exit code."""
    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())

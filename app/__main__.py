"""Arguments in, window or command out."""

from __future__ import annotations

import io
import sys

from app.command_line import run


def main() -> int:
    """Run the program; returns the exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal without a degree sign must not end in a traceback.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())

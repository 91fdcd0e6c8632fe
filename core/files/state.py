"""Where the program keeps what is the user's own and belongs to no studio."""

from __future__ import annotations

from pathlib import Path

import platformdirs


def state_folder() -> Path:
    """Return the user's folder for versions, journals and counts; it need not exist."""
    return Path(platformdirs.user_state_dir("glost", appauthor=False))

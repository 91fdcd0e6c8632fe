"""PDF files: text that can be searched and copied, put in place in one step."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QIODevice, QSaveFile


def write_pdf_file(path: Path, make: Callable[[], bytes], what: str) -> None:
    """Write a PDF in one step; a failure leaves the old file and no litter.

    Parameters
    ----------
    path : Path
    make : callable
        Gives the bytes; not asked where the path is no place for a file.
    what : str
        Of what it is, for the sentence, such as "the card".

    Raises
    ------
    OSError
        With a sentence, if the disk refuses.
    """
    # A save renames over its target: a device or pipe would be gone.
    if os.path.lexists(path) and not path.is_file():
        raise OSError(f"{path} is no ordinary file; name a PDF file for {what}")
    data = make()
    file = QSaveFile(str(path))
    # The buffer may hide a full disk until the commit.
    if not (
        file.open(QIODevice.OpenModeFlag.WriteOnly)
        and file.write(data) == len(data)
        and file.commit()
    ):
        raise OSError(f"{what} could not be written to {path}: {file.errorString()}")


def with_plain_spaces(pdf: bytes) -> bytes:
    """Let the glyph of the space be read back as a space.

    Qt names each glyph by the first character that has it, which makes the
    space a tab for whoever searches or copies the text. Both names have the
    same length, so that nothing in the file moves.
    """

    def renamed(table: re.Match[bytes]) -> bytes:
        return re.sub(
            rb"\[[^\]]*\]", lambda names: names[0].replace(b"<0009>", b"<0020>"), table[0]
        )

    return re.sub(rb"begincmap.*?endcmap", renamed, pdf, flags=re.DOTALL)

"""The recipe card as a PDF file whose text can be searched and copied."""

from __future__ import annotations

import os
import re
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, QSaveFile
from PySide6.QtGui import QPdfWriter

from app.card import PAPERS, CardRequest, paint_card


def write_pdf(path: Path, request: CardRequest, paper: str) -> None:
    """Write the card as a PDF in one step; a failure leaves the old file and no litter.

    Raises
    ------
    OSError
        With a sentence, if the disk refuses.
    """
    # A save renames over its target: a device or pipe would be gone.
    if os.path.lexists(path) and not path.is_file():
        raise OSError(f"{path} is no ordinary file; name a PDF file for the card")
    data = pdf_bytes(request, paper)
    file = QSaveFile(str(path))
    # The buffer may hide a full disk until the commit.
    if not (
        file.open(QIODevice.OpenModeFlag.WriteOnly)
        and file.write(data) == len(data)
        and file.commit()
    ):
        raise OSError(f"the card could not be written to {path}: {file.errorString()}")


def pdf_bytes(request: CardRequest, paper: str) -> bytes:
    """Return the card as a PDF on one of `PAPERS`."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setPageSize(PAPERS[paper])
    writer.setTitle(request.name)
    writer.setCreator("Glost")
    paint_card(writer, request)
    return _with_plain_spaces(bytes(buffer.data().data()))


def _with_plain_spaces(pdf: bytes) -> bytes:
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

"""The recipe card as a PDF file whose text can be searched and copied."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QPdfWriter

from app.card import PAPERS, CardRequest, paint_card
from app.pdf_file import with_plain_spaces, write_pdf_file


def write_pdf(path: Path, request: CardRequest, paper: str) -> None:
    """Write the card as a PDF in one step; a failure leaves the old file and no litter.

    Raises
    ------
    OSError
        With a sentence, if the disk refuses.
    """
    write_pdf_file(path, lambda: pdf_bytes(request, paper), "the card")


def pdf_bytes(request: CardRequest, paper: str) -> bytes:
    """Return the card as a PDF on one of `PAPERS`."""
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = QPdfWriter(buffer)
    writer.setPageSize(PAPERS[paper])
    writer.setTitle(request.name)
    writer.setCreator("Glost")
    paint_card(writer, request)
    return with_plain_spaces(bytes(buffer.data().data()))

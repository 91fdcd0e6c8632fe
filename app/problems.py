"""When something goes wrong: say what, where and the way out; never end in silence."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable
from types import TracebackType

from PySide6.QtWidgets import QMessageBox, QWidget

from core.files.fault_words import words_of_fault

log = logging.getLogger("glost")


def words_of(fault: Exception) -> str:
    """Return what to tell the potter about an expected fault."""
    if isinstance(fault, OSError):
        return words_of_fault(fault)
    return str(fault)


def tell(parent: QWidget | None, title: str, text: str) -> None:
    """Show a problem; the caller has already left everything as it was."""
    box = QMessageBox(QMessageBox.Icon.Warning, title, title, parent=parent)
    box.setInformativeText(text)
    box.exec()


def install_excepthook(show: Callable[[str], None]) -> None:
    """Log what nobody expected and tell it, instead of ending without a word."""
    busy = False

    def hook(kind: type[BaseException], fault: BaseException, trace: TracebackType | None) -> None:
        nonlocal busy
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, fault, trace)
            return
        log.error("unexpected", exc_info=(kind, fault, trace))
        # A fault in a paint event would come back with every repaint of the box.
        if busy:
            return
        busy = True
        try:
            show(f"{kind.__name__}: {fault}")
        finally:
            busy = False

    sys.excepthook = hook

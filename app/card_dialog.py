"""The card on the screen: choose batch, scale and paper, then save or print it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtPrintSupport import QAbstractPrintDialog, QPrintDialog, QPrinter, QPrintPreviewWidget
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app import problems
from app.card import PAPERS, CardRequest, paint_card
from app.card_pdf import write_pdf
from app.file_names import file_stem
from app.settings import Settings
from core.batch import batch_of
from core.errors import InputError
from core.numbers import number_text, read_amount
from core.studio import Scale

_USUAL_BATCH = "1000"
_USUAL_PAPER = "A5"
_PAPER_NAMES = {"Letter": "US Letter", "4x6": "4 × 6 in"}
"""Where they differ from those of the command line."""


class CardDialog(QDialog):
    """Shows the card as it will be printed; what is chosen is remembered.

    `request_source` makes the request of a batch [g of dry base] and a readout [g].
    """

    def __init__(
        self,
        request_source: Callable[[float, float], CardRequest],
        scales: Sequence[Scale],
        settings: Settings | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Card for the bucket"))
        self._request_source = request_source
        self._settings = settings
        self._make_fields(scales)
        self._request = self._request_for(float(_USUAL_BATCH))
        self._choose_scale(self._remembered("card/scale", ""))
        self._make_preview()
        self._make_buttons()
        self._lay_out()
        self.batch.textChanged.connect(self._take_fields)
        self.scale.currentIndexChanged.connect(self._take_fields)
        self.paper.currentIndexChanged.connect(self._take_fields)
        self._take_fields()
        self.batch.setFocus()
        self.batch.selectAll()
        self.resize(980, 700)

    @property
    def request(self) -> CardRequest:
        """What the preview shows: the last fields that could be read."""
        return self._request

    def choose_file(self) -> None:
        """Ask for a file and save the card as a PDF."""
        evaluation = self._request.evaluation
        folder = evaluation.studio.folder or Path.home()
        variant = f" {self._request.variant}" if self._request.variant else ""
        stem = file_stem(f"{evaluation.recipe.name}{variant}")
        name, _ = QFileDialog.getSaveFileName(
            self,
            self.tr("Save the card"),
            str(folder / f"{stem}-card.pdf"),
            self.tr("PDF (*.pdf)"),
        )
        if name:
            path = Path(name)
            self.save_pdf(path if path.suffix else path.with_suffix(".pdf"))

    def save_pdf(self, path: Path) -> bool:
        """Save the card as it is shown; tell what went wrong, if anything."""
        try:
            write_pdf(path, self._request, self.paper.currentData())
        except OSError as fault:
            problems.tell(
                self,
                self.tr("{} was not saved").format(path.name),
                problems.words_of(fault)
                + self.tr(
                    "\n\nThe old file, if there was one, is as it was. "
                    "Make room or choose another place, then save again."
                ),
            )
            return False
        self._say(self.tr("Saved as {}").format(path.name))
        return True

    def choose_printer(self) -> None:
        """Ask for a printer and print the card."""
        printer = self._new_printer()
        dialog = QPrintDialog(printer, self)
        dialog.setWindowTitle(self.tr("Print the card"))
        dialog.setOption(QAbstractPrintDialog.PrintDialogOption.PrintPageRange, False)
        if dialog.exec() == QDialog.DialogCode.Accepted:
            self.print_to(printer)

    def print_to(self, printer: QPrinter) -> bool:
        """Print the card; tell what went wrong, if anything."""
        try:
            paint_card(printer, self._request)
        except OSError as fault:
            problems.tell(self, self.tr("The card was not printed"), problems.words_of(fault))
            return False
        self._say(self.tr("Sent to the printer"))
        return True

    def done(self, result: int) -> None:
        if self._settings is not None:
            if not self._fault():
                self._settings.keep_text("card/batch", self.batch.text().strip())
            self._settings.keep_text("card/scale", self._scale_ids[self.scale.currentIndex()])
            self._settings.keep_text("card/paper", self.paper.currentData())
        super().done(result)

    def _make_fields(self, scales: Sequence[Scale]) -> None:
        self.batch = QLineEdit(self._remembered("card/batch", _USUAL_BATCH))
        self.batch.setAccessibleName(self.tr("Batch, grams of dry base"))
        self.batch.setToolTip(self.tr("Dry weight of the base; additions come on top"))
        self.scale = QComboBox()
        self.scale.setAccessibleName(self.tr("Scale and the step of its readout"))
        self.scale.setToolTip(self.tr("Every weight is a whole number of steps of this scale"))
        self._scale_ids = []
        for scale in scales:
            step = number_text(scale.readout_g)
            name = scale.name or scale.id
            self.scale.addItem(self.tr("{} ({} g)").format(name, step), float(scale.readout_g))
            self._scale_ids.append(scale.id)
        self.paper = QComboBox()
        self.paper.setAccessibleName(self.tr("Paper"))
        for key in PAPERS:
            self.paper.addItem(_PAPER_NAMES.get(key, key), key)
        chosen = self.paper.findData(self._remembered("card/paper", _USUAL_PAPER))
        self.paper.setCurrentIndex(max(chosen, 0))
        self.message = QLabel()
        self.message.setWordWrap(True)
        self.message.setAccessibleName(self.tr("Message"))
        self.message.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)

    def _make_preview(self) -> None:
        self._printer = self._new_printer()
        self.preview = QPrintPreviewWidget(self._printer)
        self.preview.setAccessibleName(self.tr("Preview of the card"))
        self.preview.setViewMode(QPrintPreviewWidget.ViewMode.AllPagesView)
        self.preview.setZoomMode(QPrintPreviewWidget.ZoomMode.FitInView)
        self.preview.paintRequested.connect(self._paint_preview)

    def _make_buttons(self) -> None:
        self.save_button = QPushButton(self.tr("&Save PDF…"))
        self.print_button = QPushButton(self.tr("&Print…"))
        self.close_button = QPushButton(self.tr("&Close"))
        for button, slot in (
            (self.save_button, self.choose_file),
            (self.print_button, self.choose_printer),
            (self.close_button, self.reject),
        ):
            # Enter in the batch field ends the number, it opens nothing.
            button.setAutoDefault(False)
            button.setMinimumHeight(28)
            button.clicked.connect(slot)

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.setVerticalSpacing(8)
        for text, field in (
            (self.tr("&Batch, grams of dry base"), self.batch),
            (self.tr("Sca&le"), self.scale),
            (self.tr("P&aper"), self.paper),
        ):
            field.setMinimumHeight(28)
            label = QLabel(text)
            label.setBuddy(field)
            form.addRow(label, field)
        side = QVBoxLayout()
        side.setSpacing(8)
        side.addLayout(form)
        side.addWidget(self.message)
        side.addStretch(1)
        for button in (self.save_button, self.print_button, self.close_button):
            side.addWidget(button)
        holder = QWidget()
        holder.setLayout(side)
        side.setContentsMargins(0, 0, 0, 0)
        holder.setFixedWidth(240)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.setSpacing(12)
        layout.addWidget(holder)
        layout.addWidget(self.preview, 1)
        order = (
            self.batch,
            self.scale,
            self.paper,
            self.save_button,
            self.print_button,
            self.close_button,
            self.preview,
        )
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)

    def _take_fields(self) -> None:
        """Show the card of the fields, or say why they cannot be read."""
        fault = self._fault()
        self._say(self.tr("Look: {}").format(fault) if fault else "")
        self.save_button.setEnabled(not fault)
        self.print_button.setEnabled(not fault)
        if not fault:
            self._request = self._request_for(read_amount(self.batch.text()))
            self._printer.setPageSize(PAPERS[self.paper.currentData()])
            self.preview.updatePreview()

    def _fault(self) -> str:
        """Return what is wrong with the fields, or nothing."""
        try:
            grams = read_amount(self.batch.text())
            recipe = self._request.evaluation.recipe
            if any(row.amount > 0 for row in recipe.base):
                batch_of(recipe, grams, self.scale.currentData())
        except InputError as fault:
            return str(fault)
        return ""

    def _request_for(self, grams: float) -> CardRequest:
        return self._request_source(grams, self.scale.currentData())

    def _choose_scale(self, remembered: str) -> None:
        wanted = remembered or self._request.evaluation.studio.scale.id
        if wanted in self._scale_ids:
            self.scale.setCurrentIndex(self._scale_ids.index(wanted))

    def _remembered(self, key: str, usual: str) -> str:
        return usual if self._settings is None else self._settings.text(key, usual)

    def _new_printer(self) -> QPrinter:
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setPageSize(PAPERS[self.paper.currentData()])
        printer.setDocName(self._request.evaluation.recipe.name or self.windowTitle())
        printer.setCreator("Glost")
        return printer

    def _paint_preview(self, printer: QPrinter) -> None:
        try:
            paint_card(printer, self._request)
        except OSError as fault:
            self._say(str(fault))

    def _say(self, text: str) -> None:
        self.message.setText(text)

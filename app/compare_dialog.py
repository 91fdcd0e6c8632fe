"""Two states of a recipe side by side: rows, formula and reading."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app import formatting
from app.cell_copy import copy_as_cell
from app.dialog_buttons import without_pictures
from app.theme import apply_tabular_figures
from core.evaluate import Evaluation
from core.melt.sheet import Figure
from core.oxides import OXIDES
from core.reading.words import margin_words, soundness, verdict
from core.recipe import Rows, Section


class CompareDialog(QDialog):
    """Compares two evaluations; what differs stands in bold with its difference."""

    def __init__(
        self,
        left: tuple[str, Evaluation],
        right: tuple[str, Evaluation],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("Compare {} and {}").format(left[0], right[0]))
        self.table = QTableWidget(0, 4)
        copy_as_cell(self.table)
        self.table.setHorizontalHeaderLabels(["", left[0], right[0], self.tr("difference")])
        self.table.setFont(apply_tabular_figures(self.font()))
        self.table.setShowGrid(False)
        self.table.verticalHeader().hide()
        self.table.verticalHeader().setDefaultSectionSize(24)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setAccessibleName(self.windowTitle())
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self._fill(left[1], right[1])
        self.table.setCurrentCell(0, 0)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        without_pictures(buttons)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 12, 12, 12)
        layout.addWidget(
            QLabel(self.tr("Parts of the rows, percent of the base for additions, then formula."))
        )
        layout.addWidget(self.table, 1)
        layout.addWidget(buttons)
        self.resize(620, 560)

    def _fill(self, left: Evaluation, right: Evaluation) -> None:
        for section, title in (
            (Section.BASE, self.tr("Base, parts")),
            (Section.ADDITIONS, self.tr("Additions, % of base")),
        ):
            a, b = _amounts(left.recipe.rows(section)), _amounts(right.recipe.rows(section))
            if a or b:
                self._heading(title)
            for material in dict.fromkeys([*a, *b]):
                known = material in left.materials
                name = (left if known else right).material_name(material)
                self._line(name, a.get(material), b.get(material), 3)
        self._heading(self.tr("Unity formula, moles"))
        unity_a, unity_b = left.formula.unity, right.formula.unity
        for i, oxide in enumerate(OXIDES):
            x = None if unity_a is None else float(unity_a[i])
            y = None if unity_b is None else float(unity_b[i])
            if x or y:
                self._line(formatting.oxide_text(oxide), x, y, 3)
        self._heading(self.tr("Figures"))
        a_formula, b_formula = left.formula, right.formula
        self._line(self.tr("SiO₂:Al₂O₃"), a_formula.silica_alumina, b_formula.silica_alumina, 2)
        self._line(
            self.tr("Loss on ignition, %"),
            a_formula.loss_on_ignition_percent,
            b_formula.loss_on_ignition_percent,
            2,
        )
        self._heading(self.tr("Reading"))
        self._words(self.tr("Surface"), _surface(left), _surface(right))
        self._words(self.tr("Soundness"), *(soundness(e.reading).text for e in (left, right)))
        if _clamped(left) or _clamped(right):
            self._words(self.tr("Melt margin"), _margin_text(left), _margin_text(right))
        else:
            self._predicted(self.tr("Melt margin, %"), _margin(left), _margin(right), 0)
        self._predicted(
            self.tr("Viscosity at the peak, log₁₀ Pa·s"),
            left.melt.log10_viscosity if left.melt else None,
            right.melt.log10_viscosity if right.melt else None,
            2,
        )
        self._predicted(
            self.tr("Liquidus, °C"),
            left.melt.liquidus_c if left.melt else None,
            right.melt.liquidus_c if right.melt else None,
            0,
        )
        self._words(self.tr("Fit to the body"), _fit(left), _fit(right))
        self._predicted(
            self.tr("Stress, MPa (squeeze below zero)"), _stress(left), _stress(right), 0
        )

    def _heading(self, text: str) -> None:
        row = self.table.rowCount()
        self.table.insertRow(row)
        item = QTableWidgetItem(text)
        font = item.font()
        font.setBold(True)
        item.setFont(font)
        self.table.setItem(row, 0, item)
        self.table.setSpan(row, 0, 1, 4)

    def _line(self, name: str, a: float | None, b: float | None, places: int) -> None:
        difference = (b or 0.0) - (a or 0.0)
        changed = abs(difference) >= 0.5 * 10**-places
        self._cells(
            [
                f"  {name}",
                formatting.decimals(a, places),
                formatting.decimals(b, places),
                f"{difference:+.{places}f}".replace("-", "−") if changed else "",
            ],
            changed,
        )

    def _predicted(self, name: str, a: Figure | None, b: Figure | None, places: int) -> None:
        """Show two predictions with their errors; without both there is no difference."""
        difference = b.value - a.value if a is not None and b is not None else 0.0
        changed = abs(difference) >= 0.5 * 10**-places
        text = formatting.decimals(difference, places) if changed else ""
        self._cells(
            [
                f"  {name}",
                _with_error(a, places),
                _with_error(b, places),
                f"+{text}" if changed and difference > 0 else text.replace("-", "−"),
            ],
            changed or (a is None) != (b is None),
        )

    def _words(self, name: str, a: str, b: str) -> None:
        self._cells([f"  {name}", a, b, self.tr("differs") if a != b else ""], a != b)

    def _cells(self, texts: list[str], bold: bool) -> None:
        row = self.table.rowCount()
        self.table.insertRow(row)
        for column, text in enumerate(texts):
            item = QTableWidgetItem(text)
            if column:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            font = self.table.font()
            font.setBold(bold)
            item.setFont(font)
            self.table.setItem(row, column, item)


def _surface(evaluation: Evaluation) -> str:
    return verdict(evaluation.reading) if evaluation.reading.surface else formatting.NOTHING


def _margin(evaluation: Evaluation) -> Figure | None:
    surface = evaluation.reading.surface
    if surface is None:
        return None
    return Figure(surface.melt_margin_percent, surface.melt_margin_error_percent)


def _clamped(evaluation: Evaluation) -> bool:
    surface = evaluation.reading.surface
    return surface is not None and surface.melt_margin_clamped


def _margin_text(evaluation: Evaluation) -> str:
    surface = evaluation.reading.surface
    return margin_words(surface).removeprefix("melt margin ") if surface else formatting.NOTHING


def _fit(evaluation: Evaluation) -> str:
    return str(evaluation.reading.fit.verdict or formatting.NOTHING)


def _stress(evaluation: Evaluation) -> Figure | None:
    fit = evaluation.reading.fit
    if fit.stress_mpa is None or fit.stress_error_mpa is None:
        return None
    return Figure(fit.stress_mpa, fit.stress_error_mpa)


def _with_error(figure: Figure | None, places: int) -> str:
    if figure is None:
        return formatting.NOTHING
    value = formatting.decimals(figure.value, places).replace("-", "−")
    return f"{value} ± {figure.error:.{places}f}"


def _amounts(rows: Rows) -> dict[str, float]:
    amounts: dict[str, float] = {}
    for row in rows:
        amounts[row.material] = amounts.get(row.material, 0.0) + row.amount
    return amounts

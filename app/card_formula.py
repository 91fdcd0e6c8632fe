"""The chemistry on the card: the unity formula in columns, its figures, the map beside it."""

from __future__ import annotations

from dataclasses import replace

from app import formatting
from app.card_map import map_block, map_words
from app.card_page import Block, Sheet, beside, joined
from app.theme import Role
from core.evaluate import Evaluation
from core.formula import Formula
from core.oxides import COLOURING_RO, INDEX, OXIDES

_ALKALIS = ("Li2O", "Na2O", "K2O")

_Column = list[tuple[str, list[tuple[str, str]]]]
"""Groups of a column: (title, [(oxide, moles)])."""


def formula_blocks(sheet: Sheet, evaluation: Evaluation) -> list[Block]:
    """Lay out formula and map: side by side on roomy paper, else below each other."""
    formula, point = evaluation.formula, evaluation.point
    top = [sheet.heading("Unity formula")]
    for state in formula.states:
        top += sheet.paragraph(sentence(str(state)), sheet.plain)
    if formula.unity is None or point is None:
        return [joined(*top, *_figures(sheet, formula, sheet.left, sheet.width))]
    surface = evaluation.reading.surface
    gap = sheet.em(1.6) if sheet.roomy else sheet.pt(8)
    left = (0.58 if sheet.roomy else 0.5) * (sheet.width - gap)
    x, width = sheet.left + left + gap, sheet.width - left - gap
    words = replace(map_words(sheet, evaluation, point, x, width), gap=sheet.pt(3))
    if sheet.roomy:
        oxides = _oxides(sheet, formula, left)
        figures = joined(*_figures(sheet, formula, sheet.left, left))
        body = beside(
            joined(oxides, replace(figures, gap=sheet.pt(6))),
            joined(map_block(sheet, surface, point, x, width), words),
        )
        return [joined(*top, replace(body, gap=sheet.pt(3)))]
    body = beside(
        map_block(sheet, surface, point, sheet.left, left),
        joined(words, *_figures(sheet, formula, x, width)),
    )
    return [
        joined(*top, replace(_oxides(sheet, formula, sheet.width), gap=sheet.pt(2))),
        replace(body, gap=sheet.pt(7)),
    ]


def sentence(text: str) -> str:
    """Begin with a capital and end with one full stop."""
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _figures(sheet: Sheet, formula: Formula, x: float, width: float) -> list[Block]:
    words = []
    if formula.silica_alumina is not None:
        ratio = formatting.decimals(formula.silica_alumina)
        words.append((f"SiO₂:Al₂O₃ {ratio}", sheet.plain, Role.INK))
    if formula.loss_on_ignition_percent is not None:
        loss = formatting.decimals(formula.loss_on_ignition_percent)
        words.append((f"Loss on ignition {loss} %", sheet.plain, Role.INK))
    if formula.unity is not None:
        convention = sentence(formatting.oxides_in(str(formula.convention)))
        words.append((convention, sheet.small, Role.MUTED))
    return [
        line
        for text, font, role in words
        for line in sheet.paragraph(text, font, role, x=x, width=width)
    ]


def _oxides(sheet: Sheet, formula: Formula, width: float) -> Block:
    gap = sheet.em(1.4)
    each = (width - 2 * gap) / 3
    # Name and figure stay near each other however wide the paper is.
    usual = sheet.advance("Al₂O₃", sheet.plain) + 1.35 * sheet.advance("00.000", sheet.plain)
    columns = []
    for i, groups in enumerate(_columns(formula)):
        x = sheet.left + i * (each + gap)
        right = x + min(each, usual)
        lines = []
        for title, rows in groups:
            lines.append(replace(sheet.line(title, sheet.small, Role.MUTED, x), gap=sheet.pt(3)))
            lines += [
                beside(
                    sheet.line(oxide, sheet.plain, x=x),
                    sheet.line(moles, sheet.plain, x=right - sheet.advance(moles, sheet.plain)),
                )
                for oxide, moles in rows
            ]
        columns.append(joined(*lines))
    return beside(*columns)


def _columns(formula: Formula) -> list[_Column]:
    """Sort the oxides that are there: fluxes, R2O3 with boron and what is outside, RO2."""
    assert formula.unity is not None
    unity, fluxes = formula.unity, formula.convention.fluxes
    plan = (
        (
            ("R₂O", [o for o in fluxes if o in _ALKALIS]),
            ("RO", [o for o in fluxes if o not in _ALKALIS]),
        ),
        (
            ("R₂O₃", ["Al2O3", "Fe2O3", "Cr2O3"]),
            ("boron", ["B2O3"]),
            ("outside unity", [o for o in (*COLOURING_RO, "F") if o not in fluxes]),
        ),
        (("RO₂", ["SiO2", "TiO2", "ZrO2", "SnO2", "CeO2"]), ("R₂O₅", ["P2O5", "V2O5"])),
    )
    columns = []
    for groups in plan:
        column = []
        for title, members in groups:
            present = [o for o in OXIDES if o in members and unity[INDEX[o]] > 0]
            rows = [(formatting.oxide_text(o), _moles(float(unity[INDEX[o]]))) for o in present]
            if rows:
                column.append((title, rows))
        columns.append(column)
    return columns


def _moles(value: float) -> str:
    return formatting.decimals(value, 3) if value >= 0.0005 else "<0.001"

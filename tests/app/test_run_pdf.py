"""The PDF of a run, read back: its weights, volumes, codes, measures and labels."""

from __future__ import annotations

import io
import math
import os
from dataclasses import replace
from decimal import Decimal
from functools import cached_property
from itertools import pairwise

import pypdf
import pytest
from PySide6.QtGui import QFont, QFontMetricsF

from app.card_page import FOOD
from app.command_line import run as run_command
from app.run_kiln_page import cones_for, shelves_of
from app.run_pdf import RUN_PAPERS, run_pdf_bytes, write_run_pdf
from core.blend.additions import doubling
from core.blend.plan import additions_plan, grid_blend, line_blend
from core.blend.slop import Slop
from core.errors import InputError
from core.evaluate import material_of
from core.recipe import Ingredient, Pin, Recipe, Section
from core.schema import LONGEST_NAME
from core.studio import Studio, open_studio
from core.tables import data_folder
from core.tiles.codes import code_of
from core.tiles.placement import CONES
from core.tiles.result import DEFECTS, Surface
from core.tiles.run import Run, codes_of, run_of
from core.tiles.run_file import read_run

DAY = "2031-02-01"
MM = 72.0 / 25.4
"""Points of a millimetre: an inch has 72 points and 25.4 mm (ISO 32000-1:2008, 8.3.2.3)."""


def codes(number):
    return [code_of("K", i) for i in range(number)]


def recipe_of(name, clay, silica, tin=0.0):
    parts = {"potash-feldspar": 42.0, "talc": 16.0, "whiting": 12.0}
    rows = [*parts.items(), ("kaolin", clay), ("silica", silica)]
    return Recipe(
        name,
        firing="cone-10-medium",
        body="stoneware",
        base=tuple(Ingredient(material, amount) for material, amount in rows),
        additions=(Ingredient("tin-oxide", tin),) if tin else (),
    )


CORNERS = (
    recipe_of("Heron", 50.0, 2.0),
    recipe_of("Heron", 50.0, 60.0, tin=7.5),
    recipe_of("Heron", 5.0, 2.0),
    recipe_of("Heron", 5.0, 60.0),
)


@pytest.fixture(scope="module")
def demo():
    return open_studio(data_folder() / "demo-studio")


@pytest.fixture(scope="module")
def eider(demo):
    return read_run(demo.folder / "runs" / "eider-whiting-to-talc.yaml")


@pytest.fixture(scope="module")
def grid():
    plan = grid_blend(CORNERS, Studio())
    made = run_of(plan, codes(35), "Heron grid", DAY, Studio(), cup_ml=50.0, reserve_percent=0.0)
    return replace(made, shelf="bottom")


@pytest.fixture(scope="module")
def dry():
    plan = line_blend(CORNERS[0], CORNERS[1], 5, Studio())
    return run_of(plan, codes(5), "Dry line", DAY, Studio(), method="dry", batch_g=200.0)


class Page:
    """A page read back; its text is read once, which takes pypdf long."""

    def __init__(self, raw):
        self.raw = raw
        self.width, self.height = float(raw.mediabox.width), float(raw.mediabox.height)

    @cached_property
    def text(self):
        return self.raw.extract_text()


def pages_of(run, studio, paper="A4", first=1):
    reader = pypdf.PdfReader(io.BytesIO(run_pdf_bytes(run, studio, paper, first)))
    return [Page(page) for page in reader.pages]


@pytest.fixture(scope="module")
def eider_pages(qapp, eider, demo):
    return {paper: pages_of(eider, demo, paper) for paper in RUN_PAPERS}


@pytest.fixture(scope="module")
def grid_pages(qapp, grid):
    return {paper: pages_of(grid, Studio(), paper) for paper in RUN_PAPERS}


def flat(page):
    return " ".join(page.text.split())


def part(pages, title):
    """Text lines of a part, from its first page to the next part's."""
    found, inside = [], False
    for page in pages:
        lines = page.text.splitlines()
        head = lines[:6]
        if title in head:
            inside = True
        elif inside and not any(line.startswith(f"{title} (continued)") for line in head):
            break
        if inside:
            found += lines
    assert found, f"no part {title}"
    return found


def label_pages(pages):
    return [page for page in pages if FOOD not in page.text]


def spots(page):
    """Texts of a page with where they begin [pt from the top left] and their size [pt]."""
    found = []
    height = page.height

    def visit(text, cm, tm, _font, size):
        if text.strip():
            x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
            y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
            points = size * math.hypot(tm[0], tm[1]) * math.hypot(cm[0], cm[1])
            found.append((text.strip(), x, height - y, points))

    page.raw.extract_text(visitor_text=visit)
    return found


def strokes(page):
    """Straight lines of a page, as pairs of points [pt]."""
    found, pen = [], []

    def visit(operator, operands, cm, _tm):
        if operator not in (b"m", b"l"):
            return
        x, y = map(float, operands)
        point = (x * cm[0] + y * cm[2] + cm[4], x * cm[1] + y * cm[3] + cm[5])
        if operator == b"l":
            found.append((pen[-1], point))
        pen.append(point)

    page.raw.extract_text(visitor_operand_before=visit)
    return found


def rulers(page):
    """Lengths of the lines that carry ticks at every millimetre [mm]."""
    lines = strokes(page)
    upright = [line for line in lines if abs(line[0][0] - line[1][0]) < 0.01]
    found = []
    for (x0, y0), (x1, y1) in lines:
        if abs(y1 - y0) > 0.01:
            continue
        ticks = sorted(a for (a, b), _ in upright if abs(b - y0) < 0.01 and a >= x0 - 0.01)
        steps = [(b - a) / MM for a, b in pairwise(ticks)]
        if len(ticks) > 100 and all(abs(step - 1.0) < 0.005 for step in steps):
            assert ticks[-1] == pytest.approx(x1, abs=0.02)
            found.append((x1 - x0) / MM)
    return found


@pytest.mark.parametrize("paper", RUN_PAPERS)
def test_the_ruler_measures_100_mm(paper, eider_pages):
    pages = eider_pages[paper]
    for page in (pages[0], *label_pages(pages)):
        (length,) = rulers(page)
        assert length == pytest.approx(100.0, abs=0.5)
        assert "100 mm when printed at 100 %" in flat(page)


# ISO 216 at 72 points to the inch; US Letter is 8.5 x 11 in (ANSI Y14.1).
@pytest.mark.parametrize(("paper", "size"), [("A4", (595.3, 841.9)), ("Letter", (612.0, 792.0))])
def test_every_page_has_the_size_of_its_paper(paper, size, eider_pages):
    for page in eider_pages[paper]:
        assert page.width == pytest.approx(size[0], abs=0.5)
        assert page.height == pytest.approx(size[1], abs=0.5)


def test_the_corners_are_weighed_with_running_totals(demo, eider, eider_pages):
    lines = part(eider_pages["A4"], "Weighing")
    assert "Corner A: most whiting" in lines
    assert "Corner B: most talc" in lines
    names = [material_of(Recipe(), demo, row.material).name for row in eider.corners[0].base]
    for corner, start in zip(eider.corners, ("Corner A", "Corner B"), strict=True):
        at = next(i for i, line in enumerate(lines) if line.startswith(start))
        running = Decimal(0)
        weighed = []
        for name in names:
            at = lines.index(name, at) + 1
            weighed.append(Decimal(lines[at]))
            running += weighed[-1]
            assert Decimal(lines[at + 1]) == running
        # Every share of the batch is that of the corner's parts, which add up to 100.
        for row, grams in zip(corner.base, weighed, strict=True):
            assert float(grams) == pytest.approx(float(running) * row.amount / 100.0, abs=0.1)
        assert Decimal(lines[lines.index("Total", at) + 1]) == running
    # 275 ml and 15 % in steps of 5 ml.
    assert "Eider, 320 ml" in lines


def test_the_chart_pours_every_cup_in_the_order_of_work(eider, eider_pages):
    lines = part(eider_pages["A4"], "Blending chart")
    at = 0
    for number, tile in enumerate(eider.tiles):
        at = lines.index(tile.code, at)
        # A line of eleven cups of 50 ml: 5 ml less of one end and more of the other each time.
        expected = [f"{50.0 - 5.0 * number:.1f}", f"{5.0 * number:.1f}"]
        volumes = ["–" if volume == "0.0" else volume for volume in expected]
        assert lines[at + 1 : at + 5] == [tile.label, *volumes, "50.0"]
    taken = lines.index("the cups take")
    assert lines[taken + 1 : taken + 3] == ["275.0", "275.0"]


def test_the_grid_takes_its_volumes_and_every_cup_is_full(grid, grid_pages):
    """35 cups of 50 ml take 437.5 ml of each corner, by symmetry a quarter of 1750 ml."""
    lines = part(grid_pages["A4"], "Blending chart")
    sums = [Decimal(0)] * 4
    at = 0
    for tile in grid.tiles:
        at = lines.index(tile.code, at)
        volumes = [Decimal(0) if v == "–" else Decimal(v) for v in lines[at + 2 : at + 6]]
        assert sum(volumes) == Decimal("50")
        sums = [a + b for a, b in zip(sums, volumes, strict=True)]
    taken = lines.index("the cups take")
    assert [Decimal(text) for text in lines[taken + 1 : taken + 5]] == sums
    assert all(abs(volume - Decimal("437.5")) <= Decimal("0.2") for volume in sums)


def test_measured_corners_correct_the_chart_and_the_page_says_so(qapp, grid):
    measured = grid
    for number, letter in enumerate("ABCD"):
        slop = Slop(specific_gravity=1.45 + 0.02 * number)
        measured = measured.with_measured(letter, slop)
    lines = part(pages_of(measured, Studio()), "Blending chart")
    text = " ".join(lines)
    assert "corrected for what was measured" in text
    # The thinnest is short without a reserve, and the sheet says how much was mixed.
    assert "more than the 440 ml on its weighing sheet" in text
    assert "specific gravity 1.51" in " ".join(part(pages_of(measured, Studio()), "Weighing"))


def test_tiles_that_are_weighed_dry_have_a_table_each(qapp, dry):
    pages = pages_of(dry, Studio())
    lines = part(pages, "Weighing")
    assert not any("Blending chart" in page.text for page in pages)
    # 200 g over 42 + 16 + 12 + 50 + 2 = 122 parts, by hand; largest remainders round up.
    at = lines.index(dry.tiles[0].code)
    first = [Decimal(text) for text in lines[at : at + 30] if text.replace(".", "").isdigit()]
    assert [str(grams) for grams in first[:10:2]] == ["68.8", "26.2", "19.7", "82.0", "3.3"]
    assert [str(grams) for grams in first[1:10:2]] == ["68.8", "95.0", "114.7", "196.7", "200.0"]
    for tile in dry.tiles:
        assert tile.code in lines
    # The last holds 7.5 % of 200 g of tin oxide.
    assert lines[lines.index("Tin oxide", lines.index(dry.tiles[-1].code)) + 1] == "15.0"


def test_a_dry_tile_of_many_lines_goes_on_over_pages(qapp):
    materials = [material.id for material in Studio().materials][:40]
    long = Recipe("Long", base=tuple(Ingredient(name, 1.0) for name in materials))
    plan = line_blend(long, long.with_amount(Section.BASE, 0, 2.0), 3, Studio())
    run = run_of(plan, codes(3), "Long", DAY, Studio(), method="dry", batch_g=500.0)
    pages = pages_of(run, Studio())
    text = " ".join(" ".join(part(pages, "Weighing")).split())
    for name in materials:
        assert " ".join(Studio().materials.get(name).name.split()) in text
    assert text.count(f"{run.tiles[0].code} ") >= 2, "the code stands over what goes on"


def test_additions_are_dosed_into_cups_of_the_base(qapp):
    plan = additions_plan(CORNERS[0], "tin-oxide", (0.0, *doubling()), Studio())
    run = run_of(plan, codes(5), "Tin", DAY, Studio(), cup_ml=100.0)
    run = run.with_measured("A", Slop(dry_g=500.0, volume_ml=500.0))
    lines = part(pages_of(run, Studio()), "Additions")
    # A gram of dry base in each millilitre: 100 ml hold 100 g, so that percent are grams.
    for tile, grams in zip(run.tiles[1:], ("0.25", "0.50", "1.00", "2.00"), strict=True):
        at = lines.index(tile.code)
        assert lines[at + 1 : at + 5] == [tile.label, "100", "Tin oxide", grams]
    assert "nothing, the bare base" in lines
    assert "The base" in part(pages_of(run, Studio()), "Weighing")


@pytest.mark.parametrize("paper", RUN_PAPERS)
def test_the_codes_stand_large_and_in_writing_order(grid, paper, grid_pages):
    pages = [p for p in grid_pages[paper] if "Tile codes" in p.text]
    wanted = [tile.code for tile in grid.tiles]
    found = [spot for page in pages for spot in spots(page) if spot[0] in wanted]
    assert [text for text, *_ in found] == wanted
    # Legible at arm's length: capitals of 20 points and more; practice, no source.
    assert all(points >= 20 for *_, points in found)
    rows = {round(y) for _, _, y, _ in found}
    assert len(rows) == math.ceil(35 / 3)


# The usual sheets of 21 and of 30 labels: common practice, from memory, no source.
SHEETS = {
    "A4": (3, 7, 7.25, 15.15, 66.0, 38.1, 63.5),
    "Letter": (3, 10, 4.78, 12.7, 69.85, 25.4, 66.7),
}


@pytest.mark.parametrize("paper", RUN_PAPERS)
@pytest.mark.parametrize("first", [1, 4, 21])
def test_labels_lie_in_their_places(qapp, demo, eider, paper, first):
    columns, rows, left, top, across, down, wide = SHEETS[paper]
    sheets = label_pages(pages_of(eider, demo, paper, first))
    texts = [spots(sheet) for sheet in sheets]
    wanted = ["Corner A", "Corner B", *(tile.code for tile in eider.tiles)]
    count, offsets = columns * rows, []
    assert len(sheets) == math.ceil((first - 1 + len(wanted)) / count)
    for number, text in enumerate(wanted, first - 1):
        sheet, place = divmod(number, count)
        row, column = divmod(place, columns)
        ((_, x, y, points),) = [spot for spot in texts[sheet] if spot[0] == text]
        assert x / MM == pytest.approx(left + column * across + 3.0, abs=0.2)
        edge = top + row * down
        assert edge + 2.0 < y / MM < edge + down - 2.0
        assert (y - points) / MM > edge
        if text in codes_of([eider]):
            offsets.append(y / MM - edge)
    # All tiles have the same lines, so that their codes lie at one height.
    assert max(offsets) - min(offsets) < 0.05
    # What the sheet leaves at the right is what it leaves at the left.
    paper_wide = sheets[0].width / MM
    assert paper_wide - (left + (columns - 1) * across + wide) == pytest.approx(left, abs=0.15)


@pytest.mark.parametrize("paper", RUN_PAPERS)
def test_every_line_of_a_label_stays_on_it(qapp, demo, paper):
    plan = grid_blend([replace(corner, name="W" * 60) for corner in CORNERS], demo)
    run = run_of(plan, codes(35), "W" * LONGEST_NAME, DAY, demo, cup_ml=1000.0)
    columns, _, left, top, across, down, wide = SHEETS[paper]
    font = QFont()
    font.setPixelSize(1000)
    plain = QFontMetricsF(font)
    for page in label_pages(pages_of(run, demo, paper)):
        for text, x, y, points in spots(page):
            if y / MM < top:
                continue  # the ruler
            column = int((x / MM - left) // across)
            row = int((y / MM - top) // down)
            end = x + points / 1000 * plain.horizontalAdvance(text)
            assert 0 <= column < columns
            assert end / MM < left + column * across + wide - 1.0
            # Letters reach a quarter of their size below the line.
            assert (y + 0.25 * points) / MM < top + (row + 1) * down
            assert (y - 0.8 * points) / MM > top + row * down


def test_the_kiln_sheet_has_every_tile_and_room_for_cones(demo, eider, grid, grid_pages):
    for run, studio in ((eider, demo), (grid, Studio())):
        lines = part(pages_of(run, studio), "Kiln placement")
        for tile in run.tiles:
            assert tile.code in lines
        # A guide, the firing's own and a guard (common practice, no source).
        assert cones_for(run, studio) == ("9", "10", "11")
        assert lines.count("cone 9 · 10 · 11") == 2
        assert any(line.startswith("Kilns burn and give off fumes") for line in lines)
    assert "Shelf: bottom" in part(grid_pages["A4"], "Kiln placement")


def test_a_firing_without_a_cone_leaves_the_cones_to_be_written(qapp, grid):
    run = replace(grid, firing="nowhere")
    assert cones_for(run, Studio()) == ()
    assert "cones ______" in part(pages_of(run, Studio()), "Kiln placement")


@pytest.mark.parametrize("number", [1, 2, 3, 4, 5, 11, 40, 41, 66, 200])
def test_shelves_hold_every_tile_once_whatever_their_number(number, grid):
    tiles = tuple(replace(grid.tiles[0], code=code) for code in codes(number))
    shelves = shelves_of(replace(grid, tiles=tiles))
    assert [code for shelf in shelves for code in shelf.codes] == codes(number)
    for shelf in shelves:
        assert sum(row.count(CONES) for row in shelf.places) == 2
        assert len(shelf.places) <= 7


def test_the_result_form_asks_for_what_a_result_holds(grid, grid_pages):
    lines = part(grid_pages["A4"], "Results")
    text = " ".join(lines)
    for tile in grid.tiles:
        assert tile.code in lines
    for word in (*(surface.value for surface in Surface), "touch", "thickness", "local cone"):
        assert lines.count(word) == 35
    for word in ("marks:", "cleans:", "photo", "notes", "20°", "60°", "85°", "gloss units"):
        assert lines.count(word) == 35
    assert all(lines.count(level) == 70 for level in ("0", "1", "2", "3"))
    assert all(defect in text for defect in DEFECTS)
    assert "cooling" in text
    assert "Fired on" in text


def test_invented_runs_are_marked_on_every_page(demo, eider_pages, grid_pages):
    pages = eider_pages["A4"]
    assert all("Invented" in page.text for page in pages)
    assert "Invented: nobody mixed or fired these tiles" in flat(pages[0])
    assert demo.note in flat(pages[0])
    (labels,) = label_pages(pages)
    assert labels.text.count("Invented") == 13
    assert not any("Invented" in page.text for page in grid_pages["A4"])


def test_the_cautions_are_those_of_the_materials_and_of_the_kiln(grid_pages):
    pages = grid_pages["A4"]
    text = " ".join(part(pages, "Weighing"))
    for words in (
        "Silica dust harms the lungs",
        "Talc dust harms the lungs",
        "Dry glaze dust is not to be breathed",
        "Local rules come first",
        f"{FOOD}: have fired ware checked by an accredited laboratory.",
    ):
        assert words in text
    unknown = Recipe("Odd", base=(Ingredient("moon-dust", 1.0), Ingredient("silica", 1.0)))
    plan = line_blend(unknown, unknown.with_amount(Section.BASE, 0, 2.0), 3, Studio())
    run = run_of(plan, codes(3), "Odd", DAY, Studio())
    said = " ".join(part(pages_of(run, Studio()), "Weighing"))
    assert "Not in the tables: moon-dust. Their hazards are not here." in said


@pytest.mark.parametrize("paper", RUN_PAPERS)
def test_no_text_leaves_the_page(qapp, demo, paper):
    font = QFont()
    font.setPixelSize(1000)
    plain = QFontMetricsF(font)
    names = {row.material for corner in CORNERS for row in corner.base}
    pinned = {
        name: Pin("W" * LONGEST_NAME, demo.materials.get(name).analysis, "", ()) for name in names
    }
    # An analysis of its own lets a pin keep its name.
    talc = demo.materials.get("talc").analysis
    pinned = {name: replace(pin, analysis=talc) for name, pin in pinned.items()}
    named = [replace(corner, name="W" * LONGEST_NAME, pinned=pinned) for corner in CORNERS]
    long = {"name": "W" * LONGEST_NAME, "shelf": "M" * 60, "notes": "words " * 60}
    wet = run_of(grid_blend(named, demo), codes(35), "Wide", DAY, demo, cup_ml=5000.0)
    line = line_blend(named[0], named[1], 5, demo)
    dry = run_of(line, codes(5), "Wide", DAY, demo, method="dry", batch_g=1e5)
    for run in (wet, dry):
        for page in pages_of(replace(run, **long), demo, paper):
            width, height = page.width, page.height
            found = spots(page)
            if FOOD not in [text for text, *_ in found]:
                continue  # labels
            # Nearly seven millimetres stay free at every edge; the regular type is the narrower.
            for text, x, y, points in found:
                end = x + points / 1000 * plain.horizontalAdvance(text)
                assert x > 19, text
                assert end < width - 19, text
                assert 19 < y < height - 19, text


def test_pages_are_numbered_through_to_the_labels(eider_pages):
    pages = eider_pages["A4"]
    assert len(pages) == 7
    for number, page in enumerate(pages[:-1], 1):
        assert f"page {number} of 7" in flat(page)
    assert "Labels: the last page, 21 of 63.5 x 38.1 mm to a sheet" in flat(pages[0])


def test_the_file_names_its_run_and_its_maker(qapp, demo, eider, tmp_path):
    path = tmp_path / "run.pdf"
    write_run_pdf(eider, demo, path)
    reader = pypdf.PdfReader(path)
    assert reader.metadata.title == eider.name
    assert reader.metadata.creator == "Glost"


@pytest.mark.parametrize(
    ("paper", "first", "words"),
    [
        ("A4", 0, "there is no label 0 on a sheet of A4 labels; begin with 1 to 21"),
        ("A4", 22, "begin with 1 to 21"),
        ("Letter", 31, "begin with 1 to 30"),
        ("A5", 1, "runs are not printed on 'A5'; use A4 or Letter"),
    ],
)
def test_what_is_no_sheet_of_labels_is_refused(qapp, demo, eider, tmp_path, paper, first, words):
    with pytest.raises(InputError) as refused:
        write_run_pdf(eider, demo, tmp_path / "run.pdf", paper, first)
    assert words in str(refused.value)
    assert not list(tmp_path.iterdir())


def test_a_run_that_cannot_be_blended_is_refused_and_leaves_no_file(qapp, eider, demo, tmp_path):
    thick = eider.with_measured("A", Slop(specific_gravity=1.2))
    thick = thick.with_measured("B", Slop(specific_gravity=1.6))
    with pytest.raises(InputError, match="times the dry glaze"):
        write_run_pdf(thick, demo, tmp_path / "run.pdf")
    with pytest.raises(InputError, match="no tiles"):
        write_run_pdf(Run("Empty"), demo, tmp_path / "run.pdf")
    assert not list(tmp_path.iterdir())


def test_what_is_no_ordinary_file_is_left_alone(qapp, demo, eider, tmp_path):
    with pytest.raises(OSError, match="is no ordinary file"):
        write_run_pdf(eider, demo, tmp_path)
    if hasattr(os, "mkfifo"):
        pipe = tmp_path / "pipe"
        os.mkfifo(pipe)
        with pytest.raises(OSError, match="is no ordinary file"):
            write_run_pdf(eider, demo, pipe)
        assert not pipe.is_file()
    with pytest.raises(OSError, match="the run could not be written to"):
        write_run_pdf(eider, demo, tmp_path / "gone" / "run.pdf")


def test_a_full_disk_leaves_the_old_file_and_no_litter(qapp, demo, eider, tmp_path):
    # A limit on the size of files fails a write as a full disk does.
    resource = pytest.importorskip("resource")
    path = tmp_path / "run.pdf"
    path.write_bytes(b"old")
    usual = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, usual[1]))
    try:
        with pytest.raises(OSError, match=r"the run could not be written to .*: \w"):
            write_run_pdf(eider, demo, path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, usual)
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_the_command_writes_what_the_function_writes(qapp, studio_folder, tmp_path):
    file = studio_folder / "runs" / "eider-whiting-to-talc.yaml"
    out = tmp_path / "out.pdf"
    arguments = ["tiles", str(file), "-o", str(out), "--paper", "Letter", "--labels-from", "7"]
    assert run_command(arguments) == 0
    written = [page.extract_text() for page in pypdf.PdfReader(out).pages]
    same = pages_of(read_run(file), open_studio(studio_folder), "Letter", 7)
    assert written == [page.text for page in same]


def test_faults_of_the_command_are_one_line(qapp, studio_folder, tmp_path, capsys):
    file = studio_folder / "runs" / "eider-whiting-to-talc.yaml"
    out = tmp_path / "out.pdf"
    recipe = studio_folder / "recipes" / "eider.yaml"
    broken = tmp_path / "broken.yaml"
    broken.write_text(file.read_text(encoding="utf-8").replace('cup_ml: "50"', 'cup_ml: "much"'))
    for arguments, words in (
        ([file, "-o", out, "--labels-from", "99"], "there is no label 99"),
        ([tmp_path / "gone.yaml", "-o", out], "gone.yaml"),
        ([recipe, "-o", out], "eider.yaml"),
        ([broken, "-o", out], "cup_ml"),
        ([file, "-o", tmp_path], "is no ordinary file"),
    ):
        assert run_command(["tiles", *map(str, arguments)]) == 1
        printed, said = capsys.readouterr()
        assert not printed
        assert said.count("\n") == 1
        assert said.startswith("glost: ")
        assert words in said
        assert not out.exists()


@pytest.mark.parametrize(
    "more", [[], ["-o", "x.pdf", "--paper", "A5"], ["-o", "x.pdf", "--labels-from", "first"]]
)
def test_wrong_use_of_the_command_is_told(more, capsys):
    with pytest.raises(SystemExit) as left:
        run_command(["tiles", "run.yaml", *more])
    assert left.value.code == 2
    assert capsys.readouterr().err.startswith("glost: ")

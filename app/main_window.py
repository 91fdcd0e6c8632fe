"""The window: places the panels and joins their actions; no logic of its own."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from PySide6.QtCore import QByteArray, Qt
from PySide6.QtGui import (
    QActionGroup,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QDockWidget,
    QMainWindow,
    QMenu,
    QPlainTextEdit,
    QScrollArea,
    QTabBar,
    QToolBar,
    QWidget,
)

from app.actions import COMMANDS, IN_WIDGET, Actions
from app.basis_bar import BasisBar
from app.bench_state import BenchState, SelectedRow
from app.card_actions import CardActions
from app.conflict_copies import ConflictCopies
from app.contributions_view import ContributionsView
from app.damaged import DamagedFiles
from app.document import Document
from app.file_actions import FileActions
from app.firing_actions import FiringActions
from app.firing_strip import FiringStrip
from app.flux_triangle import FluxTriangle, family_shares
from app.formula_panel import FormulaPanel
from app.history_button import HistoryButton
from app.icons import icon
from app.learning_actions import LearningActions
from app.map_view import MapView
from app.melt_curve import MeltCurve
from app.melt_panel import MeltPanel
from app.notes_panel import NotesPanel
from app.notice_bar import NoticeBar
from app.reading_panel import ReadingPanel
from app.recipe_view import RecipeView
from app.recipes_panel import RecipesPanel
from app.row_actions import RowActions
from app.schedule_panel import SchedulePanel
from app.settings import Settings
from app.solve_actions import SolveActions
from app.studio_keeper import StudioKeeper
from app.studio_watch import StudioWatch
from app.tab_stops import TabStops
from app.theme import CHOICES, Palette, Theme
from app.tile_actions import TileActions
from app.variant_actions import VariantActions
from app.variants_panel import VariantsPanel
from app.version_actions import VersionActions
from core.formula import Formula
from core.recipe import Section

_LEFT, _RIGHT = Qt.DockWidgetArea.LeftDockWidgetArea, Qt.DockWidgetArea.RightDockWidgetArea
_BOTTOM = Qt.DockWidgetArea.BottomDockWidgetArea
_MESSAGE_MS = 6000
_ROOM_FOR_A_STRIP = 960
"""In a lower window the firing strip lies behind a tab [px]."""


class MainWindow(QMainWindow):
    """The bench."""

    def __init__(self, settings: Settings, theme: Theme) -> None:
        super().__init__()
        self._settings = settings
        self._theme = theme
        self.document = Document(parent=self)
        self.state = BenchState(self)
        self.notices = NoticeBar()
        self.files = FileActions(self.document, settings, self)
        self.actions_by_name = Actions(self)
        self._make_panels()
        self.row_actions = RowActions(self.document, self.state, self.recipe_view)
        self.variant_actions = VariantActions(self.document, self.variants_panel, self)
        self.card_actions = CardActions(self.document, settings, self)
        self.firing_actions = FiringActions(
            self.document, self.firing_strip, self.schedule_panel, settings, theme, self
        )
        self.solve_actions = SolveActions(self.document, theme, self)
        self.tile_actions = TileActions(self.document, settings, theme, self)
        self.learning_actions = LearningActions(self.document, theme, self)
        self.keeper = StudioKeeper(self.document, self.notices, self)
        self.watch = StudioWatch(self.document, self.notices, self)
        self.copies = ConflictCopies(self.document, self.notices, self.files, self.watch, self)
        self.version_actions = VersionActions(self.document, self.files.open, theme, self)
        self.damaged = DamagedFiles(
            self.notices, self.files.read_again, self.document.may_write, self
        )
        self._place_panels()
        self._make_menus()
        self._make_toolbar()
        self._connect()
        self._order_tab_stops()
        self.statusBar()  # there from the start, so that a first message moves nothing
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 600)
        room = self.screen().availableSize()
        self.resize(max(1280, room.width() * 9 // 10), max(720, room.height() * 9 // 10))
        self._set_palette(theme.palette)
        self._show_title()
        self._first_state: QByteArray | None = None
        layout = settings.layout
        if layout is not None:
            self.restoreGeometry(layout[0])
        self.recipe_view.base.setFocus()

    def _make_panels(self) -> None:
        document, state, theme = self.document, self.state, self._theme
        self.map_view = MapView(document, state, theme, self)
        self.recipe_view = RecipeView(document, state, theme)
        self.reading_panel = ReadingPanel(document, theme)
        self.formula_panel = FormulaPanel(document, theme)
        self.variants_panel = VariantsPanel(document)
        self.recipes_panel = RecipesPanel(document, theme)
        self.notes_panel = NotesPanel(document)
        self.contributions = ContributionsView()
        self.triangle = FluxTriangle()
        self.melt_curve = MeltCurve()
        self.melt_panel = MeltPanel(document, theme)
        fahrenheit = self._settings.text("temperature", "C") == "F"
        self.firing_strip = FiringStrip()
        self.firing_strip.set_fahrenheit(fahrenheit)
        self.schedule_panel = SchedulePanel(document, fahrenheit)
        self.words = QPlainTextEdit()
        self.words.setReadOnly(True)
        self.words.setAccessibleName(self.tr("The map in words"))
        self.words.setPlainText(self.map_view.text())
        self.basis_bar = BasisBar(document)

    def _place_panels(self) -> None:
        self.setCentralWidget(self.map_view)
        self.setDockOptions(
            QMainWindow.DockOption.AllowNestedDocks
            | QMainWindow.DockOption.AllowTabbedDocks
            | QMainWindow.DockOption.AnimatedDocks
        )
        for corner in (Qt.Corner.BottomLeftCorner, Qt.Corner.TopLeftCorner):
            self.setCorner(corner, _LEFT)
        for corner in (Qt.Corner.BottomRightCorner, Qt.Corner.TopRightCorner):
            self.setCorner(corner, _RIGHT)
        scroll = QScrollArea()
        scroll.setWidget(self.contributions)
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # nothing in it takes keys
        self.docks: dict[str, QDockWidget] = {}
        for name, title, widget, area in (
            ("rows", self.tr("Rows"), self.recipe_view, _LEFT),
            ("variants", self.tr("Variants"), self.variants_panel, _LEFT),
            ("recipes", self.tr("Studio"), self.recipes_panel, _LEFT),
            ("notes", self.tr("Notes"), self.notes_panel, _LEFT),
            ("schedule", self.tr("Schedule"), self.schedule_panel, _LEFT),
            ("reading", self.tr("Reading"), self.reading_panel, _RIGHT),
            ("formula", self.tr("Formula"), self.formula_panel, _RIGHT),
            ("melt", self.tr("Melt"), self.melt_panel, _RIGHT),
            ("oxides", self.tr("Oxides by material"), scroll, _BOTTOM),
            ("triangle", self.tr("Flux triangle"), self.triangle, _BOTTOM),
            ("curve", self.tr("Melt curve"), self.melt_curve, _BOTTOM),
            ("words", self.tr("Map in words"), self.words, _BOTTOM),
            ("firing", self.tr("Firing"), self.firing_strip, _BOTTOM),
        ):
            dock = QDockWidget(title, self)
            dock.setObjectName(name)
            dock.setWidget(widget)
            self.addDockWidget(area, dock)
            TabStops(dock)
            self.docks[name] = dock

    def _stack_panels(self) -> None:
        """Put panels of one subject behind each other; the window is shown by now.

        Before that, Qt would leave a second tab bar lying about for each stack.
        """
        charts = ["oxides", "triangle", "curve", "words"]
        if self.height() < _ROOM_FOR_A_STRIP:
            charts.append("firing")
        else:
            # Before the charts are stacked: Qt does not split what lies behind a tab.
            self.splitDockWidget(
                self.docks["oxides"], self.docks["firing"], Qt.Orientation.Vertical
            )
        for front, *behind in (
            ["variants", "schedule", "recipes", "notes"],
            charts,
            ["formula", "melt"],
        ):
            for name in behind:
                self.tabifyDockWidget(self.docks[front], self.docks[name])
            self.docks[front].raise_()
        self.docks["words"].hide()
        self._size_docks()

    def _size_docks(self) -> None:
        docks, down = self.docks, Qt.Orientation.Vertical
        wide = [docks["rows"], docks["reading"]]
        self.resizeDocks(wide, [384, 300], Qt.Orientation.Horizontal)
        self.resizeDocks([docks["rows"], docks["variants"]], [400, 240], down)
        self.resizeDocks([docks["reading"], docks["formula"]], [300, 360], down)
        if self.height() < _ROOM_FOR_A_STRIP:
            self.resizeDocks([docks["oxides"]], [max(190, self.height() // 4)], down)
        else:
            share = self.height() // 5
            self.resizeDocks([docks["oxides"], docks["firing"]], [share, share], down)

    def _order_tab_stops(self) -> None:
        """Follow the reading order: head, rows from above, map, then what is said of them."""
        rows = self.recipe_view
        order = [
            self.basis_bar.firing,
            self.basis_bar.body,
            rows.name_edit,
            *rows.step_group.buttons(),
            rows.hold_box,
            rows.base,
            rows.scale_button,
            rows.additions,
            self.map_view.plot,
            self.map_view.home_button,
            self.reading_panel.details,
            self.reading_panel.browser,
            self.formula_panel.table,
            self.formula_panel.base_box,
        ]
        for before, after in pairwise(order):
            QWidget.setTabOrder(before, after)
        self.notices.stands_after = self.basis_bar.body

    def _make_menus(self) -> None:
        menus: dict[str, QMenu] = {}
        for command in COMMANDS:
            if command.menu not in menus:
                menus[command.menu] = self.menuBar().addMenu(self.tr(command.menu))
            menu = menus[command.menu]
            if command.name:
                menu.addAction(self.actions_by_name[command.name])
            else:
                menu.addSeparator()
            if command.name == "open_studio":
                self.recent_menu = menu.addMenu(self.tr("Open again"))
        edit = menus["&Edit"]
        first = edit.actions()[0]
        stack = self.document.undo_stack
        self.undo_action = stack.createUndoAction(self, self.tr("Undo"))
        self.redo_action = stack.createRedoAction(self, self.tr("Redo"))
        self.undo_action.setShortcut(QKeySequence.StandardKey.Undo)
        self.redo_action.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        edit.insertActions(first, [self.undo_action, self.redo_action])
        edit.insertSeparator(first)
        view = menus["&View"]
        for dock in self.docks.values():
            view.addAction(dock.toggleViewAction())
        view.addSeparator()
        view.addAction(self.tr("Panels as at first"), self._panels_as_at_first)
        looks = view.addMenu(self.tr("Light and dark"))
        group = QActionGroup(self)
        names = {
            "light": self.tr("Light"),
            "dark": self.tr("Dark"),
            "system": self.tr("As the system"),
        }
        for choice in CHOICES:
            action = looks.addAction(names[choice])
            action.setCheckable(True)
            action.setChecked(choice == self._theme.choice)
            action.setActionGroup(group)
            action.triggered.connect(lambda _checked=False, c=choice: self._choose_theme(c))
        self._fill_recent()

    def _make_toolbar(self) -> None:
        bar = QToolBar(self.tr("Bench"))
        bar.setObjectName("bar")
        bar.setMovable(False)
        bar.addWidget(self.basis_bar)
        self.history_buttons = [
            HistoryButton(self.undo_action, self.tr("undo")),
            HistoryButton(self.redo_action, self.tr("redo")),
        ]
        for button in self.history_buttons:
            bar.addWidget(button)
        for name in ("variant", "save", "card"):
            bar.addAction(self.actions_by_name[name])
        self.addToolBar(bar)
        self.addToolBarBreak()
        self.notice_row = QToolBar(self.tr("What happened to the files"))
        self.notice_row.setObjectName("notices")
        self.notice_row.setMovable(False)
        self.notice_row.addWidget(self.notices)
        self.notice_row.toggleViewAction().setVisible(False)  # it comes when there is news
        self.addToolBar(self.notice_row)
        self.notice_row.hide()
        self.notices.emptied.connect(self.notice_row.setHidden)

    def _connect(self) -> None:
        rows, variants = self.row_actions, self.variant_actions
        actions = self.actions_by_name
        actions.connect_all(
            {
                "new": self.files.new,
                "open": self.files.choose_and_open,
                "new_studio": self.files.begin_studio,
                "open_studio": self.files.choose_and_open_studio,
                "save": self.files.save,
                "save_as": self.files.save_as,
                "versions": self.version_actions.show,
                "card": self.card_actions.show,
                "quit": self.close,
                "copy": rows.copy,
                "paste": rows.paste,
                "add_row": rows.add,
                "remove_row": rows.remove,
                "move_up": rows.move_up,
                "move_down": rows.move_down,
                "scale": self.recipe_view.scale_to_100,
                "nudge_up": lambda: self.recipe_view.nudge_selected(1),
                "nudge_down": lambda: self.recipe_view.nudge_selected(-1),
                "step_larger": lambda: self.state.change_step(1),
                "step_smaller": lambda: self.state.change_step(-1),
                "lock": rows.toggle_lock,
                "variant": variants.save,
                "variant_open": self.variants_panel.open_selected,
                "variant_delete": self.variants_panel.delete_selected,
                "compare": self.variants_panel.compare_selected,
                "go_rows": self._go_to_rows,
                "go_news": self.notices.go_there,
                "find_recipe": self._find_recipe,
                "aim": self.solve_actions.aim,
                "swap": self._swap_selected,
                "steady": self.solve_actions.steady,
                "round": lambda: self.solve_actions.round(0.5),
                "round_whole": lambda: self.solve_actions.round(1.0),
                "tiles": self.tile_actions.show_tiles,
                "plan_run": self.tile_actions.plan,
                "learn": self.learning_actions.learn,
                "peak": self.firing_actions.ask_for_peak,
                "log": self.firing_actions.write_log,
                "go_strip": self._go_to_strip,
                "go_schedule": self._go_to_schedule,
                "go_map": self.map_view.plot.setFocus,
                "home": self.map_view.go_home,
            }
        )
        actions["hold"].toggled.connect(self.state.set_hold_total)
        actions["reach"].toggled.connect(self.map_view.set_reach_kept)
        self.state.hold_total_changed.connect(actions["hold"].setChecked)
        for name in IN_WIDGET:
            self.recipe_view.addAction(actions[name])
        self.state.refused.connect(self._say)
        self.variant_actions.refused.connect(self._say)
        self.firing_actions.refused.connect(self._say)
        self.solve_actions.told.connect(self._say)
        self.tile_actions.told.connect(self._say)
        self.tile_actions.tiles_found.connect(self.map_view.show_tiles)
        self.learning_actions.told.connect(self._say)
        self.version_actions.told.connect(self._say)
        self.version_actions.restored.connect(self._go_to_rows)
        self.variants_panel.selection_changed.connect(self._on_variant_selected)
        self._on_variant_selected(False)
        self.state.selection_changed.connect(self._on_selection_changed)
        self.files.recent_changed.connect(self._fill_recent)
        self.files.saved.connect(self._on_saved)
        self.files.about_to_save.connect(self.watch.look)
        self.files.saved.connect(self.watch.look)
        self.recipes_panel.open_asked.connect(self.files.open)
        self.watch.stirred.connect(self.recipes_panel.refresh)
        self.keeper.changed.connect(self.tile_actions.set_read_only)
        self.document.recipe_changed.connect(self._show_title)
        self.document.undo_stack.cleanChanged.connect(self._show_title)
        self.document.path_changed.connect(self._show_title)
        self.document.opened.connect(self._on_opened)
        self.keeper.changed.connect(self._show_title)
        self.document.evaluation_changed.connect(self.contributions.show_evaluation)
        self.document.evaluation_changed.connect(self.triangle.show_evaluation)
        self.document.evaluation_changed.connect(self.melt_curve.show_evaluation)
        self.document.evaluation_changed.connect(self.firing_strip.show_evaluation)
        self.document.variants_changed.connect(self._on_variants_changed)
        self.document.studio_changed.connect(self._tell_studio_faults)
        self.map_view.described.connect(self.words.setPlainText)
        self._theme.changed.connect(self._set_palette)
        self.contributions.show_evaluation(self.document.evaluation)
        self.triangle.show_evaluation(self.document.evaluation)
        self.melt_curve.show_evaluation(self.document.evaluation)
        self.firing_strip.show_evaluation(self.document.evaluation)

    def closeEvent(self, event: QCloseEvent) -> None:
        focus = self.focusWidget()
        if focus is not None:
            focus.clearFocus()  # an amount or reason still being typed counts
        if not self.files.may_leave() or not self.tile_actions.may_leave():
            if focus is not None:
                focus.setFocus()
            event.ignore()
            return
        self._settings.keep_layout(self.saveGeometry(), self.saveState())
        self.keeper.release()
        self.document.abandon()
        event.accept()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if event.mimeData().hasUrls() and event.mimeData().urls()[0].isLocalFile():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        self.files.open(Path(event.mimeData().urls()[0].toLocalFile()))

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._first_state is None:
            self._stack_panels()
            # The arrangement of a first start, for "Panels as at first".
            self._first_state = self.saveState()
            layout = self._settings.layout
            if layout is not None:
                self._take_up(layout[1])

    def _take_up(self, state: QByteArray) -> None:
        """Arrange the panels as they were; Qt makes new tab bars and forgets the old ones."""
        direct = Qt.FindChildOption.FindDirectChildrenOnly
        before = self.findChildren(QTabBar, options=direct)
        self.restoreState(state)
        # There may have been news when the window was closed, and none now.
        self.notice_row.setVisible(bool(self.notices.subjects()))
        if len(self.findChildren(QTabBar, options=direct)) > len(before):
            for bar in before:
                bar.hide()

    def _panels_as_at_first(self) -> None:
        if self._first_state is not None:
            self._take_up(self._first_state)
            self._size_docks()

    def _go_to_rows(self) -> None:
        self.docks["rows"].show()
        self.recipe_view.active_table().setFocus()

    def _swap_selected(self) -> None:
        selected = self.state.selected
        rows = self.document.recipe.rows(selected.section) if selected is not None else ()
        known = selected is not None and selected.section is Section.BASE
        self.solve_actions.swap(rows[selected.row].material if known and rows else "")

    def _find_recipe(self) -> None:
        self._bring_up("recipes")
        self.recipes_panel.find_edit.setFocus()
        self.recipes_panel.find_edit.selectAll()

    def _go_to_strip(self) -> None:
        self._bring_up("firing")
        self.firing_strip.setFocus()

    def _go_to_schedule(self) -> None:
        self._bring_up("schedule")
        self.schedule_panel.table.setFocus()
        if not self.schedule_panel.table.currentIndex().isValid():
            self.schedule_panel.table.go_to(0)

    def _bring_up(self, name: str) -> None:
        self.docks[name].show()
        self.docks[name].raise_()

    def _choose_theme(self, choice: str) -> None:
        self._settings.theme = choice
        self._theme.set_choice(choice)

    def _set_palette(self, palette: Palette) -> None:
        self.actions_by_name.set_palette(palette)
        for name, action, button in zip(
            ("undo", "redo"),
            (self.undo_action, self.redo_action),
            self.history_buttons,
            strict=True,
        ):
            action.setIcon(icon(name, palette))
            button.setIcon(icon(name, palette))
        self.basis_bar.set_palette(palette)
        self.contributions.set_palette(palette)
        self.triangle.set_palette(palette)
        self.melt_curve.set_palette(palette)
        self.firing_strip.set_palette(palette)
        self.schedule_panel.set_palette(palette)

    def _say(self, text: str) -> None:
        self.statusBar().showMessage(text[:1].upper() + text[1:], _MESSAGE_MS)

    def _on_selection_changed(self, selected: SelectedRow | None) -> None:
        if selected is None:
            self.contributions.set_selected(None, None)
        else:
            self.contributions.set_selected(selected.section, selected.row)

    def _tell_studio_faults(self, studio: object) -> None:
        self.damaged.tell(self.document.studio.faults)

    def _on_variants_changed(self, formulas: dict[str, Formula]) -> None:
        shares = {name: family_shares(formula) for name, formula in formulas.items()}
        self.triangle.show_variants([(n, s) for n, s in shares.items() if s is not None])

    def _on_variant_selected(self, some: bool) -> None:
        for name in ("variant_open", "compare", "variant_delete"):
            self.actions_by_name[name].setEnabled(some)

    def _on_saved(self, path: Path) -> None:
        text = self.tr("Saved {}").format(path.name)
        if self.document.modified and self.document.studio.folder is None:
            text += self.tr("; the firing is not, as its studio is not open")
        elif self.document.modified:
            text += self.tr("; the firing is not, as its studio is read only here")
        self._say(text)

    def _on_opened(self) -> None:
        self.triangle.forget_trail()
        self.triangle.show_evaluation(self.document.evaluation)
        self.recipe_view.base.go_to(0)
        self._show_title()

    def _show_title(self, *_: object) -> None:
        name = self.document.recipe.name
        if self.keeper.read_only:
            name = self.tr("{} (read only)").format(name)
        self.setWindowTitle(f"{name}[*] – Glost")
        self.setWindowModified(self.document.modified)

    def _fill_recent(self) -> None:
        self.recent_menu.clear()
        for path in self._settings.recent:
            action = self.recent_menu.addAction(f"{path.stem}  ({path.parent})")
            action.triggered.connect(lambda _checked=False, p=path: self.files.open(p))
        self.recent_menu.setEnabled(bool(self._settings.recent))

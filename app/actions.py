"""Menus, shortcuts and icons: one table says what there is and how it is reached."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QKeySequence

from app.icons import icon
from app.theme import Palette


@dataclass(frozen=True, slots=True)
class Command:
    """One entry of a menu."""

    name: str
    text: str
    keys: tuple[str, ...] = ()
    picture: str = ""
    tip: str = ""
    menu: str = ""
    """Of which menu; an empty text makes a separator there."""


COMMANDS = (
    Command("new", "New recipe", ("Ctrl+N",), "new", menu="&File"),
    Command("open", "Open a recipe…", ("Ctrl+O",), "open", menu="&File"),
    Command(
        "new_studio",
        "Begin a studio…",
        tip="Make a folder that keeps recipes, firings and photos",
        menu="&File",
    ),
    Command("open_studio", "Open a studio…", ("Ctrl+Shift+O",), "studio", menu="&File"),
    Command("save", "Save", ("Ctrl+S",), "save", "Save the recipe", menu="&File"),
    Command("save_as", "Save as…", ("Ctrl+Shift+S",), "save-as", menu="&File"),
    Command(
        "versions",
        "Earlier versions…",
        ("Ctrl+B",),
        tip="Look at what the file held before, and bring it back",
        menu="&File",
    ),
    Command("", "", menu="&File"),
    Command(
        "card", "Recipe card…", ("Ctrl+P",), "card", "Print the card for the bucket", menu="&File"
    ),
    Command("", "", menu="&File"),
    Command("quit", "Quit", ("Ctrl+Q",), menu="&File"),
    Command("copy", "Copy rows", ("Ctrl+C",), "copy", menu="&Edit"),
    Command("paste", "Paste rows", ("Ctrl+V",), "paste", menu="&Edit"),
    Command("", "", menu="&Edit"),
    Command("add_row", "Add a row", ("Ins", "Ctrl+Return"), "add-row", menu="&Edit"),
    Command("remove_row", "Take out the rows", ("Del",), "remove-row", menu="&Edit"),
    Command("move_up", "Move the row up", ("Ctrl+Up",), menu="&Edit"),
    Command("move_down", "Move the row down", ("Ctrl+Down",), menu="&Edit"),
    Command("scale", "Scale to 100", ("Ctrl+0",), "scale-100", menu="&Edit"),
    Command("nudge_up", "Nudge up", ("Alt+Up",), "plus", menu="&Nudge"),
    Command("nudge_down", "Nudge down", ("Alt+Down",), "minus", menu="&Nudge"),
    Command("step_larger", "Larger step", ("Alt+Right",), menu="&Nudge"),
    Command("step_smaller", "Smaller step", ("Alt+Left",), menu="&Nudge"),
    Command("", "", menu="&Nudge"),
    Command("hold", "Hold the total at 100", ("Ctrl+T",), "lock", menu="&Nudge"),
    Command("lock", "Lock or unlock the row", ("Ctrl+L",), menu="&Nudge"),
    Command(
        "variant",
        "Save a variant",
        ("Ctrl+D",),
        "variant",
        "Keep the rows as they stand, with a reason",
        menu="&Variants",
    ),
    Command("variant_open", "Open the selected variant", (), menu="&Variants"),
    Command("compare", "Compare", ("Ctrl+K",), "compare", menu="&Variants"),
    Command("variant_delete", "Delete the selected variant", (), "delete", menu="&Variants"),
    Command(
        "aim",
        "Aim at a formula…",
        ("Ctrl+E",),
        tip="Find recipes for a wanted unity formula",
        menu="Fin&d",
    ),
    Command(
        "swap",
        "Swap a material…",
        ("Ctrl+M",),
        tip="Put other materials in its place and keep the formula",
        menu="Fin&d",
    ),
    Command(
        "steady",
        "The steadiest recipe near by…",
        (),
        tip="The neighbour that is least likely to go wrong",
        menu="Fin&d",
    ),
    Command("", "", menu="Fin&d"),
    Command("round", "Round to 0.5 parts", (), menu="Fin&d"),
    Command("round_whole", "Round to whole parts", (), menu="Fin&d"),
    Command("", "", menu="Fin&d"),
    Command(
        "reach",
        "Show what the rows can reach",
        ("Ctrl+R",),
        tip="Drag the point, or move it with Shift and the arrows",
        menu="Fin&d",
    ),
    Command("tiles", "Tiles", ("Ctrl+5",), tip="The runs of test tiles", menu="&Tiles"),
    Command("plan_run", "Plan a run…", ("Ctrl+Shift+N",), menu="&Tiles"),
    Command("", "", menu="&Tiles"),
    Command(
        "learn",
        "Learn from this kiln's tiles…",
        tip="Let the studio's own results move the reading",
        menu="&Tiles",
    ),
    Command("peak", "Peak for a cone…", ("Ctrl+Shift+P",), menu="F&iring"),
    Command("log", "Firing log…", ("Ctrl+G",), menu="F&iring"),
    Command("", "", menu="F&iring"),
    Command("go_strip", "Go to the firing curve", ("Ctrl+3",), menu="F&iring"),
    Command("go_schedule", "Go to the schedule", ("Ctrl+4",), menu="F&iring"),
    Command("find_recipe", "Find a recipe of the studio", ("Ctrl+F",), menu="&View"),
    Command("go_rows", "Go to the rows", ("Ctrl+1",), menu="&View"),
    Command("go_map", "Go to the map", ("Ctrl+2",), menu="&View"),
    Command("go_news", "Go to the news of files", ("F6",), menu="&View"),
    Command("home", "Show the whole map", ("Ctrl+H",), "home", menu="&View"),
    Command("", "", menu="&View"),
)
"""Keys are our own choice where no platform key exists; each works with wet hands."""

CHECKABLE = ("hold", "reach")
IN_WIDGET = ("copy", "paste", "remove_row", "move_up", "move_down", "add_row")
"""These keys mean something else in a text field and act in the rows alone."""


class Actions(QObject):
    """The actions by name."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._by_name: dict[str, QAction] = {}
        for command in COMMANDS:
            if not command.name:
                continue
            action = QAction(self.tr(command.text), self)
            action.setShortcuts([QKeySequence(keys) for keys in command.keys])
            action.setCheckable(command.name in CHECKABLE)
            keys = ", ".join(command.keys)
            words = self.tr(command.tip or command.text.rstrip("…"))
            action.setToolTip(f"{words} ({keys})" if keys else words)
            if command.name in IN_WIDGET:
                action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            self._by_name[command.name] = action

    def __getitem__(self, name: str) -> QAction:
        return self._by_name[name]

    def connect_all(self, slots: dict[str, Callable[[], object]]) -> None:
        """Connect each action to what it does."""
        for name, slot in slots.items():
            self._by_name[name].triggered.connect(lambda _checked=False, slot=slot: slot())

    def set_palette(self, palette: Palette) -> None:
        """Draw the icons in the colours of a theme."""
        for command in COMMANDS:
            if command.picture:
                self._by_name[command.name].setIcon(icon(command.picture, palette))

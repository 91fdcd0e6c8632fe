"""Where ends and corners come from: the rows as they stand, variants, recipes of the studio."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QCoreApplication

from app.problems import words_of
from core.blend.mix import dry_weight
from core.errors import InputError
from core.recipe import Recipe
from core.recipe_file import read_recipe
from core.studio import Studio
from core.variants import as_recipe, rows_of


@dataclass(frozen=True, slots=True)
class Source:
    """One recipe that a tile may be made of."""

    title: str
    variant: str = ""
    path: Path | None = None


class Sources:
    """The recipes at hand; those of other files are read when they are chosen.

    Whatever is chosen goes into the kiln of the recipe on the bench: firing,
    shelf and body are its own where it has them.
    """

    def __init__(self, recipe: Recipe, studio: Studio, path: Path | None = None) -> None:
        self.recipe = recipe
        self.studio = studio
        self._read: dict[Path, Recipe] = {}
        say = QCoreApplication.translate
        found = [Source(say("Sources", "the rows as they stand"))]
        found += [
            Source(
                say("Sources", "variant {}").format(v.name) + (f", {v.reason}" if v.reason else ""),
                v.name,
            )
            for v in recipe.variants
        ]
        for one in studio.recipe_paths():
            if one != path:
                name = one.stem.replace("-", " ").strip()
                found.append(Source(name[:1].upper() + name[1:], path=one))
        self.all = tuple(found)

    def load(self, source: Source) -> Recipe:
        """Return the recipe of a source, as it goes into this kiln.

        Raises
        ------
        InputError
            If its file cannot be read; with its title.
        """
        here = self.recipe
        if source.path is None:
            variant = here.variant(source.variant) if source.variant else None
            if variant is None:
                return here
            named = as_recipe(here, variant)
            return replace(named, name=f"{here.name} {variant.name}".strip())
        found = self._read.get(source.path)
        if found is None:
            try:
                found = read_recipe(source.path)
            except OSError as fault:
                raise InputError(
                    f"{source.title}: {words_of(fault)}", "choose another recipe"
                ) from fault
            except InputError as fault:
                raise InputError(f"{source.title}: {fault}", "") from fault
            self._read[source.path] = found
        return replace(
            found,
            variants=(),
            firing=here.firing or found.firing,
            shelf=here.shelf,
            body=here.body or found.body,
        )

    def unlike(self, many: int) -> list[int]:
        """Return places of sources whose rows all differ, the first ones there are.

        Where there are too few, the last is named again.
        """
        found: list[int] = []
        rows: list[object] = []
        for place, source in enumerate(self.all):
            if len(found) == many:
                break
            try:
                recipe = self.load(source)
            except InputError:
                continue
            if dry_weight(recipe) > 0 and rows_of(recipe) not in rows:
                found.append(place)
                rows.append(rows_of(recipe))
        return found + [found[-1] if found else 0] * (many - len(found))

"""Steps of a recipe for the tests of the journal, and the bytes that they come to."""

from dataclasses import replace

from core.files.journal import Journal, Step, Work
from core.firing import shipped_firings
from core.recipe import Section
from core.variants import save_variant

FIRING = replace(shipped_firings()["cone-10-medium"], id="mine", name="Mine", source="")


def some_steps(recipe):
    """Five edits of different kinds, each from the state before it."""
    states = [Work(recipe.with_amount(Section.BASE, 1, 12.5))]
    states.append(Work(save_variant(states[-1].recipe, "why", "2031-02-09")))
    states.append(Work(replace(states[-1].recipe, notes="two lines\nof 'Häfen' \u2028 é")))
    states.append(replace(states[-1], firings={"mine": FIRING}))
    states.append(Work(replace(states[-1].recipe, shelf="top", based_on="")))
    return [Step(f"step {i}", i, work) for i, work in enumerate(states, 1)]


def written(folder, origin, steps):
    """The bytes of a journal that got each step by itself."""
    writer = Journal(folder)
    for step in steps:
        writer.keep(origin, [step])
    data = writer.path.read_bytes()
    writer.close()
    return data

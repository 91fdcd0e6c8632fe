"""From the wanted point back to the recipe: steer, aim, swap, round, and choose robustly.

The names below are the door; the files beside it hold one subject each.
"""

from core.solve.aim import Aimed, Proposal, aim
from core.solve.goals import Goal, Limits, Others, Wish, read_goal, read_range, wish_for
from core.solve.robust import Judge, Robustness, Steadiest, robustness, steadiest
from core.solve.rounding import Rounded, round_parts, round_recipe
from core.solve.shelf import Shelf, shelf_of
from core.solve.shortfall import Lack, Shortfall
from core.solve.steer import Steered, Steering, steering
from core.solve.swap import Swapped, swap
from core.solve.variant import with_named_variant, with_proposal

__all__ = [
    "Aimed",
    "Goal",
    "Judge",
    "Lack",
    "Limits",
    "Others",
    "Proposal",
    "Robustness",
    "Rounded",
    "Shelf",
    "Shortfall",
    "Steadiest",
    "Steered",
    "Steering",
    "Swapped",
    "Wish",
    "aim",
    "read_goal",
    "read_range",
    "robustness",
    "round_parts",
    "round_recipe",
    "shelf_of",
    "steadiest",
    "steering",
    "swap",
    "wish_for",
    "with_named_variant",
    "with_proposal",
]

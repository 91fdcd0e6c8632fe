import pytest

from core.errors import InputError
from core.melt.card import BANDS, FAMILIES, card, read_card
from core.plain_yaml import parse
from core.tables import data_folder, shipped

TEXT = (data_folder() / "melt" / "card.yaml").read_text(encoding="utf-8")


def test_the_shipped_card_holds_a_figure_for_each_family_and_band():
    found = card()
    assert len(found.liquidus_error) == len(found.viscosity_error) == len(FAMILIES)
    assert {len(row) for row in found.viscosity_error} == {len(BANDS)}
    assert min(map(min, found.viscosity_error)) > 0
    assert list(found.distances) == sorted(found.distances)


def test_the_card_states_what_the_melt_models_must_hold():
    # Bounds on publications that the fit never saw, as the design of the models sets them.
    held_out = {
        (row["property"], row["rows_of"]): row
        for row in shipped("melt/card.yaml").tree["held_out"]
        if row["held_out"] == "validation publications"
    }
    viscosity = held_out["viscosity", "all, 1000-1350 °C"]
    assert (float(viscosity["rmse"]) <= 0.21, float(viscosity["mae"]) <= 0.14) == (True, True)
    liquidus = held_out["liquidus", "all"]
    assert (float(liquidus["rmse"]) <= 78, float(liquidus["mae"]) <= 58) == (True, True)
    assert float(held_out["liquidus", "magnesia-rich"]["rmse"]) <= 75


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('family: "other"', 'family: "another"', "'other'"),
        ("magnesia_bias_k", "magnesia_bias", "magnesia_bias_k"),
        ("melt-card", "materials", "kind"),
        ('liquidus_k: "', 'liquidus_k: "warm ', "liquidus_k"),
    ],
)
def test_a_card_with_a_fault_is_refused(old, new, says):
    assert old in TEXT
    with pytest.raises(InputError, match=says):
        read_card(parse(TEXT.replace(old, new), "card.yaml"))

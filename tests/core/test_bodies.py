"""Clay bodies and their expansion."""

from __future__ import annotations

import pytest

from core.bodies import read_bodies, shipped_bodies
from core.errors import InputError


def _read(tmp_path, row: str):
    path = tmp_path / "bodies.yaml"
    path.write_text(f'glost: "1"\nkind: bodies\nbodies:\n  - {row}\n', encoding="utf-8")
    return read_bodies(path)


def test_shipped_bodies_say_their_expansion_with_its_range_and_error():
    # Ranges from memory (Singer & Singer), so only plausible: ceramic bodies lie within 1 to 12.
    for body in shipped_bodies().values():
        assert 1 < body.expansion_1e6_per_k < 12
        assert 0 < body.expansion_error <= 2
        low, high = map(int, body.range_c.split("-"))
        assert low < high
        assert body.source
        assert body.confidence


def test_a_body_of_a_studio_is_read(tmp_path):
    body = _read(tmp_path, '{id: a, name: A, expansion_1e6_per_k: "5,8"}')["a"]
    assert body.expansion_1e6_per_k == 5.8
    assert _read(tmp_path, "{id: a, name: A}")["a"].expansion_1e6_per_k is None


@pytest.mark.parametrize("figure", ["0", "-5", "55", "nan", "1e999"])
def test_a_figure_that_no_body_has_is_refused(tmp_path, figure):
    with pytest.raises(InputError) as fault:
        _read(tmp_path, f'{{id: a, name: A, expansion_1e6_per_k: "{figure}"}}')
    assert fault.value.path == "bodies[0].expansion_1e6_per_k"
    assert fault.value.line == 4

"""What the wheel packs: every table, and no raw melt data."""

import tomllib


def test_the_wheel_packs_every_table_but_not_the_raw_melt_data(request):
    root = request.config.rootpath
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    packed = {source.removeprefix("data/") for source in wheel if source.startswith("data/")}
    assert packed == {path.name for path in (root / "data").iterdir()} - {"melts"}
    for source, target in wheel.items():
        where = "core/_data/" if source.startswith("data/") else "app/_icons"
        assert target.startswith(where)

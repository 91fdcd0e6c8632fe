"""Kinds of material that bring an oxide, in the words of a shelf."""

from __future__ import annotations

from typing import Final

# Common practice, no source: what potters buy for each oxide. Lead is left out on purpose.
_KINDS: Final[dict[str, tuple[str, tuple[str, ...]]]] = {
    "Li2O": ("lithium carbonate, spodumene or petalite", ("lithium-carbonate", "spodumene")),
    "Na2O": (
        "soda feldspar, nepheline syenite or a soda frit",
        ("soda-feldspar", "nepheline", "alkaline-frit"),
    ),
    "K2O": ("potash feldspar or a potash frit", ("potash-feldspar",)),
    "MgO": (
        "talc, dolomite or magnesium carbonate",
        ("talc", "dolomite", "magnesium-carbonate"),
    ),
    "CaO": ("whiting, wollastonite or dolomite", ("whiting", "wollastonite")),
    "SrO": ("strontium carbonate", ("strontium-carbonate",)),
    "BaO": ("barium carbonate, which is poisonous if swallowed", ("barium-carbonate",)),
    "ZnO": ("zinc oxide", ("zinc-oxide",)),
    "B2O3": (
        "a borate frit, colemanite or borax",
        ("boron-frit", "colemanite", "borax"),
    ),
    "Al2O3": (
        "kaolin, feldspar or alumina hydrate",
        ("kaolin", "alumina-hydrate"),
    ),
    "Fe2O3": ("red iron oxide or a red clay", ("red-iron-oxide",)),
    "Cr2O3": ("chromium oxide", ("chromium-oxide",)),
    "SiO2": ("silica (ground quartz or flint)", ("silica",)),
    "TiO2": ("titanium dioxide or rutile", ("titanium-dioxide",)),
    "ZrO2": ("zircon or zirconium oxide", ("zircon", "zirconium-oxide")),
    "SnO2": ("tin oxide", ("tin-oxide",)),
    "P2O5": ("bone ash", ("bone-ash",)),
    "V2O5": ("vanadium pentoxide, which is poisonous", ("vanadium-pentoxide",)),
    "CeO2": ("cerium oxide", ("cerium-oxide",)),
    "MnO": ("manganese dioxide or manganese carbonate", ("manganese-dioxide",)),
    "CoO": ("cobalt carbonate or cobalt oxide", ("cobalt-carbonate",)),
    "NiO": ("nickel oxide, whose dust is harmful", ("nickel-oxide",)),
    "CuO": ("copper carbonate or copper oxide", ("copper-carbonate",)),
}
CATALOGUE: Final = tuple(dict.fromkeys(i for _, ids in _KINDS.values() for i in ids))
"""Ids of shipped materials that stand for their kind."""


def kinds_that_bring(oxide: str) -> str:
    """Name the kinds of material that bring an oxide; empty where none is suggested.

    Examples
    --------
    >>> kinds_that_bring("B2O3")
    'a borate frit, colemanite or borax'
    """
    return _KINDS[oxide][0] if oxide in _KINDS else ""


def shipped_that_bring(oxide: str) -> tuple[str, ...]:
    """Ids of shipped materials that stand for the kinds that bring an oxide."""
    return _KINDS[oxide][1] if oxide in _KINDS else ()


def advice_to_bring(oxide: str) -> str:
    """Say what to add so that an oxide comes in."""
    if oxide == "PbO":
        return "only lead compounds bring it, and they are better left alone"
    kinds = kinds_that_bring(oxide)
    return f"add {kinds}" if kinds else "no usual raw material brings it to a glaze"

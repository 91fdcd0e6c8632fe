"""Which colour of the theme each zone of practice has, on the screen and on paper."""

from __future__ import annotations

from typing import Final

from app.theme import Role
from core.regions import Zone

ZONE_ROLE: Final = {
    Zone.GLOSSY: Role.GLOSSY,
    Zone.SATIN: Role.SATIN,
    Zone.MATTE: Role.MATTE,
    Zone.UNDERFIRED: Role.UNDERFIRED,
}

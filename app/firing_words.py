"""What the firing strip says: figures with their unit, their error and where they come from."""

from __future__ import annotations

from typing import Final

from PySide6.QtWidgets import QWidget

from app.chart_widget import ChartWidget
from core.evaluate import Evaluation
from core.firing import FiringCurve, FiringSheet
from core.melt.along_firing import Level, Spans, cooling_side, hours_inside, level_of, spans_inside
from core.melt.crystal_window import CrystalWindow, growth_rules
from core.melt.sheet import WorkingLine

_F_PER_C: Final = 1.8


class FiringWords(ChartWidget):
    """Takes a firing from an evaluation and puts it into words; a subclass paints it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._heat: FiringSheet | None = None
        self._levels: tuple[Level, ...] = ()
        self._window: CrystalWindow | None = None
        self._cooling: FiringCurve | None = None
        self._window_spans: Spans = ()
        self._window_hours = 0.0
        self._fahrenheit = False
        self._why = ""
        """Why the schedule cannot be changed; empty where it can."""

    @property
    def levels(self) -> tuple[Level, ...]:
        """The working viscosities that the firing passes, hottest first."""
        return self._levels

    @property
    def window_hours(self) -> float:
        """Time in the window of the crystals while it cools [h]."""
        return self._window_hours

    def set_fahrenheit(self, fahrenheit: bool) -> None:
        """Show temperatures in °F, or in °C."""
        if fahrenheit != self._fahrenheit:
            self._fahrenheit = fahrenheit
            self._say()
            self.refresh()

    def _take(self, evaluation: Evaluation) -> None:
        heat, melt = evaluation.heat, evaluation.melt
        self._heat, self._levels = heat, ()
        self._window, self._cooling = evaluation.crystal_window, None
        self._window_spans, self._window_hours = (), 0.0
        if heat is None:
            return
        if melt is not None:
            found = (level_of(line, c, heat.felt, melt) for line, c in melt.reached_c)
            self._levels = tuple(level for level in found if level is not None)
        if self._window is not None:
            low, high = self._window.low_c, self._window.high_c
            self._cooling = cooling_side(heat.felt)
            self._window_spans = spans_inside(self._cooling, low, high)
            self._window_hours = hours_inside(self._cooling, low, high)

    def _degree(self, celsius: float, *, difference: bool = False) -> float:
        if not self._fahrenheit:
            return celsius
        return celsius * _F_PER_C + (0.0 if difference else 32.0)

    def _unit(self) -> str:
        return "°F" if self._fahrenheit else "°C"

    def _degrees(self, celsius: float) -> str:
        return f"{self._degree(celsius):.0f} {self._unit()}"

    def _error(self, celsius: float) -> str:
        return f"{self._degree(celsius, difference=True):.0f}"

    def _rate(self, celsius_per_h: float) -> str:
        rate = self._degree(abs(celsius_per_h), difference=True)
        return f"{rate:.0f} {self._unit()}/h"

    def _reading(self, heat: FiringSheet, hour: float) -> str:
        """Say time, temperature and rate at a time."""
        curve = heat.curve
        if hour > curve.total_hours:
            return self.tr("{:.1f} h: after the end").format(hour)
        celsius, rate = float(curve.temperature_at(hour)), curve.rate_at(hour)
        if rate == 0:
            course = self.tr("held")
        elif rate > 0:
            course = self.tr("{} up").format(self._rate(rate))
        else:
            course = self.tr("{} down").format(self._rate(rate))
        text = self.tr("{:.1f} h, {}, {}").format(hour, self._degrees(celsius), course)
        if heat.felt is not curve:
            felt = float(heat.felt.temperature_at(hour))
            text += "\n" + f"{self._felt_name(heat)}: {self._degrees(felt)}"
        return text

    def _felt_name(self, heat: FiringSheet) -> str:
        if not heat.shelf:
            return self.tr("felt by the ware")
        return self.tr("felt on {}").format(heat.shelf)

    def _cone_text(self, heat: FiringSheet) -> str:
        if not heat.cone.cone:
            return heat.cone.text
        return self.tr("{} ± {:.1f}").format(heat.cone.text, heat.cone.uncertainty)

    def _local_text(self, heat: FiringSheet) -> str:
        local = heat.local
        if local is None:
            return ""
        text = f"{heat.shelf or self.tr('witness')}: {local.text}"
        return text if local.bound else self.tr("{} ± {:.1f}").format(text, local.uncertainty)

    def _cone_words(self, heat: FiringSheet) -> str:
        text = self.tr(
            "The set curve does the heat work of {}, holds and slow cooling included."
            "\nThe error is that of the reading; the pyrometer and the place in the kiln come on"
            " top.\nSource: a rate integral solved from the published end points of the cones"
        ).format(self._cone_text(heat))
        if heat.cone.cone and not heat.cone.tabulated:
            text += "\n" + self.tr("Its rate lies outside the published ones: less certain.")
        return text

    def _local_words(self, heat: FiringSheet) -> str:
        log = heat.local_log
        # The shelf, as the head says it, and what it saw.
        text = self.tr("Seen on the shelf: {}").format(self._local_text(heat))
        if heat.felt is not heat.curve:
            text += "\n" + self.tr(
                "The dashed curve is the set one, stretched until it reaches that cone: peak {}"
            ).format(self._degrees(heat.felt.peak_c))
        begun = log.begun if log is not None else ""
        return text + "\n" + self.tr("Source: witness cones of the firing {}").format(begun).strip()

    def _peak_words(self, heat: FiringSheet) -> str:
        text = self.tr("Peak {}, as it is set").format(self._degrees(heat.curve.peak_c))
        if heat.felt is not heat.curve:
            text += "\n" + self.tr("{}: {}, from its witness cones").format(
                self._felt_name(heat), self._degrees(heat.felt.peak_c)
            )
        return text + "\n" + self.tr("Source: the schedule; a pyrometer has an error of its own")

    def _total_words(self, heat: FiringSheet) -> str:
        return self.tr(
            "{:.1f} h from cold to the end of the schedule; a natural cooling ends at {}"
            "\nSource: the schedule, and the kiln's own rates where it sets none"
        ).format(heat.curve.total_hours, self._degrees(float(heat.kiln.opened_c)))

    def _hold_words(self, number: int, minutes: float, celsius: float) -> str:
        return self.tr("Hold of {:g} min at {}\nSource: segment {} of the schedule").format(
            minutes, self._degrees(celsius), number
        )

    def _level_name(self, line: WorkingLine) -> str:
        """Name what holds above a level; a line whose name holds below it is passed."""
        return self.tr("past stiff") if line.id == "stiff" else line.name

    def _level_text(self, level: Level, short: bool) -> str:
        if short:
            return self.tr("{} {:.1f} h").format(self._level_name(level.line), level.hours)
        return self.tr("{} {}, {:.1f} h").format(
            self._level_name(level.line), self._degrees(level.celsius), level.hours
        )

    def _level_words(self, level: Level) -> str:
        line, where = level.line, self._degrees(level.celsius)
        if level.error_c is not None and self._heat is not None:
            value, unit = where.split(" ")
            where = f"{value} ± {self._error(level.error_c)} {unit}"
            sides = [level.celsius + level.error_c, level.celsius - level.error_c]
            least, most = self._heat.felt.hours_above(sides).tolist()
            time = self.tr("{:.1f} h ({:.1f} to {:.1f} h)").format(level.hours, least, most)
        else:
            time = self.tr("{:.1f} h").format(level.hours)
        return self.tr(
            "{}: {} above {}, where log₁₀ viscosity is {:.1f} Pa·s\n{}\nSource: {}"
        ).format(self._level_name(line), time, where, line.log10_viscosity, line.says, line.source)

    def _window_words(self) -> str:
        window, cooling = self._window, self._cooling
        if window is None or cooling is None:
            return ""
        low, high = window.low_c, window.high_c
        less, more = window.low_error_c, window.high_error_c
        narrow = (low + less, high - more)
        least = hours_inside(cooling, *narrow) if narrow[0] < narrow[1] else 0.0
        most = hours_inside(cooling, low - less, high + more)
        rules = growth_rules()
        return self.tr(
            "Crystals may grow on cooling between {:.0f} ± {} and {:.0f} ± {} {}:"
            " {:.1f} h ({:.1f} to {:.1f} h)\n{} {}\nSource: {}; {}"
        ).format(
            self._degree(high),
            self._error(more),
            self._degree(low),
            self._error(less),
            self._unit(),
            self._window_hours,
            least,
            most,
            rules["lag"].says,
            rules["stiff"].says,
            rules["lag"].source,
            rules["stiff"].source,
        )

    def _empty_words(self, evaluation: Evaluation) -> str:
        firing = evaluation.firing
        if firing is not None:
            return self.tr("{} has no segments yet. Give it a first ramp.").format(
                firing.name or firing.id
            )
        if evaluation.recipe.firing:
            return self.tr("The firing {} is not in this studio. Choose another.").format(
                evaluation.recipe.firing
            )
        return self.tr("No firing yet. Choose one for this recipe.")

    def _in_words(self, evaluation: Evaluation) -> str:
        heat = self._heat
        if heat is None:
            return self._empty_words(evaluation)
        said = [
            self.tr("{}: {}, peak {}, {:.1f} hours").format(
                heat.firing.name or heat.firing.id,
                self._cone_text(heat),
                self._degrees(heat.curve.peak_c),
                heat.curve.total_hours,
            )
        ]
        if heat.local is not None:
            said.append(self._local_text(heat))
        for segment, span in zip(heat.firing.segments, heat.spans, strict=True):
            if segment.hold_min:
                said.append(
                    self.tr("Hold of {:g} minutes at {}").format(
                        segment.hold_min, self._degrees(span.end_c)
                    )
                )
        said += [
            self.tr("{} above {} for {:.1f} hours").format(
                self._level_name(level.line), self._degrees(level.celsius), level.hours
            )
            for level in self._levels
        ]
        if self._window is not None:
            said.append(
                self.tr("Crystals grow on cooling between {} and {}, for {:.1f} hours").format(
                    self._degrees(self._window.high_c),
                    self._degrees(self._window.low_c),
                    self._window_hours,
                )
            )
        if self._why:
            said.append(self._why.rstrip("."))
        return f"{'. '.join(said)}."

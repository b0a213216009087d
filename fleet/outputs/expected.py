"""What the heat balance and the first readings on record let a technician expect of a reading."""

from __future__ import annotations

from collections.abc import Sequence

from fleet.outputs.lookup import Lookup
from fleet.outputs.readings import expected_words, value_words
from fleet.outputs.series import series_of
from fleet.outputs.words import percent, short_day
from fleet.units import Display
from fleet.values.assessment import Assessment, DeviceCapacity
from fleet.values.catalogue import ReadingSpec
from fleet.values.plan import Task
from fleet.values.register import Reading
from fleet.values.vocabulary import ReadingQuantity, Scenario

NOT_KNOWN = "not known"
LIKE_THE_LAST = "compare with the last"


class Expectations:
    """The band of each reading: the catalogue's, with what the model or the first reading says of this very unit."""

    def __init__(self, lookup: Lookup, assessments: Sequence[Assessment]) -> None:
        self.lookup = lookup
        self.hot_day = {row.tank: row for row in assessments if row.scenario is Scenario.HOT_DAY}

    def words(self, task: Task, spec: ReadingSpec) -> str:
        """What to expect, or that it is not known."""
        band = expected_words(task, spec, self.lookup)
        further = [text for text in (self._baseline(task, spec), self._model(task, spec)) if text]
        if further and band == LIKE_THE_LAST:
            band = ""
        return "; ".join(text for text in (band, *further) if text) or NOT_KNOWN

    def capacity(self, task: Task) -> DeviceCapacity | None:
        """What the model says of the task's device on the hot day, for the task's tank."""
        row, device = self.hot_day.get(task.tank or ""), task.device or task.subject
        found = (entry for entry in row.devices if entry.device == device) if row else iter(())
        return next(found, None)

    def _model(self, task: Task, spec: ReadingSpec) -> str:
        row, capacity = self.hot_day.get(task.tank or ""), self.capacity(task)
        if row is None:
            return ""
        display = self.lookup.display(task.site)
        if spec.quantity is ReadingQuantity.ROOM_TEMP:
            return f"at most {display.temperature(row.room_peak_c)} on the hot day"
        if spec.quantity is ReadingQuantity.TOPOFF_L_PER_DAY:
            return f"about {display.volume_per_day(row.evaporation_l_per_day)} on the hot day"
        if capacity is None:
            return ""
        if spec.quantity is ReadingQuantity.RUN_SHARE_PERCENT and row.duty is not None:
            return f"less than the {percent(row.duty)} of the hot day"
        return _of_device(spec, capacity, row, display)

    def _baseline(self, task: Task, spec: ReadingSpec) -> str:
        if spec.relative_to != "baseline":
            return ""
        if spec.unit == "K":
            rises = (row for row in series_of(task.subject, self.lookup) if row.baseline is not None)
            rise = next(rises, None)
            if rise is None or rise.baseline is None:
                return "baseline not known"
            day, last = rise.points[-1]
            return f"baseline {rise.write(rise.baseline)}, last {rise.write(last)} on {short_day(day)}"
        first = self._first(task.subject, ReadingQuantity.FLOW)
        if first is None:
            return "baseline not known"
        return f"baseline {value_words(first, self.lookup.display(task.site))}"

    def _first(self, subject: str, quantity: ReadingQuantity) -> Reading | None:
        rows = self.lookup.fleet.readings_by_subject.get(subject, ())
        return next((row for row in rows if row.quantity is quantity), None)


def _of_device(spec: ReadingSpec, capacity: DeviceCapacity, row: Assessment, display: Display) -> str:
    if capacity.trips:
        # What the model says of the worst hour is that the device is off: no figure to read beside a running one.
        return "by the model it does not run through the hot day" if spec.label.startswith("Output") else ""
    if spec.quantity is ReadingQuantity.POWER and capacity.electric_power_w is not None:
        return f"about {display.power(capacity.electric_power_w)} on the hot day"
    if spec.quantity is ReadingQuantity.INTAKE_AIR_TEMP and capacity.condenser_inlet_c is not None:
        rise = capacity.condenser_inlet_c - row.room_peak_c
        return f"about {display.difference(max(0.0, rise))} above the room, by the model"
    # The register has no column for the output itself: it is reckoned from water in, water out and flow.
    if spec.quantity is None and spec.label.startswith("Output") and capacity.capacity_w is not None:
        watts = capacity.capacity_w
        return f"{display.power(watts.low)} to {display.power(watts.high)} here on the hot day, by the model"
    return ""

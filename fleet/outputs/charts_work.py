"""A year of work, week by week: what was done before today, and what is planned."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from fleet.outputs.charts import HAIR, LIMIT, WIDTH, Chart, Drawing, Scale, value_axis
from fleet.outputs.words import MONTHS, minutes_words, monday_of, near_day

HEIGHT = 150.0
LEFT, RIGHT, TOP, BOTTOM = 34.0, 6.0, 18.0, 22.0
WEEKS_BACK, WEEKS_AHEAD = 26, 26
GAP = 1.4
ROOM_FOR_A_MONTH = 24.0


def work_chart(name: str, title: str, done: Mapping[date, int], planned: Mapping[date, int], today: date) -> Chart:
    """Minutes of each week as bars: full for what was done, outlined for what is planned; half a year each way.

    `done` and `planned` are minutes by day.
    """
    this_week = monday_of(today)
    weeks = [this_week + timedelta(weeks=n) for n in range(-WEEKS_BACK, WEEKS_AHEAD)]
    was, will = _by_week(done), _by_week(planned)
    drawing = Drawing(
        name, title, "A bar for each week: full for work done, outlined for work planned; an upright marks this week.",
        height=HEIGHT,
    )  # fmt: skip
    most = max([*(was.get(week, 0) + will.get(week, 0) for week in weeks), 60]) / 60.0
    up = Scale(0.0, most * 1.05, HEIGHT - BOTTOM, TOP)
    step = (WIDTH - LEFT - RIGHT) / len(weeks)
    value_axis(drawing, up, LEFT, WIDTH - RIGHT, 4, lambda value, _: f"{value:g} h")
    for i, week in enumerate(weeks):
        x, width = LEFT + i * step + GAP / 2.0, step - GAP
        base = HEIGHT - BOTTOM
        for minutes, filled in ((was.get(week, 0), True), (will.get(week, 0), False)):
            if minutes:
                height = up(0.0) - up(minutes / 60.0)
                drawing.box(x, base - height, width, height, filled=filled)
                base -= height
        if week == this_week:
            drawing.line(((x - GAP / 2.0, TOP - 2.0), (x - GAP / 2.0, HEIGHT - BOTTOM)), LIMIT)
            drawing.words(x - 4.0, TOP - 7.0, "done", anchor="end", size=11.0)
            drawing.words(x + 2.0, TOP - 7.0, "planned", size=11.0)
        # The month is named at its first Monday, every other one, so that names do not touch.
        if week.day <= 7 and week.month % 2 and x < WIDTH - ROOM_FOR_A_MONTH:
            drawing.line(((x, HEIGHT - BOTTOM), (x, HEIGHT - BOTTOM + 4.0)), HAIR)
            drawing.words(x, HEIGHT - 7.0, MONTHS[week.month - 1], size=11.0)
    drawing.line(((LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM)), LIMIT)
    past = sum(minutes for week, minutes in was.items() if week in weeks)
    return Chart(drawing.title, drawing.svg(), _said(past, {week: will[week] for week in weeks if week in will}, today))


def _by_week(minutes_by_day: Mapping[date, int]) -> dict[date, int]:
    weeks: dict[date, int] = {}
    for day, minutes in sorted(minutes_by_day.items()):
        monday = monday_of(day)
        weeks[monday] = weeks.get(monday, 0) + minutes
    return weeks


def _said(done: int, planned: Mapping[date, int], today: date) -> str:
    text = f"Done in the half year before: {minutes_words(done)}." if done else "No work is on record before."
    if not planned:
        return f"{text} None is planned in the half year to come."
    busiest = max(planned, key=lambda week: (planned[week], -week.toordinal()))
    return (
        f"{text} Planned for the half year to come: {minutes_words(sum(planned.values()))}, most of it in the week of "
        f"{near_day(busiest, today)} ({minutes_words(planned[busiest])})."
    )

"""Record of the crews: days, pours, odds and power as they stand in the JSON."""

from datetime import date
from typing import Any

from .chance import Odds
from .crew import CrewPlan, ZoneDays
from .power import PowerPlan
from .rounding import rounded

__all__ = ["record_crew"]


def record_crew(crew: CrewPlan) -> dict[str, Any]:
    """Return what the record tells of the crews."""
    return {
        "crews": crew.crews,
        "people": crew.people,
        "crew_days": crew.crew_days,
        "working_days": crew.working_days,
        "sample_welds": crew.sample_welds,
        "days": [
            {
                "crew": day.crew,
                "day": day.day,
                "people": day.people,
                "splices": day.splices,
                "warm_up_min": day.warm_up_min,
                "sample_weld_min": day.sample_weld_min,
                "splice_min": rounded(day.splice_min),
                "cool_down_min": day.cool_down_min,
                "idle_min": rounded(day.idle_min),
                "overlap_min": day.overlap_min,
                "move_min": rounded(day.move_min),
                "cover_min": rounded(day.cover_min),
                "walked_m": rounded(day.walked_m),
                "climbed_m": rounded(day.climbed_m),
                "zones": day.zones,
                "date": _date(day.on),
            }
            for day in crew.days
        ],
        "walked_m": rounded(crew.walked_m),
        "least_crew_days": crew.least_crew_days,
        "least_crews": crew.least_crews,
        "choices": [
            {"crews": row.crews, "working_days": row.working_days, "shortfall_days": row.shortfall_days}
            for row in crew.choices
        ],
        "zones": [_zone(row) for row in crew.zones],
        "odds": None if crew.odds is None else _odds(crew.odds),
        "power": None if crew.power is None else _power(crew.power),
        "placing": [
            {
                "profile": row.profile,
                "length_m": rounded(row.length_m),
                "labourer": rounded(row.labourer),
                "craftsman": rounded(row.craftsman),
                "head_craftsman": rounded(row.head_craftsman),
                "foreman": rounded(row.foreman),
                "person_days": rounded(row.person_days),
            }
            for row in crew.placing
        ],
    }


def _zone(row: ZoneDays) -> dict[str, Any]:
    return {
        "name": row.name,
        "pour": row.pour,
        "splices": row.splices,
        "minutes": rounded(row.minutes),
        "start_day": row.start_day,
        "finish_day": row.finish_day,
        "start": _date(row.start),
        "finish": _date(row.finish),
        "pour_date": _date(row.pour_date),
        "due_day": row.due_day,
        "float_days": row.float_days,
        "latest_start_day": row.latest_start_day,
        "latest_start": _date(row.latest_start),
        "kept": row.kept,
    }


def _odds(odds: Odds) -> dict[str, Any]:
    return {
        "draws": odds.draws,
        "days_50": odds.days_50,
        "days_80": odds.days_80,
        "days_95": odds.days_95,
    }


def _power(power: PowerPlan) -> dict[str, Any]:
    return {
        "large_irons": power.large_irons,
        "small_irons": power.small_irons,
        "amperes": power.amperes,
        "circuits": power.circuits,
        "generator_kw": power.generator_kw,
        "lead_m": rounded(power.lead_m),
        "least_points": power.least_points,
        "points": [
            {
                "mark": point.mark,
                "at_m": [rounded(value) for value in point.at_m],
                "farthest_m": rounded(point.farthest_m),
                "splices": [f"S{number + 1}" for number in point.splices],
            }
            for point in power.points
        ],
    }


def _date(day: date | None) -> str | None:
    return None if day is None else day.isoformat()

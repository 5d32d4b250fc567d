"""The figures against general libraries that know nothing of this program.

Pint for units, NumPy for interpolation and integration of cure logs, dateutil for months, ambiance for the standard
atmosphere, NetworkX for where-used.
"""

import random
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import networkx
import numpy as np
import pint
import pytest
from ambiance import Atmosphere
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from calc import airloads, cure, genealogy, room, times, units
from calc.cure import Spec

# ---- units: pint ----

REGISTRY = pint.UnitRegistry(non_int_type=Fraction)
CLOCKS = (("s", "second"), ("min", "minute"), ("h", "hour"))
PINT = {
    "um": "micrometer", "in": "inch", "ft": "foot", "yd": "yard", "mil": "thou", "mi": "mile", "nmi": "nautical_mile",
    "m2": "meter**2", "cm2": "centimeter**2", "mm2": "millimeter**2", "in2": "inch**2",
    "ft2": "foot**2", "yd2": "yard**2",
    "m3": "meter**3", "cm3": "centimeter**3", "in3": "inch**3", "ft3": "foot**3", "yd3": "yard**3",
    "L": "liter", "mL": "milliliter", "gal": "gallon", "qt": "quart", "pt": "pint", "fl oz": "fluid_ounce",
    "t": "metric_ton", "lb": "pound", "oz": "ounce", "d": "day", "min": "minute", "h": "hour",
    "lbf": "force_pound", "ozf": "force_ounce", "kgf": "force_kilogram",
    "N*m": "newton*meter", "N*cm": "newton*centimeter", "kgf*m": "force_kilogram*meter",
    "kgf*cm": "force_kilogram*centimeter", "in-lbf": "inch*force_pound", "ft-lbf": "foot*force_pound",
    "in-ozf": "inch*force_ounce",
    "kg*m": "kilogram*meter", "kg*mm": "kilogram*millimeter", "g*mm": "gram*millimeter", "lb*in": "pound*inch",
    "lb*ft": "pound*foot",
    "atm": "atmosphere", "torr": "torr", "psi": "force_pound/inch**2", "psf": "force_pound/foot**2",
    "inHg": "inch_Hg", "mmHg": "millimeter_Hg", "inH2O": "inch_H2O", "mmH2O": "millimeter_H2O",
    "kg/m2": "kilogram/meter**2", "g/m2": "gram/meter**2", "oz/yd2": "ounce/yard**2", "oz/ft2": "ounce/foot**2",
    "lb/ft2": "pound/foot**2",
    "kg/m3": "kilogram/meter**3", "g/cm3": "gram/centimeter**3", "kg/L": "kilogram/liter", "g/mL": "gram/milliliter",
    "g/L": "gram/liter", "lb/ft3": "pound/foot**3", "lb/in3": "pound/inch**3", "lb/gal": "pound/gallon",
    "oz/in3": "ounce/inch**3",
    "m/s": "meter/second", "km/h": "kilometer/hour", "kt": "knot", "mph": "mile/hour", "ft/s": "foot/second",
    "ft/min": "foot/minute", "m/min": "meter/minute",
    "m3/s": "meter**3/second", "L/min": "liter/minute", "L/h": "liter/hour", "mL/min": "milliliter/minute",
    "gal/h": "gallon/hour", "gal/min": "gallon/minute", "ft3/min": "foot**3/minute",
    "hp": "horsepower", "K": "kelvin", "degC": "degC", "degF": "degF", "degR": "degR",
    **{f"delta {degree}": f"delta_{degree}" for degree in ("degC", "degF")}, "delta K": "kelvin",
    **{f"{degree}/{clock}": f"delta_{degree}/{word}" for degree in ("degC", "degF") for clock, word in CLOCKS},
    **{f"K/{clock}": f"kelvin/{word}" for clock, word in CLOCKS},
}  # fmt: skip
KINDS: dict[str, list[str]] = {}
for unit in units.UNITS.values():
    KINDS.setdefault(unit.kind, []).append(unit.name)
PAIRS = [(one, other) for names in KINDS.values() for one in names for other in names]


def by_pint(value: Fraction, source: str, target: str) -> Fraction:
    here, there = (PINT.get(name, name) for name in (source, target))
    return REGISTRY.Quantity(value, here).to(there).magnitude


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_unit_converts_as_pint_has_it(kind) -> None:
    for source in KINDS[kind]:
        for target in KINDS[kind]:
            value = Fraction(1234, 7) if kind != "temperature" else Fraction(1534, 7)
            assert float(units.convert(value, source, target)) == pytest.approx(
                float(by_pint(value, source, target)), rel=1e-12
            ), (source, target)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(PAIRS), st.fractions(0, 10**6, max_denominator=10**4))
def test_there_and_back_is_exact(pair, value) -> None:
    source, target = pair
    there = units.convert(value + 300, source, target)
    assert units.convert(there, target, source) == value + 300


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(PAIRS), st.fractions(300, 10**6), st.fractions(300, 10**6))
def test_a_conversion_keeps_the_order_so_it_never_turns_a_pass_into_a_fail(pair, one, other) -> None:
    source, target = pair
    assert (one <= other) == (units.convert(one, source, target) <= units.convert(other, source, target))


def test_nothing_of_one_kind_becomes_another() -> None:
    for one in units.UNITS:
        for other in ("m", "kg", "degC", "N*m", "g/m2"):
            if units.UNITS[one].kind != units.UNITS[other].kind:
                with pytest.raises(ValueError, match="no conversion leads there"):
                    units.convert(400, one, other)


def test_every_spelling_leads_to_a_unit_in_any_case_that_is_not_ambiguous() -> None:
    for spelled, name in units.SPELLINGS.items():
        assert units.unit(spelled).name == name
        if spelled.casefold() in units.FOLDED:
            assert units.unit(spelled.upper()).name == units.unit(spelled.casefold()).name
    with pytest.raises(ValueError, match="not a unit"):
        units.unit("mPa")


def test_the_factors_of_weight_agree_with_those_of_the_table() -> None:
    for name, grams in units.GRAMS.items():
        assert units.convert(1, name, "g") == Fraction(grams)


# ---- cure logs: numpy ----


@st.composite
def logs(draw) -> list[tuple[float, float]]:
    """A log on whole minutes with temperatures in whole degrees."""
    steps = draw(st.lists(st.tuples(st.integers(1, 90), st.integers(10, 100)), min_size=2, max_size=14))
    at, log = 0, []
    for minutes, degrees in steps:
        log.append((float(at), float(degrees)))
        at += minutes
    return log


def runs(inside: np.ndarray, step: float) -> list[float]:
    """The lengths of the runs of true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], inside.astype(np.int8), [0]))))
    return [(end - start) * step for start, end in zip(edges[::2], edges[1::2], strict=True)]


@settings(max_examples=120, deadline=None)
@given(logs(), st.integers(10, 100), st.integers(0, 40))
def test_ramp_peak_and_time_in_the_band_agree_with_numpy(log, low, width) -> None:
    spec = Spec(low=low + 0.25, high=low + width + 0.75, cumulative=True)
    found = cure.judge({"a": log}, spec, "degC")
    minutes, degrees = np.array(log).T
    slopes = np.diff(degrees) / np.diff(minutes)
    assert found.peak == degrees.max()
    assert found.max_ramp == pytest.approx(max(slopes[(degrees[:-1] < spec.low) & (slopes > 0)], default=0.0))
    assert found.max_cool == pytest.approx(max(-slopes[slopes < 0], default=0.0))
    # Time in the band: interpolated finely and integrated.
    grid = np.linspace(minutes[0], minutes[-1], 40_001)
    curve = np.interp(grid, minutes, degrees)
    inside = ((curve >= spec.low) & (curve <= spec.high)).astype(float)
    slip = 2 * len(log) * (grid[1] - grid[0])
    assert found.soak == pytest.approx(np.trapezoid(inside, grid), abs=slip)


@settings(max_examples=120, deadline=None)
@given(st.lists(logs(), min_size=1, max_size=4), st.integers(10, 100), st.integers(0, 40))
def test_with_several_sensors_the_longest_soak_of_the_coldest_agrees_with_numpy(sensors, low, width) -> None:
    spec = Spec(low=low + 0.25, high=low + width + 0.75)
    end = min(log[-1][0] for log in sensors)
    found = cure.judge({str(number): log for number, log in enumerate(sensors)}, spec, "degC")
    grid = np.linspace(0, end, 40_001)
    coldest = np.min([np.interp(grid, *np.array(log).T) for log in sensors], axis=0)
    inside = (coldest >= spec.low) & (coldest <= spec.high)
    step = grid[1] - grid[0]
    lengths = runs(inside, step)
    # Two runs that a gap of less than one step of the grid parts are one to numpy.
    gaps = [after[0] - before[1] for before, after in zip(found.soaks, found.soaks[1:], strict=False)]
    if not gaps or min(gaps) > 2 * step:
        assert found.soak == pytest.approx(max(lengths, default=0.0), abs=2 * step)
    assert found.peak == max(degree for log in sensors for _, degree in log)
    assert sum(end - start for start, end in found.soaks) == pytest.approx(sum(lengths), abs=60 * step)


# ---- dates: dateutil ----


@settings(deadline=None)
@given(st.dates(date(1900, 1, 1), date(2200, 12, 31)), st.integers(0, 600))
def test_months_clamp_as_dateutil_has_them(day, months) -> None:
    assert times.in_months(day, months) == day + relativedelta(months=months)


@settings(deadline=None)
@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 60))
def test_a_tool_is_usable_on_the_day_it_is_due_and_not_on_the_next(day, months) -> None:
    found = room.calibration_due(day, months)
    assert found.due == day + relativedelta(months=months)
    assert found.usable_on(found.due) is True
    assert found.usable_on(found.due + timedelta(days=1)) is False


# ---- standard atmosphere: ambiance (ICAO Doc 7488) ----


@pytest.mark.parametrize("feet", [-5_000, 0, 1_000, 6_000, 8_000, 18_000, 36_000, 36_100, 45_000, 65_000])
def test_density_of_a_standard_day_agrees_with_ambiance(feet) -> None:
    height = Atmosphere.geop2geom_height(np.array([feet * 0.3048]))
    assert airloads.standard_density(feet) == pytest.approx(float(Atmosphere(height).density[0]), rel=1e-5)


def test_the_sea_level_constants_agree_with_ambiance() -> None:
    sea = Atmosphere(0)
    assert float(sea.density[0]) == pytest.approx(airloads.RHO_0)
    assert float(sea.pressure[0]) == pytest.approx(airloads.P_0)
    assert float(sea.speed_of_sound[0]) == pytest.approx(airloads.SOUND_0, rel=1e-6)


@settings(deadline=None)
@given(st.decimals(0, 661, places=2))
def test_impact_pressure_is_above_dynamic_pressure_and_near_it_when_slow(knots) -> None:
    found = airloads.dynamic_pressure(knots)
    assert found.impact >= found.q * (1 - 1e-9) - 1e-9
    if knots < 100:
        assert found.impact <= found.q * Decimal("1.01").__float__() + 1e-9


# ---- where used: networkx ----


def test_where_used_among_five_thousand_parts_agrees_with_networkx() -> None:
    chance = random.Random(20)
    mixes = [
        genealogy.Mix(f"m{number}", (f"R-{chance.randrange(8)}", f"H-{chance.randrange(12)}")) for number in range(300)
    ]
    parts: list[str] = []
    layups, bonds, cut_from = [], [], {}
    for number in range(5_000):
        part = f"p{number}"
        way = chance.random()
        if way < 0.3 or not parts:
            used = tuple(chance.sample([mix.key for mix in mixes], chance.randint(1, 3)))
            base = tuple(chance.sample(parts, 1)) if parts and chance.random() < 0.1 else ()
            layups.append(
                genealogy.Layup(f"L{number}", used, lots=(f"C-{chance.randrange(5)}",), parts=base, makes=(part,))
            )
        elif way < 0.8:
            cut_from[part] = (chance.choice(parts),)
        else:
            joined = tuple(chance.sample(parts, min(len(parts), chance.randint(2, 4))))
            bonds.append(genealogy.Layup(f"B{number}", (chance.choice(mixes).key,), parts=joined, makes=(part,)))
        parts.append(part)
    graph = networkx.DiGraph()
    for mix in mixes:
        graph.add_edges_from((("lot", lot), ("mix", mix.key)) for lot in mix.lots)
    for kind, records in (("layup", layups), ("bond", bonds)):
        for record in records:
            here = kind, record.key
            graph.add_edges_from((("mix", mix), here) for mix in record.mixes)
            graph.add_edges_from((("lot", lot), here) for lot in record.lots)
            graph.add_edges_from((here, ("part", part)) for part in (*record.parts, *record.makes))
            graph.add_edges_from((("part", part), ("part", made)) for part in record.parts for made in record.makes)
    graph.add_edges_from((("part", source), ("part", part)) for part, (source,) in cut_from.items())
    for lot in ("H-3", "R-1", "C-2", "H-99"):
        below = networkx.descendants(graph, ("lot", lot)) if graph.has_node(("lot", lot)) else set()
        found = genealogy.where_used(lot, mixes, layups, cut_from, bonds)
        for kind, names in (
            ("mix", found.mixes),
            ("layup", found.layups),
            ("bond", found.bonds),
            ("part", found.parts),
        ):
            assert names == sorted(key for of, key in below if of == kind), (lot, kind)
    # And back: from a part to every lot in it.
    links = list(graph.edges)
    for part in chance.sample(parts, 5):
        back = genealogy.reached(genealogy.turned(links), [("part", part)])
        assert back - {("part", part)} == networkx.ancestors(graph, ("part", part))

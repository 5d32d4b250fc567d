"""Air loads: dynamic pressure, what a sealed lid carries, proportions of a flush inlet."""

from dataclasses import dataclass
from fractions import Fraction
from math import exp, radians, sqrt, tan

from calc.figures import Figure, exact, positive
from calc.units import FOOT, NAUTICAL_MILE, POUND_FORCE, WATER
from calc.units import INCH as INCH_M
from calc.verdict import MEMORY, Rule

# ICAO Doc 7488, Manual of the ICAO Standard Atmosphere.
RHO_0 = 1.225  # kg/m3
P_0 = 101_325.0  # Pa
T_0 = 288.15  # K
SOUND_0 = 340.294  # m/s
LAPSE = 0.0065  # K per m, up to the tropopause
TROPOPAUSE = 11_000.0  # m
GRAVITY = 9.80665  # m/s2
GAS = 287.052_87  # J/(kg K)
LOWEST, HIGHEST = Fraction(-16_404), Fraction(65_616)  # feet: 5 km below the sea to 20 km
FASTEST = Fraction(661)  # knots: below the speed of sound at sea level

KNOT = float(NAUTICAL_MILE / 3600)
PSF = float(POUND_FORCE / FOOT**2)
INCH_OF_WATER = float(WATER * INCH_M)

STANDARD = "ICAO standard atmosphere (sea level: 1.225 kg/m3, 340.294 m/s, 101325 Pa)"

PRESSURE = Rule(
    "q = 1/2 rho V2; impact pressure from calibrated airspeed",
    STANDARD,
    MEMORY,
    valid="Below the speed of sound; low and slow, calibrated and equivalent airspeed are nearly the same.",
    caution="A load for a note on a part, not a strength calculation.",
)
PRESSURE_TRUE = Rule(
    "q = 1/2 rho V2 with the density of a standard day",
    STANDARD,
    MEMORY,
    valid="Pressure altitudes from -16,404 to 65,616 ft on a standard day.",
    caution="A load for a note on a part, not a strength calculation.",
)
LID = Rule(
    "load = pressure recovery x q x area",
    STANDARD,
    MEMORY,
    valid="A sealed box under ram pressure; recovery from 0 to 1.",
    caution="Gusts, sideslip and a leak elsewhere can make it more.",
)
INLET = Rule(
    "width 3 to 5 depths, ramp 5 to 7 degrees",
    "NACA RM A7I30 (8 Jan 1948), summary",
    valid="Flush inlets with curved diverging walls.",
)


@dataclass(frozen=True)
class Pressure:
    """A speed in m/s and the pressures that go with it, in Pa."""

    speed: float
    q: float
    impact: float

    @property
    def q_psf(self) -> float:
        return self.q / PSF

    @property
    def q_inh2o(self) -> float:
        return self.q / INCH_OF_WATER

    @property
    def impact_psf(self) -> float:
        return self.impact / PSF


def dynamic_pressure(knots: Figure) -> Pressure:
    """Dynamic pressure at an airspeed in knots: incompressible from equivalent airspeed, impact from calibrated."""
    speed = float(exact(knots, "airspeed_kt", low=0, high=FASTEST)) * KNOT
    impact = P_0 * ((1 + 0.2 * (speed / SOUND_0) ** 2) ** 3.5 - 1)
    return Pressure(speed, 0.5 * RHO_0 * speed**2, impact)


def standard_density(pressure_altitude: Figure) -> float:
    """Density in kg/m3 at a pressure altitude in feet on a standard day."""
    feet = exact(pressure_altitude, "pressure_altitude_ft", low=LOWEST, high=HIGHEST)
    height = float(feet * FOOT)
    warm = T_0 - LAPSE * min(height, TROPOPAUSE)
    pressure = P_0 * (warm / T_0) ** (GRAVITY / (LAPSE * GAS))
    if height > TROPOPAUSE:
        pressure *= exp(-GRAVITY * (height - TROPOPAUSE) / (GAS * warm))
    return pressure / (GAS * warm)


@dataclass(frozen=True)
class TruePressure:
    """Density in kg/m3, dynamic pressure in Pa and equivalent airspeed in knots."""

    density: float
    q: float
    equivalent: float

    @property
    def q_psf(self) -> float:
        return self.q / PSF


def dynamic_pressure_true(knots: Figure, pressure_altitude: Figure) -> TruePressure:
    """Dynamic pressure at a true airspeed in knots and a pressure altitude in feet, on a standard day."""
    true = float(exact(knots, "tas_kt", low=0, high=FASTEST))
    density = standard_density(pressure_altitude)
    return TruePressure(density, 0.5 * density * (true * KNOT) ** 2, true * sqrt(density / RHO_0))


@dataclass(frozen=True)
class LidLoad:
    """Pressure on a lid in psf and the load on it in lbf."""

    psf: float
    pounds: float

    @property
    def newtons(self) -> float:
        return self.pounds * float(POUND_FORCE)


def lid_load(knots: Figure, area: Figure, recovery: Figure = 1) -> LidLoad:
    """The load on the lid (area in ft2) of a sealed box, under a share of the ram pressure at an airspeed in knots."""
    share = float(exact(recovery, "pressure_recovery", low=0, high=1))
    pressure = dynamic_pressure(knots).q_psf * share
    return LidLoad(pressure, pressure * float(positive(area, "lid_area_ft2")))


@dataclass(frozen=True)
class Inlet:
    """Proportions of a flush inlet, in the unit of its depth."""

    width_min: float
    width_max: float
    ramp_at_7_degrees: float
    ramp_at_5_degrees: float


def flush_inlet(depth: Figure) -> Inlet:
    """Width and ramp length for a depth."""
    deep = positive(depth, "depth_in")
    return Inlet(float(deep * 3), float(deep * 5), float(deep) / tan(radians(7)), float(deep) / tan(radians(5)))

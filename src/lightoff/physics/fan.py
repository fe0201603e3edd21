"""The combustion fan on its duct and its motor on the supply, each against its rated state.

    fan  dp = rho (a N^2 - b Q^2)        duct  dp = rho k Q^2

Both go with density, so that the volume moved does not know it. Basis: fan_laws.
"""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Real, plain

SHUT_OFF_POWER_FRACTION = 0.4
"""Power of a small forward-curved fan with its path shut, of that at its rated flow and the same speed.
Basis: common practice, no source; from 0.3 to 0.6 between wheels."""


def volume_flow_ratio(*, speed_ratio: Real, path_resistance_ratio: Real, internal_share: Real) -> Real:
    """Air volume moved, of the rated volume; not mass: multiply by the density ratio for that.

    Parameters: floats or arrays, zero and above. `path_resistance_ratio` is k over its rated value, for
    intake, burner and exhaust in series; infinity is a shut path. `internal_share` is b / (b + k rated):
    the part of the fan's own pressure that is lost inside it at the rated flow, from 0 to below 1.
    Valid for: a curve without a dip; near shut-off a forward-curved wheel may surge, which this says not.
    Basis: fan_laws (both curves quadratic).
    """
    inside = np.asarray(internal_share, dtype=np.float64)
    path = np.asarray(path_resistance_ratio, dtype=np.float64)
    return plain(speed_ratio / np.sqrt(inside + (1.0 - inside) * path))


def fan_power_ratio(*, flow_ratio: Real, speed_ratio: Real, density_ratio: Real) -> Real:
    """Power that the fan asks of its motor, of the rated power.

    A blocked path unloads the fan: less flow at one speed is less power and less current.
    Parameters: floats or arrays, zero and above; `flow_ratio` by volume. A torque ratio is this over the
    speed ratio; the load ratio of `motor_speed_ratio` this over its cube.
    Valid for: flows up to about 1.3 of the rated one.
    Basis: fan_laws (density, cube of speed); the straight line down to `SHUT_OFF_POWER_FRACTION` at no
    flow is common practice, no source.
    """
    speed = np.asarray(speed_ratio, dtype=np.float64)
    shut = SHUT_OFF_POWER_FRACTION
    by_flow = (1.0 - shut) * np.asarray(flow_ratio, dtype=np.float64)
    return plain(density_ratio * speed * speed * (shut * speed + by_flow))


def motor_speed_ratio(*, voltage_ratio: Real, load_ratio: Real, drop_share: Real) -> Real:
    """Speed of a brushed permanent-magnet motor that turns a fan or pump, of its rated speed.

        voltage ratio = (1 - r) s + r load s^2

    Parameters: floats or arrays, zero and above. `load_ratio` is the torque at one speed against the
    rated one (density, a stiff bearing); torque goes with the square of speed. `drop_share` r is the
    part of the rated voltage lost in the winding and brushes, from 0 to below 1. The current ratio is
    load s^2; at a standing shaft that is the voltage ratio over r.
    Valid for: a motor straight on the supply; one with electronics holds its speed until it cannot.
    Basis: motor_law.
    """
    drop = np.asarray(drop_share, dtype=np.float64)
    free = 1.0 - drop
    volts = np.asarray(voltage_ratio, dtype=np.float64)
    return plain(2.0 * volts / (free + np.sqrt(free * free + 4.0 * drop * load_ratio * volts)))

"""The lumped circuit: heat balances solved here again, and flow's part in each temperature."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.circuit.lumped import (
    COLD_WATER_K,
    EMITTER_RISE_K,
    EMITTER_SHARE,
    LEAST_FLOW,
    METAL_SHARE,
    RATED_RISE_K,
    ROOM_K,
    SWITCHES_BELOW_K,
    Circuit,
    Stream,
    circuit,
    mean_coolant_k,
    stream,
)
from lightoff.physics.coolant import HALF_J_M3_K

HEAT_W, VOLUME_M3, OFF_K, START_K = 9_000.0, 0.016, 353.15, 288.15
FADING_W_K = 6.0
ORDER = {
    "flow": 1.0,
    "air_share": 0.0,
    "low_share": 0.0,
    "pump_open": 0.0,
    "emitter": 1.0,
    "zone_shut": 0.0,
    "leaked_share": 0.0,
}


def moved(**changed: float) -> Stream:
    ends = {key: np.array([changed.get(key, usual)]) for key, usual in ORDER.items()}
    return stream(rated_heat_w=HEAT_W, **ends)


def mean(coolant: Stream, *, heat_w: float = HEAT_W, off_k: float = OFF_K) -> float:
    found = mean_coolant_k(
        coolant,
        cold_heat_w=np.array([heat_w]),
        cold_k=333.15,
        fading_w_k=np.array([FADING_W_K]),
        thermostat_k=np.array([off_k]),
        start_k=START_K,
    )
    return float(found[0])


def run(
    coolant: Stream, *, heat_w: float = HEAT_W, low: float = 0.0, hot_water: float = 1.0, load_w: float = 0.0
) -> Circuit:
    return circuit(
        coolant,
        heat_w=np.array([heat_w]),
        mean_k=np.array([mean(coolant, heat_w=heat_w)]),
        coolant_j_m3_k=HALF_J_M3_K,
        volume_m3=VOLUME_M3,
        start_k=START_K,
        thermostat_k=np.array([OFF_K]),
        low_share=np.array([low]),
        hot_water=np.array([hot_water]),
        load_w=load_w,
    )


def test_in_order_it_rises_as_rated_and_its_thermostat_ends_the_run() -> None:
    seen = run(moved())
    assert seen.rise_k[0] == pytest.approx(RATED_RISE_K)
    assert seen.supply_k[0] - seen.return_k[0] == pytest.approx(RATED_RISE_K)
    assert mean(moved()) == pytest.approx(OFF_K - SWITCHES_BELOW_K)
    assert seen.emitted_share[0] > 0.9
    assert seen.tap_k[0] > 330.0


@given(heat=st.floats(2_000.0, 12_000.0), emitter=st.floats(0.3, 1.5), leaked=st.floats(0.0, 0.6))
def test_below_its_thermostat_rooms_take_what_the_heater_gives(
    heat: float, emitter: float, leaked: float
) -> None:
    coolant = moved(emitter=emitter, leaked_share=leaked)
    t = mean(coolant, heat_w=heat, off_k=1000.0)
    given_w = (heat - FADING_W_K * (t - 333.15)) * (1.0 - 0.5 * leaked)
    rooms_w_k = EMITTER_SHARE * HEAT_W / EMITTER_RISE_K * emitter
    assert given_w == pytest.approx(rooms_w_k * (t - ROOM_K), rel=1e-9)
    assert mean(coolant, heat_w=heat) == min(t, OFF_K - SWITCHES_BELOW_K)


@pytest.mark.parametrize("key", ["air_share", "low_share", "pump_open"])
@given(little=st.floats(0.0, 0.7), more=st.floats(0.01, 0.3))
def test_what_hinders_the_flow_widens_the_rise_and_heats_the_peak(
    key: str, little: float, more: float
) -> None:
    less, most = moved(**{key: little}), moved(**{key: little + more})
    assert most.flow_m3_s[0] <= less.flow_m3_s[0]
    assert run(most).rise_k[0] >= run(less).rise_k[0]
    assert run(most).peak_k[0] >= run(less).peak_k[0]


def test_a_dead_pump_leaves_a_trickle_that_boils_at_the_heater_and_cold_rooms() -> None:
    dead = moved(pump_open=1.0)
    assert dead.flow_ratio[0] == LEAST_FLOW
    assert run(dead).peak_k[0] > OFF_K + 50.0
    assert dead.rooms_share[0] < 0.5


def test_warm_up_is_heat_over_what_must_be_warmed() -> None:
    seen = run(moved())
    capacity = HALF_J_M3_K * VOLUME_M3 * (1.0 + METAL_SHARE)
    assert seen.warm_up_k_s[0] == pytest.approx(HEAT_W / capacity)
    assert seen.warm_up_s[0] == pytest.approx((OFF_K - START_K) * capacity / HEAT_W)
    assert run(moved(), load_w=3_000.0).warm_up_k_s[0] == pytest.approx(6_000.0 / capacity)
    assert run(moved(leaked_share=0.4)).warm_up_k_s[0] == pytest.approx(0.6 * HEAT_W / capacity)


def test_a_scaled_exchanger_gives_a_lukewarm_tap_at_hot_coolant() -> None:
    good, scaled = run(moved()), run(moved(), hot_water=0.4)
    assert scaled.supply_k[0] == good.supply_k[0]
    assert COLD_WATER_K < scaled.tap_k[0] < good.tap_k[0] - 15.0


def test_a_check_valve_that_passes_takes_heat_from_the_rooms() -> None:
    assert mean(moved(leaked_share=0.42), heat_w=6_000.0) < mean(moved(), heat_w=6_000.0)


def test_no_heat_leaves_it_as_it_started() -> None:
    cold = run(moved(), heat_w=0.0)
    assert cold.warm_up_k_s[0] == 0.0
    assert np.isfinite(cold.warm_up_s[0])
    assert cold.return_k[0] >= START_K

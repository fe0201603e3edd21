"""The forward model: a heater's sheet, its conditions and what is wrong with it, to every reading.

Nothing else in the project knows how a fault shows. Faces, fault finding, bands and the demo shop ask here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from lightoff.circuit.lumped import Circuit, circuit
from lightoff.heater import air_path, burning, fuel_feed, ignition, sequence, spray, supply
from lightoff.heater.gas_side import gas_side, outlet_temperature_k
from lightoff.heater.rating import CASE_LOSS_SHARE, Rating, jacket_capacity, rate
from lightoff.heater.signs import Seen, signs
from lightoff.physics import air
from lightoff.physics.altitude import REFERENCE_PLACE, Place
from lightoff.physics.exchanger import conductance_with_layer_w_k
from lightoff.physics.fan import motor_speed_ratio
from lightoff.physics.fuel import density_kg_m3, viscosity_m2_s
from lightoff.physics.uncertain import Array
from lightoff.plant.conditions import Conditions
from lightoff.plant.parameters import Shifts
from lightoff.plant.quantities import QUANTITIES
from lightoff.terms.shelf import Sheet

SOOT_W_M_K, SCALE_W_M_K = 0.09, 1.5
"""Conductivity of soot (0.05 to 0.15, from memory, unverified) and of lime scale (judgement)."""
JACKET_M2_PER_W = 3.4e-5
"""Gas-side surface for each rated watt; a third of a square metre for 10 kW. Judgement, no source."""
SENSOR_OHM = 1_500.0
"""Flame sensor lit by a healthy flame, a light-dependent resistor. Judgement, no source."""
PIPE_SHARE = 0.55
"""Pipe surface over gas, above the air. Judgement, no source."""
ROOM_SHARE = 0.004
"""Of the exhaust's CO found in the living space when all of it leaks indoors. Judgement, no source."""
FAN_LOAD_DROP = 0.15
BLOCK = 4_000
"""Rows that go down the chain together: what fits the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """`numeric` (n, quantities), SI, in the order of QUANTITIES, as it would read while the state lasts that
    the quantity needs; `chances` (n, states) by reading; `running` that the flame stands steadily; `lit` that
    the start succeeds; `asked` that the control tries at all; then the hidden state of the flame; each (n,).
    """

    numeric: Array
    chances: Mapping[str, Array]
    running: Array
    lit: Array
    asked: Array
    air_ratio: Array
    efficiency: Array
    smoke_margin: Array
    light_chance: Array


def predict(sheet: Sheet, conditions: Conditions, rows: Array) -> Prediction:
    """Readings and chances for each row of shifts, (n, parameters).

    Deterministic: spreads are the caller's, as rows. Valid for: sea level to 4,000 m, -30 to 45 degC,
    heaters of 2 to 40 kW; outside it follows its formulas without having been thought about.
    """
    rating = rate(sheet, conditions.rated_fuel)
    if len(rows) <= BLOCK:
        return _Chain(rating, conditions, Shifts(rows)).prediction()
    blocks = [
        _Chain(rating, conditions, Shifts(rows[at : at + BLOCK])).prediction()
        for at in range(0, len(rows), BLOCK)
    ]
    return Prediction(
        chances={key: np.concatenate([each.chances[key] for each in blocks]) for key in blocks[0].chances},
        **{
            name: np.concatenate([getattr(each, name) for each in blocks])
            for name in Prediction.__dataclass_fields__
            if name != "chances"
        },
    )


class _Chain:
    """One pass down the chain; each step reads what the steps before it left."""

    def __init__(self, rating: Rating, conditions: Conditions, shifts: Shifts) -> None:
        self.rating, self.conditions, self.shifts = rating, conditions, shifts
        self.sheet = rating.sheet
        self.n = shifts.rows.shape[0]
        self.fuel = conditions.fuel
        place = Place.at_altitude(
            conditions.altitude_m,
            air_temperature_k=conditions.air_temperature_k,
            relative_humidity_fraction=conditions.relative_humidity_fraction,
        )
        was_set = Place.at_altitude(
            conditions.set_altitude_m, air_temperature_k=conditions.set_air_temperature_k
        )
        reference = float(np.asarray(REFERENCE_PLACE.dry_air_mol_m3))
        self.density_ratio = float(np.asarray(place.dry_air_mol_m3)) / reference
        self.set_ratio = float(np.asarray(was_set.dry_air_mol_m3)) / reference
        self.pressure_pa = float(np.asarray(air.standard_pressure_pa(conditions.altitude_m)))

    def prediction(self) -> Prediction:
        """The whole chain."""
        self._supply()
        self._air()
        self._fuel()
        self._flame()
        heat = self._jacket()
        self._circuit(heat)
        self._course()
        return Prediction(
            numeric=self._numbers(),
            chances=signs(self._seen()),
            running=self.course.lit * (1.0 - self.course.dies),
            lit=self.course.lit,
            asked=self.course.asked,
            air_ratio=self.air_ratio,
            efficiency=heat / np.maximum(self.feed.burnable_kg_s * self.fuel.net_heating_value_j_kg, 1.0),
            smoke_margin=self.gas.smoke_margin,
            light_chance=self.light.chance,
        )

    def _supply(self) -> None:
        s, sheet = self.shifts, self.sheet
        at_rest = self.rating.rest_v if self.conditions.rest_v is None else self.conditions.rest_v
        battery = np.maximum(at_rest + sheet.supply_v * s.amount("battery_voltage"), 0.1)
        self.fan_conducts = 1.0 - s.share("fan_open")
        self.pump_conducts = 1.0 - s.share("pump_open")
        self.compressor_conducts = 1.0 - s.share("compressor_open")
        drive = (1.0 - s.share("igniter_drive_open")) * (1.0 - s.share("igniter_open"))
        self.leads = supply.Leads(
            battery_v=battery,
            battery_ohm=supply.BATTERY_OHM * s.factor("battery_resistance"),
            supply_ohm=supply.SUPPLY_OHM * s.factor("supply_resistance"),
            ground_ohm=supply.GROUND_OHM * s.factor("ground_resistance"),
            contact_ohm=supply.CONTACT_OHM * s.factor("igniter_contact"),
            igniter_ohm=self.rating.igniter_hot_ohm * s.factor("igniter_resistance"),
            igniter_conducts=drive,
            fan_a=sheet.fan_current_a * self.fan_conducts,
            compressor_a=sheet.compressor_current_a * self.compressor_conducts,
            pump_a=sheet.pump_current_a * self.pump_conducts,
        )
        self.volts = supply.volts(self.rating, self.leads)
        source = supply.BATTERY_OHM + supply.SUPPLY_OHM + supply.GROUND_OHM
        usual = self.rating.rest_v - source * (self.rating.motors_a + supply.CONTROL_CURRENT_A)
        self.running_ratio = self.volts.running_v / usual

    def _air(self) -> None:
        s = self.shifts
        friction = s.factor("fan_friction")
        speed = motor_speed_ratio(
            voltage_ratio=self.running_ratio, load_ratio=friction, drop_share=FAN_LOAD_DROP
        )
        # A longer pipe is a straight resistance: in order 1.5 m and 0.5 m.
        longer_exhaust = 0.5 + 0.5 * self.conditions.exhaust_length_m / 1.5
        longer_inlet = 0.5 + 0.5 * self.conditions.inlet_length_m / 0.5
        self.inlet_restriction = s.factor("inlet_restriction") * longer_inlet
        self.air = air_path.air_flow(
            speed_ratio=np.asarray(speed) * s.factor("fan_speed") * self.fan_conducts,
            inlet_restriction=self.inlet_restriction,
            exhaust_restriction=s.factor("exhaust_restriction") * longer_exhaust,
            exhaust_return=s.share("exhaust_return"),
            # Where it was set, the technician brought the air ratio to the sheet's.
            setting=s.factor("air_setting") * s.factor("fan_law") / self.set_ratio ** self._set_share(),
            density_ratio=self.density_ratio,  # type: ignore[arg-type]
            friction=friction,
        )

    def _set_share(self) -> float:
        """How much of the density a setting makes up for: all of it, less what the feed follows by itself."""
        part, _ = fuel_feed.siphon_part(self.sheet.feed)
        return 1.0 - 0.5 * part

    def _fuel(self) -> None:
        s, conditions = self.shifts, self.conditions
        self.fuel_density = float(np.asarray(density_kg_m3(self.fuel, conditions.fuel_temperature_k)))
        cold = float(np.asarray(viscosity_m2_s(self.fuel, conditions.fuel_temperature_k)))
        self.viscosity = cold * s.factor("viscosity")
        capacity = s.factor("compressor_capacity") * self.compressor_conducts
        self.spray_inputs = {
            "capacity": capacity,
            "speed_ratio": self.running_ratio,
            "intake_restriction": s.factor("intake_restriction"),
            "leak_share": s.share("air_line_leak"),
            "nozzle_air_area": s.factor("nozzle_air_area"),
            "viscosity_ratio": self.viscosity / fuel_feed.USUAL_VISCOSITY_M2_S,
            "density_ratio": np.full(self.n, self.density_ratio),
            "quality": s.factor("spray"),
        }
        first = spray.spray(fuel_ratio=np.ones(self.n), **self.spray_inputs)
        self.feed = fuel_feed.fuel_flow(
            self.rating,
            density_kg_m3=self.fuel_density,
            viscosity_m2_s=self.viscosity,
            lift_m=conditions.lift_m + s.amount("lift"),
            filter_restriction=s.factor("filter_restriction"),
            line_restriction=s.factor("line_restriction"),
            suction_air=s.share("suction_air"),
            water=s.share("water"),
            uncovered=s.share("pickup_uncovered"),
            pump_ratio=s.factor("pump_rate"),
            # A pump that does not pump and a valve behind it that does not open deliver alike: nothing.
            pump_open=1.0 - (1.0 - s.share("pump_open")) * (1.0 - s.share("valve_shut")),
            nozzle_fuel_area=s.factor("nozzle_fuel_area"),
            atomising_ratio=first.pressure_ratio * self.density_ratio,
            siphon_law=s.factor("siphon_law"),
            siphon_part=np.clip(self._siphon_part() + s.amount("feed_law"), 0.0, 1.0),
            atmosphere_pa=self.pressure_pa,
        )
        ratio = self.feed.burnable_kg_s / self.sheet.fuel_flow_kg_s
        self.spray = spray.spray(fuel_ratio=ratio, **self.spray_inputs)
        need = self.feed.burnable_kg_s * self.fuel.stoichiometry.air_mol_kg
        self.air_ratio = np.clip(
            self.rating.air_mol_s * self.air.oxygen_ratio / np.maximum(need, 1e-9), 0.05, 30.0
        )

    def _siphon_part(self) -> float:
        return fuel_feed.siphon_part(self.sheet.feed)[0]

    def _flame(self) -> None:
        s, start = self.shifts, self.conditions.coolant_start_k
        self.light = ignition.ignition(
            rated_w=self.sheet.igniter_w,
            power_w=self.volts.igniter_a**2 * self.leads.igniter_ohm,
            seat=s.factor("igniter_seat"),
            drop_size_ratio=self.spray.drop_size_ratio,
            air_ratio=self.air_ratio,
            delivered_share=self.feed.delivered_share,
            surroundings_k=np.full(self.n, self.conditions.air_temperature_k),
            usual_delay_s=0.5 * (self.sheet.light_off_low_s + self.sheet.light_off_high_s),
            delay_law=s.factor("light_delay"),
        )
        self.gas = burning.gas(
            self.fuel.stoichiometry,
            air_ratio=self.air_ratio,
            drop_size_ratio=self.spray.drop_size_ratio,
            lopsided=s.share("spray_lopsided"),
            tube_soot_m=s.layer("burn_tube_soot"),
            smoke_point=s.amount("smoke_point"),
            co_floor=s.factor("co_floor"),
            co_slope=s.factor("co_slope"),
            cold_k=np.full(self.n, max(333.15 - max(start, 333.15), 0.0)),
        )

    def _jacket(self) -> Array:
        """Heat to the coolant, W. The jacket stands at its working temperature, as steady readings do."""
        s, fuel = self.shifts, np.maximum(self.feed.burnable_kg_s, 1e-9)
        side = gas_side(self.fuel)
        area = JACKET_M2_PER_W * self.sheet.heat_output_w
        clean = self.rating.conductance_w_k * s.factor("heat_exchange")
        # Gas-side transfer goes with gas flow to some 0.6, as in tubes.
        stream = np.maximum(self.feed.burnable_kg_s / self.sheet.fuel_flow_kg_s * self.air_ratio, 1e-3)
        clean = clean * np.clip(stream / self.rating.air_ratio, 0.05, 4.0) ** 0.6
        sooted = np.asarray(
            conductance_with_layer_w_k(
                clean_w_k=clean,
                thickness_m=s.layer("jacket_soot") + 0.3 * s.layer("burn_tube_soot"),
                conductivity_w_m_k=SOOT_W_M_K,
                area_m2=area,
            )
        )
        conductance = np.asarray(
            conductance_with_layer_w_k(
                clean_w_k=sooted,
                thickness_m=s.layer("jacket_scale"),
                conductivity_w_m_k=SCALE_W_M_K,
                area_m2=area,
            )
        )
        burnt = self.gas.burnt_share * s.factor("heating_value") * (1.0 - 0.05 * s.share("tube_crack"))
        flame = side.flame_temperature_k(
            self.air_ratio, self.conditions.air_temperature_k, burnt - CASE_LOSS_SHARE
        )
        water = np.full(self.n, self.sheet.thermostat_off_k - 12.0)
        capacity, growth = jacket_capacity(side, self.air_ratio, fuel, water)
        self.stack_k = outlet_temperature_k(
            inlet_k=np.maximum(flame, water + 5.0),
            water_k=water,
            conductance_w_k=conductance,
            capacity_w_k=capacity,
            growth_per_k=growth,
        )
        gone = side.heat_j_kg(self.air_ratio, flame) - side.heat_j_kg(self.air_ratio, self.stack_k)
        return np.maximum(fuel * gone, 0.0)

    def _circuit(self, heat_w: Array) -> None:
        s, sheet = self.shifts, self.sheet
        self.sensed_off_k = (
            sheet.thermostat_off_k + s.amount("thermostat_offset") - s.amount("coolant_sensor_offset")
        )
        self.circuit: Circuit = circuit(
            heat_w=heat_w,
            rated_heat_w=sheet.heat_output_w,
            volume_m3=sheet.coolant_volume_m3,
            start_k=self.conditions.coolant_start_k,
            thermostat_k=self.sensed_off_k,
            flow=s.factor("coolant_flow"),
            air_share=s.share("coolant_air"),
            low_share=s.share("coolant_low"),
            pump_open=s.share("circulation_open"),
            emitter=s.factor("emitter"),
            zone_shut=s.share("zone_shut"),
            hot_water=s.factor("hot_water_exchange"),
            leaked_share=np.maximum(0.6 * s.share("check_valve_pass"), 0.2 * s.share("engine_leak")),
            load_w=self.conditions.heat_load_w,
        )

    def _course(self) -> None:
        s, sheet = self.shifts, self.sheet
        asked = self._awake() * (1.0 - s.share("call_open")) * (1.0 - s.share("high_limit_open"))
        limit = sheet.high_limit_k + s.amount("high_limit_offset")
        light = s.factor("sensor_gain") * s.factor("flame_light") / s.factor("window_soot")
        self.signal = light * self.gas.brightness
        self.course = sequence.course(
            asked=asked,
            voltage_margin_v=self.volts.trial_v - sheet.low_voltage_cut_out_v,
            supply_v=sheet.supply_v,
            chance=self.light.chance
            * (1.0 - 0.3 * s.share("solvent"))
            * (1.0 - 0.5 * s.share("jacket_leak")),
            tries=sheet.trials,
            delivered_share=self.feed.delivered_share,
            unprimed=s.share("unprimed"),
            bubbles=self.feed.bubbles_share,
            air_ratio=self.air_ratio,
            signal=self.signal,
            false_flame=s.share("false_flame"),
            peak_over_limit_k=self.circuit.peak_k - limit,
            line_time_s=fuel_feed.LINE_VOLUME_M3 / self.rating.fuel_volume_m3_s,
            warm_up_s=self.circuit.warm_up_s,
        )

    def _awake(self) -> Array:
        """Chance-like share of a control that has power and works."""
        return (1.0 - self.shifts.share("power_open")) * (1.0 - self.shifts.share("control_dead"))

    def _numbers(self) -> Array:
        s, sheet, circuit_ = self.shifts, self.sheet, self.circuit
        air_k = self.conditions.air_temperature_k
        leak = s.share("exhaust_leak")
        cold_ohm = self.leads.igniter_ohm * supply.COLD_TO_HOT_RESISTANCE  # unplugged: without its contact
        after = sheet.after_run_s * self.fan_conducts * self._awake()
        mixed = 1.0 - leak
        numbers: dict[str, Array] = {
            # A leak before the probe's hole sucks or blows: it dilutes a little and cools.
            "flue_o2": self.gas.o2 * (1.0 - 0.1 * leak) + 0.1 * leak * 0.2095,
            "flue_co2": self.gas.co2 * (1.0 - 0.1 * leak),
            "flue_co": self.gas.co * (1.0 - 0.1 * leak),
            "stack_gas_temperature": self.stack_k - 0.1 * leak * (self.stack_k - air_k),
            "pipe_surface_temperature": air_k
            + PIPE_SHARE * s.factor("pipe_cooling") * (self.stack_k - air_k) * (0.4 + 0.6 * mixed),
            "smoke_number": self.gas.smoke_number,
            "exhaust_back_pressure": self.air.back_pressure_pa,
            "flame_sensor_signal": SENSOR_OHM / np.maximum(self.signal, 1e-3),
            "time_to_light": self.light.delay_s,
            "run_time_before_stop": self.course.time_to_death_s,
            "after_run_time": after,
            "battery_voltage_rest": self.leads.battery_v,
            "supply_voltage_rest": self.volts.rest_v * (1.0 - s.share("power_open")),
            "supply_voltage_igniter": self.volts.igniting_v,
            "igniter_voltage_at_lead": self.volts.igniter_lead_v * (1.0 - s.share("igniter_drive_open")),
            "igniter_current": self.volts.igniter_a,
            "ground_drop": self.volts.ground_drop_v,
            "igniter_resistance": cold_ohm / np.maximum(1.0 - s.share("igniter_open"), 1e-5),
            "fan_current": sheet.fan_current_a * self.air.fan_current_ratio * self.fan_conducts,
            "compressor_current": sheet.compressor_current_a
            * self.spray.compressor_current_ratio
            * self.compressor_conducts,
            "fuel_pump_current": sheet.pump_current_a * self.running_ratio * self.pump_conducts,
            "atomising_air_pressure": sheet.atomising_gauge_pressure_pa * self.spray.pressure_ratio,
            "fuel_vacuum": self.feed.vacuum_pa,
            "fuel_flow": self.feed.burnable_kg_s,
            "coolant_temperature_supply": circuit_.supply_k,
            "coolant_temperature_return": circuit_.return_k,
            "coolant_flow": circuit_.flow_m3_s,
            "warm_up_rate": circuit_.warm_up_k_s,
            "tap_temperature": circuit_.tap_k,
            "living_space_co_running": 0.5e-6 + leak * self.gas.co * ROOM_SHARE * s.factor("room_dilution"),
        }
        return np.stack([np.broadcast_to(numbers[key], (self.n,)) for key in QUANTITIES], axis=1)

    def _seen(self) -> Seen:
        s, course = self.shifts, self.course
        return Seen(
            asked=course.asked,
            tried=course.tried,
            first_try=course.first_try,
            second_try=course.second_try,
            later_try=course.later_try,
            lit=course.lit,
            dies=course.dies,
            delivered=np.clip(self.feed.delivered_share, 0.0, 1.0),
            # The air that comes behind what an unfilled filter held is seen before it puts the flame out.
            bubbles=1.0 - (1.0 - self.feed.bubbles_share) * (1.0 - 0.6 * s.share("unprimed")),
            smoke_number=self.gas.smoke_number,
            air_ratio=self.air_ratio,
            drop_size_ratio=self.spray.drop_size_ratio,
            lopsided=s.share("spray_lopsided"),
            drip=s.share("drip"),
            weep=s.share("valve_weep"),
            solvent=s.share("solvent"),
            jacket_leak=s.share("jacket_leak"),
            fan_runs=self.fan_conducts,
            fan_friction=s.factor("fan_friction"),
            inlet_restriction=self.inlet_restriction,
            compressor_runs=self.compressor_conducts,
            intake_restriction=s.factor("intake_restriction"),
            compressor_wear=s.factor("compressor_capacity"),
            after_run_runs=self.fan_conducts * self._awake(),
            window_soot=s.factor("window_soot"),
            tube_soot_m=s.layer("burn_tube_soot"),
            tube_crack=s.share("tube_crack"),
            coolant_low=s.share("coolant_low"),
            emitted_share=self.circuit.emitted_share,
            zone_shut=s.share("zone_shut"),
            tap_k=self.circuit.tap_k,
            exhaust_leak=s.share("exhaust_leak"),
        )

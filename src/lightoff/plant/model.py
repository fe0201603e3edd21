"""The forward model: a heater's sheet, its conditions and what is wrong with it, to every reading.

Nothing else in the project knows how a fault shows. Faces, fault finding, bands and the demo shop ask here.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from lightoff.circuit import lumped
from lightoff.ground.values import dataclass
from lightoff.heater import air_path, burning, fuel_feed, ignition, sequence, spray, supply
from lightoff.heater.gas_side import heat_fading_w_k, outlet_temperature_k
from lightoff.heater.rating import CASE_LOSS_SHARE, RATED_WATER_K, jacket_capacity
from lightoff.heater.signs import STATES, Seen, write_signs
from lightoff.physics import air
from lightoff.physics.exchanger import conductance_with_layer_w_k
from lightoff.physics.uncertain import Array
from lightoff.plant.conditions import Conditions
from lightoff.plant.day import Day, day_of
from lightoff.plant.parameters import Shifts
from lightoff.plant.quantities import COLUMN, QUANTITIES
from lightoff.terms.shelf import Sheet

SOOT_W_M_K, SCALE_W_M_K = 0.09, 1.5
"""Conductivity of soot (0.05 to 0.15, from memory, unverified) and of lime scale (judgement)."""
JACKET_M2_PER_W = 3.4e-5
"""Gas-side surface for each rated watt where the sheet tells none; a third of a square metre for 10 kW.
Judgement, no source."""
TUBE_SOOT_INSULATES = 0.3
"""Soot in the burn tube, as so much of the same thickness in the jacket. Judgement, no source."""
STREAM_POWER = 0.6
"""Gas-side transfer goes with the gas flow to this power, between a tube's 0.8 and
radiation's nought. Judgement, no source."""
CRACK_HEAT = 0.05
"""Of the fuel's heat, lost past a burn tube that is wholly cracked. Judgement, no source."""
SENSOR_OHM = 1_500.0
"""Flame sensor lit by a healthy flame, a light-dependent resistor. Judgement, no source."""
PIPE_SHARE = 0.55
"""Pipe surface over gas, above the air. Judgement, no source."""
ROOM_SHARE = 0.004
"""Of the exhaust's CO found in the living space when all of it leaks indoors. Judgement, no source."""
ROOM_CO = 0.5e-6
"""In a living space with all in order. Judgement, no source."""
LEAK_DILUTES = 0.1
"""Of a leak's share, the air it lets to the probe: it dilutes a little and cools. Judgement, no source."""
USUAL_EXHAUST_M, USUAL_INLET_M, STRAIGHT_SHARE = 1.5, 0.5, 0.5
"""Pipes of an installation in order, and how much of their resistance goes with their length. Judgement."""
TANK_DEPTH_M = 0.4
"""From a full tank to an empty one. Judgement, no source."""
BLOCK = 8_000
"""Rows that go down the chain together: what fits the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """`numeric` (n, quantities), SI, in the order of QUANTITIES, as it would read while the state lasts that
    the quantity needs; `chances` (n, states) by reading, empty where no signs were asked for; `running` that
    the flame stands steadily; `lit` that the start succeeds; `asked` that the control tries at all; then the
    hidden state of the flame, `efficiency` heat to the coolant over the fuel's net heat; each (n,).
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


def predict(sheet: Sheet, conditions: Conditions, rows: Array, *, with_signs: bool = True) -> Prediction:
    """Readings and chances for each row of shifts, (n, parameters).

    Deterministic: spreads are the caller's, as rows. `with_signs=False` leaves out what is seen and heard,
    half of the work. Rows go in blocks, so that beyond the answer memory stays at some megabytes.
    Valid for: sea level to 4,000 m, -30 to 45 degC, heaters of 2 to 40 kW; outside it follows its formulas
    without having been thought about. Raises Declined for fuel colder than 233 K or hotter than 423 K.
    """
    day = day_of(sheet, conditions)
    count = len(rows)
    numeric = np.empty((len(QUANTITIES), count))
    hidden = {name: np.empty(count) for name in _HIDDEN}
    chances = {key: np.empty((states, count)) for key, states in STATES.items()} if with_signs else {}
    for at in range(0, count, BLOCK):
        here = slice(at, min(at + BLOCK, count))
        chain = _Chain(day, Shifts(rows[here]))
        chain.write_numbers(numeric[:, here])
        for name, values in chain.hidden().items():
            hidden[name][here] = values
        if with_signs:
            write_signs(chain.seen(), {key: states[:, here] for key, states in chances.items()})
    return Prediction(
        numeric=numeric.T,
        chances=MappingProxyType({key: states.T for key, states in chances.items()}),
        **hidden,
    )


_HIDDEN = ("running", "lit", "asked", "air_ratio", "efficiency", "smoke_margin", "light_chance")


class _Chain:
    """One pass down the chain; each step reads what the steps before it left."""

    def __init__(self, day: Day, shifts: Shifts) -> None:
        self.day, self.shifts = day, shifts
        self.rating, self.conditions, self.sheet = day.rating, day.conditions, day.rating.sheet
        self._supply()
        self._air()
        self._fuel()
        self._flame()
        self._heat()
        self._course()

    def hidden(self) -> dict[str, Array]:
        """The hidden state of the flame and the start, by name in `Prediction`."""
        heat_j_kg = self.conditions.fuel.net_heating_value_j_kg * self.shifts.factor("heating_value")
        return {
            "running": self.course.lit * (1.0 - self.course.dies),
            "lit": self.course.lit,
            "asked": self.course.asked,
            "air_ratio": self.air_ratio,
            "efficiency": self.heat_w / np.maximum(self.feed.burnable_kg_s * heat_j_kg, 1.0),
            "smoke_margin": self.gas.smoke_margin,
            "light_chance": self.light.chance,
        }

    def _supply(self) -> None:
        s, sheet, conditions = self.shifts, self.sheet, self.conditions
        at_rest = self.rating.rest_v if conditions.rest_v is None else conditions.rest_v
        leads = supply.SUPPLY_OHM if conditions.supply_ohm is None else conditions.supply_ohm
        self.fan_conducts = 1.0 - s.share("fan_open")
        self.pump_conducts = 1.0 - s.share("pump_open")
        self.compressor_conducts = 1.0 - s.share("compressor_open")
        self.leads = supply.Leads(
            battery_v=np.maximum(at_rest + sheet.supply_v * s.amount("battery_voltage"), 0.1),
            battery_ohm=supply.BATTERY_OHM * s.factor("battery_resistance"),
            supply_ohm=leads * s.factor("supply_resistance"),
            ground_ohm=supply.GROUND_OHM * s.factor("ground_resistance"),
            contact_ohm=supply.CONTACT_OHM * s.factor("igniter_contact"),
            igniter_ohm=self.rating.igniter_hot_ohm * s.factor("igniter_resistance"),
            igniter_conducts=(1.0 - s.share("igniter_drive_open")) * (1.0 - s.share("igniter_open")),
            fan_a=sheet.fan_current_a * self.fan_conducts,
            compressor_a=sheet.compressor_current_a * self.compressor_conducts,
            pump_a=sheet.pump_current_a * self.pump_conducts,
        )
        self.volts = supply.volts(self.rating, self.leads)
        self.running_ratio = self.volts.running_v / supply.usual_running_v(self.rating)

    def _air(self) -> None:
        s, conditions = self.shifts, self.conditions
        self.siphon_part = np.minimum(
            np.maximum(fuel_feed.SIPHON_PART[self.sheet.feed] + s.amount("feed_law"), 0.0), 1.0
        )
        self.inlet_restriction = s.factor("inlet_restriction") * _longer(
            conditions.inlet_length_m, USUAL_INLET_M
        )
        # Where it was set, the technician brought the air ratio to the sheet's: the setting makes up for the
        # density there, less the root of it that a siphon's fuel follows by itself.
        made_up = np.exp(np.log(self.day.set_density_ratio) * (0.5 * self.siphon_part - 1.0))
        self.air = air_path.air_flow(
            voltage_ratio=self.running_ratio,
            speed_factor=s.factor("fan_speed") * self.fan_conducts,
            friction=s.factor("fan_friction"),
            inlet_restriction=self.inlet_restriction,
            exhaust_restriction=s.factor("exhaust_restriction")
            * _longer(conditions.exhaust_length_m, USUAL_EXHAUST_M),
            exhaust_return=s.share("exhaust_return"),
            setting=s.factor("air_setting") * s.factor("fan_law") * made_up,
            density_ratio=self.day.density_ratio,
        )

    def _fuel(self) -> None:
        s, conditions, day = self.shifts, self.conditions, self.day
        viscosity = day.fuel_viscosity_m2_s / self.rating.fuel_viscosity_m2_s * s.factor("viscosity")
        self.atomising = spray.atomising_air(
            capacity=s.factor("compressor_capacity") * self.compressor_conducts,
            speed_ratio=self.running_ratio,
            intake_restriction=s.factor("intake_restriction"),
            leak_share=s.share("air_line_leak"),
            nozzle_air_area=s.factor("nozzle_air_area"),
            density_ratio=day.density_ratio,
        )
        self.feed = fuel_feed.fuel_flow(
            self.rating,
            density_kg_m3=day.fuel_density_kg_m3,
            viscosity_ratio=viscosity,
            lift_m=conditions.lift_m
            + TANK_DEPTH_M * (0.5 - conditions.tank_level_fraction)
            + s.amount("lift"),
            filter_restriction=s.factor("filter_restriction"),
            line_restriction=s.factor("line_restriction"),
            suction_air=s.share("suction_air"),
            ring_air=s.share("ring_air"),
            water=s.share("water"),
            uncovered=s.share("pickup_uncovered"),
            pump_ratio=s.factor("pump_rate"),
            # A pump that does not pump and a valve behind it that does not open deliver alike: nothing.
            pump_open=1.0 - self.pump_conducts * (1.0 - s.share("valve_shut")),
            nozzle_fuel_area=s.factor("nozzle_fuel_area"),
            nozzle_suction_ratio=self.atomising.pressure_ratio,
            siphon_law=s.factor("siphon_law"),
            siphon_part=self.siphon_part,
            atmosphere_pa=day.pressure_pa,
        )
        self.fuel_kg_s = np.maximum(self.feed.burnable_kg_s, 1e-9)
        self.drop_size_ratio = spray.drops(
            self.atomising,
            fuel_ratio=self.fuel_kg_s / self.sheet.fuel_flow_kg_s,
            viscosity_ratio=viscosity,
            density_ratio=day.density_ratio,
            quality=s.factor("spray"),
        )
        self.air_ratio = self._air_ratio(self.fuel_kg_s)
        self.full_line_air_ratio = self._air_ratio(np.maximum(self.feed.full_line_kg_s, 1e-9))

    def _air_ratio(self, fuel_kg_s: Array) -> Array:
        need_mol_s = fuel_kg_s * self.conditions.fuel.stoichiometry.air_mol_kg
        ratio = self.rating.air_mol_s * self.air.oxygen_ratio / need_mol_s
        return np.minimum(np.maximum(ratio, 0.05), 30.0)

    def _flame(self) -> None:
        s, fuel = self.shifts, self.conditions.fuel
        self.light = ignition.ignition(
            rated_w=self.sheet.igniter_w,
            power_w=self.volts.igniter_a * self.volts.igniter_a * self.leads.igniter_ohm,
            seat=s.factor("igniter_seat"),
            drop_size_ratio=self.drop_size_ratio,
            air_ratio=self.air_ratio,
            standing_air_ratio=self._air_ratio(np.maximum(self.feed.standing_kg_s, 1e-9)),
            delivered_share=self.feed.delivered_share,
            surroundings_k=self.day.chamber_k,
            usual_delay_s=0.5 * (self.sheet.light_off_low_s + self.sheet.light_off_high_s),
            delay_law=s.factor("light_delay"),
        )
        self.gas = burning.gas(
            fuel.stoichiometry,
            heating_value_j_kg=fuel.net_heating_value_j_kg,
            air_ratio=self.air_ratio,
            drop_size_ratio=self.drop_size_ratio,
            lopsided=s.share("spray_lopsided"),
            tube_soot_m=s.layer("burn_tube_soot"),
            smoke_point=s.amount("smoke_point"),
            co_floor=s.factor("co_floor"),
            co_slope=s.factor("co_slope"),
        )
        light = s.factor("sensor_gain") * s.factor("flame_light") / s.factor("window_soot")
        self.signal = light * self.gas.brightness
        # What smoke there is dims both: with its line full a lean flame smokes hardly more.
        self.full_line_signal = light * burning.brightness(self.full_line_air_ratio, self.gas.smoke_number)

    def _heat(self) -> None:
        """Jacket and circuit agree on one coolant temperature, as steady readings do.

        The jacket is worked out once at the rated coolant; from there its heat falls in a straight line with
        the coolant's temperature. The stack follows from the heat that is left.
        """
        s, sheet, day, fuel = self.shifts, self.sheet, self.day, self.fuel_kg_s
        burnt = self.gas.burnt_share * s.factor("heating_value") * (1.0 - CRACK_HEAT * s.share("tube_crack"))
        flame_k = np.maximum(
            day.gas.flame_temperature_k(
                self.air_ratio, self.conditions.air_temperature_k, burnt - CASE_LOSS_SHARE
            ),
            RATED_WATER_K + 5.0,
        )
        capacity, growth = jacket_capacity(day.gas, self.air_ratio, fuel, RATED_WATER_K)
        outlet_k = outlet_temperature_k(
            inlet_k=flame_k,
            water_k=RATED_WATER_K,
            conductance_w_k=self._conductance_w_k(),
            capacity_w_k=capacity,
            growth_per_k=growth,
        )
        flame_heat = day.gas.heat_j_kg(self.air_ratio, flame_k)
        cold_heat = fuel * (flame_heat - day.gas.heat_j_kg(self.air_ratio, outlet_k))
        fading = heat_fading_w_k(
            inlet_k=flame_k,
            water_k=RATED_WATER_K,
            outlet_k=outlet_k,
            capacity_w_k=capacity,
            growth_per_k=growth,
        )
        thermostat = (
            sheet.thermostat_off_k + s.amount("thermostat_offset") - s.amount("coolant_sensor_offset")
        )
        start_k, low = self.conditions.coolant_start_k, s.share("coolant_low")
        self.coolant = lumped.stream(
            rated_heat_w=sheet.heat_output_w,
            flow=s.factor("coolant_flow"),
            air_share=s.share("coolant_air"),
            low_share=low,
            pump_open=s.share("circulation_open"),
            emitter=s.factor("emitter"),
            zone_shut=s.share("zone_shut"),
            leaked_share=np.maximum(0.6 * s.share("check_valve_pass"), 0.2 * s.share("engine_leak")),
        )
        mean_k = lumped.mean_coolant_k(
            self.coolant,
            cold_heat_w=cold_heat,
            cold_k=RATED_WATER_K,
            fading_w_k=fading,
            thermostat_k=thermostat,
            start_k=start_k,
        )
        self.heat_w = np.maximum(cold_heat - fading * (mean_k - RATED_WATER_K), 0.0)
        self.stack_k = day.gas.temperature_k(self.air_ratio, flame_heat - self.heat_w / fuel)
        self.circuit = lumped.circuit(
            self.coolant,
            heat_w=self.heat_w,
            mean_k=mean_k,
            volume_m3=sheet.coolant_volume_m3,
            coolant_j_m3_k=day.coolant_j_m3_k,
            start_k=start_k,
            thermostat_k=thermostat,
            low_share=low,
            hot_water=s.factor("hot_water_exchange"),
            load_w=self.conditions.heat_load_w,
        )

    def _conductance_w_k(self) -> Array:
        """From gas to coolant, with its soot and scale."""
        s = self.shifts
        area = self.sheet.jacket_area_m2 or JACKET_M2_PER_W * self.sheet.heat_output_w
        gas_flow = self.fuel_kg_s / self.sheet.fuel_flow_kg_s * self.air_ratio / self.rating.air_ratio
        clean = self.rating.conductance_w_k * s.factor("heat_exchange")
        clean = clean * np.minimum(np.maximum(gas_flow, 0.05), 4.0) ** STREAM_POWER
        sooted = conductance_with_layer_w_k(
            clean_w_k=clean,
            thickness_m=s.layer("jacket_soot") + TUBE_SOOT_INSULATES * s.layer("burn_tube_soot"),
            conductivity_w_m_k=SOOT_W_M_K,
            area_m2=area,
        )
        return np.asarray(
            conductance_with_layer_w_k(
                clean_w_k=sooted,
                thickness_m=s.layer("jacket_scale"),
                conductivity_w_m_k=SCALE_W_M_K,
                area_m2=area,
            )
        )

    def _course(self) -> None:
        s, sheet = self.shifts, self.sheet
        # A line that drained by standing is as one that was never filled.
        self.unprimed = 1.0 - (1.0 - s.share("unprimed")) * (1.0 - self.day.drained_share)
        # A control that has power and works.
        self.awake = (1.0 - s.share("power_open")) * (1.0 - s.share("control_dead"))
        self.course = sequence.course(
            asked=self.awake * (1.0 - s.share("call_open")) * (1.0 - s.share("high_limit_open")),
            voltage_margin_v=self.volts.trial_v - sheet.low_voltage_cut_out_v,
            supply_v=sheet.supply_v,
            chance=self.light.chance
            * (1.0 - 0.3 * s.share("solvent"))
            * (1.0 - 0.5 * s.share("jacket_leak")),
            tries=sheet.trials,
            delivered_share=self.feed.delivered_share,
            unprimed=self.unprimed,
            bubbles=self.feed.bubbles_share,
            air_ratio=self.air_ratio,
            full_line_air_ratio=self.full_line_air_ratio,
            signal=self.signal,
            full_line_signal=self.full_line_signal,
            false_flame=s.share("false_flame"),
            peak_over_limit_k=self.circuit.peak_k - (sheet.high_limit_k + s.amount("high_limit_offset")),
            line_time_s=fuel_feed.LINE_VOLUME_M3 / self.rating.fuel_volume_m3_s,
            warm_up_s=self.circuit.warm_up_s,
        )

    def write_numbers(self, into: Array) -> None:
        """Every number, into (quantities, n)."""
        s, sheet, volts, circuit = self.shifts, self.sheet, self.volts, self.circuit
        leak = s.share("exhaust_leak")
        to_probe = LEAK_DILUTES * leak
        undiluted = 1.0 - to_probe
        over_air_k = self.stack_k - self.conditions.air_temperature_k
        cold_ohm = self.rating.igniter_cold_ohm * s.factor("igniter_resistance")  # unplugged
        numbers: Mapping[str, Array] = {
            "flue_o2": self.gas.o2 * undiluted + to_probe * air.OXYGEN_IN_DRY_AIR_FRACTION,
            "flue_co2": self.gas.co2 * undiluted,
            "flue_co": self.gas.co * undiluted,
            "stack_gas_temperature": self.stack_k - to_probe * over_air_k,
            "pipe_surface_temperature": self.conditions.air_temperature_k
            + PIPE_SHARE * s.factor("pipe_cooling") * over_air_k * (1.0 - 0.6 * leak),
            "smoke_number": self.gas.smoke_number,
            "exhaust_back_pressure": self.air.back_pressure_pa,
            "flame_sensor_signal": SENSOR_OHM / np.maximum(self.signal, 1e-3),
            "time_to_light": self.light.delay_s,
            "run_time_before_stop": self.course.time_to_death_s,
            "after_run_time": sheet.after_run_s * self.fan_conducts * self.awake,
            "battery_voltage_rest": self.leads.battery_v,
            "supply_voltage_rest": volts.rest_v * (1.0 - s.share("power_open")),
            "supply_voltage_igniter": volts.igniting_v,
            "igniter_voltage_at_lead": volts.igniter_lead_v * (1.0 - s.share("igniter_drive_open")),
            "igniter_current": volts.igniter_a,
            "ground_drop": volts.ground_drop_v,
            "igniter_resistance": cold_ohm / np.maximum(1.0 - s.share("igniter_open"), 1e-5),
            "fan_current": sheet.fan_current_a * self.air.fan_current_ratio * self.fan_conducts,
            "compressor_current": sheet.compressor_current_a
            * self.atomising.compressor_current_ratio
            * self.compressor_conducts,
            "fuel_pump_current": sheet.pump_current_a * self.running_ratio * self.pump_conducts,
            "atomising_air_pressure": sheet.atomising_gauge_pressure_pa * self.atomising.pressure_ratio,
            "fuel_vacuum": self.feed.vacuum_pa,
            "fuel_flow": self.feed.burnable_kg_s,
            "coolant_temperature_supply": circuit.supply_k,
            "coolant_temperature_return": circuit.return_k,
            "coolant_flow": self.coolant.flow_m3_s,
            "warm_up_rate": circuit.warm_up_k_s,
            "tap_temperature": circuit.tap_k,
            "living_space_co_running": ROOM_CO + leak * self.gas.co * ROOM_SHARE * s.factor("room_dilution"),
        }
        for key, values in numbers.items():
            into[COLUMN[key]] = values

    def seen(self) -> Seen:
        """What the signs are judged by."""
        s, course = self.shifts, self.course
        # The air that comes behind what an unfilled filter held is seen before it puts the flame out.
        primed = 1.0 - 0.6 * self.unprimed
        return Seen(
            asked=course.asked,
            tried=course.tried,
            first_try=course.first_try,
            second_try=course.second_try,
            later_try=course.later_try,
            lit=course.lit,
            dies=course.dies,
            delivered=self.feed.delivered_share,
            line_bubbles=1.0 - (1.0 - self.feed.line_bubbles_share) * primed,
            bubbles=1.0 - (1.0 - self.feed.bubbles_share) * primed,
            smoke_number=self.gas.smoke_number,
            air_ratio=self.air_ratio,
            drop_size_ratio=self.drop_size_ratio,
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
            after_run_runs=self.fan_conducts * self.awake,
            window_soot=s.factor("window_soot"),
            tube_soot_m=s.layer("burn_tube_soot"),
            tube_crack=s.share("tube_crack"),
            coolant_low=s.share("coolant_low"),
            emitted_share=self.circuit.emitted_share,
            zone_shut=s.share("zone_shut"),
            tap_k=self.circuit.tap_k,
            exhaust_leak=s.share("exhaust_leak"),
        )


def _longer(length_m: float, usual_m: float) -> float:
    """Resistance of a pipe of another length over that in order: bends and ends stay."""
    return 1.0 - STRAIGHT_SHARE + STRAIGHT_SHARE * length_m / usual_m

"""The world of zones against conservation, textbook facts, CoolProp and psychrolib, and the spans of published charts.

It must not know how the states are judged.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from random import Random

import numpy as np
import psychrolib  # type: ignore[import-untyped]
import pytest
from CoolProp.CoolProp import PropsSI

from tests.worlds.world import BLOWERS, NO_FAULT, Faults, Request, Settings, State, Weather
from tests.worlds.zones import WORLD
from tests.worlds.zones.batch import Batch
from tests.worlds.zones.cars import Car
from tests.worlds.zones.circuit import evaluate
from tests.worlds.zones.coils import condenser
from tests.worlds.zones.inventory import rest_pressure
from tests.worlds.zones.newton import solve
from tests.worlds.zones.props import FLUIDS, Array, boiling_c, moisture, saturated, vapour, wet_bulb

MOST = {
    "dirt": 0.9, "air_kpa": 500.0, "weak": 0.9, "restriction": 0.95, "valve_open": 1.0,
    "evaporator_air": 0.9, "blend": 0.8, "set_point_k": -12.0, "ice": 0.9,
}  # fmt: skip
MILD = Weather(30.0, 50.0, 101.3)
OPEN = Settings(rpm=1200.0, blower="high", windows="open")
SPANNED = ("high_kpa", "low_kpa", "vent_c", "face_c")
CLOSED = Settings(rpm=1500.0, blower="medium")


@lru_cache(maxsize=1)
def cars() -> tuple[Car, ...]:
    """Fifty cars."""
    rng = Random(11)
    return tuple(WORLD.draw_car(rng) for _ in range(50))


@lru_cache(maxsize=64)
def run(weather: Weather, settings: Settings, faults: Faults = NO_FAULT) -> tuple[State, ...]:
    """All cars in one test."""
    return tuple(WORLD.solve([Request(car, weather, settings, faults) for car in cars()]))


def column(states: tuple[State, ...], name: str) -> Array:
    """One number of every state; NaN where there is no such test."""
    return np.array([getattr(s, name) if s.impossible is None else np.nan for s in states])


def sat(pressure_kpa: Array) -> Array:
    """Saturation temperature [°C] of each car's refrigerant."""
    boiling = boiling_c(np.array([car.fluid for car in cars()]), np.nan_to_num(pressure_kpa, nan=100.0))
    return np.where(np.isnan(pressure_kpa), np.nan, boiling)


def random_requests(count: int, seed: int) -> list[Request]:
    """Any car, weather and settings with none to three faults."""
    rng = Random(seed)
    requests = []
    for k in range(count):
        faults = {name: rng.uniform(0, MOST[name]) for name in rng.sample(list(MOST), k % 4)}
        if k % 5 == 0:
            faults["charge"] = rng.uniform(0.25, 1.6)
        weather = Weather(rng.uniform(8, 46), rng.uniform(15, 90), rng.uniform(70, 102), rng.random())
        settings = Settings(
            rpm=rng.uniform(600, 3500), blower=rng.choice(BLOWERS), air=rng.choice(("recirculated", "outside")),
            fan=rng.choice(("off", "low", "high", "high")), windows=rng.choice(("open", "closed")),
            hood_open=rng.random() < 0.5, running_min=rng.uniform(3, 30), wet_share=rng.choice((0.0, 0.5)),
        )  # fmt: skip
        requests.append(Request(WORLD.draw_car(rng), weather, settings, Faults(**faults)))
    return requests


def test_energy_closes_and_nearly_every_test_settles() -> None:
    states = WORLD.solve(random_requests(250, 1))
    settled = [s for s in states if s.impossible is None]
    assert max(abs(s.imbalance) for s in settled) < 0.01
    for s in settled:
        gap = s.q_condenser_kw - s.q_evaporator_kw - s.work_kw - s.heat_gain_kw
        assert abs(gap) < 0.01 * s.q_condenser_kw
        assert s.work_kw > 0
        assert s.q_evaporator_kw > 0
    assert sum(s.impossible == "unsettled" for s in states) < 0.02 * len(states)


def test_mass_closes() -> None:
    batch = Batch(random_requests(150, 2))
    z, norm = solve(batch)
    point = evaluate(batch, z)
    good = norm < 1e-4
    assert good.mean() > 0.7
    charge = batch["charge"] * batch["charge_share"]
    np.testing.assert_allclose(point.masses.total[good], charge[good], rtol=1e-3)
    assert (point.masses.store[good] > 0).all()


def test_states_are_ordered_and_finite() -> None:
    for s in WORLD.solve(random_requests(150, 3)):
        numbers = [v for v in vars(s).values() if isinstance(v, float)]
        assert np.isfinite(numbers).all()
        if s.impossible is not None:
            continue
        assert 0 < s.share <= 1
        assert s.low_kpa <= s.low_max_kpa <= s.high_min_kpa <= s.high_kpa * (1 + 1e-9)
        if s.running == "cycling":
            assert s.share == pytest.approx(s.on_s / (s.on_s + s.off_s), rel=1e-6)
        else:
            assert s.low_kpa == s.low_max_kpa
            assert s.high_kpa == s.high_min_kpa


def test_the_same_requests_give_the_same_states_in_any_company() -> None:
    requests = random_requests(12, 4)
    together = WORLD.solve(requests)
    assert WORLD.solve(requests) == together
    alone = WORLD.solve(requests[:1])[0]
    assert alone.high_kpa == pytest.approx(together[0].high_kpa, rel=1e-6)
    assert WORLD.draw_car(Random(5)) == WORLD.draw_car(Random(5))


@pytest.mark.parametrize("fluid", [0, 1])
def test_tables_agree_with_coolprop(fluid: int) -> None:
    index = np.array([fluid])
    for t_sat, above in ((-20.3, 17.0), (4.4, 9.0), (51.7, 33.0), (71.2, 5.0)):
        p = PropsSI("P", "T", t_sat + 273.15, "Q", 1, FLUIDS[fluid])
        h = PropsSI("H", "T", t_sat + 273.15, "Q", 1, FLUIDS[fluid]) + above * 1e3
        t, d = (PropsSI(name, "P", p, "H", h, FLUIDS[fluid]) for name in "TD")
        assert saturated("P", index, np.array([t_sat]))[0] == pytest.approx(p / 1e3, rel=2e-3)
        assert boiling_c(index, np.array([p / 1e3]))[0] == pytest.approx(t_sat, abs=0.05)
        assert vapour("T", index, np.array([t_sat]), np.array([above]))[0] == pytest.approx(t - 273.15, abs=0.4)
        assert vapour("D", index, np.array([t_sat]), np.array([above]))[0] == pytest.approx(d, rel=0.01)


def test_humid_air_agrees_with_psychrolib() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    for t, rh, kpa in ((12.0, 0.9, 101.3), (30.0, 0.5, 101.3), (43.0, 0.2, 80.0)):
        w = psychrolib.GetHumRatioFromRelHum(t, rh, kpa * 1e3)
        mine = moisture(np.array([t]), rh, np.array([kpa]))
        assert mine[0] == pytest.approx(w, rel=0.01)
        bulb = psychrolib.GetTWetBulbFromRelHum(t, rh, kpa * 1e3)
        assert wet_bulb(np.array([t]), mine, np.array([kpa]))[0] == pytest.approx(bulb, abs=0.3)


def test_a_strip_is_cross_flow_with_one_side_mixed() -> None:
    """Subcooled strip against Kays and London's closed form, minimum capacity unmixed (from memory)."""
    batch = Batch([Request(car, MILD, OPEN) for car in cars()])
    for name, value in (("ua_ref_c", 1e9), ("pass_share", 0.0), ("zone_vapour_c", 1.0)):
        batch.x[name] = np.full(len(cars()), value)
    m, t_c, part = batch["flow_0"], np.full(len(cars()), 55.0), 0.2
    gas = saturated("H_vapour", batch.fluid, t_c)
    hot = condenser(batch, m, t_c, (gas, np.ones_like(m), np.ones_like(m)), np.full_like(m, part))
    c_air = 1.006 * batch["m_air_c"] * part
    ratio = c_air / (m * saturated("C_liquid", batch.fluid, t_c))
    ntu = batch["ua_air_c"] * (batch["m_air_c"] / batch["air_c"]) ** 0.55 / (1.006 * batch["m_air_c"])
    effectiveness = (1 - np.exp(-ratio * (1 - np.exp(-ntu)))) / ratio
    rise = effectiveness * ratio * (t_c - batch["inlet_c"])
    np.testing.assert_allclose(t_c - hot.t_out, rise, rtol=1e-3)


def test_rest_pressure_is_saturation_or_that_of_vapour() -> None:
    hot = Weather(46.0, 20.0, 101.3)
    requests = [Request(car, hot, OPEN, Faults(charge=share)) for car in cars()[:20] for share in (1.0, 0.2)]
    batch = Batch(requests)
    volume = sum(batch[name] for name in ("v_cond", "v_evap", "v_liquid", "v_suction", "v_discharge", "v_store"))
    density = batch["charge"] * batch["charge_share"] * 1000 / volume
    for k, p in enumerate(rest_pressure(batch)):
        want = PropsSI("P", "T", 319.15, "D", density[k], FLUIDS[batch.fluid[k]]) / 1e3
        assert p == pytest.approx(want, rel=0.02)


def test_dirt_and_air_and_overcharge_raise_the_high_side() -> None:
    base = column(run(MILD, CLOSED), "high_kpa")
    for name, levels in (("dirt", (0.3, 0.6, 0.8)), ("air_kpa", (50.0, 200.0, 500.0))):
        last = base
        for level in levels:
            high = column(run(MILD, CLOSED, Faults(**{name: level})), "high_kpa")
            both = np.isfinite(high) & np.isfinite(last)
            assert both.sum() > 20
            assert (high[both] > last[both]).all()
            last = high
    over = column(run(MILD, OPEN, Faults(charge=1.6)), "high_kpa")
    change = (over / column(run(MILD, OPEN), "high_kpa"))[np.isfinite(over)]
    assert (change > 1 - 1e-3).all()
    assert np.median(change) > 1.05


def test_a_weak_compressor_out_of_stroke_raises_the_low_and_lowers_the_high_side() -> None:
    hot = replace(MILD, ambient_c=38.0)
    before, after = run(hot, OPEN), run(hot, OPEN, Faults(weak=0.5))
    always = (column(before, "share") > 0.999) & (column(after, "share") > 0.999)
    assert always.sum() > 30
    assert (column(after, "low_kpa")[always] > column(before, "low_kpa")[always]).all()
    assert (column(after, "high_kpa")[always] < column(before, "high_kpa")[always]).all()
    assert (column(after, "vent_c")[always] > column(before, "vent_c")[always]).all()


def test_while_regulated_a_weak_compressor_only_works_harder() -> None:
    before, after = run(MILD, CLOSED), run(MILD, CLOSED, Faults(weak=0.3))
    external = np.array([car.regulation in ("variable_external", "electric") for car in cars()])
    regulated = external & (column(after, "share") < 0.99) & (column(before, "share") > 0.05)
    assert regulated.sum() > 7
    assert (column(after, "share")[regulated] > column(before, "share")[regulated] * 1.1).all()
    assert np.abs(column(after, "vent_c") - column(before, "vent_c"))[regulated].max() < 0.5


def test_a_store_hides_the_first_loss_and_not_the_last() -> None:
    before = run(MILD, OPEN)
    slight, great = (run(MILD, OPEN, Faults(charge=share)) for share in (0.9, 0.35))
    for name, limit in (("vent_c", 0.6), ("suction_evaporator_c", 1.5)):
        assert np.nanquantile(np.abs(column(slight, name) - column(before, name)), 0.9) < limit
    heat = column(great, "suction_evaporator_c") - sat(column(great, "low_kpa"))
    assert np.nanmedian(heat) > 12
    assert np.nanmedian(column(great, "vent_c") - column(before, "vent_c")) > 2
    assert np.nanmedian(column(great, "bubbles")) > 0.4


def test_a_restriction_starves_and_an_open_valve_floods() -> None:
    before = run(MILD, OPEN)
    starved, flooded = run(MILD, OPEN, Faults(restriction=0.95)), run(MILD, OPEN, Faults(valve_open=0.8))
    assert np.nanmedian(column(starved, "low_kpa") / column(before, "low_kpa")) < 0.8
    warm = column(starved, "suction_evaporator_c") - sat(column(starved, "low_kpa"))
    assert np.nanmedian(warm) > 15
    wet = column(flooded, "suction_evaporator_c") - sat(column(flooded, "low_kpa"))
    dry = column(before, "suction_evaporator_c") - sat(column(before, "low_kpa"))
    valve = np.array([not car.orifice for car in cars()]) & np.isfinite(wet)
    assert (wet < dry + 0.1)[valve].all()
    assert np.nanmedian(column(flooded, "low_kpa") - column(before, "low_kpa")) > 3


def test_lost_air_and_warm_blend_show_where_they_should() -> None:
    before = run(MILD, OPEN)
    choked, mixed = run(MILD, OPEN, Faults(evaporator_air=0.6)), run(MILD, OPEN, Faults(blend=0.2))
    assert np.nanmax(column(choked, "high_kpa") - column(before, "high_kpa")) < 0
    assert np.nanmedian(column(choked, "vent_c") - column(before, "vent_c")) < -1
    np.testing.assert_allclose(column(choked, "air_share"), 0.4, rtol=0.02)
    assert np.nanmin(column(mixed, "vent_c") - column(before, "vent_c")) > 5
    assert np.nanmedian(np.abs(column(mixed, "low_kpa") / column(before, "low_kpa") - 1)) < 0.03


def test_ice_blocks_only_where_the_coil_freezes() -> None:
    iced = column(run(replace(MILD, ambient_c=38.0), OPEN, Faults(ice=0.8)), "air_share")
    assert np.nanmedian(iced) > 0.97
    frozen = run(MILD, CLOSED, Faults(ice=0.8, set_point_k=-12.0))
    assert np.nanmedian(column(frozen, "air_share")) < 0.5


def test_healthy_spans_are_those_of_published_charts() -> None:
    """Middles of published rows at 30 °C: split 13 to 44 K, evaporating −5 to +12 °C (see the charts' table)."""
    rng = Random(12)
    fleet = [WORLD.draw_car(rng) for _ in range(160)]
    fluid = np.array([car.fluid for car in fleet])
    splits, evaporating = [], []
    for settings in (OPEN, replace(OPEN, rpm=800.0), replace(CLOSED, blower="high")):
        states = WORLD.solve([Request(car, MILD, settings) for car in fleet])
        good = np.array([s.impossible is None for s in states])
        assert good.mean() > 0.97
        high, low, vent, face = (np.array([getattr(s, n) for s in states])[good] for n in SPANNED)
        splits.append(boiling_c(fluid[good], high) - face)
        evaporating.append(boiling_c(fluid[good], low))
        assert 6.5 < np.std(splits[-1]) < 9.5
        over = vent - evaporating[-1]
        assert np.mean((over > 4.5) & (over < 16)) > 0.93
    small, great = np.quantile(np.concatenate(splits), (0.1, 0.98))
    assert small < 14
    assert great > 38
    cold, warm = np.quantile(np.concatenate(evaporating), (0.1, 0.98))
    assert -7 < cold < -1
    assert 9 < warm < 15


def test_condensing_follows_ambient_and_the_vent_follows_the_entering_air() -> None:
    warm, hot = run(MILD, OPEN), run(replace(MILD, ambient_c=38.0), OPEN)
    always = (column(warm, "share") > 0.999) & (column(hot, "share") > 0.999)
    slope = (sat(column(hot, "high_kpa")) - sat(column(warm, "high_kpa"))) / 8
    assert 0.9 < np.median(slope[always]) < 1.3
    entering = column(hot, "return_c") - column(warm, "return_c")
    follow = (column(hot, "vent_c") - column(warm, "vent_c")) / entering
    assert 0.85 < np.median(follow[always]) < 1.1


def test_water_on_the_face_and_a_dead_fan() -> None:
    before = sat(column(run(MILD, OPEN), "high_kpa"))
    wet = sat(column(run(MILD, replace(OPEN, wet_share=0.33)), "high_kpa"))
    assert -6 < np.nanmedian(wet - before) < -2.5
    low = run(MILD, replace(OPEN, fan="low"))
    assert np.nanmin(sat(column(low, "high_kpa")) - before) > 1
    dead = run(MILD, replace(OPEN, fan="off"))
    assert sum(s.impossible == "tripped" for s in dead) > 6

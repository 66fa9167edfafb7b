"""Parameters of the invented cards, samples and loads. None stands for anything that exists."""

from .bench_model import CardModel, LoadModel, SampleModel

SCONCE = CardModel(
    stock_board_power_w=185.0, f_max_mhz=2560.0, f_ref_mhz=2000.0, v_ref_mv=830.0, slope_mv_per_mhz=0.34,
    curvature_mv_per_mhz2=0.00062, v_floor_mv=720.0, switched_w_per_v2_ghz=44.0, leakage_w_per_v2=16.0,
    fixed_w=11.0, memory_mhz=2250.0, memory_w_per_ghz=10.5, resistance_k_per_w=0.232, fan_ref_rpm=1500.0,
    fan_idle_rpm=900.0, fan_max_rpm=3000.0, fan_start_c=46.0, fan_rpm_per_k=36.0, quiet_fan_rpm=1300.0,
    hotspot_k_per_w=0.075,
)  # fmt: skip
"""Ships high on a steep voltage curve: power can be shed freely."""

PLOVER = CardModel(
    stock_board_power_w=112.0, f_max_mhz=2310.0, f_ref_mhz=1800.0, v_ref_mv=805.0, slope_mv_per_mhz=0.13,
    curvature_mv_per_mhz2=0.00006, v_floor_mv=760.0, switched_w_per_v2_ghz=45.5, leakage_w_per_v2=9.0,
    fixed_w=7.0, memory_mhz=1875.0, memory_w_per_ghz=7.2, resistance_k_per_w=0.345, fan_ref_rpm=1400.0,
    fan_idle_rpm=800.0, fan_max_rpm=2600.0, fan_start_c=45.0, fan_rpm_per_k=34.0, quiet_fan_rpm=1100.0,
    hotspot_k_per_w=0.085,
)  # fmt: skip
"""Ships near the foot of a flat curve: close to its efficient point already."""

CURLEW = CardModel(
    stock_board_power_w=290.0, f_max_mhz=2480.0, f_ref_mhz=1900.0, v_ref_mv=815.0, slope_mv_per_mhz=0.30,
    curvature_mv_per_mhz2=0.00045, v_floor_mv=715.0, switched_w_per_v2_ghz=78.0, leakage_w_per_v2=27.0,
    fixed_w=16.0, memory_mhz=2500.0, memory_w_per_ghz=15.0, resistance_k_per_w=0.150, fan_ref_rpm=1500.0,
    fan_idle_rpm=750.0, fan_max_rpm=2700.0, fan_start_c=44.0, fan_rpm_per_k=40.0, quiet_fan_rpm=980.0,
    hotspot_k_per_w=0.066,
)  # fmt: skip
"""A big card with much cooler and much leakage."""

CARDS: dict[str, CardModel] = {
    "fernhythe-sconce": SCONCE, "tarnbeck-plover": PLOVER, "tarnbeck-curlew": CURLEW,
}  # fmt: skip

SAMPLES: dict[tuple[str, str], SampleModel] = {
    ("fernhythe-sconce", "a"): SampleModel(
        curve_shift_mv=0.0, leakage_factor=1.0, resistance_factor=1.0, guard_mv=109.0, guard_width_mv=3.2,
        memory_guard_mhz=420.0, sensor_gain=0.972, sensor_offset_w=0.8,
    ),
    ("fernhythe-sconce", "b"): SampleModel(
        curve_shift_mv=9.0, leakage_factor=1.22, resistance_factor=1.05, guard_mv=118.0, guard_width_mv=3.2,
        memory_guard_mhz=390.0, sensor_gain=1.031, sensor_offset_w=-0.6,
    ),
    ("fernhythe-sconce", "c"): SampleModel(
        curve_shift_mv=-11.0, leakage_factor=0.9, resistance_factor=0.97, guard_mv=77.0, guard_width_mv=3.6,
        memory_guard_mhz=460.0, sensor_gain=1.012, sensor_offset_w=0.3,
    ),
    ("tarnbeck-plover", "p"): SampleModel(
        curve_shift_mv=2.0, leakage_factor=1.05, resistance_factor=1.0, guard_mv=41.0, guard_width_mv=2.8,
        memory_guard_mhz=300.0, sensor_gain=1.024, sensor_offset_w=0.4,
    ),
    ("tarnbeck-curlew", "k"): SampleModel(
        curve_shift_mv=-4.0, leakage_factor=1.0, resistance_factor=1.0, guard_mv=94.0, guard_width_mv=3.4,
        memory_guard_mhz=520.0, sensor_gain=0.961, sensor_offset_w=1.1,
    ),
}  # fmt: skip

GLASSHOUSE: dict[str, LoadModel] = {
    "fernhythe-sconce": LoadModel(score_ref=5610.0, core_share=0.60, activity=1.0),
    "tarnbeck-plover": LoadModel(score_ref=3480.0, core_share=0.80, activity=1.0),
}
MILLRACE: dict[str, LoadModel] = {
    "tarnbeck-curlew": LoadModel(score_ref=1490.0, core_share=0.66, activity=1.02),
    "tarnbeck-plover": LoadModel(score_ref=612.0, core_share=0.74, activity=0.90),
}

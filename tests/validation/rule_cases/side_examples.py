"""What breaks the rules of sides, stones, flow, energy and drains, and what leaves them unjudged."""

from __future__ import annotations

from tests.validation.rule_cases.changes import Example
from tests.validation.rule_cases.whole_case import RIGHT, day

# The kidney was lost in the year of the operation, and no more is known.
LOST_THAT_YEAR = {"renal_unit.2.lost_on": day(0).replace(month=1, day=1), "renal_unit.2.lost_on_precision": "year"}

SIDE_EXAMPLES = (
    Example(
        "treated_side.pre_stented_days.without_stent",
        {"treated_side.1.pre_stented": "no"},
        {"treated_side.1.pre_stented": None},
    ),
    Example(
        "treated_side.pre_stented_days.fits_stent",
        {"treated_side.1.pre_stented_days": 60},
        {"treated_side.1.pre_stented_days": None},
    ),
    Example(
        "treated_side.infundibulopelvic_angle_deg.method",
        {"treated_side.1.angle_method": None},
        {"treated_side.1.infundibulopelvic_angle_deg": None},
    ),
    Example(
        "treated_side.conduct_reason.stopped",
        {"treated_side.2.conduct": "completed"},
        {"treated_side.2.conduct": None},
    ),
    Example(
        "treated_side.surgeon_judgement.stopped",
        {"treated_side.1.conduct": "abandoned"},
        {"treated_side.1.conduct": None},
    ),
    Example("treated_side.renal_unit_id.lost_before", {"renal_unit.2.lost_on": day(20)}, LOST_THAT_YEAR, row=3),
    Example(
        "treated_side.exit_strategy.drain_placed",
        {"treated_side.1.exit_strategy": "none"},
        {"treated_side.1.exit_strategy": None},
    ),
    Example(
        "treated_side.wall_injury.sheath_used",
        {"-equipment_use.1": None},
        {"-equipment_use.1": None, "-equipment_use.2": None, "-equipment_use.3": None},
        row=1,
    ),
    Example(
        "treated_side.sheath_furthest.sheath_used",
        {"-equipment_use.1": None},
        {"-equipment_use.1": None, "-equipment_use.2": None, "-equipment_use.3": None},
        row=1,
    ),
    Example("stone.width_mm.within_length", {"stone.1.width_mm": 13.0}, {"stone.1.width_mm": None}),
    Example("stone.depth_mm.within_length", {"stone.1.depth_mm": 12.5}, {"stone.1.length_mm": None}),
    Example("stone.length_mm.units_suspected", {"stone.1.length_mm": 1.2}, {"stone.1.length_mm": None}),
    Example(
        # pi / 6 x 12 x 9 x 8 = 452 mm3, of which 0.45 is a thousandth: cubic centimetres.
        "stone.volume_mm3.fits_diameters",
        {"stone.1.volume_mm3": 0.45},
        {"stone.1.depth_mm": None},
    ),
    Example("stone.measured_on.before_index", {"stone.1.measured_on": day(1)}, {"stone.1.measured_on": None}),
    Example("stone.measured_slice_mm.ct_only", {"stone.1.measured_by": "ultrasound"}, {"stone.1.measured_by": None}),
    Example("stone.attenuation_hu.measured_by_ct", {"stone.1.measured_by": "kub"}, {"stone.1.measured_by": None}),
    Example("stone.calyx_face.in_calyx", {"stone.1.location": "pelvis"}, {"stone.1.location": None}),
    Example(
        "stone_aim.result.not_started", {"treated_side.1.conduct": "not_started"}, {"stone_aim.1.result": None}, row=1
    ),
    Example(
        "stone_aim.result.access_failed",
        {"treated_side.1.access_gained": "no", "treated_side.1.conduct": "abandoned"},
        {"treated_side.1.access_gained": None},
        row=1,
    ),
    Example(
        "stone_analysis.reported_on.after_sent",
        {"stone_analysis.1.reported_on": day(-2)},
        {"stone_analysis.1.sent_on": None},
    ),
    Example(
        "stone_analysis.sent_on.after_operation",
        {"stone_analysis.1.sent_on": day(-1)},
        {"stone_analysis.1.sent_on": None},
    ),
    Example(
        "analysis_component.share_percent.sum",
        {"analysis_component.1.share_percent": 80.0},
        {"analysis_component.2.share_percent": None},
    ),
    Example(
        # 0.5 J x 20 Hz x 10 min x 60 / 1000 = 6 kJ, of which 7 kJ is more than 15 % off.
        "lithotripsy_setting.total_energy_kj.fits_settings",
        {"lithotripsy_setting.1.total_energy_kj": 7.0},
        {"lithotripsy_setting.1.frequency_hz": None},
    ),
    Example(
        "lithotripsy_setting.power_w.fits_setting",
        {"lithotripsy_setting.1.power_w": 100.0},
        {"lithotripsy_setting.1.pulse_energy_j": None},
    ),
    Example(
        "lithotripsy_setting.emission_min.within_operating",
        {"lithotripsy_setting.1.emission_min": 63.0},
        {"operation.1.operating_min": None},
    ),
    Example(
        "lithotripsy_setting.energy_source.none_given",
        {"lithotripsy_setting.1.energy_source": "none"},
        {"lithotripsy_setting.1.energy_source": "none", "lithotripsy_setting.1.total_energy_kj": None},
    ),
    Example(
        "treated_side.lithotripsy_min.energy_source",
        {"-lithotripsy_setting.1": None},
        {"treated_side.1.lithotripsy_min": None},
        row=1,
    ),
    Example("tract.size_tenths_fr.technique", {"side_technique.2.technique": "flexible"}, {"-side_technique.2": None}),
    Example(
        "shock_wave_session.shocks.technique", {"side_technique.3.technique": "flexible"}, {"-side_technique.3": None}
    ),
    Example(
        "treated_side.suction.sheath_takes_it",
        {"equipment_model.2.suction": "no"},
        {"equipment_model.2.suction": None},
    ),
    Example("treated_side.suction.without_it", {"treated_side.1.suction": "none"}, {"treated_side.1.suction": None}),
    Example(
        "treated_side.pressure_highest_cmh2o.highest",
        {"treated_side.1.pressure_mean_cmh2o": 61.0},
        {"treated_side.1.pressure_mean_cmh2o": None},
    ),
    Example(
        "treated_side.pressure_above_threshold_s.reached",
        {"treated_side.1.pressure_threshold_cmh2o": 60.0},
        {"treated_side.1.pressure_threshold_cmh2o": None},
    ),
    Example(
        "treated_side.irrigation_out_ml.against_in",
        {"treated_side.1.irrigation_out_ml": 3001},
        {"treated_side.1.irrigation_in_ml": None},
    ),
    Example(
        "treated_side.lithotripsy_min.within_operating",
        {"treated_side.1.lithotripsy_min": 63.0},
        {"operation.1.operating_min": None},
    ),
    Example(
        "treated_side.side_operating_min.within_operating",
        {"treated_side.1.side_operating_min": 63},
        {"treated_side.1.side_operating_min": None},
    ),
    Example(
        "treated_side.side_fluoroscopy_s.within_operation",
        {"treated_side.1.side_fluoroscopy_s": 121},
        {"operation.1.fluoroscopy_s": None},
    ),
    Example(
        # 60 minutes and 2 for rounding are 3,720 s.
        "operation.fluoroscopy_s.within_operating",
        {"operation.1.fluoroscopy_s": 3721},
        {"operation.1.operating_min": None},
    ),
    Example("operation.operating_min.within_room", {"operation.1.room_min": 50}, {"operation.1.operating_min": None}),
    Example(
        "drain.removed_on.after_placed",
        {"drain.2.removed_on": day(-1)},
        {"drain.2.removed_on": day(0).replace(day=1), "drain.2.removed_on_precision": "month"},
    ),
    Example(
        "drain.planned_removal_on.after_placed",
        {"drain.2.planned_removal_on": day(-1)},
        {"drain.2.placed_on": day(0).replace(month=1, day=1), "drain.2.placed_on_precision": "year"},
    ),
    Example("drain.placed_on.day_of_operation", {"drain.2.placed_on": day(5)}, {"drain.2.operation_id": None}),
    Example("drain.renal_unit_id.side_operated", {"drain.2.renal_unit_id": RIGHT}, {"-treated_side.1": None}, row=2),
    Example("drain.removed_where.when", {"drain.2.removed_on": None}, {"drain.2.removed_where": None}),
    Example(
        "drain.on_string.stent",
        {"drain.2.on_string": "yes", "drain.2.kind": "nephrostomy"},
        {"drain.2.on_string": None},
    ),
    Example("drain.placed_on.kidney_there", {"renal_unit.2.lost_on": day(20)}, LOST_THAT_YEAR, row=3),
)

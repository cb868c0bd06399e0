"""Yardstick: one row per treated side by plain SQL with window functions, read by pandas.

As a careful analyst would write it for one question: what is recorded of the operation and the side, who did it, the
technique, the stones aimed at, scope and sheath with their ratio, energy, culture, the next treatment of that renal
unit, and of the studies 14 to 90 days after it the one nearest to day 30 with its largest fragment.

    python sql_to_pandas.py REGISTRY_FILE
"""

import json
import sqlite3
import sys
import time

import pandas as pd

BOOK_KEEPING = ("id", "created_at", "created_by", "changed_at", "changed_by", "revision", "batch_id", "as_typed")

QUERY = """
WITH technique AS (
    SELECT treated_side_id, group_concat(technique, '+') AS technique, min(technique) AS main_technique
    FROM (SELECT treated_side_id, technique FROM side_technique ORDER BY treated_side_id, technique)
    GROUP BY treated_side_id
),
numbered_operator AS (
    SELECT p.operation_id, p.operator_id, w.code AS operator, p.grade, p.supervision,
           row_number() OVER (PARTITION BY p.operation_id ORDER BY p.person_number) AS place
    FROM operation_operator p JOIN operator w ON w.id = p.operator_id WHERE p.role = 'first'
),
experience AS (
    SELECT s.id AS side_id,
           rank() OVER (PARTITION BY p.operator_id, t.main_technique ORDER BY o.operated_on) - 1 AS cases_here
    FROM treated_side s
    JOIN operation o ON o.id = s.operation_id
    JOIN numbered_operator p ON p.operation_id = o.id AND p.place = 1
    LEFT JOIN technique t ON t.treated_side_id = s.id
),
burden AS (
    SELECT a.treated_side_id AS side_id, count(*) AS stone_count, max(k.length_mm) AS largest_mm,
           sum(k.length_mm) AS cumulative_mm, sum(k.length_mm * k.width_mm * 0.7853981633974483) AS area_mm2,
           sum(coalesce(k.volume_mm3, k.length_mm * k.width_mm * k.depth_mm * 0.5235987755982988)) AS volume_mm3,
           max(k.attenuation_hu) AS density_hu, max(k.location = 'lower_calyx') AS any_lower_pole,
           max(k.radio_opacity = 'lucent') AS any_radiolucent, group_concat(DISTINCT k.location) AS locations
    FROM stone_aim a JOIN stone k ON k.id = a.stone_id WHERE a.aim = 'aimed_at' GROUP BY a.treated_side_id
),
used AS (
    SELECT u.treated_side_id AS side_id, m.kind, m.model_code, m.shaft_tenths_fr, m.inner_tenths_fr, m.outer_tenths_fr,
           m.length_cm, m.single_use, m.suction AS sheath_suction, m.steerable_tip,
           row_number() OVER (PARTITION BY u.treated_side_id, m.kind
                              ORDER BY u.most_of_lithotripsy = 'yes' DESC, u.use_number DESC) AS place
    FROM equipment_use u JOIN equipment_model m ON m.id = u.equipment_model_id
    WHERE m.kind IN ('scope', 'access_sheath') AND (u.result IN ('passed', 'exchanged') OR u.result IS NULL)
),
sheath_failed AS (
    SELECT u.treated_side_id AS side_id, max(u.result = 'failed') AS sheath_failed
    FROM equipment_use u JOIN equipment_model m ON m.id = u.equipment_model_id WHERE m.kind = 'access_sheath'
    GROUP BY u.treated_side_id
),
energy AS (
    SELECT treated_side_id AS side_id, group_concat(DISTINCT energy_source) AS energy_source,
           group_concat(DISTINCT mode) AS lithotripsy_mode, sum(total_energy_kj) AS total_energy_kj,
           sum(emission_min) AS emission_min
    FROM lithotripsy_setting GROUP BY treated_side_id
),
cultured AS (
    SELECT o.id AS operation_id, max(c.result = 'positive') AS positive_culture_before
    FROM operation o JOIN culture c ON c.patient_id = o.patient_id
    WHERE c.specimen = 'urine' AND c.taken_on BETWEEN date(o.operated_on, '-90 days') AND o.operated_on
    GROUP BY o.id
),
dated AS (
    SELECT s.id AS side_id, s.renal_unit_id, o.operated_on,
           lead(o.operated_on) OVER (
               PARTITION BY s.renal_unit_id ORDER BY o.operated_on, o.day_number, s.id
           ) AS next_on,
           count(*) OVER (PARTITION BY s.operation_id) AS sides_of_operation
    FROM treated_side s JOIN operation o ON o.id = s.operation_id
),
studied AS (
    SELECT d.side_id, e.id AS examination_id, r.id AS reading_id, e.modality, e.slice_mm, e.examined_on, r.finding,
           row_number() OVER (
               PARTITION BY d.side_id
               ORDER BY r.finding IS NULL OR r.finding = 'indeterminate',
                        abs(julianday(e.examined_on) - julianday(d.operated_on) - 30),
                        CASE e.modality WHEN 'second_look' THEN 0 WHEN 'ct' THEN 1 WHEN 'ultrasound' THEN 3
                                        WHEN 'kub' THEN 4 ELSE 5 END,
                        e.slice_mm, e.examined_on DESC, e.id
           ) AS place
    FROM dated d
    JOIN reading r ON r.renal_unit_id = d.renal_unit_id
    JOIN examination e ON e.id = r.examination_id
    WHERE e.not_done IS NULL
      AND julianday(e.examined_on) - julianday(d.operated_on) BETWEEN 14 AND 90
      AND (d.next_on IS NULL OR e.examined_on <= d.next_on)
),
left_over AS (
    SELECT reading_id, max(coalesce(diameter_high_mm, diameter_low_mm)) AS largest_fragment_mm, count(*) AS fragments
    FROM fragment GROUP BY reading_id
)
SELECT p.study_number, w.code AS site, strftime('%Y', o.operated_on) AS year, u.unit, u.anatomy, u.solitary,
       u.prior_stone_surgery, p.sex, p.stone_history, p.research_use, p.died_on, p.died_on_precision,
       o.weight_kg / ((o.height_cm / 100) * (o.height_cm / 100)) AS bmi, d.sides_of_operation > 1 AS bilateral,
       t.technique, n.operator, n.grade, n.supervision, x.cases_here, b.stone_count, b.largest_mm, b.cumulative_mm,
       b.area_mm2, b.volume_mm3, b.density_hu, b.any_lower_pole, b.any_radiolucent, b.locations,
       scope.model_code AS scope_model, scope.shaft_tenths_fr / 10.0 AS scope_fr,
       scope.single_use AS scope_single_use, sheath.model_code AS sheath_model,
       sheath.inner_tenths_fr / 10.0 AS sheath_inner_fr, sheath.outer_tenths_fr / 10.0 AS sheath_outer_fr,
       sheath.length_cm AS sheath_length_cm, sheath.sheath_suction, sheath.steerable_tip AS sheath_steerable,
       1.0 * sheath.inner_tenths_fr / scope.shaft_tenths_fr AS sheath_to_scope_ratio,
       1.0 * scope.shaft_tenths_fr / sheath.inner_tenths_fr AS scope_to_sheath_ratio, f.sheath_failed,
       g.energy_source, g.lithotripsy_mode, g.total_energy_kj, g.emission_min, c.positive_culture_before, d.next_on,
       y.examination_id, y.modality, y.slice_mm, y.examined_on, y.finding, l.largest_fragment_mm, l.fragments,
       {recorded}
FROM treated_side s
JOIN operation o ON o.id = s.operation_id
JOIN patient p ON p.id = o.patient_id
JOIN site w ON w.id = p.site_id
JOIN renal_unit u ON u.id = s.renal_unit_id
JOIN dated d ON d.side_id = s.id
LEFT JOIN technique t ON t.treated_side_id = s.id
LEFT JOIN numbered_operator n ON n.operation_id = o.id AND n.place = 1
LEFT JOIN experience x ON x.side_id = s.id
LEFT JOIN burden b ON b.side_id = s.id
LEFT JOIN used scope ON scope.side_id = s.id AND scope.kind = 'scope' AND scope.place = 1
LEFT JOIN used sheath ON sheath.side_id = s.id AND sheath.kind = 'access_sheath' AND sheath.place = 1
LEFT JOIN sheath_failed f ON f.side_id = s.id
LEFT JOIN energy g ON g.side_id = s.id
LEFT JOIN cultured c ON c.operation_id = o.id
LEFT JOIN studied y ON y.side_id = s.id AND y.place = 1
LEFT JOIN left_over l ON l.reading_id = y.reading_id
ORDER BY s.id
"""


def recorded(connection: sqlite3.Connection) -> str:
    """What is recorded of the operation and the side, column by column."""
    listed = ["s.id AS side_id", "o.id AS operation_id"]
    for alias, table in (("o", "operation"), ("s", "treated_side")):
        for _, name, *_ in connection.execute(f"PRAGMA table_info({table})"):
            if name not in (*BOOK_KEEPING, "operation_id", "note"):
                listed.append(f"{alias}.{name}" + (f" AS {alias}_{name}" if name == "missing_reasons" else ""))
    return ", ".join(listed)


def main() -> None:
    connection = sqlite3.connect(sys.argv[1])
    connection.execute("PRAGMA temp_store = MEMORY")
    started = time.perf_counter()
    query = QUERY.format(recorded=recorded(connection))
    frame = pd.read_sql(query, connection, parse_dates=["operated_on", "examined_on", "next_on", "died_on"])
    seconds = time.perf_counter() - started
    print(json.dumps({"seconds": seconds, "rows": len(frame), "columns": len(frame.columns)}))


if __name__ == "__main__":
    main()

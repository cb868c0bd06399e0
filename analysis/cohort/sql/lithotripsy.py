"""Energy and minutes of lithotripsy of each side, and the urine culture before it.

Energy stated for all settings together is taken as it is; else that of the settings is added up, and is missing when
one laser setting lacks it. The same holds for minutes of emission.

A urine culture counts as before when it was taken on one of the 90 days before the operation, or on its day and is
said to be before it. Positive is any positive one; negative needs a negative one and no positive.
"""

from analysis.cohort.sql.order import exact, rank
from registry.schema.lists_operation import EnergySource

CULTURE_DAYS = 90

LITHOTRIPSY = f"""
CREATE TABLE side_lithotripsy AS
SELECT treated_side_id AS side_id,
       string_agg(DISTINCT energy_source, '+' ORDER BY {rank(EnergySource, "energy_source")}) AS energy_source,
       CASE WHEN count(DISTINCT mode) > 1 THEN 'both' ELSE min(mode) END
           AS lithotripsy_mode,
       CASE WHEN count(total_energy_kj) FILTER (counted = 'total') > 0
            THEN max(total_energy_kj) FILTER (counted = 'total')
            WHEN count(*) FILTER (total_energy_kj IS NULL AND energy_source LIKE '%laser') = 0
            THEN {exact("total_energy_kj")} END AS total_energy_kj,
       CASE WHEN count(emission_min) FILTER (counted = 'total') > 0
            THEN max(emission_min) FILTER (counted = 'total')
            WHEN count(*) FILTER (emission_min IS NULL AND energy_source LIKE '%laser') = 0
            THEN {exact("emission_min")} END AS emission_min
FROM lithotripsy_setting
GROUP BY treated_side_id
"""

CULTURES = f"""
CREATE TABLE operation_culture AS
SELECT o.id AS operation_id,
       CASE WHEN bool_or(c.result = 'positive') THEN 'yes'
            WHEN bool_or(c.result = 'negative') THEN 'no' END AS positive_culture_before
FROM operation o
JOIN culture c ON c.patient_id = o.patient_id
WHERE c.specimen = 'urine'
  AND c.taken_on >= o.operated_on - {CULTURE_DAYS}
  AND (c.taken_on < o.operated_on OR (c.taken_on = o.operated_on AND c.timing = 'before'))
GROUP BY o.id
"""

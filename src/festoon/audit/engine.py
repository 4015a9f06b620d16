"""The sums of the audit, made by the columnar engine where the rows lie; nothing but sums leaves it."""

from __future__ import annotations

from typing import Any

import duckdb

from festoon.audit.estimates import Estimate, estimate

MEASURES = {
    "margin_cut": "margin after the cut, less planned",
    "crest_cut": "crest after bone work, less planned",
    "sutured": "flap margin after suturing, less planned",
    "healed": "margin at about 6 months, less planned",
    "rebound": "sutured margin less margin at about 6 months, coronal positive",
    "sounding": "crest sounded before less crest at the opened site",
}
"""Name and what is compared; mm, apical positive unless it says otherwise."""
DIMENSIONS = ("all", "practice", "operator", "site_type", "phenotype", "procedure", "template_kind", "distance")
BANDS = ("under 1.5", "1.5 to 2.5", "2.5 to 3.5", "3.5 and more")
"""Sutured margin-to-crest distance, mm: round the published 1, 2, 3 and 4 and more."""
SIX_MONTHS = (137, 273)
"""Days that count as six months: half-way to three and to twelve months. Setting of festoon, no published source."""

# A patient is a number here, for grouping's sake: that two of 100,000 patients share theirs has a chance below 10^-9.
_CLUSTERS = f"""
CREATE OR REPLACE TEMP TABLE clusters AS
WITH picked AS (
  SELECT *, CASE WHEN moment = 'open' THEN 'sounding' WHEN moment = 'suture' THEN 'sutured'
      WHEN quantity = 'crest_level' THEN 'crest_cut' ELSE 'margin_cut' END AS measure,
    CASE WHEN moment = 'open' THEN planned_mm - measured_mm ELSE measured_mm - planned_mm END AS d
  FROM rows WHERE moment <> 'recall' AND planned_mm IS NOT NULL AND measured_mm IS NOT NULL
    AND (moment <> 'suture' OR quantity = 'margin_level')
  UNION ALL BY NAME
  SELECT *, 'healed' AS measure, measured_mm - planned_mm AS d FROM rows
  WHERE moment = 'recall' AND quantity = 'margin_level' AND days BETWEEN {SIX_MONTHS[0]} AND {SIX_MONTHS[1]} AND planned_mm IS NOT NULL
  UNION ALL BY NAME
  SELECT *, 'rebound' AS measure, sutured_mm - measured_mm AS d FROM rows
  WHERE moment = 'recall' AND quantity = 'margin_level' AND days BETWEEN {SIX_MONTHS[0]} AND {SIX_MONTHS[1]} AND sutured_mm IS NOT NULL
)
SELECT * EXCLUDE (who, "case"), hash(practice, "case") AS patient, practice || '/' || coalesce(who, 'not said') AS operator FROM (
SELECT measure, practice, "case", operator AS who,
  any_value(surgery_order) AS surgery_order,
  coalesce(site_type, 'not said') AS site_type, coalesce(phenotype, 'not said') AS phenotype,
  coalesce(procedure, 'not said') AS procedure, coalesce(template_kind, 'not said') AS template_kind,
  CASE WHEN measure <> 'rebound' OR distance_mm IS NULL THEN 'not said' WHEN distance_mm < 1.5 THEN '{BANDS[0]}'
    WHEN distance_mm < 2.5 THEN '{BANDS[1]}' WHEN distance_mm < 3.5 THEN '{BANDS[2]}' ELSE '{BANDS[3]}' END AS distance,
  count(*) AS n, sum(d) AS a, sum(d * d) AS b, count(*) FILTER (abs(d) <= 0.5 + 1e-9) AS w,
  sum(se_mm * se_mm) AS se2, count(se_mm) AS has_se
FROM picked WHERE d IS NOT NULL
GROUP BY ALL)
"""


_SUMS = """count(*) AS patients, sum(n) AS n, sum(a) AS a, sum(b) AS b, sum(w) AS w, sum(n*n) AS nn, sum(n*a) AS na,
    sum(n*b) AS nb, sum(a*a) AS aa, sum(a*b) AS ab, sum(b*b) AS bb, sum(n*w) AS nw, sum(w*w) AS ww"""


def gather(engine: duckdb.DuckDBPyConnection) -> None:
    """Make the temporary table of sums by patient, from which every estimate is made."""
    engine.execute(_CLUSTERS)


def estimates(
    engine: duckdb.DuckDBPyConnection, dimension: str, practice: str | None = None
) -> dict[tuple[str, str], Estimate]:
    """Estimates by measure and by value of a dimension of :data:`DIMENSIONS`; of one practice where one is named."""
    value = "'all'" if dimension == "all" else dimension
    found = engine.execute(
        f"""
        WITH p AS (SELECT measure, {value} AS value, operator AS stratum, patient, sum(n)::DOUBLE AS n, sum(a) AS a, sum(b) AS b,
            sum(w)::DOUBLE AS w, sum(se2) AS se2, sum(has_se) AS has_se FROM clusters
            WHERE (? IS NULL OR practice = ?) {"AND measure = 'rebound'" if dimension == "distance" else ""} GROUP BY ALL)
        SELECT measure, value, stratum, {_SUMS}, CASE WHEN sum(has_se) = sum(n) THEN sum(se2) END AS se2
        FROM p GROUP BY measure, value, stratum ORDER BY measure, value, stratum""",
        [practice, practice],
    )
    return {key: estimate(strata) for key, strata in _by_key(found, ("measure", "value")).items()}


def _by_key(found: duckdb.DuckDBPyConnection, keys: tuple[str, ...]) -> dict[Any, list[dict[str, Any]]]:
    """Records of a query by the values of some columns, in their order."""
    names = [column[0] for column in found.description or ()]
    grouped: dict[Any, list[dict[str, Any]]] = {}
    for values in found.fetchall():
        record = dict(zip(names, values, strict=True))
        grouped.setdefault(tuple(record[key] for key in keys), []).append(record)
    return grouped


def counts(engine: duckdb.DuckDBPyConnection) -> dict[str, Any]:
    """How much there is, and how many cases were operated again (None where not said)."""
    found = engine.execute("""
        WITH p AS (SELECT practice, "case", any_value(operator) AS operator, bool_or(redo) AS redo,
            count(*) AS rows FROM rows GROUP BY practice, "case")
        SELECT sum(rows)::BIGINT, count(*), count(DISTINCT practice), count(DISTINCT (practice, operator)),
            count(*) FILTER (redo), count(redo) FROM p""").fetchone()
    assert found is not None
    return dict(zip(("rows", "cases", "practices", "operators", "redone", "redo_known"), found, strict=True))


def sides(engine: duckdb.DuckDBPyConnection) -> Estimate | None:
    """Left-right: deviation from plan of the right tooth less that of its left fellow, midfacial, at about 6 months."""
    found = engine.execute(f"""
        WITH t AS (SELECT practice, "case", any_value(practice || '/' || coalesce(operator, 'not said')) AS stratum,
            substr(tooth, 2, 1) AS place, substr(tooth, 1, 1) IN ('1', '4') AS is_right,
            substr(tooth, 1, 1) IN ('1', '2') AS is_upper, avg(measured_mm - planned_mm) AS d FROM rows
            WHERE moment = 'recall' AND quantity = 'margin_level' AND site = 'midfacial' AND planned_mm IS NOT NULL
            AND days BETWEEN {SIX_MONTHS[0]} AND {SIX_MONTHS[1]} GROUP BY practice, "case", place, is_right, is_upper),
        s AS (SELECT practice, "case", any_value(stratum) AS stratum,
            avg(d) FILTER (is_right) - avg(d) FILTER (NOT is_right) AS d FROM t
            GROUP BY practice, "case", place, is_upper HAVING d IS NOT NULL),
        p AS (SELECT any_value(stratum) AS stratum, count(*)::DOUBLE AS n, sum(d) AS a, sum(d*d) AS b,
            (count(*) FILTER (abs(d) <= 0.5 + 1e-9))::DOUBLE AS w FROM s GROUP BY practice, "case")
        SELECT stratum, {_SUMS}, NULL AS se2 FROM p GROUP BY stratum ORDER BY stratum""")
    strata = _by_key(found, ())
    return estimate(strata[()]) if strata else None

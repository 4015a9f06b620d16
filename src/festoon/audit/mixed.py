"""Mixed-effects model: sites within teeth within patients within operators.

Restricted maximum likelihood by statsmodels, held to a published fit in ``tests/published/test_audit_mixed.py``.
"""

from __future__ import annotations

import warnings
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import duckdb

from festoon.audit.engine import SIX_MONTHS

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_PATIENTS = 60
"""Patients the model is fitted on, at most: above it a seeded sample is taken and the answer says so."""
LEAST_OPERATORS, LEAST_PATIENTS = 3, 20
"""Fewer, and components of variance are not separated. Setting of festoon, no published source."""


@dataclass(frozen=True)
class MixedFit:
    """Fixed effects with 95 % Wald intervals, and standard deviations of each level, mm."""

    formula: str
    patients: int
    of_patients: int
    sites: int
    seed: int
    fixed: dict[str, tuple[float, float, float]]
    sd_mm: dict[str, float]
    converged: bool
    words: str

    def as_dict(self) -> dict[str, object]:
        """For JSON."""
        return asdict(self)


def fit(formula: str, data: Any, groups: str, inside: Mapping[str, str], *, random: str = "1") -> Any:
    """The fitted model; ``inside`` names the columns of the levels inside a group.

    The random intercept of the group is asked for by name: statsmodels drops it where only variance components are given.
    """
    from statsmodels.regression.mixed_linear_model import MixedLM

    parts = {name: f"0 + C({column})" for name, column in inside.items()} or None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a component at zero warns; convergence is reported instead
        return MixedLM.from_formula(formula, data, groups=data[groups], re_formula=random, vc_formula=parts).fit(
            reml=True
        )


def fit_healed(engine: duckdb.DuckDBPyConnection, seed: int = 1) -> MixedFit | str:
    """The model of healed less planned at about 6 months, or the reason why there is none."""
    where = f"""moment = 'recall' AND quantity = 'margin_level' AND planned_mm IS NOT NULL AND operator IS NOT NULL
        AND days BETWEEN {SIX_MONTHS[0]} AND {SIX_MONTHS[1]}"""
    found = engine.execute(
        f"""SELECT count(DISTINCT (practice, "case")), count(DISTINCT (practice, operator)) FROM rows WHERE {where}"""
    ).fetchone()
    of_patients, operators = found or (0, 0)
    if operators < LEAST_OPERATORS or of_patients < LEAST_PATIENTS:
        return f"no model: {of_patients} patients of {operators} operators; it wants at least {LEAST_PATIENTS} of {LEAST_OPERATORS}"
    data = engine.execute(f"""
        WITH chosen AS (SELECT practice, "case" FROM (SELECT DISTINCT practice, "case" FROM rows WHERE {where})
            ORDER BY md5('{int(seed)}' || practice || '/' || "case") LIMIT {MOST_PATIENTS})
        SELECT measured_mm - planned_mm AS d, practice || '/' || operator AS operator, practice || '/' || "case" AS patient,
            practice || '/' || "case" || '/' || tooth AS tooth, site_type, coalesce(phenotype, 'unknown') AS phenotype
        FROM rows SEMI JOIN chosen USING (practice, "case") WHERE {where} ORDER BY patient, tooth, site, days""").df()
    terms = [name for name in ("site_type", "phenotype") if data[name].nunique() > 1]
    formula = "d ~ " + (" + ".join(terms) or "1")
    result = fit(formula, data, "operator", {"patient": "patient", "tooth": "tooth"})
    interval = result.conf_int()
    names = list(result.model.exog_vc.names)
    sd = {"operator": float(result.cov_re.iloc[0, 0]) ** 0.5}
    sd |= {name: max(float(value), 0.0) ** 0.5 for name, value in zip(names, result.vcomp, strict=True)}
    sd["site and reading"] = float(result.scale) ** 0.5
    used = int(data["patient"].nunique())
    sampled = f"fitted on a seeded sample of {used} of {of_patients} patients; " if used < of_patients else ""
    words = f"{sampled}{operators} operators" + (": their spread is known only roughly" if operators < 10 else "")
    return MixedFit(
        formula, used, int(of_patients), len(data), seed,
        {name: (float(result.fe_params[name]), float(interval.loc[name, 0]), float(interval.loc[name, 1])) for name in result.fe_params.index},
        sd, bool(result.converged), words,
    )  # fmt: skip

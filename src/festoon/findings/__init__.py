"""Why the teeth are short, or why so much gingiva shows: possible causes, each with the evidence for and against it.

Input is the mouth as known (:class:`festoon.model.anatomy.Anatomy`), outcome a ranked tuple of
:class:`festoon.model.plan.Finding`. The weighing is additive and transparent: weights and thresholds stand in
``thresholds``, every line of evidence carries its weight, its numbers and its source. Unknown evidence is unknown,
never evidence against. Method and limits: ``docs/method/findings.md``.
"""

from festoon.findings.assess import assess
from festoon.findings.health import health_cautions, unanswered_health

__all__ = ["assess", "health_cautions", "unanswered_health"]

"""The causes, one family a file, and their registry. The order breaks ties of the ranking and nothing else."""

from collections.abc import Callable

from festoon.findings.causes.ankylosis import ankylosis
from festoon.findings.causes.cant import cant
from festoon.findings.causes.eruption import altered_active_eruption, altered_passive_eruption
from festoon.findings.causes.growth import incomplete_growth
from festoon.findings.causes.jaw import vertical_maxillary_excess
from festoon.findings.causes.lip import hypermobile_lip, short_upper_lip
from festoon.findings.causes.overgrowth import drug_overgrowth, inflammatory_enlargement
from festoon.findings.causes.position import restoration_margin, tooth_position
from festoon.findings.causes.recession import recession
from festoon.findings.causes.recurrence import recurrence
from festoon.findings.causes.small_teeth import small_teeth
from festoon.findings.causes.wear import wear, wear_with_over_eruption
from festoon.findings.mouth import Mouth
from festoon.findings.weighing import Weighed

Cause = Callable[[Mouth], Weighed]

CAUSES: tuple[Cause, ...] = (
    incomplete_growth,
    drug_overgrowth,
    inflammatory_enlargement,
    ankylosis,
    recession,
    wear_with_over_eruption,
    wear,
    altered_passive_eruption,
    altered_active_eruption,
    recurrence,
    vertical_maxillary_excess,
    short_upper_lip,
    hypermobile_lip,
    small_teeth,
    restoration_margin,
    tooth_position,
    cant,
)
"""Every cause that is weighed; at equal support, what must be treated first stands first."""

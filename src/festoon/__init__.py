"""festoon plans, guides and verifies aesthetic crown lengthening.

It informs a licensed clinician; it never decides. The rooms of the package and who may import whom are
described in ``docs/house.md`` and held by an import contract.
"""

from importlib.metadata import version

__version__ = version("festoon")

__all__ = ["__version__"]

"""The settings of one case: what the clinician chose, the defaults for the rest, and where each comes from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeVar

from festoon.errors import Fault, InputRefusedError
from festoon.evidence.defaults import SETTINGS
from festoon.evidence.presets import LATERAL, PHENOTYPE, ZENITH, LateralPreset, PhenotypePreset, Preset, ZenithPreset
from festoon.model.anatomy import Anatomy
from festoon.model.case import Purpose
from festoon.model.dentition import Site, SiteKind
from festoon.model.plan import PresetShown
from festoon.planning.limits import RULES, Force, Limit, default_force


@dataclass(frozen=True)
class Need:
    """The wanted margin-to-crest distance of a kind of site, in mm; ``value`` is None where it cannot be said."""

    value: float | None
    source: str


@dataclass(frozen=True)
class Policy:
    """Every setting a plan uses. Lengths in mm."""

    need_mid: Need
    need_interproximal: Need
    numbers: dict[str, float]
    interdental_ostectomy: bool
    lateral_apical_allowed: bool
    reference_side: str | None
    zenith: ZenithPreset
    lateral: LateralPreset
    phenotype: PhenotypePreset
    forces: dict[Limit, Force] = field(default_factory=dict)
    """Limits held otherwise than by default."""
    printed: dict[str, str] = field(default_factory=dict)
    """Every setting with its value and its source."""

    def __getitem__(self, name: str) -> float:
        return self.numbers[name]

    def need(self, site: Site) -> Need:
        """The need of a site: papilla tip to crest between the teeth, margin to crest elsewhere."""
        return self.need_interproximal if site.kind is SiteKind.INTERPROXIMAL else self.need_mid

    def is_hard(self, limit: Limit, purpose: Purpose) -> bool:
        """Whether the limit stops a plan, or only cautions."""
        return self.forces.get(limit, default_force(limit, purpose)) == "hard"


def policy_of(anatomy: Anatomy, *, basis: str | None = None) -> Policy:
    """The policy of a case.

    Parameters
    ----------
    anatomy : Anatomy
        The mouth as known; its healthy reference sites set an individual need.
    basis : str, optional
        Overrides the case's ``supracrestal_basis``: for the comparison of policies.

    Raises
    ------
    InputRefusedError
        If ``policy.limits`` names no limit, or one that cannot be changed.
    """
    choice = anatomy.case.policy
    _check_overrides(anatomy)
    numbers: dict[str, float] = {}
    printed: dict[str, str] = {}
    for name, setting in SETTINGS.items():
        if isinstance(setting.value, str):
            continue
        chosen = getattr(choice, name, None)
        value = setting.value if chosen is None else chosen
        source = setting.source if chosen is None else "chosen for this case"
        printed[name] = f"{_shown(value)} {setting.unit}".strip() + f" ({source})"
        if not isinstance(setting.value, bool):
            numbers[name] = float(value)
    lateral = _chosen(LATERAL, choice.presets.lateral)
    for name, value in zip(("lateral_coronal_min_mm", "lateral_coronal_max_mm"), lateral.band_mm, strict=True):
        if getattr(choice, name) is None:
            numbers[name] = value
            printed[name] = f"{value:g} mm (preset {lateral.name}: {lateral.source})"
    used_basis = basis or choice.supracrestal_basis or str(SETTINGS["supracrestal_basis"].value)
    mid = _need(anatomy, used_basis, numbers, "supracrestal_midfacial_mm", interproximal=False)
    interproximal = _need(anatomy, used_basis, numbers, "supracrestal_interproximal_mm", interproximal=True)
    printed["supracrestal_basis"] = f"{used_basis}: mid-surface {mid.source}; interproximal {interproximal.source}"
    for name, override in choice.limits.items():
        printed[f"limits.{name}"] = f"{override.force} (chosen for this case: {override.reason})"
    if choice.reference_side:
        printed["reference_side"] = f"{choice.reference_side} (chosen for this case)"
    return Policy(
        need_mid=mid,
        need_interproximal=interproximal,
        numbers=numbers,
        interdental_ostectomy=bool(choice.interdental_ostectomy),
        lateral_apical_allowed=bool(choice.lateral_apical_allowed),
        reference_side=choice.reference_side,
        zenith=_chosen(ZENITH, choice.presets.zenith),
        lateral=lateral,
        phenotype=_chosen(PHENOTYPE, choice.presets.phenotype),
        forces={Limit(name): override.force for name, override in choice.limits.items()},
        printed=dict(sorted(printed.items())),
    )


AnyPreset = TypeVar("AnyPreset", bound=Preset)


def _chosen(presets: tuple[AnyPreset, ...], name: str | None) -> AnyPreset:
    """The preset of that name; the first where none is named."""
    return presets[0] if name is None else next(preset for preset in presets if preset.name == name)


def presets_shown(policy: Policy) -> tuple[PresetShown, ...]:
    """Every preset with its source, the chosen one marked."""
    return (
        *(_preset("zenith", preset, policy.zenith) for preset in ZENITH),
        *(_preset("lateral", preset, policy.lateral) for preset in LATERAL),
        *(_preset("phenotype", preset, policy.phenotype) for preset in PHENOTYPE),
    )


def _preset(quantity: Literal["zenith", "lateral", "phenotype"], preset: Preset, chosen: Preset) -> PresetShown:
    return PresetShown(
        quantity=quantity, name=preset.name, words=preset.words, source=preset.source, chosen=preset is chosen
    )


def _shown(value: float | bool) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else f"{value:g}"


def _check_overrides(anatomy: Anatomy) -> None:
    changeable = [limit.value for limit, rule in RULES.items() if rule.changeable]
    faults = [
        Fault(
            file="case",
            where=f"policy.limits.{name}",
            found=f"{name!r}",
            expected="one of " + ", ".join(changeable),
            do="Name a limit that may be changed; bone is never added and surgery never moves a margin incisally.",
        )
        for name in anatomy.case.policy.limits
        if name not in changeable
    ]
    if faults:
        raise InputRefusedError(faults)


def _need(anatomy: Anatomy, basis: str, numbers: dict[str, float], name: str, *, interproximal: bool) -> Need:
    fixed = Need(numbers[name], f"{numbers[name]:g} mm fixed")
    if basis == "fixed":
        return fixed
    individual = _individual(anatomy, numbers["supracrestal_floor_mm"], interproximal=interproximal)
    if basis == "individual" or individual.value is None or fixed.value is None:
        return individual
    return max(fixed, individual, key=lambda need: need.value or 0.0)


def _individual(anatomy: Anatomy, floor_mm: float, *, interproximal: bool) -> Need:
    """The mean sounding of this patient's healthy reference sites of that kind."""
    soundings = [
        site.sounding.value
        for tooth in anatomy.teeth.values()
        for site in tooth.sites.values()
        if site.healthy_reference
        and site.sounding is not None
        and (site.site.kind is SiteKind.INTERPROXIMAL) == interproximal
    ]
    if not soundings:
        kind = "interproximal" if interproximal else "mid-surface"
        return Need(None, f"unknown: no {kind} site is marked healthy_reference with a sounding")
    mean = sum(soundings) / len(soundings)
    source = f"{mean:.2f} mm, mean of {len(soundings)} healthy reference site(s)"
    reason = anatomy.case.policy.supracrestal_reason
    if mean < floor_mm and not reason:
        return Need(floor_mm, f"{floor_mm:g} mm kept: {source} is below it and no supracrestal_reason is recorded")
    return Need(mean, f"{source}; below {floor_mm:g} because: {reason}" if mean < floor_mm else source)

"""What a mouth allows: the impossible is refused, the unusual is noted, nothing is changed.

Where a quantity has several readings the most favourable ones are compared, so that only what no reading allows is
refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from festoon.model.case import Case, Restoration, SiteChart, Status, ToothChart
from festoon.model.dentition import FACIAL_SITES, LINGUAL_SITES, Site, SiteKind, Tooth
from festoon.records.agreement import disagreements, papilla_disagreements
from festoon.records.concern import SAME_MM, Concern, Path, from_present_edge, known, site_path
from festoon.records.likeness import likeness_concerns
from festoon.records.ranges import range_concerns

_LOOK_AGAIN = "Look again at both readings and where they were written."
_REVERSED_PAPILLA_MM = 2.0
"""A papilla tip may lie apical to the mid-surface margin where the papilla was lost, hardly by more than this (common
practice, no source)."""
_BOTTOM_BELOW_CREST_MM = 1.0
"""A probe may stop this far past a sounding: one in eight soundings is off by more than 1 mm (ERR-003)."""
_KERATINISED_SLACK_MM = 1.0
"""Attached and keratinised width are read apart: common practice, no source."""


@dataclass(frozen=True)
class _Order:
    """Two levels of one site of which the first must not lie apical to the second."""

    coronal: str
    apical: str
    coronal_name: str
    apical_name: str
    do: str
    is_refused: bool = True


_SITE_ORDER = (
    _Order(
        "margin_mm",
        "mucogingival_mm",
        "gingival margin",
        "mucogingival junction",
        f"{_LOOK_AGAIN} A margin in alveolar mucosa has no keratinised tissue left: chart both at one level.",
    ),
    _Order("margin_mm", "crest_mm", "gingival margin", "alveolar crest", f"{_LOOK_AGAIN} Bone is covered by gingiva."),
    _Order("contact_mm", "margin_mm", "contact", "papilla tip", f"{_LOOK_AGAIN} A papilla ends below the contact."),
    _Order(
        "cej_mm",
        "crest_mm",
        "CEJ",
        "alveolar crest",
        "Kept as it stands: it happens where eruption was altered; make sure of the CEJ.",
        is_refused=False,
    ),
)


def concerns(case: Case, *, across_teeth: bool = True) -> tuple[Concern, ...]:
    """Everything impossible or unusual in ``case``.

    Parameters
    ----------
    case : Case
        The case.
    across_teeth : bool
        False where it is not known which tooth is which (no notation): teeth are then not compared with each other.
    """
    found = [*range_concerns(case), *_policy(case)]
    for tooth in case.charted:
        chart = case.teeth[tooth.fdi]
        found += [*_tooth(tooth, chart), *_root(tooth, chart), *_papillae_of_tooth(tooth, chart)]
        for site, entry in chart.sites.items():
            found += _site(tooth, chart, site, entry)
    found += disagreements(case)
    if across_teeth:
        found += [*_roles(case), *_papilla_names(case), *papilla_disagreements(case), *likeness_concerns(case)]
    return tuple(found)


def _policy(case: Case) -> Iterator[Concern]:
    policy = case.policy
    low, high = policy.lateral_coronal_min_mm, policy.lateral_coronal_max_mm
    if low is not None and high is not None and low > high:
        yield Concern(
            ("policy", "lateral_coronal_min_mm"),
            f"{low:g} mm, above lateral_coronal_max_mm = {high:g} mm",
            "the smaller of the two",
            "Exchange the two, or mend one.",
            is_refused=True,
        )


def _site(tooth: Tooth, chart: ToothChart, site: Site, entry: SiteChart) -> Iterator[Concern]:
    if entry.contact_mm and site.kind is not SiteKind.INTERPROXIMAL:
        yield Concern(
            site_path(tooth, site, "contact_mm"),
            f"a contact at the site {site}",
            "contacts at mesial, distal, mesial_lingual and distal_lingual only",
            "Move it to the site between the teeth.",
            is_refused=True,
        )
    for order in _SITE_ORDER:
        yield from _in_order(tooth, chart, site, entry, order)
    yield from _sounding(tooth, chart, site, entry)
    margins, junctions = known(chart, entry, "margin_mm"), known(chart, entry, "mucogingival_mm")
    attached = known(chart, entry, "attached_mm")
    if margins and junctions and attached:
        keratinised = max(junctions) - min(margins)
        if min(attached) > keratinised + _KERATINISED_SLACK_MM:
            yield Concern(
                site_path(tooth, site, "attached_mm"),
                f"{min(attached):g} mm attached, with {keratinised:g} mm from margin to mucogingival junction",
                "attached gingiva no wider than keratinised",
                _LOOK_AGAIN,
                is_refused=True,
            )
    if entry.healthy_reference and not entry.sounding_mm:
        yield Concern(
            site_path(tooth, site, "healthy_reference"),
            "a healthy reference site without a sounding",
            "sounding_mm at a reference site",
            "Kept as it stands; without a sounding it sets no individual need.",
            is_refused=False,
        )


def _in_order(tooth: Tooth, chart: ToothChart, site: Site, entry: SiteChart, order: _Order) -> Iterator[Concern]:
    coronal, apical = known(chart, entry, order.coronal), known(chart, entry, order.apical)
    if order.apical == "crest_mm" and not apical and order.coronal == "cej_mm":
        apical = [m + s for m in known(chart, entry, "margin_mm") for s in known(chart, entry, "sounding_mm")]
    if coronal and apical and min(coronal) > max(apical) + SAME_MM:
        by = min(coronal) - max(apical)
        yield Concern(
            site_path(tooth, site, order.coronal),
            f"the {order.coronal_name} at {min(coronal):g} mm, {by:.2g} mm apical to the {order.apical_name} at "
            f"{max(apical):g} mm",
            f"the {order.coronal_name} coronal to the {order.apical_name}",
            order.do,
            order.is_refused,
        )


def _sounding(tooth: Tooth, chart: ToothChart, site: Site, entry: SiteChart) -> Iterator[Concern]:
    soundings, probings = known(chart, entry, "sounding_mm"), known(chart, entry, "probing_mm")
    if not soundings or not probings or max(soundings) >= min(probings):
        return
    by = min(probings) - max(soundings)
    is_refused = by > _BOTTOM_BELOW_CREST_MM
    yield Concern(
        site_path(tooth, site, "sounding_mm"),
        f"bone at {max(soundings):g} mm from the margin, the bottom of the sulcus at {min(probings):g} mm",
        "sounding at least as deep as probing: bone lies apical to the bottom of the sulcus",
        "Are sounding and probing exchanged? Look again at both." if is_refused else "Kept; sound the site again.",
        is_refused,
    )


def _papillae_of_tooth(tooth: Tooth, chart: ToothChart) -> Iterator[Concern]:
    """The papilla tip lies coronal to the margin in the middle of the same surface."""
    for middle, surface in ((Site.MIDFACIAL, FACIAL_SITES), (Site.MIDLINGUAL, LINGUAL_SITES)):
        margins = known(chart, chart.sites.get(middle, SiteChart()), "margin_mm")
        for site in surface:
            entry = chart.sites.get(site)
            if site.kind is not SiteKind.INTERPROXIMAL or entry is None or not margins:
                continue
            tips = known(chart, entry, "margin_mm")
            if tips and min(tips) > max(margins) + SAME_MM:
                by = min(tips) - max(margins)
                is_refused = by > _REVERSED_PAPILLA_MM
                yield Concern(
                    site_path(tooth, site, "margin_mm"),
                    f"the papilla tip at {min(tips):g} mm, {by:.2g} mm apical to the {middle} margin at "
                    f"{max(margins):g} mm",
                    "the papilla tip coronal to the margin in the middle of the surface",
                    f"Are the values of {site} and {middle} swapped? Look again at both."
                    + ("" if is_refused else " Kept as it stands: it happens where the papilla was lost."),
                    is_refused,
                )


def _tooth(tooth: Tooth, chart: ToothChart) -> Iterator[Concern]:
    here: Path = ("teeth", tooth.fdi)
    if chart.root_cover_mm and chart.restoration is Restoration.NONE:
        yield Concern(
            (*here, "root_cover_mm"),
            f"{chart.root_cover_mm:g} mm of root to be covered, with restoration: none",
            "a restoration, present or planned, wherever root is to be covered",
            "Say restoration: planned, or take root_cover_mm out.",
            is_refused=True,
        )
    if chart.incisal_extension_mm and chart.incisal_extension_mm > 0 and chart.restoration is Restoration.NONE:
        yield Concern(
            (*here, "incisal_extension_mm"),
            f"an edge to be lengthened by {chart.incisal_extension_mm:g} mm, with restoration: none",
            "a restoration where the edge is lengthened",
            "Kept as it stands; say what will lengthen the tooth.",
            is_refused=False,
        )
    widths = known(chart, None, "width_mm")
    for key in ("zenith_offset_mm", "zenith_target_mm"):
        zenith = getattr(chart, key)
        if zenith is None or not widths or abs(zenith) <= max(widths) / 2:
            continue
        yield Concern(
            (*here, key),
            f"a zenith {zenith:g} mm from the middle of a tooth {max(widths):g} mm wide",
            "a zenith within the width of the tooth",
            "Give the distance from the middle of the width, distal positive.",
            is_refused=True,
        )
    if chart.status is not None and not chart.status.is_rooted and chart.status is not Status.EXCLUDED:
        has = [key for key in ("root_apex_mm", "furcation_mm") if getattr(chart, key)]
        has += ["cej_mm"] * any(entry.cej_mm for entry in chart.sites.values())
        if has:
            yield Concern(
                (*here, "status"),
                f"status {chart.status} with {', '.join(has)}",
                "none of these where no natural root stands",
                "Kept but not used; check the status and the tooth.",
                is_refused=False,
            )


def _root(tooth: Tooth, chart: ToothChart) -> Iterator[Concern]:
    """Apex and furcations lie apical to crest and CEJ."""
    here: Path = ("teeth", tooth.fdi)
    apexes = known(chart, None, "root_apex_mm")
    for key, name in (("crest_mm", "alveolar crest"), ("cej_mm", "CEJ"), ("margin_mm", "gingival margin")):
        levels = [(min(found), site) for site, entry in chart.sites.items() if (found := known(chart, entry, key))]
        if apexes and levels and max(levels)[0] >= max(apexes):
            level, site = max(levels)
            yield Concern(
                (*here, "root_apex_mm"),
                f"the apex at {max(apexes):g} mm, not apical to the {name} at {level:g} mm ({site})",
                f"the apex apical to the {name}",
                "Give the level of the apex from the edge; a root length alone is not its level.",
                is_refused=True,
            )
            break
    for surface in chart.furcation_mm:
        entrances = _furcation(chart, surface)
        cejs = [
            mm for site, entry in chart.sites.items() if site.surface == surface for mm in known(chart, entry, "cej_mm")
        ]
        if entrances and cejs and max(entrances) < min(cejs) - SAME_MM:
            yield Concern(
                (*here, "furcation_mm", surface),
                f"the furcation at {max(entrances):g} mm, coronal to the CEJ at {min(cejs):g} mm",
                "the furcation apical to the CEJ",
                "Give its level from the edge; a root trunk alone is not its level.",
                is_refused=True,
            )


def _furcation(chart: ToothChart, surface: str) -> list[float]:
    readings = next((found for name, found in chart.furcation_mm.items() if name == surface), ())
    return [mm for mm in (from_present_edge(reading, chart) for reading in readings) if mm is not None]


def _papilla_names(case: Case) -> Iterator[Concern]:
    """A papilla lies between teeth side by side: by number, or by role where nobody stands between them."""
    beside = {str(pair) for pair in case.neighbours}
    for name in case.papillae:
        right, left = (Tooth(code) for code in name.split("-"))
        if right.is_upper != left.is_upper:
            continue  # told with the key
        if name not in beside and not (right.is_neighbour_of(left) and {right.fdi, left.fdi} - case.teeth.keys()):
            yield Concern(
                ("papillae", name),
                f"a papilla between the {right.name} and the {left.name}, which are no neighbours in this chart",
                "two teeth that stand side by side in one jaw",
                "Name the two teeth on either side of it; where one stands in the place of a missing tooth, say so with its role.",
                is_refused=True,
            )


def _roles(case: Case) -> Iterator[Concern]:
    taken: dict[str, Tooth] = {}
    for tooth in case.charted:
        chart = case.teeth[tooth.fdi]
        path: Path = ("teeth", tooth.fdi, "role")
        role = Tooth(chart.role) if chart.role else tooth
        if role.is_upper != tooth.is_upper:
            yield Concern(
                path,
                f"the role of the {role.name} for the {tooth.name}",
                "a role in the same jaw",
                "Name the tooth in whose place it stands.",
                is_refused=True,
            )
        elif role.is_right != tooth.is_right:
            yield Concern(
                path,
                f"the role of the {role.name} for the {tooth.name}",
                "a role on the same side",
                "Kept as it stands; check the side.",
                is_refused=False,
            )
        if chart.status in (Status.ABSENT, Status.EXCLUDED):
            continue
        if role.fdi in taken:
            yield Concern(
                path,
                f"the role of the {role.name} for both {taken[role.fdi]} and {tooth}",
                "each role once",
                "Kept as it stands; say which of the two is absent or has another role.",
                is_refused=False,
            )
        taken[role.fdi] = tooth

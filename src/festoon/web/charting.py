"""The chart as grids of entries, in the order in which a clinician dictates: tooth by tooth as seen, site by site."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from festoon.model.case import Case, RootForm, SiteChart, Status, ToothChart
from festoon.model.dentition import Site, SiteKind, Tooth, as_seen
from festoon.model.reading import Datum, Reading
from festoon.web.words import N_

Kind = Literal["number", "text", "yes_no", "choice"]
_MID, _ANGLE, _PAPILLA = SiteKind.MID, SiteKind.LINE_ANGLE, SiteKind.INTERPROXIMAL


class Asked(NamedTuple):
    """One quantity that a grid asks for."""

    key: str
    name: str
    meaning: str
    where: tuple[SiteKind, ...] = tuple(SiteKind)
    kind: Kind = "number"
    choices: tuple[str, ...] = ()


OF_TEETH = (
    Asked("status", N_("status"), N_("what stands here"), kind="choice", choices=tuple(s.value for s in Status)),
    Asked("width_mm", N_("width"), N_("greatest width, contact to contact")),
    Asked("edge_height_mm", N_("edge height"), N_("planned incisal edge in the arch frame, apical positive")),
    Asked("root_apex_mm", N_("root apex"), N_("level from the incisal edge")),
)
OF_SITES = (
    Asked("margin_mm", N_("margin"), N_("level from the incisal edge; at the papillae the tip")),
    Asked("probing_mm", N_("probing"), N_("depth from the margin")),
    Asked("sounding_mm", N_("sounding"), N_("margin to bone, under anaesthesia")),
    Asked("cej_mm", N_("CEJ"), N_("level from the incisal edge"), (_MID, _ANGLE)),
    Asked("mucogingival_mm", N_("mucogingival"), N_("level from the incisal edge"), (_MID,)),
    Asked("contact_mm", N_("contact"), N_("apical end of the contact, level from the incisal edge"), (_PAPILLA,)),
    Asked("bone_thickness_mm", N_("bone thickness"), N_("of the plate at the crest"), (_MID, _ANGLE)),
)
MORE_OF_SITES = (
    Asked("crest_mm", N_("crest, read directly"), N_("level from the incisal edge, by open flap or volume")),
    Asked("gingiva_thickness_mm", N_("gingiva thickness"), N_("at the margin"), (_MID,)),
    Asked("attached_mm", N_("attached gingiva"), N_("its width"), (_MID,)),
    Asked("sound_tooth_mm", N_("sound tooth from"), N_("the most coronal level that is sound to the root")),
    Asked("existing_finish_line_mm", N_("finish line now"), N_("margin of a present restoration")),
    Asked("ferrule_mm", N_("ferrule wanted"), N_("in mm of sound tooth above the finish line")),
    Asked("healthy_reference", N_("healthy reference"), N_("its sounding may set this patient's need"), kind="yes_no"),
)
MORE_OF_TEETH = (
    Asked("axis_tip_deg", N_("tip, degrees"), N_("of the long axis seen from the front")),
    Asked("axis_torque_deg", N_("torque, degrees"), N_("of the long axis seen from the side")),
    Asked("rotation_deg", N_("rotation, degrees"), N_("about the long axis")),
    Asked("zenith_offset_mm", N_("zenith today"), N_("from the middle of the width, distal positive")),
    Asked("lip_height_smile_mm", N_("lip line"), N_("its level at this tooth in full smile")),
    Asked("future_width_mm", N_("width to be"), N_("after a space is closed")),
    Asked("role", N_("role"), N_("tooth whose place this one takes, FDI"), kind="text"),
    Asked("root_form", N_("root form"), N_("seen on a film"), kind="choice", choices=tuple(f.value for f in RootForm)),
    Asked("mobility", N_("mobility"), N_("0 to 3")),
    Asked("edge_worn", N_("edge worn"), N_("by wear"), kind="yes_no"),
    Asked("ankylosed", N_("ankylosed"), N_("no give, metallic sound"), kind="yes_no"),
    Asked("lesion", N_("lesion"), N_("at the apex, fracture or caries still to be treated"), kind="yes_no"),
    Asked("inflamed", N_("inflamed"), N_("gingiva inflamed or bracketed on that day"), kind="yes_no"),
    Asked("crowded", N_("crowded"), N_("overlaps a neighbour"), kind="yes_no"),
)

FURCATIONS = tuple(
    Asked(f"furcation_mm.{surface}", name, N_("level of its entrance from the incisal edge"))
    for surface, name in (
        ("facial", N_("furcation, facial")),
        ("mesial", N_("furcation, mesial")),
        ("distal", N_("furcation, distal")),
        ("lingual", N_("furcation, lingual")),
    )
)
"""Asked of premolars and molars only."""
OF_CASE = (
    Asked("reference_side", N_("the side that is right as it is"), "", (), "choice", ("right", "left")),
    Asked("supracrestal_basis", N_("margin to bone, taken from"), "", (), "choice", ("fixed", "individual", "larger")),
    Asked("supracrestal_midfacial_mm", N_("margin to bone, mid-surface, mm"), "", ()),
    Asked("supracrestal_interproximal_mm", N_("papilla to bone, mm"), "", ()),
    Asked("supracrestal_reason", N_("reason for less than 3.0 mm"), "", (), "text"),
    Asked("keratinised_minimum_mm", N_("keratinised tissue left at least, mm"), "", ()),
    Asked("cej_clearance_mm", N_("caution this near to the CEJ, mm"), "", ()),
    Asked("smallest_move_mm", N_("smallest move, mm"), "", ()),
    Asked("length_tolerance_mm", N_("tolerance on a length from proportion, mm"), "", ()),
    Asked("pair_tolerance_mm", N_("tolerance left to right, mm"), "", ()),
    Asked("furcation_clearance_mm", N_("crest to furcation at least, mm"), "", ()),
    Asked("ferrule_mm", N_("ferrule, mm"), "", ()),
    Asked("interdental_ostectomy", N_("bone between the teeth may be cut"), "", (), "yes_no"),
    Asked("lateral_apical_allowed", N_("a lateral may lie apical to the line"), "", (), "yes_no"),
)
"""Limits and tolerances that a clinician sets for a case."""
NAMES = {asked.key: asked.name for asked in (*OF_TEETH, *OF_SITES, *MORE_OF_SITES, *MORE_OF_TEETH, *FURCATIONS)} | {
    "incisal_extension_mm": N_("planned edge"),
    "axis_tip_deg and axis_torque_deg": N_("tip and torque"),
    "width_mm or target_length_mm": N_("width, or a length given by the design"),
    "target_ratio or target_length_mm": N_("width to length, or a length given by the design"),
    "future_width_mm or target_length_mm": N_("width to be, or a length given by the design"),
    "subject.sex": N_("sex, for published sizes"),
    "policy.reference_side": N_("the side that is right as it is"),
    "face.horizontal": N_("Horizontal of the arch frame"),
    "examined_at": N_("Day of the chart"),
    "smile.gingival_display_mm": N_("gingiva shown in the smile, mm"),
    "smile.rest_display_mm": N_("central shown at rest, mm"),
    "smile.lip_length_mm": N_("upper lip at rest, mm"),
    "smile.lip_travel_mm": N_("lip travel to full smile, mm"),
}
"""Entries of a case as the pages name them."""


@dataclass(frozen=True)
class Entry:
    """One field of the chart."""

    path: str
    """The entry of the case."""
    tooth: Tooth
    site: Site | None
    asked: Asked
    """With tooth and site its name is what a screen reader says."""
    text: str
    """What stands there now."""
    readings: tuple[Reading, ...]
    """Behind it, with error, method and day."""
    can_be_typed: bool
    """False where several readings stand there, one from another datum than the edge visible today, or one that was imported: a
    number typed over it would silently mean something else, or stand beside it."""


@dataclass(frozen=True)
class Row:
    """One quantity over all teeth or sites."""

    asked: Asked
    cells: tuple[Entry | None, ...]
    """None where the quantity is not read at that kind of site."""


@dataclass(frozen=True)
class Grid:
    """Rows over the sites of all teeth, a fixed number of sites to a tooth."""

    per_tooth: int
    columns: tuple[tuple[Tooth, Site], ...]
    of_teeth: tuple[Row, ...]
    of_sites: tuple[Row, ...]


@dataclass(frozen=True)
class Chart:
    """The chart of a case as grids."""

    teeth: tuple[Tooth, ...]
    main: Grid
    more_of_teeth: tuple[Row, ...]
    more: Grid
    angles: Grid
    lingual: Grid


def chart_of(case: Case, own: Case | None) -> Chart:
    """The grids of a case, ``own`` being it without the readings that are kept beside it; distal to mesial on the patient's right, mesial to distal on the left."""
    teeth = tuple(as_seen(Tooth(code) for code in case.teeth))

    def of_teeth(asked: Asked) -> Row:
        return Row(asked, tuple(_tooth_cell(case, own, tooth, asked) for tooth in teeth))

    def grid(sites: tuple[Site, ...], of_sites: tuple[Asked, ...], tops: tuple[Asked, ...] = ()) -> Grid:
        columns = tuple((tooth, site) for tooth in teeth for site in (sites if tooth.is_right else sites[::-1]))
        rows = (Row(asked, tuple(_site_cell(case, own, tooth, s, asked) for tooth, s in columns)) for asked in of_sites)
        kept = tuple(row for row in rows if any(row.cells))
        return Grid(len(sites), columns, tuple(of_teeth(asked) for asked in tops), kept)

    has_furcations = any(tooth.position >= 4 for tooth in teeth)
    facial = (Site.DISTAL, Site.MIDFACIAL, Site.MESIAL)
    lingual = (Site.DISTAL_LINGUAL, Site.MIDLINGUAL, Site.MESIAL_LINGUAL)
    return Chart(
        teeth=teeth,
        main=grid(facial, OF_SITES, OF_TEETH),
        more_of_teeth=tuple(of_teeth(asked) for asked in (*MORE_OF_TEETH, *(FURCATIONS if has_furcations else ()))),
        more=grid(facial, MORE_OF_SITES),
        angles=grid((Site.DISTOFACIAL, Site.MESIOFACIAL), OF_SITES),
        lingual=grid(lingual, tuple(asked for asked in OF_SITES if asked.key != "contact_mm")),
    )


def _chart(case: Case | None, tooth: Tooth) -> ToothChart:
    return (case.teeth.get(tooth.fdi) if case else None) or ToothChart()


def _tooth_cell(case: Case, own: Case | None, tooth: Tooth, asked: Asked) -> Entry:
    def value(of: Case | None) -> object:
        key, _, surface = asked.key.partition(".")
        found = getattr(_chart(of, tooth), key)
        return found.get(surface, ()) if surface else found

    return _entry(f"teeth.{tooth}.{asked.key}", tooth, None, asked, value(case), value(own))


def _site_cell(case: Case, own: Case | None, tooth: Tooth, site: Site, asked: Asked) -> Entry | None:
    if site.kind not in asked.where:
        return None

    def value(of: Case | None) -> object:
        return getattr(_chart(of, tooth).sites.get(site, SiteChart()), asked.key)

    return _entry(f"teeth.{tooth}.sites.{site.value}.{asked.key}", tooth, site, asked, value(case), value(own))


def limits_of(case: Case) -> tuple[tuple[str, Asked, str], ...]:
    """What is set for a case: path, what is asked, and what stands there now."""
    return tuple((f"policy.{asked.key}", asked, _text(getattr(case.policy, asked.key))) for asked in OF_CASE)


def _entry(path: str, tooth: Tooth, site: Site | None, asked: Asked, value: object, saved: object) -> Entry:
    if not isinstance(value, tuple):
        return Entry(path, tooth, site, asked, _text(value), (), True)
    text = " | ".join(f"{reading.value:g}" for reading in value)
    is_plain = value == saved and len(value) <= 1 and all(r.datum in (None, Datum.PRESENT_EDGE) for r in value)
    return Entry(path, tooth, site, asked, text, value, is_plain)


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, int | float) else str(value)

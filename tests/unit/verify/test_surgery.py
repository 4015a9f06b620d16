"""The day of surgery on the store: held against the signed plan, undone, retried, signed off, never lost."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from festoon.errors import InputRefusedError
from festoon.model.case import Case
from festoon.model.dentition import Notation, Site
from festoon.model.quantities import Quantity
from festoon.model.reading import Datum
from festoon.model.surgery import ReadingEntry, RemarkEntry, Shape, Step, StepEntry
from festoon.model.verification import Verdict
from festoon.records.demo import demo_case
from festoon.records.reconcile import resolve
from festoon.store import chairside, keeping, looking
from festoon.store.errors import StoreError
from festoon.store.opening import open_store
from festoon.store.store import Store
from festoon.store.verifying import verify as prove
from festoon.verify.bone import bone_checks
from festoon.verify.keys import Asked, typed
from festoon.verify.session import Session
from festoon.workflow import surgery as work
from festoon.workflow.records import keep_case_file, plan_and_keep, sign_kept_plan
from festoon.workflow.stored_plan import signed_plan

CASE = "linden-04"
BY = "op-1"


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a store with one demo case, planned and signed; made once."""
    folder = tmp_path_factory.mktemp("prepared")
    store = open_store(folder / "home")
    path = folder / "case.yaml"
    path.write_bytes(demo_case(CASE))
    keep_case_file(store, path, None, base=None, by=BY, why="test")
    plan_and_keep(store, CASE, by=BY, why="test")
    sign_kept_plan(store, CASE, 1, by=BY, role="surgeon", reason="agreed")
    return folder / "home"


@pytest.fixture
def store(prepared: Path, tmp_path: Path) -> Store:
    """A copy of its own of the prepared store."""
    shutil.copytree(prepared, tmp_path / "home")
    return open_store(tmp_path / "home")


@pytest.fixture
def surgery(store: Store) -> work.Surgery:
    """A surgery begun against the signed plan."""
    return work.start_surgery(store, CASE, 1, by=BY, why="test")


def bone_site(store: Store) -> tuple[str, Site, float, float]:
    """A midfacial site that loses bone: tooth, site, printed target and present crest from the planned edge."""
    plan = signed_plan(store, CASE, 1).plan
    site = next(s for s in plan.paper.sites if s.site is Site.MIDFACIAL and s.bone_removal_mm)
    charted = next(s for s in plan.sites if (s.tooth, s.site) == (site.tooth, site.site))
    assert site.crest_planned_mm is not None
    assert charted.crest_present_mm is not None
    return site.tooth, site.site, site.crest_planned_mm, charted.crest_present_mm


def crest(tooth: str, site: Site, value: float, step: Step = Step.PROBE_BONE) -> ReadingEntry:
    """A crest read from the planned edge."""
    return ReadingEntry(
        step=step, tooth=tooth, site=site, quantity=Quantity.CREST_LEVEL, value=value, datum=Datum.PLANNED_EDGE
    )


def site_of(now: work.SurgeryState, tooth: str, site: Site, quantity: Quantity) -> work.chair.SiteState:
    """The state of one site."""
    return next(s for s in now.sites if (s.tooth, s.site, s.quantity) == (tooth, site, quantity))


def test_the_stored_plan_is_the_one_that_was_signed(store: Store) -> None:
    """Its case is rebuilt to the very hash the plan carries, and an unsigned plan is refused."""
    stored = signed_plan(store, CASE, 1)
    assert stored.notes == ()
    assert stored.plan.fingerprint == stored.sha256
    plan_and_keep(store, CASE, by=BY, why="again")
    with pytest.raises(StoreError, match="not signed"):
        work.start_surgery(store, CASE, 2, by=BY, why="test")


def test_what_remains_is_said_in_words_and_shape(store: Store, surgery: work.Surgery) -> None:
    """0.8 mm short, then at the target, then 0.9 mm beyond: the last reading is the state."""
    tooth, site, target, _ = bone_site(store)
    said = []
    for turn, value in enumerate((target - 0.8, target, target + 0.9)):
        work.enter(store, surgery, crest(tooth, site, value), key=f"key-bone-{turn}", by=BY)
        found = site_of(work.state(store, surgery, resolve=False), tooth, site, Quantity.CREST_LEVEL)
        said.append((found.short, found.shape))
    assert said[0] == ("0.8 mm of bone still to remove", Shape.EMPTY_BOX)
    assert said[1] == ("reached", Shape.TICKED_BOX)
    assert "0.9 mm beyond plan" in said[2][0]
    assert said[2][1] is Shape.OCTAGON


def test_both_targets_stand_side_by_side(store: Store, surgery: work.Surgery) -> None:
    """From the planned edge and from the edge visible today they differ by the extension."""
    tooth, site, target, _ = bone_site(store)
    extension = signed_plan(store, CASE, 1).plan.teeth[tooth].incisal_extension_mm
    assert extension is not None
    found = site_of(work.state(store, surgery, resolve=False), tooth, site, Quantity.CREST_LEVEL)
    assert found.target_mm == pytest.approx(target)
    assert found.target_present_edge_mm == pytest.approx(target - extension)


def test_a_dehiscence_stops_and_the_plan_is_solved_anew(store: Store, surgery: work.Surgery) -> None:
    """Bone seen far apical of the chart before any was cut: said, and less bone is to be taken there."""
    tooth, site, target, _ = bone_site(store)
    work.enter(store, surgery, crest(tooth, site, target + 1.5, Step.PROBE_CUT), key="key-dehis-1", by=BY)
    now = work.state(store, surgery)
    assert now.limits is Verdict.STOP
    assert now.limits_shape is Shape.OCTAGON
    assert any("DEHISCENCE" in check.text for check in now.before)
    assert now.replan is not None
    change = next(change for change in now.replan.teeth if change.tooth == tooth)
    assert (change.bone_after_mm or 0) < (change.bone_before_mm or 0)


@pytest.mark.parametrize(
    ("off", "verdict"),
    [(0.4, Verdict.WITHIN), (0.7, Verdict.RECOMPUTE), (-0.7, Verdict.RECOMPUTE), (1.3, Verdict.STOP)],
)
def test_both_limits_before_cutting(store: Store, surgery: work.Surgery, off: float, verdict: Verdict) -> None:
    """More than 0.5 mm off the chart: recompute; more than 1 mm: stop."""
    tooth, site, _, charted = bone_site(store)
    work.enter(store, surgery, crest(tooth, site, charted + off, Step.PROBE_CUT), key="key-limit-1", by=BY)
    assert work.state(store, surgery, resolve=False).limits is verdict


def test_a_retry_after_a_lost_network_adds_nothing(store: Store, surgery: work.Surgery) -> None:
    """The same key and content is one entry; the same key with another content is refused."""
    tooth, site, target, _ = bone_site(store)
    entry = crest(tooth, site, target)
    assert work.enter(store, surgery, entry, key="key-retry-1", by=BY) == 1
    assert work.enter(store, surgery, entry, key="key-retry-1", by=BY) == 1
    assert len(work.state(store, surgery, resolve=False).entries) == 1
    with pytest.raises(chairside.RepeatedKeyError):
        work.enter(store, surgery, crest(tooth, site, target + 1), key="key-retry-1", by=BY)


def test_undo_takes_back_and_erases_nothing(store: Store, surgery: work.Surgery) -> None:
    """The reading counts no more, stays on record, and the trail still proves itself."""
    tooth, site, target, _ = bone_site(store)
    work.enter(store, surgery, crest(tooth, site, target), key="key-undo-01", by=BY)
    assert work.undo(store, surgery, key="key-undo-02", by=BY) == 2
    assert work.undo(store, surgery, key="key-undo-02", by=BY) == 2
    now = work.state(store, surgery, resolve=False)
    assert site_of(now, tooth, site, Quantity.CREST_LEVEL).check.verdict is Verdict.NOT_READ
    assert [e.is_taken_back for e in now.entries] == [True, False]
    with pytest.raises(StoreError, match="no such entry"):
        work.undo(store, surgery, key="key-undo-03", by=BY)
    assert prove(store).is_whole


def test_the_nurse_types_only_numbers(store: Store, surgery: work.Surgery) -> None:
    """Bare numbers fill the readings asked for, one after the other; each place is asked once."""
    places = []
    for turn in range(4):
        asked = work.state(store, surgery, resolve=False).next
        assert asked is not None
        planned = next(
            s for s in signed_plan(store, CASE, 1).plan.sites if (s.tooth, s.site) == (asked.tooth, asked.site)
        )
        extension = signed_plan(store, CASE, 1).plan.teeth[asked.tooth].incisal_extension_mm or 0.0
        value = (
            planned.sounding_present_mm
            if asked.quantity is Quantity.SOUNDING
            else (planned.margin_present_mm or 0.0) - extension
        )
        _, entry = work.enter_keys(store, surgery, f"{value:.1f}", key=f"key-typed-{turn}", by=BY)
        places.append((entry.tooth, entry.site, entry.quantity))
        assert (entry.tooth, entry.site, entry.quantity) == (asked.tooth, asked.site, asked.quantity)
    assert len(set(places)) == 4
    assert work.state(store, surgery, resolve=False).limits is Verdict.WITHIN


def test_sign_off_needs_a_reason_for_everything_left(store: Store, surgery: work.Surgery) -> None:
    """Nothing was done: no sign-off without reasons, and nothing is entered after it."""
    now = work.state(store, surgery, resolve=False)
    assert now.not_done
    with pytest.raises(StoreError, match="a reason is needed"):
        work.sign_off(store, surgery, key="key-sign-01", by=BY, role="surgeon", reasons={})
    reasons = {item.name: "stopped at the patient's wish" for item in now.not_done}
    number = work.sign_off(store, surgery, key="key-sign-02", by=BY, role="surgeon", reasons=reasons)
    assert work.sign_off(store, surgery, key="key-sign-02", by=BY, role="surgeon", reasons=reasons) == number
    with pytest.raises(StoreError, match="signed off"):
        work.enter(store, surgery, RemarkEntry(text="too late"), key="key-sign-03", by=BY)
    assert work.state(store, surgery, resolve=False).signed_off_by == BY


def test_an_impossible_reading_keeps_nothing(store: Store, surgery: work.Surgery) -> None:
    """A crest at 60 mm and a datum without a place are refused before anything is written."""
    tooth, site, _, _ = bone_site(store)
    with pytest.raises(InputRefusedError):
        work.enter(store, surgery, crest(tooth, site, 60.0), key="key-wrong-1", by=BY)
    lost = crest(tooth, site, 11.0).model_copy(update={"datum": Datum.BONDED_MARK})
    with pytest.raises(InputRefusedError, match="bonded_mark"):
        work.enter(store, surgery, lost, key="key-wrong-2", by=BY)
    assert work.state(store, surgery, resolve=False).entries == ()


def test_a_stale_plan_is_said(store: Store) -> None:
    """A reading kept after the plan was signed shows at the start and in every state."""
    row = {"tooth": "11", "site": "midfacial", "quantity": "probing_depth", "value": 1.5, "source": "t"}
    keeping.keep_readings(store, {CASE: [row]}, by=BY, why="test")
    surgery = work.start_surgery(store, CASE, 1, by=BY, why="test")
    now = work.state(store, surgery, resolve=False)
    assert now.stale == ("1 readings were kept since",)
    assert now.begun.stale == now.stale


def test_a_step_moves_what_is_asked(store: Store, surgery: work.Surgery) -> None:
    """After the step probe_bone only crests are asked for."""
    work.enter(store, surgery, StepEntry(step=Step.PROBE_BONE), key="key-step-01", by=BY)
    asked = work.state(store, surgery, resolve=False).next
    assert asked is not None
    assert asked.quantity is Quantity.CREST_LEVEL


def test_a_surgery_goes_and_comes_with_its_case(store: Store, surgery: work.Surgery, tmp_path: Path) -> None:
    """Export and import keep it; deleting the case removes it."""
    from festoon.store.archive import export_case, import_archive
    from festoon.store.erasing import delete_case

    tooth, site, target, _ = bone_site(store)
    work.enter(store, surgery, crest(tooth, site, target), key="key-move-01", by=BY)
    export_case(store, CASE, tmp_path / "case.zip", schemas={})
    other = open_store(tmp_path / "other")
    import_archive(other, tmp_path / "case.zip", by=BY, why="test")
    assert len(work.state(other, surgery, resolve=False).entries) == 1
    delete_case(store, CASE, by=BY, why="asked")
    with pytest.raises(StoreError):
        chairside.surgeries_of(store, CASE)
    assert prove(store).is_whole
    assert looking.list_cases(store) == []


ASKED = Asked("21", Site.MESIAL, Quantity.SOUNDING)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12,5", ("21", Site.MESIAL, Quantity.SOUNDING, 12.5)),
        ("f 3", ("21", Site.MIDFACIAL, Quantity.SOUNDING, 3.0)),
        ("11 f b 12.5", ("11", Site.MIDFACIAL, Quantity.CREST_LEVEL, 12.5)),
        ("11 m 10.5", ("11", Site.MESIAL, Quantity.SOUNDING, 10.5)),
        ("g 9", ("21", Site.MESIAL, Quantity.MARGIN_LEVEL, 9.0)),
    ],
)
def test_keys(text: str, expected: tuple[str, Site, Quantity, float]) -> None:
    """What is left out is what is asked for."""
    found = typed(text, ASKED)
    assert (found.tooth, found.site, found.quantity, found.value) == expected


def test_keys_in_the_notation_of_the_user() -> None:
    """Universal 8 is 11."""
    assert typed("8 f 3", ASKED, Notation.UNIVERSAL).tooth == "11"


@pytest.mark.parametrize("text", ["", "11 12.5", "11 f", "f f 3", "x 3", "11 f b", "105", "11 f 3 b", "99 f 3"])
def test_keys_that_mean_nothing_or_too_much_are_refused(text: str) -> None:
    """Never guessed."""
    with pytest.raises(ValueError, match=r"\S"):
        typed(text, ASKED)


def test_bone_cut_too_far_is_no_dehiscence_where_it_was_seen_before(store: Store, surgery: work.Surgery) -> None:
    """Bone read short of the target and then far beyond it was cut; far beyond at the first look may never have been there."""
    tooth, site, target, _ = bone_site(store)
    work.enter(store, surgery, crest(tooth, site, target + 0.8, Step.PROBE_CUT), key="key-far-first", by=BY)
    first = site_of(work.state(store, surgery, resolve=False), tooth, site, Quantity.CREST_LEVEL)
    assert "DEHISCENCE" in first.short
    work.undo(store, surgery, key="key-undo-0001", by=BY)
    work.enter(store, surgery, crest(tooth, site, target - 0.6, Step.PROBE_CUT), key="key-short-001", by=BY)
    work.enter(store, surgery, crest(tooth, site, target + 0.8), key="key-far-0002", by=BY)
    later = site_of(work.state(store, surgery, resolve=False), tooth, site, Quantity.CREST_LEVEL)
    assert later.short == "too far: 0.8 mm beyond plan"


def test_papillae_are_said_once_something_was_read_after_suturing(store: Store, surgery: work.Surgery) -> None:
    """A tip read as planned is said to be; one that nobody read is NOT READ; before suturing nothing is said."""
    assert work.state(store, surgery, resolve=False).papillae == ()
    plan = signed_plan(store, CASE, 1).plan
    wanted = next(p.tip_planned_mm for p in plan.papillae if p.between == "11-21")
    assert wanted is not None
    tip = ReadingEntry(step=Step.PROBE_SUTURE, tooth="11", site=Site.MESIAL, quantity=Quantity.MARGIN_LEVEL, value=wanted,
                       datum=Datum.PLANNED_EDGE)  # fmt: skip
    work.enter(store, surgery, tip, key="key-papilla-1", by=BY)
    said = {line.split(":")[0]: line for line in work.state(store, surgery, resolve=False).papillae}
    assert "as planned" in said["11-21 (8-9)"]
    assert "NOT READ" in said["12-11 (7-8)"]


def test_a_tooth_is_named_under_the_readers_notation_and_a_second_one(store: Store, surgery: work.Surgery) -> None:
    """What is asked for, what was entered and what is not done: 12 alone could be two teeth."""
    entry = ReadingEntry(step=Step.DATUM, tooth="12", site=Site.MIDFACIAL, quantity=Quantity.SOUNDING, value=4.9)
    work.enter(store, surgery, entry, key="key-names-1", by=BY)
    now = work.state(store, surgery, resolve=False, notations=(Notation.UNIVERSAL, Notation.FDI))
    assert now.next is not None
    assert now.next.text.startswith("6 (13) ")
    assert now.entries[0].text.startswith("7 (12) midfacial sounding")
    assert "7 (12) midfacial" in now.limits_text
    assert all("(" in item.text.split()[1] for item in now.not_done)


def test_no_surgery_begins_from_a_datum_that_lies_nowhere(store: Store) -> None:
    """Every level would be refused at the chair; said before, with the teeth and the key."""
    with pytest.raises(StoreError, match=r"13.*datum_offset_mm\.bonded_mark"):
        work.start_surgery(store, CASE, 1, by=BY, why="test", datum=Datum.BONDED_MARK)


def test_a_target_not_read_yet_is_told_from_the_datum_in_use(store: Store) -> None:
    """The mark lies 3 mm apical of the present edge: its target is 3 mm smaller than that from the edge."""
    path = looking.version_of(store, CASE, 1)
    case = Case.model_validate_json(path)
    teeth = {
        code: chart.model_copy(update={"datum_offset_mm": {"bonded_mark": 3.0}}) for code, chart in case.teeth.items()
    }
    marked = case.model_copy(update={"teeth": teeth})
    plan = signed_plan(store, CASE, 1).plan
    session = Session(plan, resolve(marked), (), datum=Datum.BONDED_MARK)
    checks = [check for check in bone_checks(session) if check.verdict is Verdict.NOT_READ]
    assert checks
    for check in checks:
        assert check.wanted_from_datum_mm == pytest.approx(check.wanted_present_edge_mm - 3.0)


def test_no_surgery_begins_before_the_mouth_was_charted(store: Store) -> None:
    """Every reading of such a day would be refused at the chair."""
    charted = signed_plan(store, CASE, 1).case.examined_at
    assert charted is not None
    with pytest.raises(StoreError, match="before the chart"):
        work.start_surgery(store, CASE, 1, by=BY, why="test", surgery_at=charted - dt.timedelta(days=1))

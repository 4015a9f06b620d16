// Made by scripts/api_types.py from the published OpenAPI; do not edit.

/** Which design the patient and the restorative dentist accepted. */
export type Approval = { "design_version"?: (string | null); "mock_up_accepted_at"?: (string | null) };
/** A file that was kept, and what was taken out of it. */
export type Attached = { "sha256": string; "removed": Array<string> };
/** What a reading of a table becomes in the chart. */
export type Becomes = "new" | "beside" | "same" | "left" | "refused";
export type Body_attach_api_cases__case__files_post = { "file": Blob };
export type Body_keep_api_imports_post = { "base": number; "sha256": string; "why"?: string; "file"?: (Blob | null); "text"?: string; "case"?: string; "notation"?: (Notation | ""); "datum"?: (Datum | ""); "decimal"?: "" | "point" | "comma"; "unit"?: "" | "mm" | "cm"; "sites"?: "" | "six" | "ten"; "days"?: "" | "dmy" | "mdy"; "intervals"?: "" | "refuse" | "middle"; "sheet"?: string; "left"?: string };
export type Body_preview_api_imports_preview_post = { "file"?: (Blob | null); "text"?: string; "case"?: string; "notation"?: (Notation | ""); "datum"?: (Datum | ""); "decimal"?: "" | "point" | "comma"; "unit"?: "" | "mm" | "cm"; "sites"?: "" | "six" | "ten"; "days"?: "" | "dmy" | "mdy"; "intervals"?: "" | "refuse" | "middle"; "sheet"?: string; "left"?: string };
/** What was kept. */
export type Brought = { "version": number; "notes"?: Array<string>; "case": string };
/** A case as charted. Teeth are keyed by ISO 3950 code, whatever notation the file was written in. */
export type Case = { "format"?: "festoon-case/1"; "case": string; "purpose"?: Purpose; "notation": Notation; "examined_at"?: (string | null); "approval"?: Approval; "subject"?: Subject; "smile"?: Smile; "face"?: Face; "phenotype"?: Phenotype; "high_frenum"?: (boolean | null); "policy"?: PolicyChoice; "teeth": Record<string, ToothChart>; "papillae"?: Record<string, PapillaChart> };
/** One case of the list. */
export type CaseInList = { "case": string; "version": number; "changed_at": string; "waits_for": Next; "has_plan": boolean; "is_signed": boolean };
/** A case as it stands. */
export type CaseOpened = { "case": string; "version": number; "document": Case; "undo": (number | null); "redo": (number | null); "plans": Array<number>; "stale": Array<string> };
/** One complication. */
export type Complication = { "kind": ComplicationKind; "tooth"?: (string | null); "text"?: (string | null) };
/** What went wrong. */
export type ComplicationKind = "bleeding" | "swelling" | "infection" | "flap_necrosis" | "root_exposed" | "papilla_lost" | "numbness" | "mobility" | "pain" | "restoration_margin_shows" | "redo_advised" | "other";
/** The two latest visits of a site that count, held against each other. */
export type CourseCheck = { "tooth": string; "site": Site; "visits"?: Array<string>; "change_mm"?: (number | null); "se_mm"?: (number | null); "verdict": Verdict_Output; "text": string };
/** Proportion of a new crown: width over the midfacial margin's level from the planned edge. */
export type CrownCheck = { "tooth": string; "width_mm": number; "length_mm": number; "ratio": number; "ratio_planned"?: (number | null); "text": string };
/** From what a level was read. */
export type Datum = "present_edge" | "planned_edge" | "restored_edge" | "template" | "bonded_mark";
/** A depth, width or thickness: no datum, since a depth is always from the gingival margin. */
export type DepthReading = { "value": number; "unit"?: string; "se"?: (number | null); "method"?: (Method | null); "source"?: (string | null); "datum"?: (Datum | null); "by"?: (string | null); "at"?: (string | null); "flag"?: (string | null) };
/** A step back or forth; ``version`` is null where there was none to take. */
export type Done = { "version": (number | null) };
/** Entries as they would be. */
export type DraftWanted = { "changes"?: Record<string, (number | string | boolean | Array<unknown> | Record<string, unknown> | null)> };
/** The plan that the changed case would get, drawn, with what can be moved on it. */
export type Drafted = { "svg": string; "handles": Array<Handle>; "said": string; "spoken": string; "notes": Array<string> };
/** Another marked photograph of the same person, to be laid beside this one. */
export type Earlier = { "sha256": string; "marks": Marks };
/** Where an edge lies from a day on. */
export type Edge = { "key": string; "edge": EdgeEntry };
/** Where the edge of one tooth lies from a day on. */
export type EdgeEntry = { "kind"?: "edge"; "tooth": string; "at": string; "edge": "as_charted" | "provisional" | "final" | "adjusted"; "from_planned_mm": number; "se_mm"?: (number | null); "source": string };
/** Entries to change. */
export type Edit = { "base": number; "changes": Record<string, (number | string | boolean | Array<unknown> | Record<string, unknown> | null)>; "why"?: string };
/** The number of the entry that is on disk. */
export type Entered = { "entry": number };
/** One entry as kept. */
export type EntryShown = { "number": number; "key": string; "at": string; "by": string; "entry": (ReadingEntry | StepEntry | UndoEntry | RemarkEntry | SignOffEntry); "is_taken_back": boolean; "text": string };
/** The one JSON shape of an error. */
export type ErrorShape = { "error": Wrong };
/** Where the margin is expected at one time after suturing. */
export type ExpectedMargin = { "time": string; "weeks": number; "level_mm": number; "low_mm": number; "high_mm": number };
/** Reference of the arch frame and what is tilted or shifted against it. */
export type Face = { "horizontal"?: ("pupils" | "horizon" | "commissures" | "occlusal_plane" | null); "occlusal_cant_deg"?: (number | null); "midline_shift_mm"?: (number | null); "middle_third_mm"?: (number | null); "lower_third_mm"?: (number | null) };
/** One fault of an input. */
export type FaultShown = { "file": string; "where": string; "line": (number | null); "found": string; "expected": string; "do": string };
/** A point of the profile that can be moved along its tooth, or across it. */
export type Handle = { "kind": "edge" | "length" | "zenith" | "contact"; "tooth": string; "name": string; "twin": string; "path": string; "twin_path": string; "twin_shift"?: number; "level": number; "across"?: boolean; "value": number; "sign": -1 | 1; "low": number; "high": number; "reached": (number | null); "why": string };
/** Health questions. An unanswered question is unknown and blocks signing. */
export type Health = { "smoker"?: (boolean | null); "anticoagulant"?: (boolean | null); "antiplatelet"?: (boolean | null); "bleeding_disorder"?: (boolean | null); "antiresorptive"?: (boolean | null); "jaw_radiotherapy"?: (boolean | null); "diabetes"?: ("none" | "controlled" | "uncontrolled" | null); "overgrowth_drug"?: (boolean | null); "immunosuppression"?: (boolean | null); "endocarditis_risk"?: (boolean | null); "pregnancy"?: (boolean | null); "active_periodontitis"?: (boolean | null); "allergy"?: (string | null); "previous_surgery"?: (boolean | null); "expectation_concern"?: (boolean | null) };
/** What was kept. */
export type Kept = { "version": number; "notes"?: Array<string> };
/** Keratinised tissue at one visit against the wanted minimum. */
export type KeratinisedCheck = { "tooth": string; "at": string; "value_mm": number; "minimum_mm": number; "planned_mm"?: (number | null); "verdict": Verdict_Output; "text": string };
/** A level: along the tooth's facial long axis from an incisal edge, apical positive. */
export type LevelReading = { "value": number; "unit"?: string; "se"?: (number | null); "method"?: (Method | null); "source"?: (string | null); "datum"?: (Datum | null); "by"?: (string | null); "at"?: (string | null); "flag"?: (string | null) };
/** The clinician's choice to hold a limit as hard or as a caution, with a reason that is kept. */
export type LimitOverride = { "force": "hard" | "caution"; "reason": string };
/** One reading of a table, and what becomes of it. */
export type LineShown = { "number": number; "line": number; "tooth": string; "site": (string | null); "quantity": string; "value_mm": number; "datum": (string | null); "method": (string | null); "at": (string | null); "becomes": Becomes; "why": string };
/** A length of known size beside the teeth: two marks of a ruler or probe. */
export type MarkedLength = { "name": string; "start": [number, number]; "end": [number, number]; "length_mm": number; "se_mm": number; "behind_mm"?: number };
/** The picture that the marks belong to. */
export type MarkedPicture = { "sha256": string; "width_px": number; "height_px": number };
/** A printed square marker in the plane of the teeth, found or clicked. */
export type MarkedSquare = { "name": string; "corners": Array<[number, number]>; "side_mm": number; "se_mm": number; "behind_mm"?: number };
/** A printed square in the picture, measured on the print. */
export type MarkerKnown = { "side_mm": number; "se_mm": number; "behind_mm"?: number };
/** A mark file. */
export type Marks = { "format"?: "festoon-marks/1"; "photo": MarkedPicture; "view"?: "retracted" | "smile" | "rest"; "by"?: (string | null); "mark_se_px"?: (number | null); "teeth": Record<string, ToothMarks>; "papillae"?: Record<string, [number, number]>; "lip_line"?: (Array<[number, number]> | null); "midline"?: (Array<[number, number]> | null); "horizontal"?: (Array<[number, number]> | null); "lengths"?: Array<MarkedLength>; "markers"?: Array<MarkedSquare> };
/** How a scan is read; what is absent is found and said. */
export type MeasureWanted = { "unit"?: ("mm" | "cm" | "m" | "inch" | null); "jaw"?: ("upper" | "lower" | null); "numbers"?: Record<string, unknown>; "points"?: Array<PointSet>; "picture"?: boolean };
/** How a reading was obtained. */
export type Method = "probe" | "sounding" | "calliper" | "direct" | "scan" | "photo" | "cbct" | "film" | "design";
/** When the readings were taken. One file of readings holds one moment; a recall file may hold many visits. */
export type Moment = "before" | "bone" | "suture" | "recall";
/** A case to be begun. */
export type NewCase = { "case": string; "notation"?: Notation; "purpose"?: Purpose; "teeth"?: string };
/** What a case waits for next. Words for a person are the app's. */
export type Next = "chart" | "conflicts" | "readings" | "health" | "another_answer" | "approval" | "plan" | "signature" | "clearance" | "nothing" | "surgery" | "sign_off" | "recall";
/** Something the plan asks for that no entry shows to be done. */
export type NotDone = { "name": string; "text": string };
/** How teeth are named in a file. */
export type Notation = "fdi" | "universal" | "palmer";
/** The state after an entry that is on disk. */
export type Now = { "entry": number; "state": SurgeryState; "shown": string };
/** Left-right difference of the margins' heights, patient's right minus left, apical positive. */
export type PairCheck = { "pair": string; "at"?: (string | null); "difference_mm": number; "planned_mm"?: (number | null); "se_mm": number; "verdict": Verdict_Output; "text": string; "sums"?: Array<string> };
/** What belongs to a papilla and not to one tooth. */
export type PapillaChart = { "root_distance_mm"?: Array<DepthReading>; "future_contact_mm"?: (number | null) };
/** One papilla at one visit, judged by eye, against the fill its contact-to-crest distance lets expect. */
export type PapillaCheck = { "between": string; "at": string; "fill": PapillaFill; "contact_to_crest_mm"?: (number | null); "fill_chance"?: (number | null); "verdict": Verdict_Output; "text": string };
/** How much of the space between two teeth the papilla fills, as judged by eye. */
export type PapillaFill = "none" | "under_half" | "half_or_more" | "complete" | "overfilled";
/** Periodontal phenotype. */
export type Phenotype = "thin" | "thick" | "unknown";
/** How the file is read. */
export type PhotoAsked = { "mirrored"?: ("as_tagged" | "ignored" | null) };
/** Marks to be measured, and what is known in millimetres; without that there are ratios alone. */
export type PhotoWanted = { "mirrored"?: ("as_tagged" | "ignored" | null); "marks": Marks; "known"?: Array<WidthKnown>; "marker"?: (MarkerKnown | null); "scan"?: (string | null); "unit"?: ("mm" | "cm" | "m" | "inch" | null); "same_tissue"?: boolean; "with_plan"?: boolean; "earlier"?: (Earlier | null) };
/** What changes at one tooth when the plan is solved anew with today's readings. */
export type PlanChange = { "tooth": string; "move_before_mm"?: (number | null); "move_after_mm"?: (number | null); "bone_before_mm"?: (number | null); "bone_after_mm"?: (number | null); "procedure_before": string; "procedure_after": string; "text": string };
/** The number a plan was kept under, and its hash. */
export type PlanKept = { "number": number; "sha256": string; "signable": boolean; "signable_reasons": Array<string> };
/** A plan to be made and kept. */
export type PlanWanted = { "supersedes"?: (number | null); "why"?: string };
/** A point that a person sets on a tooth. */
export type PointSet = { "tooth": string; "point": [number, number, number]; "place"?: "margin" | "zenith" | "mesial_papilla" | "distal_papilla" | "edge" | "mesial_end" | "distal_end" };
/** What the clinician sets for this case; every absent entry takes the default of the evidence room. */
export type PolicyChoice = { "supracrestal_midfacial_mm"?: (number | null); "supracrestal_interproximal_mm"?: (number | null); "supracrestal_basis"?: ("fixed" | "individual" | "larger" | null); "supracrestal_reason"?: (string | null); "keratinised_minimum_mm"?: (number | null); "cej_clearance_mm"?: (number | null); "smallest_move_mm"?: (number | null); "interdental_ostectomy"?: (boolean | null); "furcation_clearance_mm"?: (number | null); "ferrule_mm"?: (number | null); "crest_step_mm"?: (number | null); "crest_slope"?: (number | null); "length_tolerance_mm"?: (number | null); "pair_tolerance_mm"?: (number | null); "lateral_coronal_min_mm"?: (number | null); "lateral_coronal_max_mm"?: (number | null); "lateral_apical_allowed"?: (boolean | null); "rebound_offset_mm"?: (number | null); "weight_pair"?: (number | null); "weight_length"?: (number | null); "weight_lateral"?: (number | null); "presets"?: PresetChoice; "reference_side"?: ("right" | "left" | null); "limits"?: Record<string, LimitOverride> };
/** Which published answer is used where papers disagree; the plan prints all of them. */
export type PresetChoice = { "zenith"?: ("middle" | "far" | "near" | null); "lateral"?: ("half_to_one" | "six_tenths" | "one" | null); "phenotype"?: ("one" | "one_and_half" | null) };
/** What would be brought in. Nothing was kept. */
export type Preview = { "sha256": string; "case": (string | null); "base": number; "can_be_kept": boolean; "lines": Array<LineShown>; "changed": Array<string>; "understood": Array<string>; "notes": Array<string>; "faults": Array<FaultShown>; "said": string };
/** What the lengthening is for. */
export type Purpose = "aesthetic" | "restorative";
/** What was read, by its trade name: name, definition, key of the case file (None where the file derives it). */
export type Quantity = "crown_width" | "crown_length" | "zenith_offset" | "papilla_height" | "margin_level" | "crest_level" | "cej_level" | "mucogingival_level" | "contact_level" | "sound_tooth_level" | "finish_line_level" | "root_apex_level" | "furcation_level" | "lip_level" | "sounding" | "probing_depth" | "attached_width" | "keratinised_width" | "gingiva_thickness" | "bone_thickness" | "root_distance" | "edge_height" | "crown_ratio" | "midline_shift" | "occlusal_cant" | "gingival_display" | "rest_display";
/** One reading that names what was read and where, so that it can come from any source. */
export type QuantityReading = { "tooth"?: (string | null); "site"?: (Site | null); "quantity": Quantity; "value": number; "unit"?: "mm" | "1" | "deg"; "se"?: (number | null); "method"?: (Method | null); "datum"?: (Datum | null); "at"?: (string | null); "by"?: (string | null); "flag"?: (string | null) };
/** Whether restorations may be made, and why not yet. */
export type Readiness = { "what": "provisional" | "final"; "earliest": string; "may": boolean; "why_not"?: Array<string>; "source": string };
/** One reading at the chair. */
export type ReadingEntry = { "kind"?: "reading"; "step": Step; "tooth": string; "site": Site; "quantity": Quantity; "value": number; "datum"?: (Datum | null); "method"?: (Method | null); "se"?: (number | null) };
/** Readings of one case from one source, format ``festoon-readings/1``. */
export type Readings = { "format"?: "festoon-readings/1"; "case": string; "readings"?: Array<QuantityReading> };
/** One entry as kept. */
export type RecallShown = { "number": number; "at": string; "by": string; "entry": (VisitEntry | EdgeEntry | UndoEntry); "is_taken_back": boolean };
/** Everything known of the healing of one surgery, format ``festoon-recall/1``. */
export type RecallState = { "format"?: "festoon-recall/1"; "case": string; "surgery": number; "plan": number; "surgery_at": string; "verification": Verification; "keratinised": Array<KeratinisedCheck>; "papillae"?: Array<PapillaCheck>; "told"?: Array<string>; "complications": Array<string>; "entries": Array<RecallShown>; "stale": Array<string>; "notes": Array<string> };
/** A remark in words. */
export type Remark = { "key": string; "text": string };
/** A remark in words, of the whole day or of one tooth. */
export type RemarkEntry = { "kind"?: "remark"; "text": string; "tooth"?: (string | null) };
/** The plan solved anew with today's direct readings in the place of the charted ones. */
export type Replan = { "replaced"?: Array<string>; "teeth"?: Array<PlanChange>; "text": string };
/** Whether a restoration covers the facial surface. */
export type Restoration = "none" | "present" | "planned";
/** Shape of the root, from the film. */
export type RootForm = "tapered" | "conical" | "blunt" | "unknown";
/** What stands beside the words, so that no meaning rests on a colour. */
export type Shape = "empty_box" | "ticked_box" | "triangle" | "octagon" | "question";
/** The end of the surgery. */
export type SignOff = { "key": string; "by": string; "role": string; "reasons"?: Record<string, string>; "remark"?: (string | null) };
/** The end of the surgery: what was not done, each with its reason. */
export type SignOffEntry = { "kind"?: "sign_off"; "role": string; "reasons"?: Record<string, string>; "remark"?: (string | null) };
/** A signature under a kept plan. */
export type SignatureWanted = { "by": string; "role": string; "reason": string };
/** What has changed in the records since the plan was made. */
export type Signed = { "since": Array<string> };
/** The ten sites of a tooth, mesial to distal, facial before lingual. */
export type Site = "mesial" | "mesiofacial" | "midfacial" | "distofacial" | "distal" | "mesial_lingual" | "mesiolingual" | "midlingual" | "distolingual" | "distal_lingual";
/** One site of one tooth, as charted. */
export type SiteChart = { "margin_mm"?: Array<LevelReading>; "probing_mm"?: Array<DepthReading>; "sounding_mm"?: Array<DepthReading>; "crest_mm"?: Array<LevelReading>; "cej_mm"?: Array<LevelReading>; "mucogingival_mm"?: Array<LevelReading>; "contact_mm"?: Array<LevelReading>; "bone_thickness_mm"?: Array<DepthReading>; "gingiva_thickness_mm"?: Array<DepthReading>; "attached_mm"?: Array<DepthReading>; "healthy_reference"?: boolean; "sound_tooth_mm"?: Array<LevelReading>; "existing_finish_line_mm"?: Array<LevelReading>; "ferrule_mm"?: (number | null) };
/** One reading of a site against what the plan has there. */
export type SiteCheck = { "tooth": string; "site": Site; "quantity": Quantity; "verdict": Verdict_Output; "reading_mm"?: (number | null); "datum"?: (Datum | null); "reading_planned_edge_mm"?: (number | null); "wanted_mm"?: (number | null); "wanted_present_edge_mm"?: (number | null); "wanted_from_datum_mm"?: (number | null); "difference_mm"?: (number | null); "se_mm"?: (number | null); "text": string; "sums"?: Array<string> };
/** One site now. */
export type SiteState = { "tooth": string; "tooth_names": [string, string]; "site": Site; "step": Step; "quantity": Quantity; "target_mm"?: (number | null); "target_present_edge_mm"?: (number | null); "check": SiteCheck; "shape": Shape; "short": string };
/** Lip and display, in mm. */
export type Smile = { "lip_length_mm"?: Array<DepthReading>; "lip_travel_mm"?: Array<DepthReading>; "rest_display_mm"?: (number | null); "gingival_display_mm"?: (number | null); "display_spontaneous_mm"?: (number | null); "posed"?: (boolean | null) };
/** Pairs of clicks between which the edge is wanted. */
export type SnapWanted = { "mirrored"?: ("as_tagged" | "ignored" | null); "segments": Array<[[number, number], [number, number]]> };
/** The edge between the clicks of each pair. */
export type Snapped = { "segments": Array<Array<[number, number]>> };
/** Supracrestal space actually reached at a site, against the need. */
export type SpaceCheck = { "tooth": string; "site": Site; "reached_mm": number; "need_mm": number; "se_mm": number; "verdict": Verdict_Output; "text": string; "sums"?: Array<string> };
/** What stands in a place of the arch. */
export type Status = "natural" | "crowned" | "implant" | "pontic" | "absent" | "excluded";
/** The order of the hands. */
export type Step = "datum" | "mark" | "cut" | "probe_cut" | "bone" | "probe_bone" | "suture" | "probe_suture";
/** A step was reached; the steps before it are behind the hands. */
export type StepEntry = { "kind"?: "step"; "step": Step };
/** A step that the hands have reached. */
export type StepReached = { "key": string; "step": Step };
/** The patient, pseudonymous. */
export type Subject = { "age_years"?: (number | null); "sex"?: "female" | "male" | "unknown"; "growth_complete"?: (boolean | null); "health"?: Health };
/** Everything a view at the chair needs, format ``festoon-surgery-state/1``. */
export type SurgeryState = { "format"?: "festoon-surgery-state/1"; "case": string; "surgery": number; "plan": number; "plan_sha256": string; "signed_by": Array<string>; "begun": festoon__model__surgery__Begun; "begun_by": string; "stale": Array<string>; "step": Step; "limits": Verdict_Output; "limits_shape": Shape; "limits_text": string; "next": (Wanted | null); "sites": Array<SiteState>; "before": Array<SiteCheck>; "spaces": Array<SpaceCheck>; "sutures": Array<SutureCheck>; "final_spaces": Array<SpaceCheck>; "crowns": Array<CrownCheck>; "pairs": Array<PairCheck>; "papillae"?: Array<string>; "replan": (Replan | null); "not_done": Array<NotDone>; "entries": Array<EntryShown>; "sign_off": (SignOffEntry | null); "signed_off_by": (string | null); "signed_off_at": (string | null); "notes": Array<string> };
/** A surgery to be begun. */
export type SurgeryWanted = { "plan": number; "surgery_at"?: (string | null); "datum"?: Datum; "operator"?: (string | null); "template_kind"?: ("none" | "gingival-line" | "gingival-and-crest" | "two-piece" | null); "why"?: string };
/** Flap margin after suturing at one site, and what is expected of it. */
export type SutureCheck = { "tooth": string; "site": Site; "margin_mm": number; "suture_planned_mm"?: (number | null); "crest_mm"?: (number | null); "crest_from": "read" | "sounded" | "planned" | "unknown"; "distance_mm"?: (number | null); "distance_se_mm"?: (number | null); "expected"?: Array<ExpectedMargin>; "verdict": Verdict_Output; "text": string; "sums"?: Array<string> };
/** Readings to be taken into the chart, as they were looked at. */
export type TakeWanted = { "base": number; "readings": Readings; "at"?: (string | null); "why"?: string };
/** What was kept, and what was left out. */
export type Taken = { "version": number; "notes"?: Array<string>; "left": Array<string> };
/** An entry to be taken back; the latest where none is named. */
export type TakenBack = { "key": string; "entry"?: (number | null) };
/** A template to be made; what is absent is chosen or found, and said. */
export type TemplateWanted = { "scan": string; "kind"?: ("gingival-line" | "gingival-and-crest" | "two-piece" | null); "unit"?: ("mm" | "cm" | "m" | "inch" | null); "jaw"?: ("upper" | "lower" | null); "scanned_at"?: (string | null); "wall"?: (number | null); "clearance"?: (number | null); "build_volume"?: ([number, number, number] | null); "points"?: Array<PointSet> };
/** One place of the arch, as charted. */
export type ToothChart = { "status"?: (Status | null); "purpose"?: (Purpose | null); "role"?: (string | null); "width_mm"?: Array<DepthReading>; "future_width_mm"?: (number | null); "edge_height_mm"?: (number | null); "axis_tip_deg"?: (number | null); "axis_torque_deg"?: (number | null); "incisal_extension_mm"?: (number | null); "edge_worn"?: (boolean | null); "restoration"?: (Restoration | null); "target_length_mm"?: (number | null); "target_ratio"?: (number | null); "root_cover_mm"?: (number | null); "root_apex_mm"?: Array<LevelReading>; "root_form"?: RootForm; "furcation_mm"?: Record<string, Array<LevelReading>>; "zenith_offset_mm"?: (number | null); "zenith_target_mm"?: (number | null); "mobility"?: (number | null); "ankylosed"?: (boolean | null); "lesion"?: (boolean | null); "inflamed"?: (boolean | null); "crowded"?: (boolean | null); "rotation_deg"?: (number | null); "lip_height_smile_mm"?: Array<LevelReading>; "changed_at"?: (string | null); "phenotype"?: (Phenotype | null); "datum_offset_mm"?: Record<string, number>; "sites"?: Record<string, SiteChart> };
/** Marks of one tooth: an outline, or its four points; a point beside an outline overrules it. */
export type ToothMarks = { "outline"?: (Array<[number, number]> | null); "mesial"?: ([number, number] | null); "distal"?: ([number, number] | null); "edge"?: ([number, number] | null); "zenith"?: ([number, number] | null); "mark_se_px"?: (number | null) };
/** A reading as typed by a few keys. */
export type Typed = { "key": string; "text": string };
/** An earlier entry is taken back. It stays on record. */
export type UndoEntry = { "kind"?: "undo"; "entry": number };
/** A person's word on a kept reading that others contradict. */
export type Verdict_Input = { "reading": number; "is_kept"?: boolean; "why": string };
/** What a comparison says. */
export type Verdict_Output = "within" | "recompute" | "stop" | "to_remove" | "reached" | "too_far" | "cannot_tell" | "short" | "enough" | "coronal" | "apical" | "inside" | "too_early" | "stable" | "creeping" | "receding" | "symmetric" | "asymmetric" | "not_read" | "unknown";
/** Readings of one moment against the plan: what remains, site by site. */
export type Verification = { "format"?: "festoon-verification/1"; "case": string; "moment": Moment; "surgery_at"?: (string | null); "against": "sheet" | "exact"; "recheck_mm": number; "stop_mm": number; "for_surgery": boolean; "not_for_surgery_because"?: Array<string>; "plan_sha256": string; "readings_sha256": string; "checks"?: Array<SiteCheck>; "spaces"?: Array<SpaceCheck>; "sutures"?: Array<SutureCheck>; "crowns"?: Array<CrownCheck>; "pairs"?: Array<PairCheck>; "visits"?: Array<VisitCheck>; "courses"?: Array<CourseCheck>; "readiness"?: Array<Readiness>; "replan"?: (Replan | null); "notes"?: Array<string> };
/** A visit, with the key that makes it count once. */
export type Visit = { "key": string; "visit": VisitEntry };
/** One margin at one visit, against the band expected then. */
export type VisitCheck = { "tooth": string; "site": Site; "at": string; "weeks": number; "margin_mm": number; "se_mm": number; "sutured_mm"?: (number | null); "sutured_from": "read" | "planned" | "unknown"; "rebound_mm"?: (number | null); "expected"?: (ExpectedMargin | null); "verdict": Verdict_Output; "text": string; "sums"?: Array<string> };
/** One visit. */
export type VisitEntry = { "kind"?: "visit"; "at": string; "readings"?: Array<QuantityReading>; "papillae"?: Record<string, unknown>; "sensitivity"?: Record<string, unknown>; "satisfaction"?: (number | null); "complications"?: Array<Complication>; "is_without_complications"?: (boolean | null); "remark"?: (string | null) };
/** One reading that is wanted next. */
export type Wanted = { "step": Step; "tooth": string; "site": Site; "quantity": Quantity; "text": string };
/** A width measured on the person. */
export type WidthKnown = { "tooth": string; "mm": number; "se"?: (number | null) };
/** What went wrong; nothing of the request was kept unless the text says so. */
export type Wrong = { "kind": string; "text": string; "faults"?: Array<FaultShown> };
/** What was settled as the surgery began. */
export type festoon__model__surgery__Begun = { "surgery_at": string; "datum"?: Datum; "recheck_mm": number; "stop_mm": number; "against"?: "sheet" | "exact"; "operator"?: (string | null); "template_kind"?: (string | null); "stale"?: Array<string> };
/** The number of the surgery. */
export type festoon__web__api__surgery__Begun = { "surgery": number };

/** What each route takes and answers. */
export interface Routes {
  "GET /api/cases": { body: never; answer: Array<CaseInList> };
  "POST /api/cases": { body: NewCase; answer: Kept };
  "GET /api/cases/{case}": { body: never; answer: CaseOpened };
  "PATCH /api/cases/{case}": { body: Edit; answer: Kept };
  "POST /api/cases/{case}/draft": { body: DraftWanted; answer: Drafted };
  "POST /api/cases/{case}/files": { body: Body_attach_api_cases__case__files_post; answer: Attached };
  "GET /api/cases/{case}/files/{sha256}": { body: never; answer: never };
  "POST /api/cases/{case}/files/{sha256}/measure": { body: MeasureWanted; answer: Blob };
  "POST /api/cases/{case}/files/{sha256}/outlines": { body: PhotoAsked; answer: Blob };
  "POST /api/cases/{case}/files/{sha256}/photo-readings": { body: PhotoWanted; answer: Blob };
  "GET /api/cases/{case}/files/{sha256}/picture.jpg": { body: never; answer: never };
  "POST /api/cases/{case}/files/{sha256}/snap": { body: SnapWanted; answer: Snapped };
  "POST /api/cases/{case}/plans": { body: PlanWanted; answer: PlanKept };
  "POST /api/cases/{case}/plans/{number}/signatures": { body: SignatureWanted; answer: Signed };
  "POST /api/cases/{case}/readings": { body: TakeWanted; answer: Taken };
  "POST /api/cases/{case}/redo": { body: never; answer: Done };
  "POST /api/cases/{case}/surgeries": { body: SurgeryWanted; answer: festoon__web__api__surgery__Begun };
  "GET /api/cases/{case}/surgeries/{number}": { body: never; answer: SurgeryState };
  "POST /api/cases/{case}/surgeries/{number}/edges": { body: Edge; answer: Entered };
  "POST /api/cases/{case}/surgeries/{number}/entries": { body: Typed; answer: Now };
  "GET /api/cases/{case}/surgeries/{number}/recall": { body: never; answer: RecallState };
  "POST /api/cases/{case}/surgeries/{number}/remarks": { body: Remark; answer: Now };
  "POST /api/cases/{case}/surgeries/{number}/sign-off": { body: SignOff; answer: Now };
  "POST /api/cases/{case}/surgeries/{number}/steps": { body: StepReached; answer: Now };
  "POST /api/cases/{case}/surgeries/{number}/undo": { body: TakenBack; answer: Now };
  "POST /api/cases/{case}/surgeries/{number}/visits": { body: Visit; answer: Entered };
  "DELETE /api/cases/{case}/surgeries/{number}/visits/{entry}": { body: never; answer: Entered };
  "POST /api/cases/{case}/templates": { body: TemplateWanted; answer: Blob };
  "POST /api/cases/{case}/undo": { body: never; answer: Done };
  "POST /api/cases/{case}/verdicts": { body: Verdict_Input; answer: Done };
  "POST /api/demo-cases": { body: never; answer: Array<string> };
  "POST /api/imports": { body: Body_keep_api_imports_post; answer: Brought };
  "POST /api/imports/preview": { body: Body_preview_api_imports_preview_post; answer: Preview };
  "GET /api/marker.pdf": { body: never; answer: never };
}

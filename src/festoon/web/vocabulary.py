"""Words that pages show out of the data: sites, procedures, quantities and the like, so that translators are asked for them too.

A page shows such a word by the filter ``plain`` or ``site``; every value of the enumerations behind them must stand here.
"""

from __future__ import annotations

from festoon.web.words import N_

SITES = (
    N_("mesial"), N_("mesiofacial"), N_("midfacial"), N_("distofacial"), N_("distal"), N_("mesial lingual"),
    N_("mesiolingual"), N_("midlingual"), N_("distolingual"), N_("distal lingual"),
)  # fmt: skip
PROCEDURES = (
    N_("none"), N_("gingivectomy"), N_("gingivectomy with ostectomy"), N_("apical flap"),
    N_("apical flap with ostectomy"), N_("not advised"), N_("undetermined"),
)  # fmt: skip
STATUSES = (N_("natural"), N_("crowned"), N_("implant"), N_("pontic"), N_("absent"), N_("excluded"))
DATUMS = (N_("present edge"), N_("planned edge"), N_("restored edge"), N_("template"), N_("bonded mark"))
METHODS = (
    N_("probe"), N_("sounding"), N_("calliper"), N_("direct"), N_("scan"), N_("photo"), N_("cbct"), N_("film"),
    N_("design"),
)  # fmt: skip
QUANTITIES = (
    N_("crown width"), N_("crown length"), N_("zenith offset"), N_("papilla height"), N_("margin level"),
    N_("crest level"), N_("cej level"), N_("mucogingival level"), N_("contact level"), N_("sound tooth level"),
    N_("finish line level"), N_("root apex level"), N_("furcation level"), N_("lip level"), N_("sounding"),
    N_("probing depth"), N_("attached width"), N_("keratinised width"), N_("gingiva thickness"), N_("bone thickness"),
    N_("root distance"), N_("edge height"), N_("crown ratio"), N_("midline shift"), N_("occlusal cant"),
    N_("gingival display"), N_("rest display"), N_("recession"), N_("attachment"),
)  # fmt: skip
COMPLICATIONS = (
    N_("bleeding"), N_("swelling"), N_("infection"), N_("flap necrosis"), N_("root exposed"), N_("papilla lost"),
    N_("numbness"), N_("mobility"), N_("pain"), N_("restoration margin shows"), N_("redo advised"), N_("other"),
)  # fmt: skip
PAPILLAE = (N_("none"), N_("under half"), N_("half or more"), N_("complete"), N_("overfilled"))
HEALTH = (
    N_("smoker"), N_("anticoagulant"), N_("antiplatelet"), N_("bleeding disorder"), N_("antiresorptive"),
    N_("jaw radiotherapy"), N_("diabetes"), N_("overgrowth drug"), N_("immunosuppression"), N_("endocarditis risk"),
    N_("pregnancy"), N_("active periodontitis"), N_("allergy"), N_("previous surgery"), N_("expectation concern"),
)  # fmt: skip
LIMITS = (
    N_("supracrestal space"), N_("bone not added"), N_("margin not incisal"), N_("root exposure"),
    N_("keratinised tissue"), N_("interdental bone"), N_("root proximity"), N_("crest contour"), N_("root to crown"),
    N_("furcation"), N_("neighbours"), N_("restorative margin"), N_("lateral line"), N_("smallest move"),
    N_("cleared first"),
)  # fmt: skip
OTHERS = (
    N_("thin"), N_("thick"), N_("unknown"), N_("female"), N_("male"), N_("present"), N_("planned"), N_("strong"),
    N_("moderate"), N_("weak"), N_("against"), N_("controlled"), N_("uncontrolled"), N_("fixed"), N_("individual"),
    N_("larger"), N_("zenith"), N_("provisional"), N_("final"), N_("adjusted"), N_("as charted"), N_("lateral"), N_("phenotype"), N_("tapered"), N_("conical"), N_("blunt"), N_("pupils"),
    N_("horizon"), N_("commissures"), N_("occlusal plane"), N_("mesial papilla"), N_("distal papilla"), N_("edge"), N_("mesial end"), N_("distal end"),
    N_("right"), N_("left"), N_("hard"), N_("caution"),
)  # fmt: skip
EVERY = frozenset((
    *SITES, *PROCEDURES, *STATUSES, *DATUMS, *METHODS, *QUANTITIES, *COMPLICATIONS, *PAPILLAE, *HEALTH, *LIMITS, *OTHERS,
))  # fmt: skip

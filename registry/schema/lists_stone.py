"""Code lists about stones, laboratory and imaging."""

from registry.schema.codes import CodeList


class StoneLocation(CodeList):
    """Where a stone or fragment lies."""

    UPPER_CALYX = "upper_calyx", "Upper calyx"
    MIDDLE_CALYX = "middle_calyx", "Middle calyx"
    LOWER_CALYX = "lower_calyx", "Lower calyx"
    PELVIS = "pelvis", "Renal pelvis"
    JUNCTION = "junction", "Ureteropelvic junction"
    DIVERTICULUM = "diverticulum", "Calyceal diverticulum"
    PARTIAL_STAGHORN = "partial_staghorn", "Partial staghorn"
    COMPLETE_STAGHORN = "complete_staghorn", "Complete staghorn"
    PROXIMAL_URETER = "proximal_ureter", "Proximal ureter"
    MIDDLE_URETER = "middle_ureter", "Middle ureter"
    DISTAL_URETER = "distal_ureter", "Distal ureter"
    VESICOURETERIC_JUNCTION = "vesicoureteric_junction", "Vesicoureteric junction"
    BLADDER = "bladder", "Bladder"
    NOT_SAID = "not_said", "Kidney, place not said"


class StoneSite(CodeList):
    """The nine sites of the collecting system that are counted when a stone fills several.

    Source: Jeong et al., PLoS ONE 2013;8:e65888 (sites from memory)
    """

    PELVIS = "pelvis", "Renal pelvis"
    SUPERIOR_MAJOR = "superior_major", "Superior major calyx"
    INFERIOR_MAJOR = "inferior_major", "Inferior major calyx"
    SUPERIOR_ANTERIOR = "superior_anterior", "Superior minor calyces, anterior"
    SUPERIOR_POSTERIOR = "superior_posterior", "Superior minor calyces, posterior"
    MIDDLE_ANTERIOR = "middle_anterior", "Middle minor calyces, anterior"
    MIDDLE_POSTERIOR = "middle_posterior", "Middle minor calyces, posterior"
    INFERIOR_ANTERIOR = "inferior_anterior", "Inferior minor calyces, anterior"
    INFERIOR_POSTERIOR = "inferior_posterior", "Inferior minor calyces, posterior"


class CalyxFace(CodeList):
    """Anterior or posterior calyx."""

    ANTERIOR = "anterior", "Anterior"
    POSTERIOR = "posterior", "Posterior"


class AttenuationMethod(CodeList):
    """How attenuation was measured."""

    MEAN_REGION = "mean_region", "Mean over the largest region"
    MEAN_SMALL_REGIONS = "mean_small_regions", "Mean of small regions"
    WHOLE_VOLUME = "whole_volume", "Mean over the segmented volume"
    MAXIMUM = "maximum", "Maximum"
    NOT_SAID = "not_said", "Not said"


class RadioOpacity(CodeList):
    """Whether the stone shows on a plain film."""

    OPAQUE = "opaque", "Radio-opaque"
    FAINT = "faint", "Faint"
    LUCENT = "lucent", "Radiolucent"


class AnalysisMethod(CodeList):
    """How a stone was analysed."""

    INFRARED = "infrared", "Infrared spectroscopy"
    XRAY_DIFFRACTION = "xray_diffraction", "X-ray diffraction"
    OTHER = "other", "Other"


class AnalysisState(CodeList):
    """State of a stone analysis."""

    SENT = "sent", "Sent"
    RESULT = "result", "Result in"
    INSUFFICIENT = "insufficient", "Too little material"
    LOST = "lost", "Lost"


class StoneComponent(CodeList):
    """Components of stones."""

    WHEWELLITE = "whewellite", "Whewellite (calcium oxalate monohydrate)"
    WEDDELLITE = "weddellite", "Weddellite (calcium oxalate dihydrate)"
    CARBONATE_APATITE = "carbonate_apatite", "Carbonate apatite"
    HYDROXYAPATITE = "hydroxyapatite", "Hydroxyapatite"
    BRUSHITE = "brushite", "Brushite"
    OCTACALCIUM_PHOSPHATE = "octacalcium_phosphate", "Octacalcium phosphate"
    URIC_ACID = "uric_acid", "Uric acid"
    URIC_ACID_DIHYDRATE = "uric_acid_dihydrate", "Uric acid dihydrate"
    AMMONIUM_URATE = "ammonium_urate", "Ammonium urate"
    SODIUM_URATE = "sodium_urate", "Sodium urate"
    STRUVITE = "struvite", "Struvite"
    NEWBERYITE = "newberyite", "Newberyite"
    CYSTINE = "cystine", "Cystine"
    XANTHINE = "xanthine", "Xanthine"
    DIHYDROXYADENINE = "dihydroxyadenine", "2,8-dihydroxyadenine"
    DRUG = "drug", "Drug"
    MATRIX = "matrix", "Matrix or protein"
    OTHER = "other", "Other"
    ARTEFACT = "artefact", "Artefact"


class Specimen(CodeList):
    """What was cultured."""

    URINE = "urine", "Bladder urine"
    PELVIC_URINE = "pelvic_urine", "Renal pelvic urine"
    STONE = "stone", "Stone"
    BLOOD = "blood", "Blood"


class CultureResult(CodeList):
    """Result of a culture."""

    POSITIVE = "positive", "Positive"
    NEGATIVE = "negative", "Negative"
    CONTAMINATED = "contaminated", "Mixed growth or contaminated"


class Organism(CodeList):
    """Organisms grown."""

    ESCHERICHIA_COLI = "escherichia_coli", "Escherichia coli"
    KLEBSIELLA = "klebsiella", "Klebsiella"
    PROTEUS = "proteus", "Proteus"
    PSEUDOMONAS = "pseudomonas", "Pseudomonas"
    ENTEROBACTER = "enterobacter", "Enterobacter"
    ENTEROCOCCUS = "enterococcus", "Enterococcus"
    STAPHYLOCOCCUS_AUREUS = "staphylococcus_aureus", "Staphylococcus aureus"
    COAGULASE_NEGATIVE = "coagulase_negative", "Coagulase-negative staphylococcus"
    STREPTOCOCCUS = "streptococcus", "Streptococcus"
    CANDIDA = "candida", "Candida"
    OTHER = "other", "Other"


class Modality(CodeList):
    """Kind of examination."""

    CT = "ct", "Non-contrast CT"
    ULTRASOUND = "ultrasound", "Ultrasound"
    KUB = "kub", "Plain film of kidneys, ureters and bladder"
    SECOND_LOOK = "second_look", "Endoscopic second look"
    OTHER = "other", "Other"


class ImagingPurpose(CodeList):
    """Why an examination was done."""

    DIAGNOSIS = "diagnosis", "Diagnosis or planning"
    FOLLOW_UP = "follow_up", "Planned follow-up"
    UNPLANNED = "unplanned", "Unplanned, for symptoms"


class Finding(CodeList):
    """What a reader said of one renal unit. "None seen" is recorded, never inferred."""

    NONE_SEEN = "none_seen", "No stone or fragment seen"
    FRAGMENTS = "fragments", "Stone or fragments seen"
    INDETERMINATE = "indeterminate", "Cannot be told"


class FragmentKind(CodeList):
    """What an entry stands for."""

    SINGLE = "single", "One fragment"
    ALIKE = "alike", "Several fragments alike"
    CLUSTER = "cluster", "A cluster"
    DUST = "dust", "Dust"


class FragmentOrigin(CodeList):
    """Of which stone a fragment is."""

    STONE = "stone", "Of a stone of the course"
    NEW = "new", "A new stone"
    NOT_SAID = "not_said", "Not said"
    NO_STONE = "no_stone", "No stone: encrusted stent or parenchymal calcification"

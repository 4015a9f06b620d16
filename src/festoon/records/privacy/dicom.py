"""DICOM without identity: an own short list after the basic profile of PS3.15 annex E, and every private tag.

A pixel with a burnt-in name is not seen here: where the file says that there are such, or that it is a kind of picture
that often has them, it is told.
"""

from __future__ import annotations

import hashlib
import io
from typing import TYPE_CHECKING

from festoon.records.privacy.photograph import Cleaned

if TYPE_CHECKING:
    from pydicom.dataset import Dataset

_EMPTIED = {"PatientName", "PatientID", "PatientBirthDate", "PatientSex", "StudyDate", "StudyTime", "AccessionNumber"} | {
    "ReferringPhysicianName", "StudyID", "ContentDate", "ContentTime",
}  # fmt: skip
"""Must stand in the file, so they stay as empty elements (type 2 of their modules)."""
_GROUPS_OF_PEOPLE = (0x0010, 0x0032, 0x0038, 0x0040, 0x4008)
"""Groups that say who, why and by whom: patient, request, visit, procedure, interpretation."""
_KEPT = {"PatientPosition", "PatientIdentityRemoved"}
_NAMED = {
    "InstitutionName", "InstitutionAddress", "InstitutionalDepartmentName", "StationName", "OperatorsName",
    "PerformingPhysicianName", "NameOfPhysiciansReadingStudy", "PhysiciansOfRecord", "ConsultingPhysicianName",
    "DeviceSerialNumber", "StudyDescription", "SeriesDescription", "ProtocolName", "ImageComments",
    "DerivationDescription", "AdmittingDiagnosesDescription", "SeriesDate", "SeriesTime", "AcquisitionDate",
    "AcquisitionTime", "AcquisitionDateTime", "InstanceCreationDate", "InstanceCreationTime",
    "InstanceCreatorUID", "ReferencedPatientSequence", "ReferencedStudySequence", "RequestAttributesSequence",
    "ContentCreatorName", "DigitalSignaturesSequence", "OriginalAttributesSequence", "EncryptedAttributesSequence",
    "DateOfSecondaryCapture", "TimeOfSecondaryCapture", "SecondaryCaptureDeviceID", "TimezoneOffsetFromUTC",
}  # fmt: skip
_NAME_KINDS = ("PN", "DA", "DT", "TM")
"""Value representations that hold a person or a moment wherever they stand."""
_UIDS = {"StudyInstanceUID", "SeriesInstanceUID", "SOPInstanceUID", "FrameOfReferenceUID"}


def clean_dicom(data: bytes) -> Cleaned:
    """A DICOM file without identity. Its UIDs are replaced by others, the same for the same, so that slices stay together.

    Raises
    ------
    ValueError
        If it is no DICOM file.
    """
    import pydicom
    from pydicom.errors import InvalidDicomError

    try:
        dataset = pydicom.dcmread(io.BytesIO(data))
    except InvalidDicomError:
        raise ValueError("no DICOM file") from None
    removed: list[str] = []
    if str(dataset.get("BurnedInAnnotation", "")).upper() == "YES":
        removed.append("NOT removed: the file says that its pixels hold text; look at it before it is shown")
    dataset.remove_private_tags()
    _strip(dataset, removed)
    for name in sorted(_UIDS & set(dataset.dir())):
        dataset[name].value = _other_uid(str(dataset[name].value))
        removed.append(f"{name} (replaced)")
    if "SOPInstanceUID" in dataset:
        dataset.file_meta.MediaStorageSOPInstanceUID = dataset.SOPInstanceUID
    for name in ("SourceApplicationEntityTitle", "PrivateInformation", "PrivateInformationCreatorUID"):
        if name in dataset.file_meta:
            del dataset.file_meta[name]
            removed.append(name)
    dataset.PatientIdentityRemoved = "YES"
    dataset.DeidentificationMethod = "festoon, after PS3.15 annex E, pixels not looked at"
    out = io.BytesIO()
    dataset.save_as(out, enforce_file_format=True)
    return Cleaned(out.getvalue(), tuple(dict.fromkeys(removed)))


def _other_uid(uid: str) -> str:
    """Another UID, the same for the same; whoever has the original file can still tell that they belong together."""
    return f"2.25.{int(hashlib.sha256(uid.encode()).hexdigest()[:32], 16)}"


def _strip(dataset: Dataset, removed: list[str]) -> None:
    for element in list(dataset):
        name = element.keyword or str(element.tag)
        if name in _KEPT:
            continue
        if name in _EMPTIED:
            if element.value not in (None, ""):
                removed.append(name)
            element.value = ""
        elif element.tag.group in _GROUPS_OF_PEOPLE or name in _NAMED or element.VR in _NAME_KINDS:
            removed.append(name)
            del dataset[element.tag]
        elif element.VR == "SQ":
            for item in element.value:
                _strip(item, removed)

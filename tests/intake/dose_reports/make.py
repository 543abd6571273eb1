"""Writes the dose reports of this folder with pydicom 3.0.2, an independent library.

    pip install pydicom==3.0.2 && python3 make.py

The procedures, values and identifiers are invented. Every report carries planted
identifiers, whose words all contain PLANTED or 1.2.826.0.1.3680043.10.999, so that a test
can search for what must never be kept. Codes: DICOM PS3.16, taken from pydicom's tables.
"""

from pathlib import Path

from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.sequence import Sequence
from pydicom.sr.codedict import codes
from pydicom.uid import (
    DeflatedExplicitVRLittleEndian,
    ExplicitVRBigEndian,
    ExplicitVRLittleEndian,
    ImplicitVRLittleEndian,
    JPEGBaseline8Bit,
)
from pydicom import config

config.settings.writing_validation_mode = config.IGNORE
config.settings.reading_validation_mode = config.IGNORE

HERE = Path(__file__).parent
ROOT = "1.2.826.0.1.3680043.10.999"
DOSE_SR = "1.2.840.10008.5.1.4.1.1.88.67"


def coded(code):
    value, scheme, meaning = code[:3]
    item = Dataset()
    item.CodeValue, item.CodingSchemeDesignator, item.CodeMeaning = value, scheme, meaning
    return item


def content(kind, concept, relation="CONTAINS"):
    item = Dataset()
    item.RelationshipType = relation
    item.ValueType = kind
    item.ConceptNameCodeSequence = Sequence([coded(concept)])
    return item


def container(concept, *children):
    item = content("CONTAINER", concept)
    item.ContinuityOfContent = "SEPARATE"
    item.ContentSequence = Sequence(children)
    return item


def number(concept, value, unit, scheme="UCUM"):
    item = content("NUM", concept)
    measured = Dataset()
    if unit is not None:
        measured.MeasurementUnitsCodeSequence = Sequence([coded((unit, scheme, "a unit"))])
    measured.NumericValue = value
    item.MeasuredValueSequence = Sequence([measured])
    return item


def code(concept, answer, relation="CONTAINS"):
    item = content("CODE", concept, relation)
    item.ConceptCodeSequence = Sequence([coded(answer)])
    return item


def text(concept, words):
    item = content("TEXT", concept)
    item.TextValue = words
    return item


D = codes.DCM
FLUOROSCOPY = ("44491008", "SCT", "Fluoroscopy")


def totals(plane, *numbers, reference=D._15cmFromIsocenterTowardSource):
    children = [code(D.AcquisitionPlane, plane, "HAS CONCEPT MOD"), *numbers]
    if reference is not None:
        children.append(code(D.ReferencePointDefinition, reference))
    return container(D.AccumulatedXRayDoseData, *children)


def event(plane, kind, kerma, area):
    uid = content("UIDREF", ("113769", "DCM", "Irradiation Event UID"))
    uid.UID = ROOT + ".77"
    return container(
        D.IrradiationEventXRayData,
        code(D.AcquisitionPlane, plane, "HAS CONCEPT MOD"),
        uid,
        code(D.IrradiationEventType, kind),
        text(("125203", "DCM", "Acquisition Protocol"), "PLANTED protocol"),
        number(D.DoseAreaProduct, area, "Gy.m2"),
        number(D.DoseRP, kerma, "Gy"),
    )


def report(*children, about=D.ProjectionXRay, title=D.XRayRadiationDoseReport):
    root = Dataset()
    root.SOPClassUID = DOSE_SR
    root.SOPInstanceUID = ROOT + ".1"
    root.StudyInstanceUID = ROOT + ".2"
    root.SeriesInstanceUID = ROOT + ".3"
    root.Modality = "SR"
    root.PatientName = "PLANTED^Name"
    root.PatientID = "PLANTED-ID-4711"
    root.PatientBirthDate = "19500203"
    root.StudyDate = "20250817"
    root.AccessionNumber = "PLANTED-ACC"
    root.InstitutionName = "PLANTED Hospital"
    root.ReferringPhysicianName = "PLANTED^Doctor"
    root.Manufacturer = "PLANTED Maker"
    root.DeviceSerialNumber = "PLANTED-SERIAL"
    root.StudyDescription = "PLANTED study"
    root.ValueType = "CONTAINER"
    root.ConceptNameCodeSequence = Sequence([coded(title)])
    root.ContinuityOfContent = "SEPARATE"
    observer = content("TEXT", ("121013", "DCM", "Device Observer Name"), "HAS OBS CONTEXT")
    observer.TextValue = "PLANTED room"
    head = [observer]
    if about is not None:
        head.insert(0, code(D.ProcedureReported, about, "HAS CONCEPT MOD"))
    root.ContentSequence = Sequence([*head, *children])
    return root


def write(name, data, syntax=ExplicitVRLittleEndian):
    meta = FileMetaDataset()
    meta.MediaStorageSOPClassUID = data.get("SOPClassUID", DOSE_SR)
    meta.MediaStorageSOPInstanceUID = ROOT + ".1"
    meta.TransferSyntaxUID = syntax
    meta.ImplementationClassUID = ROOT + ".9"
    file = FileDataset(name, data, file_meta=meta, preamble=b"\0" * 128,
                       is_implicit_VR=syntax.is_implicit_VR, is_little_endian=syntax.is_little_endian)
    file.save_as(HERE / name, enforce_file_format=True)


def usual(**changes):
    """A single-plane case: 23.4 mGy, 6.367 Gy.cm2, 252 s, 12.5 s of cine, two runs."""
    figures = dict(kerma="0.0234", fluoro_kerma="0.0134", cine_kerma="0.0100", area="0.0006367",
                   fluoro_area="0.0003367", cine_area="0.0003000", time="252", cine="12.5", frames="94")
    figures.update(changes)
    return totals(
        D.SinglePlane,
        number(D.DoseAreaProductTotal, figures["area"], "Gy.m2"),
        number(D.DoseRPTotal, figures["kerma"], "Gy"),
        number(D.FluoroDoseAreaProductTotal, figures["fluoro_area"], "Gy.m2"),
        number(D.FluoroDoseRPTotal, figures["fluoro_kerma"], "Gy"),
        number(D.TotalFluoroTime, figures["time"], "s"),
        number(D.AcquisitionDoseAreaProductTotal, figures["cine_area"], "Gy.m2"),
        number(D.AcquisitionDoseRPTotal, figures["cine_kerma"], "Gy"),
        number(D.TotalAcquisitionTime, figures["cine"], "s"),
        number(D.TotalNumberOfRadiographicFrames, figures["frames"], "1"),
    )


EVENTS = [
    event(D.SinglePlane, FLUOROSCOPY, "0.0094", "0.0002367"),
    event(D.SinglePlane, FLUOROSCOPY, "0.0040", "0.0001000"),
    event(D.SinglePlane, D.StationaryAcquisition, "0.0060", "0.0002000"),
    event(D.SinglePlane, D.RotationalAcquisition, "0.0040", "0.0001000"),
]

write("single_plane.dcm", report(usual(), *EVENTS))
write("implicit.dcm", report(usual(), *EVENTS), ImplicitVRLittleEndian)
write("big_endian.dcm", report(usual(), *EVENTS), ExplicitVRBigEndian)
write("deflated.dcm", report(usual(), *EVENTS), DeflatedExplicitVRLittleEndian)

undefined = report(usual(), *EVENTS)


def undefine(data):
    for element in data:
        if element.VR == "SQ":
            element.is_undefined_length = True
            for item in element.value:
                item.is_undefined_length_sequence_item = True
                undefine(item)


undefine(undefined)
write("undefined_lengths.dcm", undefined)

write("biplane.dcm", report(
    totals(D.PlaneA, number(D.DoseRPTotal, "0.0200", "Gy"), number(D.DoseAreaProductTotal, "0.0005", "Gy.m2"),
           number(D.TotalFluoroTime, "120", "s")),
    totals(D.PlaneB, number(D.DoseRPTotal, "0.0050", "Gy"), number(D.DoseAreaProductTotal, "0.0001", "Gy.m2"),
           number(D.TotalFluoroTime, "30", "s")),
    event(D.PlaneA, FLUOROSCOPY, "0.0200", "0.0005"),
    event(D.PlaneB, FLUOROSCOPY, "0.0050", "0.0001"),
))
write("biplane_wrong_sum.dcm", report(
    totals(D.PlaneA, number(D.DoseRPTotal, "0.0200", "Gy")),
    totals(D.PlaneB, number(D.DoseRPTotal, "0.0050", "Gy")),
    totals(D.AllPlanes, number(D.DoseRPTotal, "0.0400", "Gy")),
))
write("events_disagree.dcm", report(usual(), *EVENTS[:2]))
write("parts_disagree.dcm", report(usual(fluoro_kerma="0.0034"), *EVENTS))
write("other_units.dcm", report(totals(
    D.SinglePlane, number(D.DoseRPTotal, "23.4", "mGy"), number(D.DoseAreaProductTotal, "636.7", "uGy.m2"),
    number(D.TotalFluoroTime, "4.2", "min"))))
write("sparse.dcm", report(totals(D.SinglePlane, number(D.DoseRPTotal, "0.0234", "Gy"))))
write("no_unit.dcm", report(totals(D.SinglePlane, number(D.DoseRPTotal, "0.0234", None))))
write("unit_of_another_scheme.dcm", report(totals(
    D.SinglePlane, number(D.DoseRPTotal, "0.0234", "Gy", scheme="99PRIVATE"))))
write("minutes_as_dose.dcm", report(totals(D.SinglePlane, number(D.DoseRPTotal, "4.2", "min"))))
write("conflicting.dcm", report(usual(), usual(kerma="0.0934")))
write("negative.dcm", report(usual(kerma="-0.0234")))
write("not_finite.dcm", report(usual(kerma="1e400")))
# The library writes only numbers where a number belongs: the word is put in afterwards.
write("words.dcm", report(usual(kerma="7777777")))
(HERE / "words.dcm").write_bytes((HERE / "words.dcm").read_bytes().replace(b"7777777", b"PLANTED"))
write("two_numbers.dcm", report(usual(kerma="0.0234\\0.0235")))
write("enormous.dcm", report(totals(D.SinglePlane, number(D.DoseRPTotal, "999", "Gy"))))
write("other_reference_point.dcm", report(totals(
    D.SinglePlane, number(D.DoseRPTotal, "0.0234", "Gy"), reference=("113861", "DCM", "30cm above X-Ray Input Surface"))))
write("misleading_meanings.dcm", report(totals(
    D.SinglePlane,
    number(("113725", "DCM", "Total Fluoro Time"), "0.0234", "Gy"),
    number(("113725", "99PRIVATE", "Dose (RP) Total"), "0.9", "Gy"),
    number(("999999", "DCM", "Dose Area Product Total"), "0.9", "Gy.m2"))))
write("no_totals.dcm", report(*EVENTS))
write("ct.dcm", report(container(D.CTAccumulatedDoseData), about=("77477000", "SCT", "Computed Tomography X-Ray")))
write("mammography.dcm", report(usual(), about=("P5-40010", "SRT", "Mammography")))
write("other_report.dcm", report(usual(), title=("126000", "DCM", "Imaging Measurement Report")))

image = Dataset()
image.SOPClassUID = "1.2.840.10008.5.1.4.1.1.12.1"
image.SOPInstanceUID = ROOT + ".1"
image.Modality = "XA"
image.PatientName = "PLANTED^Name"
image.Rows = image.Columns = 4
image.BitsAllocated = image.BitsStored = 8
image.HighBit, image.PixelRepresentation, image.SamplesPerPixel = 7, 0, 1
image.PhotometricInterpretation = "MONOCHROME2"
image.PixelData = bytes(16)
write("image.dcm", image)
plan = Dataset()
plan.SOPClassUID = "1.2.840.10008.5.1.4.1.1.104.1"
plan.SOPInstanceUID = ROOT + ".1"
plan.Modality = "DOC"
write("document.dcm", plan)
write("compressed_image.dcm", plan, JPEGBaseline8Bit)

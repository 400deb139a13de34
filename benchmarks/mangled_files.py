"""Sound files of every kind that a study takes, made small: what the mutator starts from."""

import datetime
import io
import zipfile

import numpy as np

from bonewright.study.crate import CrateFacts, crate_bytes
from bonewright.study.darwin_core import archive_bytes
from bonewright.study.model import Study

__all__ = ["bomb", "sound_files", "sound_workbook"]


def sound_files(study: Study) -> dict[str, bytes]:
    """Return files by name; those of one folder (``series/...``) belong together."""
    folder = study.folder
    files = {
        "bones.csv": (folder / "tables" / "specimens.csv").read_bytes(),
        "bones.xlsx": sound_workbook(),
        "bones.ods": _ods(),
        "collection.zip": archive_bytes(study),
        "crate.zip": crate_bytes(
            {"study.toml": (folder / "study.toml").read_bytes(), "tables/a.csv": b"a,b\n1,2\n"},
            study.settings,
            CrateFacts(made=datetime.date(2026, 1, 1), software={"numpy": "2"}),
        ),
        "section.svg": _svg(),
        "section.dxf": _dxf(),
        "section.csv": (folder / "files" / "outlines" / "sec-12.csv").read_bytes(),
        "tree.nwk": (folder / "files" / "relatives.nwk").read_bytes(),
        "tree.nex": b"#NEXUS\nbegin trees;\n translate 1 Aa_b, 2 Cc_d, 3 Ee_f;\n"
        b" tree one = [&R] ((1:1,2:1):1,3:2);\n tree two = [&R] ((1:2,2:2):1,3:3);\nend;\n",
    }
    files |= _surfaces() | _pictures() | _slices()
    return files


def sound_workbook() -> bytes:
    """Return a workbook with the table measurements, one value of it a formula."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None  # noqa: S101 - a new workbook has a sheet
    sheet.title = "measurements"
    names = ["measurementID", "materialEntityID", "measurementType", "measurementValue"]
    sheet.append([*names, "measurementUnit"])
    for number in range(12):
        sheet.append([f"m-{number}", f"bone-{number}", "GL", 170.5 + number, "mm"])
    sheet.append(["m-x", "bone-x", "GL", "=D2*2", "mm"])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _ods() -> bytes:
    from odf.opendocument import OpenDocumentSpreadsheet
    from odf.table import Table, TableCell, TableRow
    from odf.text import P

    book = OpenDocumentSpreadsheet()
    table = Table(name="measurements")
    for cells in (("catalogNumber", "femur GL"), ("12", "170.5"), ("13", "171.5")):
        row = TableRow()
        for text in cells:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            row.addElement(cell)
        table.addElement(row)
    book.spreadsheet.addElement(table)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _svg() -> bytes:
    return (
        b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm"'
        b' viewBox="0 0 40 40"><g transform="translate(1,1)"><path d="M 5 20 A 15 15 0 1 0 35 20'
        b' A 15 15 0 1 0 5 20 Z"/><path d="M10 20 C 10 10 30 10 30 20 C 30 30 10 30 10 20 Z"/>'
        b"</g></svg>\n"
    )


def _dxf() -> bytes:
    import ezdxf

    document = ezdxf.new("R2000")  # type: ignore[attr-defined]
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_circle((0, 0), 15)
    space.add_lwpolyline([(-5, -5), (5, -5), (5, 5), (-5, 5)], close=True)
    space.add_spline([(8, 0), (9, 1), (10, 0), (9, -1), (8, 0)])
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def _surfaces() -> dict[str, bytes]:
    import trimesh

    mesh = trimesh.creation.icosphere(subdivisions=2, radius=30.0)
    kinds = ("stl", "obj", "glb", "ply")
    made = {f"scan.{kind}": mesh.export(file_type=kind) for kind in kinds}
    made["text.ply"] = mesh.export(file_type="ply", encoding="ascii")
    made["text.stl"] = mesh.export(file_type="stl_ascii")
    return {n: c.encode() if isinstance(c, str) else bytes(c) for n, c in made.items()}


def _disc() -> np.ndarray:
    y, x = np.mgrid[0:48, 0:48] - 24.0
    away = np.hypot(x, y)
    return np.where((away < 20) & (away > 11), 60000, 4000).astype(np.uint16)


def _pictures() -> dict[str, bytes]:
    from PIL import Image

    picture = Image.fromarray((_disc() >> 8).astype(np.uint8))
    made = {}
    for kind in ("png", "jpeg", "tiff", "gif", "bmp", "webp"):
        out = io.BytesIO()
        picture.save(out, kind)
        made[f"picture.{kind}"] = out.getvalue()
    return made


def _slices() -> dict[str, bytes]:
    import tifffile
    from pydicom.dataset import Dataset, FileMetaDataset
    from pydicom.uid import CTImageStorage, ExplicitVRLittleEndian, generate_uid

    made = {}
    for name, packing in (("stack.tif", None), ("packed.tif", "zlib")):
        out = io.BytesIO()
        pages = np.stack([_disc()] * 5)
        tifffile.imwrite(
            out,
            pages,
            imagej=packing is None,
            compression=packing,
            resolution=(10.0, 10.0),
            metadata={"spacing": 0.5, "unit": "mm"} if packing is None else None,
        )
        made[name] = out.getvalue()
    series = generate_uid(entropy_srcs=["bonewright"])
    for number in range(4):
        slice_ = Dataset()
        slice_.file_meta = FileMetaDataset()
        slice_.file_meta.TransferSyntaxUID = ExplicitVRLittleEndian
        slice_.file_meta.MediaStorageSOPClassUID = CTImageStorage
        slice_.file_meta.MediaStorageSOPInstanceUID = f"1.2.3.{number}"
        slice_.SOPClassUID = CTImageStorage
        slice_.SOPInstanceUID = f"1.2.3.{number}"
        slice_.SeriesInstanceUID = series
        slice_.Rows = slice_.Columns = 48
        slice_.PixelSpacing = [0.1, 0.1]
        slice_.ImageOrientationPatient = [1, 0, 0, 0, 1, 0]
        slice_.ImagePositionPatient = [0, 0, 0.5 * number]
        slice_.SamplesPerPixel = 1
        slice_.PhotometricInterpretation = "MONOCHROME2"
        slice_.BitsAllocated = slice_.BitsStored = 16
        slice_.HighBit = 15
        slice_.PixelRepresentation = 0
        slice_.PixelData = _disc().tobytes()
        out = io.BytesIO()
        slice_.save_as(out, enforce_file_format=True)
        made[f"series/slice{number}.dcm"] = out.getvalue()
    return made


def bomb(like: bytes, part: str, *, unpacked_bytes: int) -> bytes:
    """Return a zip like another in which one part unpacks to very much."""
    out = io.BytesIO()
    block = b"<row><c><v>1</v></c></row>" * 40_000
    with (
        zipfile.ZipFile(io.BytesIO(like)) as sound,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as made,
    ):
        for entry in sound.infolist():
            content = sound.read(entry)
            if entry.filename != part:
                made.writestr(entry.filename, content)
                continue
            head, end, tail = content.partition(b"</sheetData>")
            with made.open(part, "w", force_zip64=True) as written:
                written.write(head)
                for _ in range(unpacked_bytes // len(block)):
                    written.write(block)
                written.write(end + tail)
    return out.getvalue()

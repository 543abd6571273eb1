"""Writes the OpenDocument workbooks of the tests with an independent library (odfpy 1.4.1), and
has an office suite save one of them again, as .ods and as .xlsx.

    pip install odfpy==1.4.1
    python3 make.py SUITE      # a program that takes --headless --convert-to

What the suite says about itself is left out, as are its pictures and settings.
"""

import os
import subprocess
import sys
import tempfile
import zipfile

from odf.dc import Creator
from odf.office import Annotation
from odf.opendocument import OpenDocumentSpreadsheet, OpenDocumentText
from odf.table import (
    CoveredTableCell,
    Table,
    TableCell,
    TableColumn,
    TableHeaderRows,
    TableRow,
    TableRowGroup,
)
from odf.text import A, LineBreak, P, S, Span, Tab

LEFT_OUT = ("docProps", "meta", "settings", "Thumbnails", "Configurations", "manifest.rdf", "styles")

HERE = os.path.dirname(os.path.abspath(__file__))


def put(row, value=None, kind=None, shown=None, **more):
    """A cell; `shown` is the text in it where that is not its value."""
    cell = TableCell(**({"valuetype": kind} if kind else {}), **more)
    if kind in ("float", "percentage", "currency"):
        cell.setAttribute("value", value)
    elif kind == "boolean":
        cell.setAttribute("booleanvalue", value)
    elif kind == "date":
        cell.setAttribute("datevalue", value)
    elif kind == "time":
        cell.setAttribute("timevalue", value)
    text = value if shown is None else shown
    if text is not None:
        cell.addElement(P(text=text))
    row.addElement(cell)
    return cell


def words(row, *texts):
    for text in texts:
        put(row, text, "string")


def row_of(table, **more):
    row = TableRow(**more)
    table.addElement(row)
    return row


def remark(text):
    """A remark hung on a cell: no part of its value."""
    note = Annotation()
    note.addElement(Creator(text="somebody"))
    note.addElement(P(text=text))
    return note


def cases(document):
    table = Table(name=" Cases ")
    table.addElement(TableColumn(numbercolumnsrepeated=1024))
    row_of(table, numberrowsrepeated=2).addElement(TableCell(numbercolumnsrepeated=1024))
    heads = TableHeaderRows()
    table.addElement(heads)
    words(row_of(heads), "period", "bmi", "lead", "when", "note", "left", "right")
    group = TableRowGroup()
    table.addElement(group)

    row = row_of(group)
    put(row, "2025Q3", "string").addElement(remark("not a value"))
    put(row, "27.4", "float", "27,4 kg/m²")
    put(row, "true", "boolean", "TRUE")
    put(row, "2025-09-05", "date", "5 Sep")
    cell = TableCell(valuetype="string")
    line = P()
    line.addText("two ")
    line.addElement(S(c=2))
    line.addElement(Span(text="spans"))
    line.addElement(Tab())
    line.addElement(A(href="#x", text="& <a link>"))
    line.addElement(LineBreak())
    line.addText('"quoted"')
    cell.addElement(line)
    cell.addElement(P(text="second paragraph"))
    row.addElement(cell)
    put(row, "0.125", "percentage", "12.5 %", numbercolumnsrepeated=2)

    row_of(group, numberrowsrepeated=3).addElement(TableCell(numbercolumnsrepeated=7))
    row = row_of(group, numberrowsrepeated=2)
    put(row, "2025Q4", "string")
    row.addElement(TableCell(numbercolumnsrepeated=2))
    put(row, "PT08H30M00S", "time", "08:30")
    row.addElement(TableCell(numbercolumnsrepeated=2))
    put(row, "-1.5E-3", "float", "-0,0015")
    row_of(table, numberrowsrepeated=1048000).addElement(TableCell(numbercolumnsrepeated=1024))
    document.spreadsheet.addElement(table)


def follow_ups(document):
    table = Table(name="Follow-ups")
    words(row_of(table), "case_code", "fu30_day")
    row = row_of(table)
    put(row, "plain", shown="of no type")
    put(row, "30", "float")
    document.spreadsheet.addElement(table)


def complications(document):
    table = Table(name="complications")
    words(row_of(table), "case_code", "event", "detected_by")
    row = row_of(table)
    put(row, "merged", "string", numbercolumnsspanned=2, numberrowsspanned=1)
    covered = CoveredTableCell(valuetype="string")
    covered.addElement(P(text="hidden below a merged cell"))
    row.addElement(covered)
    put(row, "after", "string")
    document.spreadsheet.addElement(table)


def notes(document):
    table = Table(name="notes")
    words(row_of(table), "not read")
    document.spreadsheet.addElement(table)


def messy(path):
    document = OpenDocumentSpreadsheet()
    notes(document)
    cases(document)
    follow_ups(document)
    complications(document)
    document.save(path)


def letter(path):
    """A text document, which is no workbook."""
    document = OpenDocumentText()
    document.text.addElement(P(text="Dear all"))
    document.save(path)


def saved_again(suite, source, kind, target):
    with tempfile.TemporaryDirectory() as folder:
        home = f"-env:UserInstallation=file://{folder}/home"
        command = [suite, home, "--headless", "--convert-to", kind, "--outdir", folder, source]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        saved = os.path.join(folder, os.path.splitext(os.path.basename(source))[0] + "." + kind)
        with zipfile.ZipFile(saved) as whole, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as kept:
            for part in whole.infolist():
                if not part.filename.startswith(LEFT_OUT):
                    kept.writestr(part.filename, whole.read(part))


def main():
    def here(name):
        return os.path.join(HERE, name)

    messy(here("messy.ods"))
    letter(here("letter.odt"))
    for kind in ("ods", "xlsx"):
        saved_again(sys.argv[1], here("messy.ods"), kind, here(f"saved_again.{kind}"))


if __name__ == "__main__":
    main()

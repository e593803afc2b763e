#!/usr/bin/env python3
"""Makes tests/import/lists/: packing lists as other programs write them, and what each comes to.

Needs openpyxl, XlsxWriter, xlwt, odfpy and LibreOffice (soffice). All stones, suppliers and figures are invented.
The expected lists are written here from the figures, and never by the program that is tested.

    python3 tests/import/make.py        # writes lists/ and lists.txt anew
"""
import datetime
import io
import pathlib
import shutil
import subprocess
import tempfile
import zipfile
from decimal import Decimal

import openpyxl
import xlsxwriter
import xlwt
from odf import opendocument, style, table, text

HERE = pathlib.Path(__file__).parent
LISTS = HERE / "lists"
CASES = []


def case(file, options="", expect=None, says=(), stdin=False):
    """One run: the file, its options, and the list that comes of it or what is said."""
    CASES.append((file, options, expect, says, stdin))


def slabs(bundles=2, each=3):
    """Invented slabs: bundle, number in it, length and height in mm."""
    out = []
    for b in range(1, bundles + 1):
        for n in range(1, each + 1):
            out.append((f"B{b}", n, 2800 + 15 * n + 5 * b, 1780 + 10 * n + 5 * b))
    return out


def figure(value):
    """A decimal without trailing noughts."""
    text = format(Decimal(value).normalize(), "f")
    return text


def cm(mm):
    return figure(Decimal(mm) / 10)


def m(mm):
    return figure(Decimal(mm) / 1000)


def area(l, h, places="0.001"):
    return (Decimal(l) * Decimal(h) / 1000000).quantize(Decimal(places))


def want(rows, head="slab,bundle,length (cm),height (cm)", unit=cm, name=lambda b, n: f"{b}-S{n}", more=lambda *a: ""):
    """The expected packing.csv."""
    lines = [head]
    for b, n, l, h in rows:
        lines.append(f"{name(b, n)},{b},{unit(l)},{unit(h)}{more(b, n, l, h)}")
    return "\n".join(lines) + "\n"


def book(file, *sheets, **kinds):
    """A workbook by openpyxl: sheets as (title, rows); a row is a list of cells."""
    wb = openpyxl.Workbook()
    wb.remove(wb.active)
    for title, rows in sheets:
        ws = wb.create_sheet(title)
        for row in rows:
            ws.append(row)
    if "then" in kinds:
        kinds["then"](wb)
    wb.save(LISTS / file)


def soffice(source, ending, filter_name=None):
    """The file as LibreOffice saves it in another form."""
    with tempfile.TemporaryDirectory() as folder:
        form = ending if filter_name is None else f"{ending}:{filter_name}"
        subprocess.run(
            ["soffice", "--headless", f"-env:UserInstallation=file://{folder}/profile", "--convert-to", form,
             "--outdir", folder, str(source)],
            check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return (pathlib.Path(folder) / (source.stem + "." + ending)).read_bytes()


ROWS = slabs()
HEAD = ["Slab No.", "Bundle", "Length (cm)", "Height (cm)"]


def fl(mm, by=10):
    return float(Decimal(mm) / by)


def plain_rows():
    return [[n, b, fl(l), fl(h)] for b, n, l, h in ROWS]


def make_workbooks():
    # 1: a list as plain as can be, but for numbers that begin again.
    book("plain.xlsx", ("Sheet1", [HEAD] + plain_rows()))
    case("plain.xlsx", expect=want(ROWS))

    # 2: titles above, an address, a date, blank rows, and a note below.
    book("titles.xlsx", ("Packing List", [
        ["QUARRY TEAPOT (INVENTED)"], ["12 Saucer Road"], [],
        ["Packing list", "T-118", "Date", datetime.date(2026, 3, 4)], ["Buyer", "Kettle Stone (invented)"], [],
        HEAD] + plain_rows() + [[], ["Goods remain ours until paid."]]))
    case("titles.xlsx", expect=want(ROWS))

    # 3: a header of two rows, with gross and net over both sides.
    def merge(wb):
        ws = wb.active
        ws.merge_cells("C1:D1")
        ws.merge_cells("E1:F1")
    book("two-row-header.xlsx", ("List", [
        ["Slab", "Bundle", "Gross", None, "Net", None, "M2"],
        [None, None, "L (cm)", "H (cm)", "L (cm)", "H (cm)", "net"]] +
        [[n, b, fl(l), fl(h), fl(l - 50), fl(h - 50), float(area(l - 50, h - 50))] for b, n, l, h in ROWS]), then=merge)
    both = want(ROWS, "slab,bundle,length (cm),height (cm),billed length (cm),billed height (cm)",
                more=lambda b, n, l, h: f",{cm(l - 50)},{cm(h - 50)}")
    case("two-row-header.xlsx", expect=both)

    # 4: a bundle merged over its slabs.
    def bundles(wb):
        wb.active.merge_cells("A2:A4")
        wb.active.merge_cells("A5:A7")
    rows = [[b if n == 1 else None, n, fl(l), fl(h)] for b, n, l, h in ROWS]
    book("merged-bundle.xlsx", ("List", [["Bundle", "Slab", "Length cm", "Width cm"]] + rows), then=bundles)
    case("merged-bundle.xlsx", expect=want(ROWS))

    # 5: both sides in one cell, in cm; the third figure is the thickness.
    book("size-in-one.xlsx", ("List", [["No.", "Crate", "Size (cm)"]] +
         [[n, b, f"{cm(l)}x{cm(h)}x2"] for b, n, l, h in ROWS]))
    case("size-in-one.xlsx", expect=want(ROWS, "slab,bundle,length (cm),height (cm),thickness (cm)",
                                         more=lambda *a: ",2"))

    # 6: both sides in one cell, in metres by the areas alone.
    book("metres-by-area.xlsx", ("List", [["No.", "Bundle", "Dimensions", "SQM"]] +
         [[n, b, f"{m(l)} x {m(h)}", float(area(l, h, '0.01'))] for b, n, l, h in ROWS]))
    case("metres-by-area.xlsx", expect=want(ROWS, "slab,bundle,length (m),height (m)", m))

    # 7: inches as fractions and marks.
    inch = [("7", 1, "120 1/2", "75\u00bd\""), ("7", 2, "119", "74 3/4"), ("8", 1, "118 1/4\"", "75")]
    book("inches.xlsx", ("List", [["Bundle", "Slab", "Length", "Height"]] + [[b, n, l, h] for b, n, l, h in inch]))
    case("inches.xlsx", expect="slab,bundle,length (in),height (in)\n"
         "7-S1,7,120.5,75.5\n7-S2,7,119,74.75\n8-S1,8,118.25,75\n")

    # 8: figures as text with a decimal comma.
    book("comma.xlsx", ("Foglio1", [["N. lastra", "Pacco", "Lunghezza cm", "Altezza cm"]] +
         [[str(n), b, cm(l).replace(".", ","), cm(h).replace(".", ",")] for b, n, l, h in ROWS]))
    case("comma.xlsx", expect=want(ROWS))

    # 9: subtotals as formulas, worked out by LibreOffice.
    def summed(rows, first=2):
        out, start, at = [], first, first
        last = None
        starts = []
        for b, n, l, h in rows + [(None, 0, 0, 0)]:
            if last is not None and b != last:
                out.append(["Total " + last, None, None, None, f"=SUM(E{start}:E{at - 1})"])
                starts.append(at)
                at += 1
                start = at
            if b is not None:
                out.append([b if b != last else None, n, fl(l), fl(h), f"=ROUND(C{at}*D{at}/10000,3)"])
                at += 1
            last = b
        out.append(["GRAND TOTAL", None, None, None, "=" + "+".join(f"E{one}" for one in starts)])
        return out
    head = ["Bundle", "Slab", "Length cm", "Height cm", "m2"]
    book("formulas.xlsx", ("List", [head] + summed(ROWS)))
    case("formulas.xlsx", says=["has no stored value", "List!E2"])
    for ending in ("xlsx", "ods", "xls"):
        (LISTS / f"subtotals-saved.{ending}").write_bytes(soffice(LISTS / "formulas.xlsx", ending))
        case(f"subtotals-saved.{ending}", expect=want(ROWS))

    # 10: a total that is wrong.
    wrong = [[b, n, fl(l), fl(h), float(area(l, h))] for b, n, l, h in ROWS]
    wrong.append(["Total", None, None, None, 99.999])
    book("total-wrong.xlsx", ("List", [head] + wrong))
    total = sum(area(l, h) for _, _, l, h in ROWS)
    case("total-wrong.xlsx", says=["List!E8", "99.999", str(total)])

    # 11: an area that is wrong on one slab.
    wrong = [[b, n, fl(l), fl(h), float(area(l, h))] for b, n, l, h in ROWS]
    wrong[3][4] = 9.5
    book("area-wrong.xlsx", ("List", [head] + wrong))
    case("area-wrong.xlsx", says=["List!E5", "9.5", str(area(ROWS[3][2], ROWS[3][3])), "--column none=E"])
    case("area-wrong.xlsx", "--column none=E", expect=want(ROWS))

    # 12: ranges with a count.
    book("ranges.xlsx", ("List", [["Slab no", "Pcs", "Bundle", "Length cm", "Height cm"],
         ["1-3", 3, "A", 280, 180], ["4", 1, "A", 281, 181], ["5 to 6", 2, "B", 282.5, 182]]))
    case("ranges.xlsx", expect="slab,bundle,length (cm),height (cm)\n" +
         "".join(f"{n},A,280,180\n" for n in (1, 2, 3)) + "4,A,281,181\n5,B,282.5,182\n6,B,282.5,182\n")

    # 13: Chinese and English in one header.
    book("chinese.xlsx", ("\u88c5\u7bb1\u5355", [
        ["\u8336\u58f6\u77f3\u6750 (invented)"],
        ["\u6346\u53f7 Bundle", "\u677f\u53f7 Slab", "\u957f(\u5398\u7c73)", "\u9ad8(\u5398\u7c73)", "\u9762\u79ef(\u5e73\u65b9\u7c73)", "\u5907\u6ce8"]] +
        [[b, n, fl(l), fl(h), float(area(l, h)), None] for b, n, l, h in ROWS] +
        [["\u5408\u8ba1", 6, None, None, float(total), None]]))
    case("chinese.xlsx", expect=want(ROWS))

    # 14: a sheet a bundle.
    book("sheet-a-bundle.xlsx", *[(f"Bundle {b}", [["Slab", "Length (mm)", "Height (mm)"]] +
         [[n, l, h] for own, n, l, h in ROWS if own == b]) for b in ("B1", "B2")],
         ("Terms", [["All prices are invented."]]))
    case("sheet-a-bundle.xlsx", expect=want(ROWS, "slab,bundle,length (mm),height (mm)", str),
         says=["sheets without a list were passed over: Terms"])

    # 15: hidden rows.
    def hide(wb):
        wb.active.row_dimensions[4].hidden = True
    book("hidden-row.xlsx", ("List", [HEAD] + plain_rows()), then=hide)
    case("hidden-row.xlsx", says=["hides 1 row", "--hidden read", "--hidden skip"])
    case("hidden-row.xlsx", "--hidden read", expect=want(ROWS))
    case("hidden-row.xlsx", "--hidden skip", expect=want([one for at, one in enumerate(ROWS) if at != 2]))
    for ending in ("ods", "xls"):
        (LISTS / f"hidden-row.{ending}").write_bytes(soffice(LISTS / "hidden-row.xlsx", ending))
        case(f"hidden-row.{ending}", says=["hides 1 row", "--hidden read"])

    # 16: a hidden sheet with slabs, and a hidden column.
    def hide_sheet(wb):
        wb["Old"].sheet_state = "hidden"
        wb["List"].column_dimensions["C"].hidden = True
    book("hidden-sheet.xlsx", ("List", [HEAD] + plain_rows()), ("Old", [HEAD, [9, "B9", 280, 180]]), then=hide_sheet)
    case("hidden-sheet.xlsx", says=["the hidden sheet Old lists 1 slab", "--hidden skip"])
    case("hidden-sheet.xlsx", "--hidden skip", expect=want(ROWS), says=["hidden columns of List were read: C"])

    # 17: a slab's number that became a date.
    dated = [HEAD] + plain_rows()
    dated[2] = [datetime.date(2026, 1, 7), "B1", 283, 180]
    book("date.xlsx", ("List", dated))
    case("date.xlsx", says=["List!A3", "\"7-1\" meant, or \"1-7\"", "format the column as text"])

    # 18: no unit anywhere.
    book("no-unit.xlsx", ("List", [["Slab", "Bundle", "Length", "Height"]] + plain_rows()))
    case("no-unit.xlsx", says=["the sizes have no unit", "--unit cm (the first slab is 2820 mm x 1795 mm then)"])
    case("no-unit.xlsx", "--unit cm", expect=want(ROWS))

    # 19: the unit in a title.
    book("unit-in-title.xlsx", ("List", [["Packing list"], ["All sizes in cm"], ["Slab", "Bundle", "Length", "Height"]] + plain_rows()))
    case("unit-in-title.xlsx", expect=want(ROWS))

    # 20: a column that may be length or height.
    book("width-height.xlsx", ("List", [["Slab", "Bundle", "Width (cm)", "Height (cm)"]] + plain_rows()))
    case("width-height.xlsx", says=["which of the two is the length?", "--column length=C"])
    case("width-height.xlsx", "--column length=C", expect=want(ROWS))

    # 21: one header over two columns of figures.
    book("size-over-two.xlsx", ("List", [["Slab", "Bundle", "Size (cm)", None]] + plain_rows()))
    case("size-over-two.xlsx", says=["holds one figure in a cell", "--column length=C --column height=D"])
    case("size-over-two.xlsx", "--column length=C --column height=D --unit cm", expect=want(ROWS))

    # 22: no list at all.
    book("no-list.xlsx", ("Terms", [["Payment", "by letter of credit"], ["Validity", "30 days"]]))
    case("no-list.xlsx", says=["holds no packing list"])

    # 23: words that nobody knows, answered column by column.
    book("unknown-words.xlsx", ("Blad", [["Xno", "Xgroup", "Xone", "Xtwo"]] + plain_rows()))
    case("unknown-words.xlsx", says=["holds no packing list", "--column slab=A"])
    case("unknown-words.xlsx", "--column slab=A,bundle=B,length=C,height=D --unit cm", expect=want(ROWS))

    # 24: two lists side by side with other columns.
    left = [["Slab", "Length cm", "Height cm", "m2", None, "Slab", "Length cm", "Height cm"]]
    left += [[1, 280, 180, 5.04, None, 7, 281, 181], [2, 280, 180, 5.04, None, 8, 281, 181]]
    book("beside-differ.xlsx", ("List", left))
    case("beside-differ.xlsx", "--bundle B1", says=["two lists stand side by side", "--column none=D"])
    case("beside-differ.xlsx", "--bundle B1 --column none=D", expect="slab,bundle,length (cm),height (cm)\n"
         "1,B1,280,180\n2,B1,280,180\n7,B1,281,181\n8,B1,281,181\n")

    # 25: one number twice in a bundle.
    twice = plain_rows()
    twice[1][0] = 1
    book("twice.xlsx", ("List", [HEAD] + twice))
    case("twice.xlsx", says=["List!A3", "slab 1 of bundle B1 is in the list twice", "List!A2"])

    # 26: masses of bundles on their first row, net ones beside, remarks, sawing order and book match.
    rows = []
    for b, n, l, h in ROWS:
        rows.append([b if n == 1 else None, n, fl(l), fl(h), 950 if n == 1 else None, 915 if n == 1 else None,
                     "corner chipped" if n == 2 else None, n, "A" if n < 3 else None])
    book("weights.xlsx", ("List", [["Bundle", "Slab", "Length cm", "Height cm", "G.W. (kg)", "N.W. (kg)", "Remarks",
         "Sequence", "Book match"]] + rows + [["Total", 6, None, None, 1900, 1830]]))
    case("weights.xlsx", expect=want(ROWS, "slab,bundle,length (cm),height (cm),order,match,remarks,weighed mass (kg)",
         more=lambda b, n, l, h: f",{n},{'A' if n < 3 else ''},{'corner chipped' if n == 2 else ''},950"))

    # 27: a header again for each bundle, named above it.
    rows = []
    for b in ("B1", "B2"):
        rows += [[f"Bundle No: {b}"], ["Slab", "Length cm", "Height cm"]]
        rows += [[n, fl(l), fl(h)] for own, n, l, h in ROWS if own == b] + [[]]
    book("header-again.xlsx", ("List", rows))
    case("header-again.xlsx", expect=want(ROWS))

    # 28: formulas and marks in names.
    evil = [HEAD + ["Remarks"]] + [row + [""] for row in plain_rows()]
    evil[1][4] = "x"
    def cell(wb):
        ws = wb.active
        ws["E2"].value = "=1+1"
        ws["E2"].data_type = "s"
        ws["E3"].value = "ok\u202egnp"
    book("formula-text.xlsx", ("List", evil), then=cell)
    case("formula-text.xlsx", expect=want(ROWS, "slab,bundle,length (cm),height (cm),remarks",
         more=lambda b, n, l, h: {("B1", 1): ",'=1+1", ("B1", 2): ",ok\\u{202e}gnp"}.get((b, n), ",")))

    # 29: an error in place of a figure.
    bad = [HEAD] + plain_rows()
    bad[2][2] = "#REF!"
    book("error.xlsx", ("List", bad))
    case("error.xlsx", says=["List!C3", "error of the spreadsheet"])

    # 30: a block's own row, and a thickness in cm.
    rows = [["Block: 4410"], ["Slab", "Bundle", "Length cm", "Height cm", "Thickness"]]
    rows += [[n, b, fl(l), fl(h), "2 cm"] for b, n, l, h in ROWS]
    book("block-above.xlsx", ("List", rows))
    case("block-above.xlsx", expect=want(ROWS, "slab,bundle,block,length (cm),height (cm),thickness (cm)",
         unit=cm, more=lambda *a: ",2").replace(",B1,", ",B1,4410,").replace(",B2,", ",B2,4410,"))

    # 31: only net sizes.
    book("only-net.xlsx", ("List", [["Slab", "Bundle", "Net length cm", "Net height cm"]] + plain_rows()))
    case("only-net.xlsx", says=["no size as sawn, only one as billed", "--column length=C --column height=D"])

    # 32: a third sheet of a workbook, far cells and a million empty ones.
    def far(wb):
        wb.active["XFD1048576"] = "end"
    book("far-cell.xlsx", ("List", [HEAD] + plain_rows()), then=far)
    case("far-cell.xlsx", expect=want(ROWS))

    # 33: no numbers, only counts.
    book("counts.xlsx", ("List", [["Bundle", "Pcs", "Length cm", "Height cm"], ["7", 2, 280, 180], ["8", 1, 281, 181]]))
    case("counts.xlsx", expect="slab,bundle,length (cm),height (cm)\n7-S1,7,280,180\n7-S2,7,280,180\n8-S1,8,281,181\n")

    # 34: another unit on each sheet.
    book("two-units.xlsx", ("Crate A", [["Slab", "Length cm", "Height cm"], [1, 280, 180]]),
         ("Crate B", [["Slab", "Length in", "Height in"], [2, 110.5, 71]]))
    case("two-units.xlsx", expect="slab,bundle,length,height\n1,A,280 cm,180 cm\n2,B,110.5 in,71 in\n")


def make_others():
    # 35: a binary number that is no decimal, by XlsxWriter.
    wb = xlsxwriter.Workbook(str(LISTS / "binary.xlsx"))
    ws = wb.add_worksheet("List")
    for at, head in enumerate(HEAD):
        ws.write(0, at, head)
    ws.write_row(1, 0, [1, "B1", 281.4, 94.1 + 94.1])
    ws.write_row(2, 0, [2, "B1", 280.1 + 0.2, 180.7])
    wb.close()
    case("binary.xlsx", expect="slab,bundle,length (cm),height (cm)\n1,B1,281.4,188.2\n2,B1,280.3,180.7\n")

    # 36: two lists side by side in the older form, by xlwt.
    wb = xlwt.Workbook()
    ws = wb.add_sheet("Ceki listesi")
    for left in (0, 5):
        for at, head in enumerate(["Bandil", "Plaka No", "Boy (cm)", "En (cm)"]):
            ws.write(0, left + at, head)
    for at, (b, n, l, h) in enumerate(ROWS):
        left, row = (0, at) if at < 3 else (5, at - 3)
        for column, value in enumerate([b, n, fl(l), fl(h)]):
            ws.write(row + 1, left + column, value)
    wb.save(str(LISTS / "beside.xls"))
    case("beside.xls", expect=want(ROWS))

    # 37: an ODS by odfpy, Italian, with a repeated row of blanks.
    doc = opendocument.OpenDocumentSpreadsheet()
    sheet = table.Table(name="Foglio")
    def row(cells):
        tr = table.TableRow()
        for value in cells:
            if isinstance(value, (int, float)):
                tc = table.TableCell(valuetype="float", value=str(value))
            else:
                tc = table.TableCell(valuetype="string")
            tc.addElement(text.P(text=str(value)))
            tr.addElement(tc)
        sheet.addElement(tr)
    row(["Distinta di carico (inventata)"])
    blank = table.TableRow(numberrowsrepeated="4")
    blank.addElement(table.TableCell(numbercolumnsrepeated="1024"))
    sheet.addElement(blank)
    row(["Pacco", "Lastra", "Lungh. cm", "Alt. cm", "Mq"])
    for b, n, l, h in ROWS:
        row([b, n, fl(l), fl(h), float(area(l, h))])
    rest = table.TableRow(numberrowsrepeated="1048000")
    rest.addElement(table.TableCell(numbercolumnsrepeated="1024"))
    sheet.addElement(rest)
    doc.spreadsheet.addElement(sheet)
    doc.save(str(LISTS / "italian.ods"))
    case("italian.ods", expect=want(ROWS))


def make_texts():
    def put(name, content, encoding="utf-8"):
        (LISTS / name).write_bytes(content.encode(encoding))

    # 38 to 40: a spreadsheet's CSV in three locales.
    def localed(name, head, marks, language):
        source = LISTS / "locale.xlsx"
        book("locale.xlsx", ("List", [head] + [[n, b, fl(l), fl(h)] for b, n, l, h in ROWS]))
        data = soffice(source, "csv", f"Text - txt - csv (StarCalc):{marks},34,76,1,,{language},false,true")
        source.unlink()
        (LISTS / name).write_bytes(data)
        case(name, expect=want(ROWS))
    localed("english.csv", ["Slab", "Bundle", "Length (cm)", "Height (cm)"], 44, 1033)
    localed("portuguese.csv", ["Chapa", "Fardo", "Comprimento (cm)", "Altura (cm)"], 59, 1046)
    localed("turkish.csv", ["Plaka No", "Bundle", "Boy (cm)", "Y\u00fckseklik (cm)"], 59, 1055)

    # 41: Spanish in Windows-1252 with semicolons.
    put("spanish.csv", "Tabla;Paquete;Longitud (cm);Altura (cm);Observaci\u00f3n\n" +
        "".join(f"{n};{b};{cm(l).replace('.', ',')};{cm(h).replace('.', ',')};\n" for b, n, l, h in ROWS), "cp1252")
    case("spanish.csv", expect=want(ROWS), says=["read as Windows-1252"])

    # 42: UTF-16 with tabs, as "Unicode text".
    put("unicode.txt", "\ufeffSlab\tBundle\tLength (cm)\tHeight (cm)\r\n" +
        "".join(f"{n}\t{b}\t{cm(l)}\t{cm(h)}\r\n" for b, n, l, h in ROWS), "utf-16-le")
    case("unicode.txt", expect=want(ROWS))

    # 43: pasted from a mail: runs of spaces, a greeting above, a total below.
    lines = ["Dear Kettle,", "", "please find the list:", "", "Slab   Bundle   Length(cm)   Height(cm)   m2"]
    lines += [f"{n:<6} {b:<8} {cm(l):<12} {cm(h):<12} {area(l, h)}" for b, n, l, h in ROWS]
    lines += [f"Total  6                                    {sum(area(l, h) for _, _, l, h in ROWS)}", "", "Regards"]
    put("pasted.txt", "\n".join(lines) + "\n")
    case("pasted.txt", expect=want(ROWS), stdin=True)

    # 44: pasted with strokes between.
    lines = ["| Slab | Bundle | Length (cm) | Height (cm) |", "|---|---|---|---|"]
    lines += [f"| {n} | {b} | {cm(l)} | {cm(h)} |" for b, n, l, h in ROWS]
    put("strokes.txt", "\n".join(lines) + "\n")
    case("strokes.txt", expect=want(ROWS), stdin=True)

    # 45: a date that a spreadsheet saved as text.
    put("date.csv", "slab;pcs;bundle;length (cm);height (cm)\n07-Jan;7;B1;280;180\n")
    case("date.csv", says=["line 2, column 1", "is \"1-7\" meant"])

    # 46: forms that hold no table.
    put("letter.pdf", "%PDF-1.4\n% invented\n")
    case("letter.pdf", says=["is a PDF", "quaystone import -"])
    (LISTS / "photo.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    case("photo.png", says=["is a picture"])


def make_hostile():
    def zipped(name, parts):
        with zipfile.ZipFile(LISTS / name, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as out:
            for part, data in parts:
                out.writestr(part, data)
    # 47: unpacks to 70 MB.
    zipped("bomb.xlsx", [("xl/workbook.xml", b"<x/>"), ("xl/worksheets/sheet1.xml", bytes(70 * 1000 * 1000))])
    case("bomb.xlsx", says=["unpacks to more than any packing list"])
    # 48: says it unpacks to a few bytes, and does not.
    data = (LISTS / "bomb.xlsx").read_bytes()
    lying = data.replace((70 * 1000 * 1000).to_bytes(4, "little"), (99).to_bytes(4, "little"))
    (LISTS / "lying.xlsx").write_bytes(lying)
    case("lying.xlsx", says=["larger than its declared uncompressed size"])
    # 49: a name that leads out.
    zipped("outside.xlsx", [("xl/workbook.xml", b"<x/>"), ("../../evil.xml", b"<x/>")])
    case("outside.xlsx", says=["whose name leads out of it"])
    # 50: an ODS cell that stands a thousand million times.
    content = ("<office:document-content xmlns:office='urn:oasis:names:tc:opendocument:xmlns:office:1.0' "
               "xmlns:table='urn:oasis:names:tc:opendocument:xmlns:table:1.0' "
               "xmlns:text='urn:oasis:names:tc:opendocument:xmlns:text:1.0'><office:body><office:spreadsheet>"
               "<table:table table:name='S'><table:table-row table:number-rows-repeated='1000000'>"
               "<table:table-cell table:number-columns-repeated='1000000' office:value-type='string'><text:p>x</text:p>"
               "</table:table-cell></table:table-row></table:table></office:spreadsheet></office:body>"
               "</office:document-content>")
    zipped("repeated.ods", [("mimetype", "application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", content)])
    case("repeated.ods", says=["more than 300000 filled cells"])
    # 51: bytes that are nothing.
    (LISTS / "nothing.xls").write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600))
    case("nothing.xls", says=["cannot be read"])


def main():
    shutil.rmtree(LISTS, ignore_errors=True)
    LISTS.mkdir()
    make_workbooks()
    make_others()
    make_texts()
    make_hostile()
    lines = ["# Made by make.py: file | options | - where it is pasted | the list that comes of it, or a dash | what is said."]
    written = {}
    for file, options, expect, says, stdin in CASES:
        name = "-"
        if expect is not None:
            name = written.setdefault(expect, f"{pathlib.Path(file).stem}.expected.csv")
            path = LISTS / name
            if path.exists() and path.read_text() != expect:
                name = f"{pathlib.Path(file).stem}-{len(written)}.expected.csv"
                written[expect] = name
                path = LISTS / name
            path.write_text(expect)
        lines.append(" | ".join([file, options or "-", "pasted" if stdin else "-", name] + list(says)))
    (HERE / "lists.txt").write_text("\n".join(lines) + "\n")


main()

#!/usr/bin/env python3
"""Makes tests/import/proformas/: proformas as other programs write them, and the invoice that each comes to.

Needs openpyxl, XlsxWriter, xlwt, odfpy and LibreOffice (soffice). All stones, suppliers and figures are invented.
The expected invoices are written here from the figures, and never by the program that is tested.

    python3 tests/import/proformas.py        # writes proformas/ and proformas.txt anew
"""
import pathlib
import shutil
import subprocess
import tempfile
from decimal import ROUND_HALF_UP, Decimal

import openpyxl
import xlsxwriter
import xlwt
from odf import opendocument, table, text

HERE = pathlib.Path(__file__).parent
FILES = HERE / "proformas"
CASES = []

# Quantity, price and amount of two lines: 120.50 x 46.00 and 80.25 x 52.40.
LINES = [("Teapot White", "Polished", 20, "120.50", "46.00", "5543.00"),
         ("Umbrella Grey", "Honed", 30, "80.25", "52.40", "4205.10")]
TOTAL = "9748.10"
STONES = {"Teapot White": "teapot-white", "Umbrella Grey": "umbrella-grey"}


def case(file, options="", expect=None, says=(), pasted=False):
    """One run: the file, its options, and the invoice that comes of it or what is said."""
    CASES.append((file, options, expect, says, pasted))


def invoice(currency="EUR", by="m2", lines=LINES, total=TOTAL, head=""):
    """The expected keys of the invoice."""
    out = [head] if head else []
    if total:
        out.append(f'total = "{total} {currency}"')
    for at, (stone, finish, thick, quantity, price, _) in enumerate(lines):
        quantity = format(Decimal(quantity).normalize(), "f")
        out += ["[[line]]", f'id = "{chr(65 + at)}"', f'stone = "{STONES[stone]}"', f'finish = "{finish.lower()}"',
                f'thickness = "{thick} mm"', f'price = "{price} {currency}/{by}"', f'quantity = "{quantity} {by}"']
    return "\n".join(out) + "\n"


def book(file, rows):
    """A workbook by openpyxl."""
    wb = openpyxl.Workbook()
    wb.active.title = "Proforma"
    for row in rows:
        wb.active.append(row)
    wb.save(FILES / file)


def soffice(source, ending):
    """The file as LibreOffice saves it in another form, its formulas worked out."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            ["soffice", "--headless", f"-env:UserInstallation=file://{folder}/profile", "--convert-to", ending,
             "--outdir", folder, str(source)], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return (pathlib.Path(folder) / (source.stem + "." + ending)).read_bytes()


def rows(lines=LINES):
    return [[s, f, t, float(q), float(p), float(a)] for s, f, t, q, p, a in lines]


HEAD = ["Material", "Finish", "Thickness (mm)", "Quantity (m2)", "Unit price EUR/m2", "Amount EUR"]


def workbooks():
    # 1: titles, a term, a total, a bank below.
    book("plain.xlsx", [["QUARRY TEAPOT (INVENTED)"], ["PROFORMA INVOICE", "PI-118"], ["Delivery: FOB Izmir"], [], HEAD]
         + rows() + [["TOTAL", None, None, 200.75, None, 9748.10], [], ["Prices hold for thirty days."]])
    case("plain.xlsx", expect=invoice(head='term = "FOB Izmir"'), says=["2 lines", "9,748.10"])

    # 2: a total that the rows do not make.
    book("total-wrong.xlsx", [HEAD] + rows() + [["TOTAL", None, None, None, None, 9750.10]])
    case("total-wrong.xlsx", says=["Proforma!F4", "9750.1", "9748.10"])

    # 3: an amount that quantity and price do not make.
    wrong = rows()
    wrong[1][5] = 4250.10
    book("amount-wrong.xlsx", [HEAD] + wrong)
    case("amount-wrong.xlsx", says=["Proforma!F3", "80.25 x 52.4", "4205.10"])

    # 4: no currency anywhere.
    book("no-currency.xlsx", [["Material", "Finish", "Thickness (mm)", "Qty (m2)", "Price", "Amount"]] + rows()
         + [["Total", None, None, None, None, 9748.10]])
    case("no-currency.xlsx", says=["in which currency", "--unit price=USD/m2"])
    case("no-currency.xlsx", "--unit price=EUR/m2", expect=invoice())

    # 5: no unit anywhere: what a price is for is asked.
    book("no-unit.xlsx", [["Material", "Finish", "Thickness (mm)", "Quantity", "Price EUR", "Amount EUR"]] + rows())
    case("no-unit.xlsx", says=["what a price is for", "--unit price=EUR/m2"])
    case("no-unit.xlsx", "--unit price=EUR/m2", expect=invoice(total=None), says=["no row states a total"])

    # 6: the price says square feet, and the quantities that make the amounts are square metres.
    book("two-units.xlsx", [["Material", "Finish", "Thickness (mm)", "Quantity (m2)", "USD/sqft price", "Amount USD"]] + rows())
    case("two-units.xlsx", says=["prices are per ft2", "in m2"])

    # 7: everything on the goods in one cell, gross and net areas: the net ones make the amounts.
    goods = [("TEAPOT WHITE marble slabs, polished, 2 cm", "126.40", "120.50", "46.00", "5543.00"),
             ("UMBRELLA GREY marble slabs, honed, 3cm", "84.00", "80.25", "52.40", "4205.10")]
    wb = xlsxwriter.Workbook(str(FILES / "one-cell.xlsx"))
    ws = wb.add_worksheet("PI")
    ws.write_row(0, 0, ["No", "Description of goods", "Pcs", "Gross m2", "Net m2", "Unit price (US$/m2)", "Total price (US$)"])
    for at, (what, gross, net, price, amount) in enumerate(goods, 1):
        ws.write_row(at, 0, [at, what, 20, float(gross), float(net), float(price), float(amount)])
    ws.write_row(3, 1, ["TOTAL FOB IZMIR"])
    ws.write_number(3, 6, 9748.10)
    wb.close()
    cm = [(s, f, t, q, p, a) for s, f, t, q, p, a in LINES]
    expect = invoice("USD", lines=cm).replace('"20 mm"', '"2 cm"').replace('"30 mm"', '"3 cm"')
    case("one-cell.xlsx", expect=expect)

    # 8: a discount and a freight between the lines and the total.
    book("beside.xlsx", [HEAD] + rows() + [
        ["Discount 2 %", None, None, None, None, -194.96], ["Fumigation", None, None, None, None, 120.00],
        ["Grand total", None, None, None, None, 9673.14]])
    case("beside.xlsx", expect=invoice(total="9673.14", head='discount = "194.96 EUR"'), says=["Fumigation", "120.00"])

    # 9: a stone that no table has, and finishes that none knows.
    other = [["Kettle Black", "leather look", 20, 10.0, 50.0, 500.0]]
    book("unknown.xlsx", [HEAD] + other)
    case("unknown.xlsx", says=["names no stone", "--stone"])
    case("unknown.xlsx", "--stone umbrella-grey --finish honed",
         expect=invoice(lines=[("Umbrella Grey", "Honed", 20, "10", "50.00", "500.00")], total=None))

    # 10: a list of slabs beside the prices: the lines come where they are asked for.
    wb = openpyxl.Workbook()
    wb.active.title = "Proforma"
    for row in [HEAD] + rows():
        wb.active.append(row)
    ws = wb.create_sheet("Packing")
    for row in [["Slab No.", "Bundle", "Length (cm)", "Height (cm)"], [1, "B1", 282, 181], [2, "B1", 283, 182]]:
        ws.append(row)
    wb.save(FILES / "both.xlsx")
    case("both.xlsx", "--lines", expect=invoice(total=None))


def others():
    # 11: formulas worked out by LibreOffice, unrounded: the cents make 0.01 less than the total shows.
    wb = openpyxl.Workbook()
    wb.active.title = "Sheet"
    wb.active.append(HEAD)
    figures = [("10.333", "46.13"), ("20.777", "46.13"), ("30.111", "46.13")]
    for at, (quantity, price) in enumerate(figures, 2):
        wb.active.append(["Teapot White", "polished", 20, float(quantity), float(price), f"=D{at}*E{at}"])
    wb.active.append(["Total", None, None, None, None, "=SUM(F2:F4)"])
    source = pathlib.Path(tempfile.mkdtemp()) / "unrounded.xlsx"
    wb.save(source)
    exact = [Decimal(q) * Decimal(p) for q, p in figures]
    cents = [one.quantize(Decimal("0.01"), ROUND_HALF_UP) for one in exact]
    total = sum(exact).quantize(Decimal("0.01"), ROUND_HALF_UP)
    lines = [("Teapot White", "Polished", 20, q, p, str(c)) for (q, p), c in zip(figures, cents)]
    gap = total - sum(cents)
    for ending in ["ods", "xls", "xlsx"]:
        (FILES / f"unrounded.{ending}").write_bytes(soffice(source, ending))
        head = f'rounding = "{gap} EUR"' if gap else ""
        case(f"unrounded.{ending}", expect=invoice(lines=lines, total=str(total), head=head))

    # 12: formulas that nothing has worked out.
    shutil.copy(source, FILES / "formulas.xlsx")
    case("formulas.xlsx", says=["has no stored value"])

    # 13: Turkish by xlwt, with a column of units.
    wb = xlwt.Workbook()
    ws = wb.add_sheet("Teklif")
    for at, head in enumerate(["Malzeme", "Y\u00fczey", "Kal\u0131nl\u0131k (cm)", "Miktar", "Birim", "Birim fiyat", "Tutar (EUR)"]):
        ws.write(0, at, head)
    for row, (s, f, t, q, p, a) in enumerate(LINES, 1):
        for at, cell in enumerate([s, f, t / 10, float(q), "m2", float(p), float(a)]):
            ws.write(row, at, cell)
    ws.write(3, 0, "TOPLAM")
    ws.write(3, 6, 9748.10)
    wb.save(str(FILES / "turkish.xls"))
    case("turkish.xls", expect=invoice().replace('"20 mm"', '"2 cm"').replace('"30 mm"', '"3 cm"'))

    # 14: Italian by odfpy, figures as words with their signs.
    doc = opendocument.OpenDocumentSpreadsheet()
    sheet = table.Table(name="Fattura")
    cells = [["Materiale", "Finitura", "Spessore cm", "Quantit\u00e0 mq", "Prezzo unitario", "Importo"],
             ["Teapot White", "lucido", "2", "120,50", "\u20ac 46,00", "\u20ac 5.543,00"],
             ["Umbrella Grey", "lucido", "3", "80,25", "\u20ac 52,40", "\u20ac 4.205,10"],
             ["Totale", "", "", "200,75", "", "\u20ac 9.748,10"]]
    for row in cells:
        line = table.TableRow()
        for cell in row:
            one = table.TableCell(valuetype="string")
            if cell:
                one.addElement(text.P(text=cell))
            line.addElement(one)
        sheet.addElement(line)
    doc.spreadsheet.addElement(sheet)
    doc.save(str(FILES / "italian.ods"))
    case("italian.ods", says=["names no finish", "--finish"])
    both = [(s, "polished", t, q, p, a) for s, _, t, q, p, a in LINES]
    case("italian.ods", "--finish polished", expect=invoice(lines=both).replace('"20 mm"', '"2 cm"').replace('"30 mm"', '"3 cm"'))


def texts():
    # 15: Chinese, pasted as tabs make it.
    lines = ["\u77f3\u6750\t\u8868\u9762\u5904\u7406\t\u539a\u5ea6(mm)\t\u6570\u91cf(\u5e73\u65b9\u7c73)\t\u5355\u4ef7(USD)\t\u91d1\u989d(USD)"]
    lines += ["\t".join([s, f, str(t), q, p, a]) for s, f, t, q, p, a in LINES] + [f"\u5408\u8ba1\t\t\t\t\t{TOTAL}"]
    (FILES / "chinese.txt").write_text("\n".join(lines) + "\n")
    case("chinese.txt", expect=invoice("USD"), pasted=True)

    # 16: English with commas, thousands apart, square feet, currency beside the figures.
    lines = ['Stone,Finish,Thickness,Qty (sq ft),Price,Amount',
             'Teapot White,Polished,20 mm,"1,297.05",USD 4.27,"USD 5,538.40"', ',,,,Total,"USD 5,538.40"']
    (FILES / "feet.csv").write_text("\n".join(lines) + "\n")
    case("feet.csv", expect=invoice("USD", "ft2", [("Teapot White", "Polished", 20, "1297.05", "4.27", "5538.40")], "5538.40"))


def main():
    shutil.rmtree(FILES, ignore_errors=True)
    FILES.mkdir()
    workbooks()
    others()
    texts()
    lines = ["# Made by proformas.py: file | options | - where it is pasted | the invoice that comes of it, or a dash | what is said."]
    written = {}
    for file, options, expect, says, pasted in CASES:
        name = "-"
        if expect is not None:
            name = written.setdefault(expect, f"{file.replace('.', '-')}.expected.toml")
            (FILES / name).write_text(expect)
        lines.append(" | ".join([file, options or "-", "pasted" if pasted else "-", name] + list(says)))
    (HERE / "proformas.txt").write_text("\n".join(lines) + "\n")


main()

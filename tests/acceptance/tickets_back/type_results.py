"""Types results into the sheet `Ticket results` of a workbook as a person would, and saves the workbook, or that sheet as CSV.

usage: type_results.py BOOK.xlsx HOW.json OUT
In:  HOW.json: `rows`: in the new order, id, form code and answers of each row that stays; `note_at`: where a column of notes is put in
     front of another (1 = A), or null; `hidden`: ids of rows that a filter hides; `csv`: whether OUT is that sheet alone as CSV.
Out: OUT. Rows that are not listed are deleted. Needs openpyxl (Debian's python3-openpyxl).
Not here: which answers (the test draws them), what became of them.
"""

import csv
import json
import sys

from openpyxl import load_workbook

book_path, how_path, out = sys.argv[1:]
how = json.load(open(how_path, encoding="utf-8"))
book = load_workbook(book_path)
sheet = book["Ticket results"]
header = next(row[0].row for row in sheet.iter_rows(max_col=1) if row[0].value == "Id")
titles = [cell.value for cell in sheet[header] if cell.value]
form, first_item = titles.index("Form code") + 1, titles.index("Item 1") + 1

known = {}
last = header
while sheet.cell(last + 1, 1).value:
    last += 1
    known[sheet.cell(last, 1).value] = [sheet.cell(last, column).value for column in range(1, first_item)]

for place, row in enumerate(how["rows"]):
    at = header + 1 + place
    for column, value in enumerate(known[row["id"]], start=1):
        sheet.cell(at, column).value = value
    sheet.cell(at, form).value = row["form"]
    for item, answer in enumerate(row["answers"]):
        sheet.cell(at, first_item + item).value = answer
    sheet.row_dimensions[at].hidden = row["id"] in how["hidden"]
kept = len(how["rows"])
if last - header > kept:
    sheet.delete_rows(header + 1 + kept, last - header - kept)
if how["note_at"]:
    sheet.insert_cols(how["note_at"])
    sheet.cell(header, how["note_at"]).value = "Notes"
    sheet.cell(header + 1, how["note_at"]).value = "was tired"

if how["csv"]:
    with open(out, "w", newline="", encoding="utf-8") as sink:
        csv.writer(sink).writerows([["" if v is None else v for v in row] for row in sheet.iter_rows(values_only=True)])
else:
    book.save(out)

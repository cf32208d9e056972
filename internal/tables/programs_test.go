package tables

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"
)

// converted has another program turn a workbook into CSV, each cell as it shows it.
func converted(t *testing.T, book []byte) [][]string {
	t.Helper()
	folder := t.TempDir()
	from, to := filepath.Join(folder, "book.xlsx"), filepath.Join(folder, "book.txt")
	if err := os.WriteFile(from, book, 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "ssconvert", "-O", "separator=, format=preserve eol=unix", "--export-type=Gnumeric_stf:stf_assistant", from, to)
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8", "HOME="+folder)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("ssconvert (Debian package gnumeric): %v\n%s", err, out)
	}
	data, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(data))
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// cellsOfCSV are the cells of a CSV file of ours, read by the library of Go.
func cellsOfCSV(t *testing.T, table Table) [][]string {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(written(t, CSV, table))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestOtherPrograms opens a workbook in a spreadsheet that shares no code with the writer, and holds what
// it shows against the CSV file, cell by cell.
func TestOtherPrograms(t *testing.T) {
	want, got := cellsOfCSV(t, sample()), converted(t, written(t, XLSX, sample()))
	if len(got) != len(want) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	for i := range want {
		for j := range got[i] {
			if i > 0 && sampleColumns[j].Kind == Number {
				got[i][j] = strings.Replace(got[i][j], "\u2212", "-", 1) // it shows a minus, which is no hyphen
			}
		}
		if diff := differ(want[i], got[i]); diff != "" {
			t.Errorf("row %d, %s", i+1, diff)
		}
	}
}

// asPython reads a workbook with openpyxl: for each cell its type, its value and its number format, and what
// the sheet is like.
const asPython = `import json, sys, openpyxl
book = openpyxl.load_workbook(sys.argv[1])
sheet = book.worksheets[0]
rows = [[[cell.data_type, str(cell.value) if cell.value is not None else "", cell.number_format] for cell in row] for row in sheet.iter_rows()]
print(json.dumps({"title": sheet.title, "frozen": sheet.freeze_panes, "bold": sheet["A1"].font.bold,
  "widths": [sheet.column_dimensions[c].width for c in "ABCDEF"], "rows": rows}))`

// TestCellsAreTyped has a library of Python say what kind of cell each is: numbers are numbers, moments and
// days are dates, and all else is text.
func TestCellsAreTyped(t *testing.T) {
	file := filepath.Join(t.TempDir(), "book.xlsx")
	if err := os.WriteFile(file, written(t, XLSX, sample()), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", asPython, file).Output()
	if err != nil {
		t.Fatalf("openpyxl (Debian package python3-openpyxl): %v", err)
	}
	var got struct {
		Title, Frozen string
		Bold          bool
		Widths        []float64
		Rows          [][][3]string
	}
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	if got.Title != "sample" || got.Frozen != "A2" || !got.Bold || !reflect.DeepEqual(got.Widths, []float64{12, 22, 13, 12, 13, 12}) {
		t.Errorf("the sheet is %s, frozen at %s, bold %t, widths %v", got.Title, got.Frozen, got.Bold, got.Widths)
	}
	for i, row := range sampleRows {
		for j, cell := range row {
			is := got.Rows[i+1][j]
			kind, want := "s", Guard(cell)
			switch c := sampleColumns[j]; {
			case cell == "":
				kind, want = "n", "" // openpyxl has no other word for an empty cell
			case c.Kind == Number:
				if x, exact := double(cell); exact {
					kind, want = "n", strconv.FormatFloat(x, 'f', -1, 64)
				}
			case c.Kind == Time:
				kind, want = "d", strings.NewReplacer("T", " ", "Z", "").Replace(cell)
			case c.Kind == Day:
				kind, want = "d", cell+" 00:00:00"
			}
			if x, err := strconv.ParseFloat(is[1], 64); kind == "n" && err == nil {
				is[1] = strconv.FormatFloat(x, 'f', -1, 64)
			}
			if is[1] != want {
				t.Errorf("row %d, %s: %q, want %q", i+1, sampleColumns[j].Name, is[1], want)
			}
			if is[0] != kind {
				t.Errorf("row %d, %s: %q is of the kind %s, want %s", i+1, sampleColumns[j].Name, is[1], is[0], kind)
			}
		}
	}
}

// TestEverySecondIsShown has the spreadsheet show moments that lie badly between two binary numbers.
func TestEverySecondIsShown(t *testing.T) {
	var rows [][]string
	at := time.Date(2026, 11, 27, 23, 59, 50, 0, time.UTC)
	for i := range 2000 {
		rows = append(rows, []string{Moment(at.Add(time.Duration(i) * 7919 * time.Second)), Moment(at.Add(time.Duration(i) * time.Second))})
	}
	table := Table{"moments", []Column{{"a", "a", "", Time}, {"b", "b", "", Time}}, rowsOf(rows)}
	wrong := 0
	for i, row := range converted(t, written(t, XLSX, table))[1:] {
		if diff := differ(rows[i], row); diff != "" {
			if wrong++; wrong < 5 {
				t.Errorf("row %d, %s", i+1, diff)
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d rows show another second", wrong)
	}
}

// TestBooksOfOthers reads workbooks that two other programs wrote from a CSV file of ours.
func TestBooksOfOthers(t *testing.T) {
	folder := t.TempDir()
	from := filepath.Join(folder, "list.csv")
	const text = "Barrennummer,Hersteller,Metall,Feingehalt,Gewicht,Einheit\r\nA 1001,ERFUNDENES WERK,Gold,999.9,1000.50,g\r\nB 7,\"ERFUNDENES, WERK\",Silber,999,12.4431,kg\r\n"
	if err := os.WriteFile(from, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	books := map[string]*exec.Cmd{
		"ssconvert": exec.CommandContext(t.Context(), "ssconvert", from, filepath.Join(folder, "ssconvert.xlsx")),
		"openpyxl": exec.CommandContext(t.Context(), "/usr/bin/python3", "-c", `import csv, sys, openpyxl
book = openpyxl.Workbook()
for n, row in enumerate(csv.reader(open(sys.argv[1], encoding="utf-8"))):
    book.active.append([float(c) if n and k in (3, 4) else c for k, c in enumerate(row)])
book.active["E2"].number_format = "0.00"
book.save(sys.argv[2])`, from, filepath.Join(folder, "openpyxl.xlsx")),
	}
	want := []map[Field]string{
		{Serial: "A 1001", Marks: "ERFUNDENES WERK", Metal: "gold", Fineness: "999.9", Mass: "1000.5", MassUnit: "g"},
		{Serial: "B 7", Marks: "ERFUNDENES, WERK", Metal: "silver", Fineness: "999", Mass: "12.4431", MassUnit: "kg"},
	}
	for name, cmd := range books {
		cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8", "HOME="+folder)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		data, err := os.ReadFile(filepath.Join(folder, name+".xlsx"))
		if err != nil {
			t.Fatal(err)
		}
		l := list(t, string(data))
		var got []map[Field]string
		for _, i := range l.Items {
			got = append(got, i.Cells)
		}
		wanted := want
		if name == "openpyxl" { // which was told to show two digits
			wanted = []map[Field]string{{Serial: "A 1001", Marks: "ERFUNDENES WERK", Metal: "gold", Fineness: "999.9", Mass: "1000.50", MassUnit: "g"}, want[1]}
		}
		if diff := differ(wanted, got); diff != "" || len(l.Findings) > 0 {
			t.Errorf("%s: %s %+v", name, diff, l.Findings)
		}
	}
}

package dossier

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// XLSX writes the tables of a book as a workbook: a cover sheet with the
// study's hash, and a sheet for each table, numbers as numbers, units in the
// heads. The same book gives the same bytes.
func XLSX(b *Book) ([]byte, error) {
	f := excelize.NewFile()
	defer f.Close()
	w := &workbook{file: f, names: map[string]bool{}}
	if err := w.styles(); err != nil {
		return nil, err
	}
	stamp := "2000-01-01T00:00:00Z"
	if len(b.Date) == 10 {
		stamp = b.Date + "T00:00:00Z"
	}
	if err := f.SetDocProps(&excelize.DocProperties{Creator: "feederwright", LastModifiedBy: "feederwright", Title: allowed(b.Title), Subject: "study hash " + b.Hash, Created: stamp, Modified: stamp}); err != nil {
		return nil, err
	}
	if err := f.SetSheetName("Sheet1", w.name("Cover")); err != nil {
		return nil, err
	}
	cover := [][2]string{{b.Name, b.Title}, {"Study file", b.File}, {"Study hash", b.Hash}, {"Date", b.Date}, {"Program", b.Program}, {"State", b.State()}, {}, {"Sheet", "Table"}}
	tables := b.tables()
	var sheets []string
	for _, t := range tables {
		name := w.name(t.Name)
		sheets = append(sheets, name)
		cover = append(cover, [2]string{name, t.Caption})
	}
	for i, row := range cover {
		for k, text := range row {
			cell, _ := excelize.CoordinatesToCellName(k+1, i+1)
			if err := f.SetCellStr("Cover", cell, cellText(text)); err != nil {
				return nil, err
			}
			if k == 0 || row[0] == "Sheet" {
				if err := f.SetCellStyle("Cover", cell, cell, w.head); err != nil {
					return nil, err
				}
			}
		}
	}
	if err := f.SetColWidth("Cover", "A", "A", 28); err != nil {
		return nil, err
	}
	if err := f.SetColWidth("Cover", "B", "B", 90); err != nil {
		return nil, err
	}
	for i, t := range tables {
		if err := w.sheet(sheets[i], t); err != nil {
			return nil, fmt.Errorf("sheet %q: %w", sheets[i], err)
		}
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		return nil, fmt.Errorf("write XLSX: %w", err)
	}
	return ordered(out.Bytes())
}

// ordered packs the parts of a workbook again in the order of their names,
// which the library leaves to chance; the list of contents comes first.
func ordered(book []byte) ([]byte, error) {
	r, err := zip.NewReader(bytes.NewReader(book), int64(len(book)))
	if err != nil {
		return nil, fmt.Errorf("write XLSX: %w", err)
	}
	rank := func(f *zip.File) string {
		if f.Name == "[Content_Types].xml" {
			return ""
		}
		return f.Name
	}
	slices.SortFunc(r.File, func(a, b *zip.File) int { return strings.Compare(rank(a), rank(b)) })
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range r.File {
		part, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("write XLSX: %w", err)
		}
		to, err := w.Create(f.Name)
		if err == nil {
			_, err = io.Copy(to, part)
		}
		part.Close()
		if err != nil {
			return nil, fmt.Errorf("write XLSX: %w", err)
		}
	}
	if err := w.Close(); err != nil {
		return nil, fmt.Errorf("write XLSX: %w", err)
	}
	return out.Bytes(), nil
}

// tables are those with a name, each of which has a sheet.
func (b *Book) tables() []*Table {
	var list []*Table
	add := func(blocks []Block) {
		for _, x := range blocks {
			if t, ok := x.(*Table); ok && t.Name != "" {
				list = append(list, t)
			}
		}
	}
	add(b.Cover)
	for _, s := range b.Chapters {
		add(s.Blocks)
	}
	return list
}

type workbook struct {
	file             *excelize.File
	names            map[string]bool
	head, text, band int
}

func (w *workbook) styles() (err error) {
	line := []excelize.Border{{Type: "bottom", Color: "000000", Style: 1}}
	if w.head, err = w.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Border: line, Alignment: &excelize.Alignment{WrapText: true, Vertical: "bottom"}}); err != nil {
		return err
	}
	if w.text, err = w.file.NewStyle(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}}); err != nil {
		return err
	}
	w.band, err = w.file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"EDEDED"}}})
	return err
}

// name is a sheet's name: at most 31 characters, none that a workbook refuses,
// and none twice.
func (w *workbook) name(want string) string {
	want = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]'`, r) {
			return '-'
		}
		return r
	}, allowed(want))
	for n := 1; ; n++ {
		tail := ""
		if n > 1 {
			tail = fmt.Sprintf(" (%d)", n)
		}
		runes := []rune(want)
		name := string(runes[:min(len(runes), 31-len(tail))]) + tail
		if key := strings.ToLower(name); !w.names[key] {
			w.names[key] = true
			return name
		}
	}
}

// cellText is a text as a cell can hold it.
func cellText(s string) string {
	s = allowed(s)
	if len(s) > 32000 {
		s = s[:32000]
		for !utf8.ValidString(s) {
			s = s[:len(s)-1]
		}
	}
	return s
}

func (w *workbook) sheet(name string, t *Table) error {
	if _, err := w.file.NewSheet(name); err != nil {
		return err
	}
	s, err := w.file.NewStreamWriter(name)
	if err != nil {
		return err
	}
	keys := 0
	for i, c := range t.Columns {
		width := float64(utf8.RuneCountInString(c.head())) + 3
		for _, r := range t.Rows {
			if !r.Head && i < len(r.Cells) {
				width = max(width, float64(utf8.RuneCountInString(r.Cells[i].Text))+2)
			}
		}
		if err := s.SetColWidth(i+1, i+1, min(width, 60)); err != nil {
			return err
		}
		if c.Key && keys == i {
			keys++
		}
	}
	corner, _ := excelize.CoordinatesToCellName(keys+1, 2)
	if err := s.SetPanes(&excelize.Panes{Freeze: true, XSplit: keys, YSplit: 1, TopLeftCell: corner, ActivePane: "bottomRight"}); err != nil {
		return err
	}
	var head []any
	for _, c := range t.Columns {
		text := c.head()
		if c.Group != "" {
			text = c.Group + " " + text
		}
		head = append(head, excelize.Cell{StyleID: w.head, Value: cellText(text)})
	}
	if err := s.SetRow("A1", head); err != nil {
		return err
	}
	for i, r := range t.Rows {
		var row []any
		for _, c := range r.Cells {
			switch {
			case r.Head:
				row = append(row, excelize.Cell{StyleID: w.band, Value: cellText(c.Text)})
			case c.Number != nil:
				row = append(row, *c.Number)
			case c.Text == "":
				row = append(row, nil)
			default:
				row = append(row, excelize.Cell{StyleID: w.text, Value: cellText(c.Text)})
			}
		}
		at, _ := excelize.CoordinatesToCellName(1, i+2)
		if err := s.SetRow(at, row); err != nil {
			return err
		}
	}
	for i, n := range t.Notes {
		at, _ := excelize.CoordinatesToCellName(1, len(t.Rows)+3+i)
		if err := s.SetRow(at, []any{cellText(n)}); err != nil {
			return err
		}
	}
	return s.Flush()
}

package tables

import (
	"fmt"
	"sort"
	"strings"
	"unicode/utf8"

	"feederwright/study"
)

// Limits of what is read; the study that comes of it has its own.
const (
	maxBytes   = 16 << 20 // of one table
	maxColumns = 1000
	maxRows    = 100_000
)

// A field is one cell of a sheet as it stands in the file.
type field struct {
	text       string // without quotes, and without spaces at its ends
	start, end int    // of that text in the file; of a quoted one, inside the quotes
	verbatim   bool   // the file has text as it is from start to end
	broken     bool   // told already: what is read of it is not what was meant
}

// A record is one row of a sheet.
type record struct {
	number int // as a spreadsheet counts
	fields []field
	end    int // of the row in the file
	// shifted: which cell belongs under which heading is not known.
	shifted bool
}

// shift notes that the row is out of step with the headings.
func (r *record) shift() {
	r.shifted = true
	for i := range r.fields {
		r.fields[i].broken = true
	}
}

func (r *record) blank() bool {
	for _, f := range r.fields {
		if f.text != "" {
			return false
		}
	}
	return true
}

// A sheet is one table as text.
type sheet struct {
	name  string
	text  string // UTF-8, without byte order mark
	sep   byte
	rows  []record
	lines []int // byte offsets at which lines begin
}

// A slip is something wrong with the notation of a sheet.
type slip struct {
	severity          study.Severity
	row, column       int // from 0; column −1 is the whole row, row −1 the file
	problem, why, fix string
}

const workbook = "save each sheet as comma-separated values (CSV, UTF-8)"

// decode makes UTF-8 text of the bytes of a file.
func decode(b []byte) (string, []slip) {
	refuse := func(problem, fix string) (string, []slip) {
		return "", []slip{{study.Error, -1, -1, problem, "a table is a text file of comma-separated values", fix}}
	}
	switch {
	case len(b) > maxBytes:
		return refuse(fmt.Sprintf("has more than %d MiB, the most that is read", maxBytes>>20), "split the study")
	case strings.HasPrefix(string(b), "PK\x03\x04"), strings.HasPrefix(string(b), "\xd0\xcf\x11\xe0"):
		return refuse("is a workbook of a spreadsheet program", workbook)
	case strings.HasPrefix(string(b), "\xff\xfe"), strings.HasPrefix(string(b), "\xfe\xff"):
		return refuse("is UTF-16 text", workbook)
	case strings.IndexByte(string(b), 0) >= 0:
		return refuse("is not text: it has a zero byte", workbook)
	}
	text := strings.TrimPrefix(string(b), "\ufeff")
	if utf8.ValidString(text) {
		return text, nil
	}
	return fromLatin1(text), []slip{{study.Warning, -1, -1, "is not UTF-8 text; it is read as Latin-1 (Windows code page 1252)",
		"letters beyond ASCII in names and notes may come out as others", "look at them in the study, or save the table as CSV UTF-8"}}
}

// fromLatin1 decodes Windows code page 1252: ISO 8859-1 but for 0x80 to 0x9F.
// Source: the WHATWG encoding standard, index windows-1252 [from memory].
func fromLatin1(b string) string {
	const c1 = "€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ"
	high := []rune(c1)
	var out strings.Builder
	for i := 0; i < len(b); i++ {
		switch c := b[i]; {
		case c >= 0x80 && c < 0xa0:
			out.WriteRune(high[c-0x80])
		default:
			out.WriteRune(rune(c))
		}
	}
	return out.String()
}

// newSheet takes a table apart. known says whether a text is a heading, to
// tell which separator the file has.
func newSheet(name, text string, known func(string) bool) (*sheet, []slip) {
	s := &sheet{name: name, text: text, lines: []int{0}}
	for i := 0; i < len(text); i++ {
		if text[i] == '\n' || text[i] == '\r' && (i+1 == len(text) || text[i+1] != '\n') {
			s.lines = append(s.lines, i+1)
		}
	}
	begin := 0
	if len(text) >= 5 && strings.EqualFold(text[:4], "sep=") && strings.ContainsRune(",;\t|", rune(text[4])) {
		// A first line by which spreadsheets are told the separator; they don't show it.
		s.sep = text[4]
		begin = len(text)
		if len(s.lines) > 1 {
			begin = s.lines[1]
		}
	} else {
		s.sep = s.separator(known)
	}
	return s, s.scan(begin)
}

// separator is that by which one of the first rows falls into the most known
// headings, then that by which the first falls into the most parts; a comma
// among equals.
func (s *sheet) separator(known func(string) bool) byte {
	best, most, parts := byte(','), -1, 0
	for _, sep := range []byte{',', ';', '\t', '|'} {
		try := &sheet{text: s.text, sep: sep}
		n, width := 0, 0
		for pos, tried := 0, 0; pos < len(s.text) && tried < aboveHeadings; {
			var r record
			r, pos, _ = try.record(pos, 0, true)
			if r.blank() {
				continue
			}
			if tried == 0 {
				width = len(r.fields)
			}
			tried++
			n = max(n, headingsIn(r, known))
		}
		if n > most || n == most && width > parts {
			best, most, parts = sep, n, width
		}
	}
	return best
}

// aboveHeadings is how many rows are looked at for the headings.
const aboveHeadings = 20

func headingsIn(r record, known func(string) bool) int {
	n := 0
	for _, f := range r.fields {
		if known(f.text) {
			n++
		}
	}
	return n
}

// scan takes the rows apart, after RFC 4180 with three liberties: any line
// end, blank lines, and quotes inside a cell that does not begin with one.
func (s *sheet) scan(pos int) []slip {
	var slips []slip
	quotes := true
	for pos < len(s.text) {
		r, next, problem := s.record(pos, len(s.rows), quotes)
		if problem != nil {
			slips = append(slips, *problem)
			r.shift()
			if problem.fix == closeQuote {
				// No quote is taken for one from here on: each would be looked for to the end again.
				quotes = false
				r, next, _ = s.record(pos, len(s.rows), false)
				r.shift()
			}
		}
		s.rows = append(s.rows, r)
		pos = next
		if len(s.rows) > maxRows && pos < len(s.text) {
			return append(slips, slip{study.Error, len(s.rows) - 1, -1, fmt.Sprintf("has more than %d rows, the most that is read", maxRows), "", "split the study, or take out blank rows"})
		}
	}
	return slips
}

const closeQuote = `write a " at the end of the text, or take out that at its beginning`

// record takes one row apart and returns where the next begins.
func (s *sheet) record(pos, index int, quotes bool) (record, int, *slip) {
	r := record{number: index + 1}
	var problem *slip
	for {
		var f field
		if quotes && pos < len(s.text) && s.text[pos] == '"' {
			f.start, f.verbatim = pos+1, true
			var b strings.Builder
			i := pos + 1
			for closed := false; !closed; {
				n := strings.IndexByte(s.text[i:], '"')
				if n < 0 {
					return r, len(s.text), &slip{study.Error, index, len(r.fields), `a quote (") is opened here and never closed`,
						"a cell that begins with a quote ends with one, and may have line breaks in it", closeQuote}
				}
				b.WriteString(s.text[i : i+n])
				i += n + 1
				if i < len(s.text) && s.text[i] == '"' {
					b.WriteByte('"')
					f.verbatim = false
					i++
				} else {
					closed = true
				}
			}
			f.text, f.end = b.String(), i-1
			pos = i
			end := s.cellEnd(pos)
			if rest := s.text[pos:end]; strings.TrimSpace(rest) != "" {
				f.broken = true
				if problem == nil {
					problem = &slip{study.Error, index, len(r.fields), fmt.Sprintf("%s follows the closing quote of a cell", short(strings.TrimSpace(rest))),
						"a quote inside a quoted cell is written twice; a quote that is not closed in an earlier cell shows here, too", `write "" for each quote that belongs to the text`}
				}
			}
			pos = end
		} else {
			end := s.cellEnd(pos)
			f = field{text: s.text[pos:end], start: pos, end: end, verbatim: true}
			pos = end
		}
		f.trim()
		if len(r.fields) < maxColumns {
			r.fields = append(r.fields, f)
		} else if f.text != "" && problem == nil {
			problem = &slip{study.Error, index, maxColumns - 1, fmt.Sprintf("the row has more than %d cells, the most that is read", maxColumns), "", "take out what is not needed"}
		}
		if pos >= len(s.text) {
			r.end = pos
			return r, pos, problem
		}
		switch c := s.text[pos]; {
		case c == s.sep:
			pos++
		default: // a line end
			r.end = pos
			pos++
			if c == '\r' && pos < len(s.text) && s.text[pos] == '\n' {
				pos++
			}
			return r, pos, problem
		}
	}
}

// cellEnd is the next separator, line end or end of file.
func (s *sheet) cellEnd(pos int) int {
	for ; pos < len(s.text); pos++ {
		if c := s.text[pos]; c == s.sep || c == '\n' || c == '\r' {
			break
		}
	}
	return pos
}

// trim takes off spaces at both ends, no-break ones too, and the form ="..."
// by which a spreadsheet keeps a text from being changed.
func (f *field) trim() {
	trimmed := strings.TrimSpace(f.text)
	if f.verbatim {
		f.start += strings.Index(f.text, trimmed)
		f.end = f.start + len(trimmed)
	}
	f.text = trimmed
	if len(trimmed) >= 3 && strings.HasPrefix(trimmed, `="`) && strings.HasSuffix(trimmed, `"`) {
		inner := trimmed[2 : len(trimmed)-1]
		if plain := strings.ReplaceAll(inner, `""`, ""); !strings.Contains(plain, `"`) {
			f.text = strings.TrimSpace(strings.ReplaceAll(inner, `""`, `"`))
			f.verbatim = false
		}
	}
}

// mark is a stretch of the file.
func (s *sheet) mark(start, end int) study.Mark {
	line := sort.SearchInts(s.lines, start+1)
	before := s.text[s.lines[line-1]:start]
	col := len(before) + 1
	const long = 1 << 16 // bytes; beyond, columns are counted in bytes
	if len(before) < long {
		col = utf8.RuneCountInString(before) + 1
	}
	return study.Mark{File: s.name, Line: line, Col: col, Start: start, End: end}
}

// line is one line of the file without its end.
func (s *sheet) line(number int) string {
	if number < 1 || number > len(s.lines) {
		return ""
	}
	end := len(s.text)
	if number < len(s.lines) {
		end = s.lines[number]
	}
	const most = 2000 // bytes; of a longer line nothing is shown
	text := strings.TrimRight(s.text[s.lines[number-1]:end], "\r\n")
	if len(text) > most {
		return ""
	}
	return text
}

// short quotes a text for a message, cut where it is long.
func short(text string) string {
	const most = 60
	if r := []rune(text); len(r) > most {
		text = string(r[:most-3]) + "..."
	}
	return fmt.Sprintf("%q", text)
}

package tables

import (
	"fmt"
	"slices"
	"strings"

	"feederwright/quantity"
	"feederwright/study"
)

// infeeds are the rows of the supply as entries: those of one name together.
func (r *reader) infeeds(in *input) []entry {
	var list []entry
	index := make(map[string]int)
	value := make(map[string]cellRef) // of infeed and key: where it is said first
	words := levelWords(in.table)
	for _, row := range in.data() {
		text, name := r.name(in, row)
		at, known := index[text]
		if !known {
			at = len(list)
			index[text] = at
			list = append(list, entry{name: name})
		}
		e := &list[at]
		level := pair{}
		for i, c := range in.columns {
			switch {
			case c == nil || c.kind == nameColumn:
			case c.kind == levelColumn:
				level.key = r.level(in, row, i, words)
			case c.level:
				if p, ok := r.pair(in, row, i); ok {
					level.group = append(level.group, p)
				}
			default:
				ref, said := value[text+"\x00"+c.heading]
				f := in.field(row, i)
				if said && f.text == "" {
					continue
				}
				if said {
					if was := in.field(ref.row, i); was.text != f.text && !f.broken {
						r.complain(study.Error, in, row, i, r.object(in, row, c), fmt.Sprintf("%s here, and %s in row %d", short(f.text), short(was.text), in.rows[ref.row].number), "the rows of one infeed differ by level only", "write the same, or leave it empty here",
							Related{Cell: in.at(ref.row, i), Text: "first said here", Excerpt: in.line(in.at(ref.row, i).Place.Line)})
					}
					continue
				}
				if f.text == "" && known {
					continue
				}
				if p, ok := r.pair(in, row, i); ok {
					e.pairs = append(e.pairs, p)
					if f.text != "" {
						value[text+"\x00"+c.heading] = cellRef{in.sheet, row, i}
					}
				}
			}
		}
		if level.key == "" {
			continue
		}
		if ref, twice := value[text+"\x00\x00"+level.key]; twice {
			r.complain(study.Error, in, row, in.find("level"), r.object(in, row, nil), "has the level "+level.key+" twice", "two statements of one thing may differ", "take one of them out",
				Related{Cell: in.at(ref.row, in.find("level")), Text: "first here", Excerpt: in.line(in.at(ref.row, 0).Place.Line)})
			continue
		}
		value[text+"\x00\x00"+level.key] = cellRef{in.sheet, row, 0}
		if level.group == nil {
			r.complain(study.Error, in, row, -1, r.object(in, row, nil)+", "+level.key, "neither a three-phase level nor z1 is given", "the impedance of the infeed is not known without", "write three-phase, as 9.20 kA, and x/r, as 10.5")
			level.group = []pair{{key: "three-phase", value: []part{unread(cellRef{in.sheet, row, -1})}}}
		}
		e.pairs = append(e.pairs, level)
	}
	for i := range list {
		row := list[i].name.at.row
		r.absent(in, row, &list[i])
		if !slices.ContainsFunc(list[i].pairs, func(p pair) bool { return p.group != nil }) {
			// Its level is told to be wrong or missing.
			list[i].pairs = append(list[i].pairs, pair{key: words[0], group: []pair{{key: "three-phase", value: []part{unread(cellRef{in.sheet, row, -1})}}}})
		}
	}
	return list
}

// level reads which level of an infeed a row is for.
func (r *reader) level(in *input, row, i int, words []string) string {
	f := in.field(row, i)
	if f.broken {
		return ""
	}
	text := strings.ToLower(f.text)
	if slices.Contains(words, text) {
		return text
	}
	if text == "" {
		r.complain(study.Error, in, row, i, r.object(in, row, nil), "level is empty", "each row gives one strength of an infeed", "write "+listed(words, "or"))
		return ""
	}
	fix := "write " + listed(words, "or")
	if near, ok := quantity.Nearest(text, words); ok {
		fix = "write " + near
	}
	r.complain(study.Error, in, row, i, r.object(in, row, in.columns[i]), short(f.text)+" is no level of an infeed", "levels are "+listed(words, "and"), fix)
	return ""
}

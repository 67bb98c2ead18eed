package dossier

import (
	_ "embed"
	"fmt"
	"strings"
)

//go:embed style.css
var styleSheet string

// HTML writes a book as one file with everything in it: no script, nothing
// fetched. It is well-formed XML as well, so that it can be checked.
func HTML(b *Book, paper Paper) []byte {
	w := &htmlWriter{book: b}
	w.add("<!DOCTYPE html>\n<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\">\n<head>\n<meta charset=\"utf-8\"/>\n")
	w.add("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n<meta name=\"generator\" content=\"feederwright\"/>\n")
	w.add("<title>", esc(b.Name+": "+b.Title), "</title>\n<style>\n", styleSheet)
	foot := fmt.Sprintf("%s · study %s · %s", b.Date, b.shortHash(), b.State())
	w.add("@page { size: ", paper.css, "; margin: 17mm 16mm 19mm; @bottom-left { content: ", cssString(foot), "; font: 8pt sans-serif; } @bottom-right { content: \"page \" counter(page) \" of \" counter(pages); font: 8pt sans-serif; } }\n")
	w.add("</style>\n</head>\n<body>\n")
	if b.Draft() {
		w.add("<div class=\"draft\" aria-hidden=\"true\">DRAFT</div>\n")
	}
	w.add("<header>\n<p class=\"kind\">", esc(b.Name), "</p>\n<h1>", esc(b.Title), "</h1>\n<p class=\"state\">", esc(b.State()), "</p>\n</header>\n<main>\n<section class=\"cover\">\n")
	w.blocks(b.Cover, "")
	w.add("</section>\n<nav aria-label=\"Contents\">\n<h2>Contents</h2>\n<ol class=\"contents\">\n")
	for i, s := range b.Chapters {
		w.add("<li><a href=\"#", anchor(i), "\">", esc(b.Number(i)), " ", esc(s.Title), "</a></li>\n")
	}
	w.add("</ol>\n</nav>\n")
	for i, s := range b.Chapters {
		w.add("<section id=\"", anchor(i), "\">\n<h2>", esc(b.Number(i)), " ", esc(s.Title), "</h2>\n")
		w.blocks(s.Blocks, b.Number(i))
		w.add("</section>\n")
	}
	w.add("</main>\n<footer>\n<p>", esc(b.Title), ", ", esc(b.File), " · ", esc(b.Date), " · ", esc(b.State()), "</p>\n<p>study hash <code>", esc(b.Hash), "</code> · ", esc(b.Program), "</p>\n</footer>\n</body>\n</html>\n")
	return []byte(w.out.String())
}

// Number is the number of a chapter, or the letter of an annex.
func (b *Book) Number(i int) string {
	n := 0
	for k := range i + 1 {
		if b.Chapters[k].Annex == b.Chapters[i].Annex {
			n++
		}
	}
	if b.Chapters[i].Annex {
		return "Annex " + string(rune('A'+(n-1)%26))
	}
	return fmt.Sprint(n)
}

func anchor(i int) string { return fmt.Sprintf("chapter-%d", i+1) }

// subNumber is the number of a part of a chapter.
func subNumber(chapter string, n int) string {
	return strings.TrimPrefix(chapter, "Annex ") + "." + fmt.Sprint(n)
}

type htmlWriter struct {
	book   *Book
	out    strings.Builder
	tables int
	figure int
}

func (w *htmlWriter) add(parts ...string) {
	for _, p := range parts {
		w.out.WriteString(p)
	}
}

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

// esc makes a text safe in HTML; what XML forbids becomes U+FFFD.
func esc(s string) string { return escaper.Replace(allowed(s)) }

// allowed replaces characters that no output can hold.
func allowed(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0xd800 && r < 0xe000 || r == 0xfffe || r == 0xffff:
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
}

func cssString(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "<", `\3c `, ">", `\3e `, "&", `\26 `).Replace(allowed(s)) + `"`
}

func (w *htmlWriter) rich(r Rich) {
	for _, s := range r {
		open, shut := "", ""
		for _, p := range []struct {
			style Style
			tag   string
		}{{Strong, "strong"}, {Slanted, "em"}, {Below, "sub"}, {Above, "sup"}, {Coded, "code"}} {
			if s.Style&p.style != 0 {
				open, shut = open+"<"+p.tag+">", "</"+p.tag+">"+shut
			}
		}
		w.add(open, esc(s.Text), shut)
	}
}

func (w *htmlWriter) blocks(blocks []Block, chapter string) {
	part := 0
	for _, b := range blocks {
		switch b := b.(type) {
		case Heading:
			part++
			w.add("<h3>", esc(subNumber(chapter, part)), " ", esc(b.Text), "</h3>\n")
		case Para:
			class := ""
			if b.Small {
				class = " class=\"small\""
			}
			w.add("<p", class, ">")
			w.rich(b.Text)
			w.add("</p>\n")
		case List:
			w.add("<ul>\n")
			for _, item := range b.Items {
				w.add("<li>")
				w.rich(item)
				w.add("</li>\n")
			}
			w.add("</ul>\n")
		case Facts:
			w.facts(b.Items)
		case Note:
			class := "note"
			if b.Caution {
				class = "note caution"
			}
			w.add("<aside class=\"", class, "\">\n<p class=\"title\">")
			if b.Caution {
				w.add("<span class=\"mark\">Caution</span> ")
			}
			w.add(esc(b.Title), "</p>\n")
			for _, p := range b.Text {
				w.add("<p>")
				w.rich(p)
				w.add("</p>\n")
			}
			w.add("</aside>\n")
		case Card:
			w.add("<article class=\"card grade", fmt.Sprint(b.Grade), "\">\n<p class=\"title\"><span class=\"mark\">", esc(b.Mark), "</span> ", esc(b.Title), "</p>\n")
			w.facts(b.Facts)
			w.add("<p class=\"small\"><code>", esc(b.ID), "</code></p>\n</article>\n")
		case Steps:
			w.steps(b)
		case Figure:
			w.figure++
			w.add("<figure>\n", plainID(svgElement(b.Drawing.SVG()), w.figure), "\n<figcaption>Figure ", fmt.Sprint(w.figure), ". ", esc(b.Caption), "</figcaption>\n</figure>\n")
		case PageBreak:
			w.add("<div class=\"break\"></div>\n")
		case SignOff:
			w.add("<table class=\"sign\">\n<thead><tr><th>Step</th><th>Name</th><th>Licence or role</th><th>Signature</th><th>Date</th></tr></thead>\n<tbody>\n")
			for _, r := range b.Roles {
				w.add("<tr><th scope=\"row\">", esc(r), "</th><td></td><td></td><td></td><td></td></tr>\n")
			}
			w.add("</tbody>\n</table>\n")
		case *Table:
			w.table(b)
		}
	}
}

// svgElement is a picture without the declaration that a file begins with.
func svgElement(svg []byte) string {
	s := string(svg)
	if i := strings.Index(s, "<svg"); i >= 0 {
		s = s[i:]
	}
	return strings.TrimSpace(s)
}

func (w *htmlWriter) facts(items []Fact) {
	w.add("<dl>\n")
	for _, f := range items {
		w.add("<dt>", esc(f.Term), "</dt><dd>")
		w.rich(f.Text)
		w.add("</dd>\n")
	}
	w.add("</dl>\n")
}

func (w *htmlWriter) table(t *Table) {
	if t.SheetOnly {
		return
	}
	w.tables++
	w.add("<div class=\"table\"><table>\n<caption>Table ", fmt.Sprint(w.tables), ". ", esc(t.Caption), "</caption>\n<thead>\n")
	if t.grouped() {
		w.add("<tr>")
		for i := 0; i < len(t.Columns); {
			n := 1
			for i+n < len(t.Columns) && t.Columns[i].Group != "" && t.Columns[i+n].Group == t.Columns[i].Group {
				n++
			}
			if t.Columns[i].Group == "" {
				w.add("<td></td>")
			} else {
				w.add(fmt.Sprintf("<th class=\"group\" colspan=\"%d\">", n), esc(t.Columns[i].Group), "</th>")
			}
			i += n
		}
		w.add("</tr>\n")
	}
	w.add("<tr>")
	for _, c := range t.Columns {
		w.add("<th scope=\"col\"", alignClass(c.Align), ">", esc(c.head()), "</th>")
	}
	w.add("</tr>\n</thead>\n<tbody>\n")
	for _, r := range t.Rows {
		switch {
		case r.Head:
			w.add(fmt.Sprintf("<tr class=\"head\"><th scope=\"rowgroup\" colspan=\"%d\">", len(t.Columns)), esc(r.Cells[0].Text), "</th></tr>\n")
			continue
		case r.Rule:
			w.add("<tr class=\"rule\">")
		default:
			w.add("<tr>")
		}
		for i, c := range r.Cells {
			col := t.Columns[i]
			text := esc(c.Text)
			if c.Strong {
				text = "<strong>" + text + "</strong>"
			}
			if col.Code && c.Text != "" {
				text = "<code>" + text + "</code>"
			}
			if i == 0 {
				w.add("<th scope=\"row\"", alignClass(col.Align), ">", text, "</th>")
			} else {
				w.add("<td", alignClass(col.Align), ">", text, "</td>")
			}
		}
		w.add("</tr>\n")
	}
	w.add("</tbody>\n</table>\n")
	for _, n := range t.Notes {
		w.add("<p class=\"small\">", esc(n), "</p>\n")
	}
	w.add("</div>\n")
}

func (t *Table) grouped() bool {
	for _, c := range t.Columns {
		if c.Group != "" {
			return true
		}
	}
	return false
}

// head is a column's head with its unit.
func (c *Column) head() string {
	if c.Unit == "" {
		return c.Head
	}
	return c.Head + ", " + c.Unit
}

func alignClass(a Align) string {
	switch a {
	case Right:
		return " class=\"n\""
	case Center:
		return " class=\"c\""
	}
	return ""
}

func (w *htmlWriter) steps(s Steps) {
	w.add("<div class=\"steps\">\n<p class=\"title\">", esc(s.Title), "</p>\n<ol>\n")
	for _, st := range s.Steps {
		w.add("<li><div class=\"formula\">", mathML(st), "</div>")
		if note := stepNote(st); note != "" {
			w.add("<p class=\"small\">", esc(note), "</p>")
		}
		w.add("</li>\n")
	}
	w.add("</ol>\n</div>\n")
}

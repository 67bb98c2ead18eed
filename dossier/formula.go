package dossier

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"feederwright/working"
)

// Formulas come as lines of text, as package working has them for a terminal:
//
//	c · U² / S · n², split by X/R = 9
//	√3 × 7199.6 V / |9.901 + j18.061| ohm
//
// parseFormula reads them by this grammar, so that they can be set with
// fractions, roots, subscripts and superscripts. A text that does not parse is
// shown as it is.
//
//	formula = sum [ "," prose ]
//	sum     = [sign] product { sign product }
//	product = power { [ "·" | "×" | "/" ] power }     "/" takes all of the product before it
//	power   = atom { superscript | "^" atom } [ unit ]
//	atom    = number | symbol | words | "√" power | "(" sum ")" | "|" sum "|"
//
// A complex number, 0.3061 + j0.6270, is one atom, whatever stands beside it;
// so is a number with its unit.

// A node of a formula that was read.
type node struct {
	kind  nodeKind
	text  string // as in the source, for leaves
	parts []node
}

type nodeKind int

const (
	rowNode    nodeKind = iota // parts side by side
	numberNode                 // text
	symbolNode                 // text: one letter, and what follows is its subscript
	wordsNode                  // text, upright
	unitNode                   // text
	signNode                   // text: an operator
	fracNode                   // two parts
	rootNode                   // one part
	powerNode                  // two parts, the exponent given with ^
	raisedNode                 // one part, and text: superscript characters
	fenceNode                  // one part, text: ( or |
	proseNode                  // text behind a comma
)

// linear writes a node back as a line without blanks.
func (n *node) linear() string {
	s := ""
	switch n.kind {
	case fracNode:
		return n.parts[0].linear() + "/" + n.parts[1].linear()
	case rootNode:
		return "√" + n.parts[0].linear()
	case powerNode:
		return n.parts[0].linear() + "^" + n.parts[1].linear()
	case raisedNode:
		return n.parts[0].linear() + n.text
	case fenceNode:
		shut := n.text
		if shut == "(" {
			shut = ")"
		}
		return n.text + n.parts[0].linear() + shut
	case rowNode:
		for i := range n.parts {
			s += n.parts[i].linear()
		}
		return s
	}
	return squeeze(n.text)
}

// squeeze takes blanks out.
func squeeze(s string) string { return strings.Join(strings.Fields(s), "") }

type token struct {
	text  string
	space bool // a blank before it
	kind  tokenKind
}

type tokenKind int

const (
	endToken tokenKind = iota
	numberToken
	nameToken
	opToken
	raisedToken
)

const superscripts = "⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺"

// plainSuperscript writes superscript characters as those they stand for.
var plainSuperscript = strings.NewReplacer("⁰", "0", "¹", "1", "²", "2", "³", "3", "⁴", "4", "⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9", "⁻", "−", "⁺", "+")

func isDigit(r rune) bool { return r >= '0' && r <= '9' || strings.ContainsRune("½⅓⅔¼¾", r) }

// letters are what names are made of. Of those that are letters to Unicode
// only what the program writes counts.
func isLetter(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= 'Α' && r <= 'ω' || r == 'µ' || r == 'Ω' || r == 'ε'
}

func scanFormula(s string) ([]token, bool) {
	var list []token
	space := false
	for s != "" {
		r, n := utf8.DecodeRuneInString(s)
		next := token{space: space}
		take := func(more func(string, rune) bool) {
			end := n
			for end < len(s) {
				r, m := utf8.DecodeRuneInString(s[end:])
				if !more(s[end:], r) {
					break
				}
				end += m
			}
			next.text, s = s[:end], s[end:]
		}
		number := func(rest string, r rune) bool {
			if r == '.' { // between digits
				d, _ := utf8.DecodeRuneInString(rest[1:])
				return d >= '0' && d <= '9'
			}
			return isDigit(r)
		}
		switch {
		case r == ' ':
			space, s = true, s[n:]
			continue
		case r == 'j' && len(s) > 1 && s[1] >= '0' && s[1] <= '9':
			next.kind = numberToken
			take(number)
		case isDigit(r):
			next.kind = numberToken
			take(number)
		case isLetter(r):
			next.kind = nameToken
			take(func(rest string, r rune) bool {
				if r == '-' || r == '\'' { // inside a word
					l, _ := utf8.DecodeRuneInString(rest[1:])
					return isLetter(l)
				}
				return isLetter(r) || r == '_' || r >= '0' && r <= '9'
			})
		case strings.ContainsRune(superscripts, r):
			next.kind = raisedToken
			take(func(_ string, r rune) bool { return strings.ContainsRune(superscripts, r) })
		case strings.ContainsRune("+-−·×/()|,=√^%°∠", r):
			next.kind, next.text, s = opToken, s[:n], s[n:]
		default:
			return nil, false
		}
		space = false
		list = append(list, next)
		if len(list) > 400 {
			return nil, false
		}
	}
	return list, true
}

type formulaParser struct {
	tokens []token
	at     int
	depth  int
	bars   int // inside | |
	failed bool
}

func (p *formulaParser) peek(ahead int) token {
	if p.at+ahead < len(p.tokens) {
		return p.tokens[p.at+ahead]
	}
	return token{}
}

func (p *formulaParser) is(op string) bool { return p.peek(0).kind == opToken && p.peek(0).text == op }

// parseFormula reads a line; ok is false where it is not of the grammar.
func parseFormula(text string) (formula node, ok bool) {
	head, prose := text, ""
	if i := strings.Index(text, ", "); i >= 0 {
		head, prose = text[:i], text[i:]
	}
	tokens, ok := scanFormula(head)
	if !ok || len(tokens) == 0 {
		return node{}, false
	}
	p := &formulaParser{tokens: tokens}
	formula = p.sum()
	if p.failed || p.at < len(p.tokens) {
		return node{}, false
	}
	if prose != "" {
		formula = node{kind: rowNode, parts: []node{formula, {kind: proseNode, text: prose}}}
	}
	return formula, true
}

func (p *formulaParser) fail() node {
	p.failed = true
	p.at = len(p.tokens)
	return node{}
}

func isSign(t token) bool {
	return t.kind == opToken && (t.text == "+" || t.text == "-" || t.text == "−")
}

func (p *formulaParser) sum() node {
	if p.depth++; p.depth > 30 {
		return p.fail()
	}
	defer func() { p.depth-- }()
	row := node{kind: rowNode}
	if isSign(p.peek(0)) {
		row.parts = append(row.parts, node{kind: signNode, text: p.peek(0).text})
		p.at++
	}
	row.parts = append(row.parts, p.product())
	for isSign(p.peek(0)) {
		row.parts = append(row.parts, node{kind: signNode, text: p.peek(0).text})
		p.at++
		row.parts = append(row.parts, p.product())
	}
	if len(row.parts) == 1 {
		return row.parts[0]
	}
	return row
}

func (p *formulaParser) product() node {
	row := node{kind: rowNode, parts: []node{p.power()}}
	for !p.failed {
		t := p.peek(0)
		switch {
		case p.is("·") || p.is("×"):
			p.at++
			row.parts = append(row.parts, node{kind: signNode, text: t.text}, p.power())
		case p.is("/"):
			p.at++
			row = node{kind: rowNode, parts: []node{{kind: fracNode, parts: []node{collapse(row), p.power()}}}}
		case t.kind == numberToken || t.kind == nameToken || p.is("√") || p.is("(") || p.is("|") && p.bars == 0:
			if t.space {
				row.parts = append(row.parts, node{kind: wordsNode, text: " "})
			}
			row.parts = append(row.parts, p.power())
		default:
			return collapse(row)
		}
	}
	return node{}
}

func collapse(n node) node {
	if n.kind == rowNode && len(n.parts) == 1 {
		return n.parts[0]
	}
	return n
}

func (p *formulaParser) power() node {
	n := p.atom()
	for !p.failed {
		t := p.peek(0)
		switch {
		case t.kind == raisedToken && !t.space:
			p.at++
			n = node{kind: raisedNode, text: t.text, parts: []node{n}}
		case p.is("^"):
			p.at++
			n = node{kind: powerNode, parts: []node{n, p.atom()}}
		default:
			if unit := p.unit(); unit != "" {
				return node{kind: rowNode, parts: []node{n, {kind: unitNode, text: unit}}}
			}
			return n
		}
	}
	return n
}

// unitWords are those that a unit is made of; a letter that is a symbol, too,
// is a unit only right behind a number.
var unitWords = map[string]bool{}

func init() {
	for _, w := range strings.Fields("V kV mV A kA mA VA kVA MVA W kW MW var kvar Mvar ohm Ω mi km m ft in mm cm Hz s ms H mH F nF uF S uS µS degC cycles kcmil") {
		unitWords[w] = true
	}
}

// unit reads a unit behind a number or a fence: %, V, ohm/km, ohm·m, ohm².
func (p *formulaParser) unit() string {
	before := p.tokens[p.at-1]
	numeric := before.kind == numberToken || before.text == ")" || before.text == "|"
	t := p.peek(0)
	if !numeric || !t.space && t.text != "°" && t.text != "%" {
		return ""
	}
	if p.is("%") || p.is("°") {
		p.at++
		return t.text
	}
	if t.kind != nameToken || !unitWords[t.text] {
		return ""
	}
	unit := t.text
	p.at++
	for {
		if r := p.peek(0); r.kind == raisedToken && !r.space {
			unit += r.text
			p.at++
			continue
		}
		if o, u := p.peek(0), p.peek(1); (o.text == "/" || o.text == "·") && !o.space && !u.space && u.kind == nameToken && unitWords[u.text] {
			unit += o.text + u.text
			p.at += 2
			continue
		}
		return unit
	}
}

func (p *formulaParser) atom() node {
	if p.depth++; p.depth > 60 {
		return p.fail()
	}
	defer func() { p.depth-- }()
	t := p.peek(0)
	switch {
	case t.kind == numberToken:
		return p.number()
	case t.kind == nameToken:
		if isSymbol(t.text) {
			p.at++
			return node{kind: symbolNode, text: t.text}
		}
		words := t.text
		p.at++
		for w := p.peek(0); w.kind == nameToken && !isSymbol(w.text); w = p.peek(0) {
			words += " " + w.text
			p.at++
		}
		return node{kind: wordsNode, text: words}
	case p.is("√"):
		p.at++
		return node{kind: rootNode, parts: []node{p.atom()}}
	case p.is("("):
		p.at++
		bars := p.bars
		p.bars = 0
		inner := p.sum()
		p.bars = bars
		if !p.is(")") {
			return p.fail()
		}
		p.at++
		return node{kind: fenceNode, text: "(", parts: []node{inner}}
	case p.is("|"):
		p.at++
		p.bars++
		inner := p.sum()
		p.bars--
		if !p.is("|") {
			return p.fail()
		}
		p.at++
		return node{kind: fenceNode, text: "|", parts: []node{inner}}
	}
	return p.fail()
}

// number reads a number, with its imaginary part where one follows, or its
// angle.
func (p *formulaParser) number() node {
	first := p.peek(0).text
	p.at++
	if strings.HasPrefix(first, "j") {
		return node{kind: numberNode, text: first}
	}
	if sign, im := p.peek(0), p.peek(1); isSign(sign) && im.kind == numberToken && strings.HasPrefix(im.text, "j") {
		p.at += 2
		return node{kind: rowNode, parts: []node{{kind: numberNode, text: first}, {kind: signNode, text: sign.text}, {kind: numberNode, text: im.text}}}
	}
	if p.is("∠") {
		text := first + "∠"
		p.at++
		if isSign(p.peek(0)) {
			text += p.peek(0).text
			p.at++
		}
		if p.peek(0).kind != numberToken {
			return p.fail()
		}
		text += p.peek(0).text
		p.at++
		return node{kind: numberNode, text: text}
	}
	return node{kind: numberNode, text: first}
}

// isSymbol tells a symbol from a word: one letter; a letter with digits and
// what follows them; or one of those that the program uses.
func isSymbol(name string) bool {
	r, n := utf8.DecodeRuneInString(name)
	rest := name[n:]
	switch name {
	case "a", "uk", "Zs", "Zm", "Zn", "Zp", "Zpq", "Zpn", "Ze", "Xd", "De", "Re", "Ik", "Ib", "ip", "kV", "Ur", "Sr":
		return name != "kV"
	}
	if rest == "" || rest[0] == '_' && len(rest) > 1 {
		return true
	}
	return rest[0] >= '0' && rest[0] <= '9' && unicode.IsLetter(r) && len(rest) <= 4
}

// symbol parts a symbol into its letter and its subscript.
func symbol(name string) (letter, sub string) {
	_, n := utf8.DecodeRuneInString(name)
	return name[:n], strings.TrimPrefix(name[n:], "_")
}

// inner is a node without the parentheses round it, where what it stands in
// holds it together.
func inner(n node) node {
	if n.kind == fenceNode && n.text == "(" {
		return n.parts[0]
	}
	return n
}

// unitText is a unit as it is printed.
func unitText(unit string) string {
	return strings.NewReplacer("ohm", "Ω", "uS", "µS", "degC", "°C").Replace(unit)
}

// A stepLine is a working's step, cut at its equals signs.
type stepLine struct {
	symbol node
	parts  []node // formula, values put in, result
}

// readStep reads the formulas of a step; what does not parse becomes words.
func readStep(s working.Step) stepLine {
	read := func(text string) node {
		if n, ok := parseFormula(text); ok {
			return n
		}
		return node{kind: wordsNode, text: text}
	}
	var line stepLine
	name, of, _ := strings.Cut(s.Symbol, " ")
	line.symbol = read(name)
	if of != "" { // Z1 N0-N1: of what it is goes into the subscript
		if line.symbol.kind == symbolNode {
			line.symbol.text = spread(name) + ", " + of
		} else {
			line.symbol = node{kind: rowNode, parts: []node{line.symbol, {kind: wordsNode, text: " " + of}}}
		}
	}
	for _, text := range []string{s.Formula, s.Values} {
		if text != "" {
			line.parts = append(line.parts, read(text))
		}
	}
	result := read(s.Result)
	if s.Unit != "" {
		result = node{kind: rowNode, parts: []node{result, {kind: unitNode, text: s.Unit}}}
	}
	line.parts = append(line.parts, result)
	return line
}

// spread keeps the letter of a symbol from being cut off its subscript: Z1
// stays Z1, z becomes z_.
func spread(name string) string {
	if letter, sub := symbol(name); sub == "" {
		return letter + "_"
	}
	return name
}

func stepNote(s working.Step) string {
	note := s.Meaning
	if s.Basis != "" {
		note += " [" + s.Basis + "]"
	}
	return strings.TrimSpace(note)
}

// mathML writes a step for HTML.
func mathML(s working.Step) string {
	line := readStep(s)
	var b strings.Builder
	b.WriteString(`<math display="inline"><mrow>`)
	writeMath(&b, line.symbol)
	for _, p := range line.parts {
		b.WriteString("<mo>=</mo>")
		writeMath(&b, p)
	}
	b.WriteString("</mrow></math>")
	return b.String()
}

func writeMath(b *strings.Builder, n node) {
	tag := func(name string, children ...node) {
		b.WriteString("<" + name + ">")
		for _, c := range children {
			b.WriteString("<mrow>")
			writeMath(b, c)
			b.WriteString("</mrow>")
		}
		b.WriteString("</" + name + ">")
	}
	leaf := func(name, text string) { b.WriteString("<" + name + ">" + esc(text) + "</" + name + ">") }
	switch n.kind {
	case rowNode:
		for _, p := range n.parts {
			writeMath(b, p)
		}
	case numberNode:
		if text, ok := strings.CutPrefix(n.text, "j"); ok {
			leaf("mi", "j")
			leaf("mn", text)
			return
		}
		leaf("mn", n.text)
	case symbolNode:
		letter, sub := symbol(n.text)
		if sub = strings.TrimPrefix(sub, ", "); sub == "" {
			leaf("mi", letter)
			return
		}
		b.WriteString("<msub>")
		leaf("mi", letter)
		leaf("mtext", sub)
		b.WriteString("</msub>")
	case wordsNode, proseNode:
		leaf("mtext", strings.ReplaceAll(n.text, " ", "\u00a0"))
	case unitNode:
		text := unitText(n.text)
		if text != "°" {
			text = "\u00a0" + text
		}
		leaf("mtext", text)
	case signNode:
		leaf("mo", strings.ReplaceAll(n.text, "-", "−"))
	case fracNode:
		tag("mfrac", inner(n.parts[0]), inner(n.parts[1]))
	case rootNode:
		tag("msqrt", inner(n.parts[0]))
	case powerNode:
		tag("msup", n.parts[0], inner(n.parts[1]))
	case raisedNode:
		b.WriteString("<msup><mrow>")
		writeMath(b, n.parts[0])
		b.WriteString("</mrow>")
		leaf("mn", plainSuperscript.Replace(n.text))
		b.WriteString("</msup>")
	case fenceNode:
		shut := n.text
		if shut == "(" {
			shut = ")"
		}
		leaf("mo", n.text)
		b.WriteString("<mrow>")
		writeMath(b, n.parts[0])
		b.WriteString("</mrow>")
		leaf("mo", shut)
	}
}

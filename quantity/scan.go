package quantity

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Values outside these bounds, in SI, are slips of the keyboard, and squares
// and products of values inside them stay far from the limits of float64.
const (
	largestValue  = 1e30
	smallestValue = 1e-30
)

// numberPattern is a number without its sign, for Description.Pattern.
const (
	numberPattern = `(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][\-+−]?[0-9]+)?`
	signPattern   = `[\-+−]`
)

// A Description says how a type is written, for messages, the schema of the
// study file and its reference page.
type Description struct {
	Name     string   // "voltage"
	Article  string   // the name with its article: "a voltage"
	Text     string   // what it is and how it is written, one sentence
	Examples []string // texts that are accepted; the first two go into messages
	Pattern  string   // anchored ECMA-262 expression that matches every accepted text
	Units    []string // units accepted, the most usual first
}

// A signRule says which signs a value may have.
type signRule int

const (
	anySign  signRule = iota
	unsigned          // zero or above, typed without a sign
	positive          // above zero, typed without a sign
)

// A want is what the reader of a text looks for at some place in it.
type want struct {
	dims     []dimension
	name     string // "current"
	article  string // "a current"
	examples []string
	sign     signRule
}

func newWant(article, name string, sign signRule, dims []dimension, examples ...string) *want {
	return &want{dims, name, article + " " + name, examples, sign}
}

func (w *want) fix() string {
	if len(w.examples) == 1 {
		return "write " + w.article + " such as " + w.examples[0]
	}
	return "write " + w.article + " such as " + w.examples[0] + " or " + w.examples[1]
}

// A form is all that is told about the text of one type.
type form struct {
	want
	description Description
}

// newForm builds the form of a type; article is "a" or "an", body is the
// pattern between the surrounding spaces.
func newForm(article, name, text string, sign signRule, dims []dimension, body string, examples ...string) *form {
	return &form{
		want: *newWant(article, name, sign, dims, examples...),
		description: Description{
			Name:     name,
			Article:  article + " " + name,
			Text:     text,
			Examples: examples,
			Pattern:  "^ *" + body + " *$",
			Units:    unitNames(dims),
		},
	}
}

// describe returns the description with slices of its own.
func (f *form) describe() Description {
	d := f.description
	d.Examples = slices.Clone(d.Examples)
	d.Units = slices.Clone(d.Units)
	return d
}

// A scanner walks through the text of one quantity. Positions count
// characters; runes has one for each of the text.
type scanner struct {
	text  string
	typed []rune // as typed
	runes []rune // with each look-alike replaced by the character meant
	pos   int
	form  *form
}

func newScanner(text []byte, f *form) (*scanner, error) {
	s := &scanner{text: string(text), form: f}
	if !utf8.Valid(text) {
		return nil, &Error{Text: strings.ToValidUTF8(s.text, "\uFFFD"), Problem: "the text is not UTF-8", Fix: f.fix()}
	}
	s.typed = []rune(s.text)
	s.runes = slices.Clone(s.typed)
	for i, r := range s.runes {
		switch r {
		case '\u2212': // minus sign
			s.runes[i] = '-'
		case '\u03bc': // Greek mu
			s.runes[i] = '\u00b5' // micro sign
		case '\u2126': // ohm sign
			s.runes[i] = '\u03a9' // Greek omega
		case ' ':
		default:
			if unicode.IsSpace(r) || unicode.IsControl(r) || !unicode.IsPrint(r) {
				return nil, s.fail(i, "use ordinary spaces", "there is a character that does not print (U+%04X)", r)
			}
		}
	}
	s.spaces()
	if s.atEnd() {
		return nil, s.fail(0, f.fix(), "nothing is written where %s is wanted", f.article)
	}
	return s, nil
}

func (s *scanner) fail(at int, fix, format string, args ...any) error {
	return &Error{Text: s.text, Problem: fmt.Sprintf(format, args...), Fix: fix, Offset: at}
}

func (s *scanner) atEnd() bool { return s.pos == len(s.runes) }

// peek returns the n-th character from here, or 0 beyond the end.
func (s *scanner) peek(n int) rune {
	if s.pos+n < len(s.runes) {
		return s.runes[s.pos+n]
	}
	return 0
}

func (s *scanner) spaces() {
	for s.peek(0) == ' ' {
		s.pos++
	}
}

func (s *scanner) eat(r rune) bool {
	if s.peek(0) != r {
		return false
	}
	s.pos++
	return true
}

// since returns the text typed from a place to here, without spaces at its ends.
func (s *scanner) since(start int) string {
	return strings.Trim(string(s.typed[start:s.pos]), " ")
}

// rest returns the text typed from here on, without spaces at its ends.
func (s *scanner) rest() string { return s.from(s.pos) }

// from returns the text typed from a place on, without spaces at its ends.
func (s *scanner) from(start int) string {
	return strings.Trim(string(s.typed[start:]), " ")
}

// atWord says whether a word begins here, and not an imaginary number.
func (s *scanner) atWord() bool {
	return unicode.IsLetter(s.peek(0)) && !(s.peek(0) == 'j' && isDigit(s.peek(1)))
}

// word takes the word given, if it stands here with a space or the end after
// it, and the spaces round it.
func (s *scanner) word(w string) bool {
	start := s.pos
	s.spaces()
	for _, r := range w {
		if !s.eat(r) {
			s.pos = start
			return false
		}
	}
	if !s.atEnd() && s.peek(0) != ' ' {
		s.pos = start
		return false
	}
	s.spaces()
	return true
}

// end fails unless the text ends here.
func (s *scanner) end() error {
	done := s.since(0)
	s.spaces()
	if s.atEnd() {
		return nil
	}
	if strings.HasPrefix(s.rest(), "per ") {
		return s.fail(s.pos, "write what is per length with a slash, as ohm/mi or ohm/km", "%q follows %s", s.rest(), done)
	}
	return s.fail(s.pos, s.form.fix(), "%q follows %s", s.rest(), done)
}

func isDigit(r rune) bool { return '0' <= r && r <= '9' }

// A decimal is a number as typed: digits and a power of ten.
type decimal struct {
	digits string // with its minus sign and dot
	exp    int
	text   string // as typed
	at     int
}

// number takes a number; signed says whether a sign may stand before it.
func (s *scanner) number(signed bool) (decimal, error) {
	start := s.pos
	var b strings.Builder
	if s.peek(0) == '-' || s.peek(0) == '+' {
		if !signed {
			return decimal{}, s.fail(start, "leave the sign out", "%s has a sign, which has no meaning here", s.token(start))
		}
		if s.eat('-') {
			b.WriteByte('-')
		} else {
			s.pos++
		}
	}
	whole := s.pos
	s.takeDigits(&b)
	if s.pos == whole {
		return decimal{}, s.noNumber(start)
	}
	if digits := string(s.runes[whole:s.pos]); digits[0] == '0' && len(digits) > 1 {
		plain := strings.TrimLeft(digits, "0")
		if plain == "" {
			plain = "0"
		}
		return decimal{}, s.fail(start, "write "+string(s.typed[start:whole])+plain, "%s begins with a zero, which some readers take for octal", s.token(start))
	}
	if s.peek(0) == '.' {
		if !isDigit(s.peek(1)) {
			return decimal{}, s.fail(start, "leave the dot out, or write a digit after it", "%s has no digit after the dot", s.token(start))
		}
		s.pos++
		b.WriteByte('.')
		s.takeDigits(&b)
	}
	d := decimal{digits: b.String(), at: start}
	if s.peek(0) == 'e' || s.peek(0) == 'E' {
		d.exp = s.exponent()
	}
	switch r := s.peek(0); {
	case r == '.':
		return decimal{}, s.fail(start, s.form.fix(), "%s has more than one dot", s.token(start))
	case (r == ',' || r == '_' || r == '\'') && isDigit(s.peek(1)):
		return decimal{}, s.fail(start, "write decimals with a dot, and thousands without a separator", "%s has a separator inside the number", s.token(start))
	case (r == 'x' || r == 'X') && d.digits == "0":
		return decimal{}, s.fail(start, "write the number in decimal digits", "%s is hexadecimal", s.token(start))
	}
	d.text = string(s.typed[start:s.pos])
	return d, nil
}

func (s *scanner) takeDigits(b *strings.Builder) {
	for isDigit(s.peek(0)) {
		b.WriteRune(s.runes[s.pos])
		s.pos++
	}
}

// exponent takes an exponent, if one stands here: an e with no digits after
// it is left for the unit.
func (s *scanner) exponent() int {
	sign := 0
	if s.peek(1) == '-' || s.peek(1) == '+' {
		sign = 1
	}
	if !isDigit(s.peek(1 + sign)) {
		return 0
	}
	negative := s.peek(1) == '-'
	s.pos += 1 + sign
	// Exponents beyond a thousand differ no more: they are out of bounds.
	const beyond = 9999
	exp := 0
	for ; isDigit(s.peek(0)); s.pos++ {
		exp = min(exp*10+int(s.runes[s.pos]-'0'), beyond)
	}
	if negative {
		return -exp
	}
	return exp
}

// token returns what is typed from start to the next space, slash or percent sign.
func (s *scanner) token(start int) string {
	end := start
	for end < len(s.runes) && !strings.ContainsRune(" /%", s.runes[end]) {
		end++
	}
	return string(s.typed[start:end])
}

// noNumber tells what stands where a number is wanted.
func (s *scanner) noNumber(start int) error {
	token := s.token(start)
	lower := strings.ToLower(strings.TrimLeft(token, "+-−"))
	switch {
	case token == "" && start == len(s.runes):
		return s.fail(start, s.form.fix(), "the text ends where a number is wanted")
	case s.peek(0) == '.' && isDigit(s.peek(1)):
		return s.fail(start, "write "+strings.Replace(token, ".", "0.", 1), "%s has no digit before the dot", token)
	case lower == "nan" || strings.HasPrefix(lower, "inf"):
		return s.fail(start, s.form.fix(), "%s is no value that can be reckoned with", token)
	}
	s.pos = start
	return s.fail(start, s.form.fix(), "%q stands where a number is wanted", s.rest())
}

// si returns the number in SI, for its unit.
func (s *scanner) si(d decimal, u unit) (float64, error) {
	v, err := strconv.ParseFloat(d.digits+"e"+strconv.Itoa(d.exp+u.exp), 64)
	v = v * u.mul / u.div
	if err != nil || math.Abs(v) > largestValue {
		return 0, s.fail(d.at, s.form.fix(), "%s %s is too large for anything on a feeder", d.text, u.name)
	}
	if strings.ContainsAny(d.digits, "123456789") && math.Abs(v) < smallestValue {
		return 0, s.fail(d.at, s.form.fix(), "%s %s is too small to tell from zero", d.text, u.name)
	}
	if v == 0 {
		return 0, nil // never −0
	}
	return v, nil
}

// unitOf takes the unit of what is typed from start to here.
func (s *scanner) unitOf(start int, w *want) (unit, error) {
	number := s.since(start)
	s.spaces()
	at := s.pos
	name := s.takeUnit()
	if name == "" {
		rest := s.rest()
		switch {
		case rest == "":
			return unit{}, s.noUnit(start, number, w)
		case isDigit(s.peek(0)):
			return unit{}, s.fail(at, "write the digits of a number together", "%q follows %s where a unit is wanted", rest, number)
		}
		return unit{}, s.fail(at, w.fix(), "%q follows %s where a unit is wanted", rest, number)
	}
	typed := s.since(at)
	u, known := unitByName[name]
	if known && slices.Contains(w.dims, u.dim) {
		return u, nil
	}
	fix := w.fix()
	if after := strings.Fields(s.rest()); len(after) > 1 && after[0] == "per" {
		if mended, ok := mendUnit(name+"/"+after[1], w.dims); ok {
			return unit{}, s.fail(at, "write "+number+" "+mended, "%s is no unit known here", s.from(at))
		}
	}
	suggestion, near := suggestUnit(name, w.dims)
	if known {
		// A slip of the shift key (5 S for 5 s) is told apart from another quantity.
		if near && strings.EqualFold(suggestion, name) {
			fix = "write " + number + " " + suggestion
		}
		return unit{}, s.fail(at, fix, "%s %s is %s; %s is wanted here", number, typed, u.dim.article(w.dims), w.article)
	}
	if near {
		fix = "write " + number + " " + suggestion
		if strings.EqualFold(suggestion, name) {
			return unit{}, s.fail(at, fix, "%s is no unit: capitals matter", typed)
		}
	} else if mended, ok := mendUnit(name, allDimensions); ok {
		u := unitByName[mended]
		return unit{}, s.fail(at, fix, "%s %s is %s; %s is wanted here", number, typed, u.dim.article(w.dims), w.article)
	}
	return unit{}, s.fail(at, fix, "%s is no unit known here", typed)
}

// noUnit tells that a number has no unit. Where a percentage is wanted, a
// small number may be one already divided by a hundred.
func (s *scanner) noUnit(start int, number string, w *want) error {
	if !slices.Contains(w.dims, dimPercent) {
		return s.fail(start, w.fix(), "%s has no unit", number)
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(number, "−", "-"), 64)
	if err != nil || v == 0 || math.Abs(v) > 1.5 {
		return s.fail(start, "write "+number+" %", "%s has no %% sign", number)
	}
	return s.fail(start, "write "+decimalText(v, -2)+" % if "+number+" is per unit",
		"%s has no %% sign: percent typed as per unit?", number)
}

// takeUnit takes what looks like a unit and returns it in the spelling of the
// unit table, "" if nothing does.
func (s *scanner) takeUnit() string {
	letters := func() string {
		start := s.pos
		for r := s.peek(0); unicode.IsLetter(r) || r == '°' ||
			s.pos > start && (isDigit(r) || r == '²' || r == '.' || r == '·'); r = s.peek(0) {
			s.pos++
		}
		return string(s.runes[start:s.pos])
	}
	var name string
	if s.eat('%') {
		name = "%"
	} else {
		name = letters()
	}
	if name == "" || s.peek(0) != '/' {
		return name
	}
	// A slash with a number after it begins a second quantity (115 kV/480 V),
	// but for the thousand feet of ohm/1000 ft.
	slash := s.pos
	s.pos++
	if string(s.runes[s.pos:min(s.pos+4, len(s.runes))]) == "1000" {
		s.pos += 4
		s.spaces()
		if l := letters(); l == "ft" {
			return name + "/1000 ft"
		}
		s.pos = slash
		return name
	}
	if l := letters(); l != "" {
		return name + "/" + l
	}
	s.pos = slash
	return name
}

// amount takes a number with its unit and returns it in SI.
func (s *scanner) amount(w *want) (float64, unit, error) {
	start := s.pos
	d, err := s.number(w.sign == anySign)
	if err != nil {
		return 0, unit{}, err
	}
	u, err := s.unitOf(start, w)
	if err != nil {
		return 0, unit{}, err
	}
	v, err := s.si(d, u)
	if err == nil {
		err = s.checkSign(v, start, w)
	}
	return v, u, err
}

func (s *scanner) checkSign(v float64, start int, w *want) error {
	if w.sign == positive && v == 0 {
		return s.fail(start, w.fix(), "%s is not above zero, as %s must be", s.since(start), w.article)
	}
	return nil
}

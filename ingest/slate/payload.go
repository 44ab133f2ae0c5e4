package slate

import (
	"errors"
	"fmt"
	"hash/crc32"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// Kind is what a code tells.
type Kind byte

// The kinds of payload. Their letters stand in the text.
const (
	Dish  Kind = 'R' // the recipe that the next frames show
	Clock Kind = 'T' // the time at which the code was shown
)

// Payload is what one of our codes tells.
type Payload struct {
	Kind   Kind
	Shoot  string    // id of the shoot, as ValidShoot has it; "" only in a Clock
	Recipe string    // of a Dish: 1 … MaxRecipe bytes of UTF-8
	Title  string    // of a Dish: a mark of its title, markLen of the digits 0 … 9, A … Z; oldMark of them on cards of version 2; "" none
	Shown  time.Time // of a Clock: to a tenth of a second, in the zone of its wall, whole minutes from UTC
}

// Bounds of a payload.
const (
	MaxShoot  = 12 // characters
	MaxRecipe = 60 // bytes of UTF-8

	maxText = 160 // characters; the longest dish takes 114
)

// ErrNotOurs says that a text is none of our payloads: another's code, or one
// of ours that was misread. Errors of Parse wrap it.
var ErrNotOurs = errors.New("not a slate of coverplate")

// The text is made of the 45 characters of QR's alphanumeric mode alone
// (ISO/IEC 18004 table 5), so that three of them take 16.5 bits:
//
//	N … Y  shoot  title  recipe                 check    version 3, a dish
//	C R 1  shoot  /  recipe                     check    a dish without a title
//	C R 2  shoot  /  title  recipe              check    version 2, no longer made
//	C T 1  shoot  tenths of a second  zone      check    a clock
//
// The letter of version 3 is as far from N as the shoot's id is longer than one
// character, so that nothing need part it from what follows. The mark of a title
// is its maker's. A recipe's id stands as it is where it is made of capitals,
// digits, point and hyphen; else as $ and its UTF-8 in Base45 (RFC 9285), which
// keeps any script at what QR's byte mode would cost. Tenths are those since
// 1970-01-01T00:00:00Z as 7 digits to base 36, the zone its minutes east of UTC
// plus 1012 as 2 digits of Base45's alphabet. The check is CRC-32 (IEEE 802.3)
// of all before it, modulo 36³, as 3 digits to base 36. A dish with a title and an
// id of 4 characters thus fits version 1 at level Q, 16 characters (table 7),
// where the shoot's id has 5; a clock fits it at level M.
const (
	magic       = 'C'
	version     = '1'
	titled      = '2' // the version of a dish with a mark of oldMark digits
	oldMark     = 4
	firstHead   = 'N' // of version 3: a shoot's id of one character
	markLen     = 3
	headLen     = 3
	checkLen    = 3
	tenthsLen   = 7
	zoneLen     = 2
	zoneBias    = 45 * 45 / 2
	checkSpace  = 36 * 36 * 36
	tenthsSpace = checkSpace * checkSpace * 36
)

// digits are those to base 36.
const digits = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// ValidShoot tells whether id can stand for a shoot: 1 … MaxShoot of the
// capitals A … Z and digits.
func ValidShoot(id string) bool {
	return id != "" && len(id) <= MaxShoot && strings.Trim(id, digits) == ""
}

// Check tells what of p can't be written; nil where all can.
func (p Payload) Check() error {
	if p.Shoot != "" && !ValidShoot(p.Shoot) {
		return fmt.Errorf("shoot id %q: 1 to %d of the letters A to Z and digits are wanted", p.Shoot, MaxShoot)
	}
	switch p.Kind {
	case Dish:
		switch {
		case p.Shoot == "":
			return errors.New("a slate of a dish without the id of its shoot")
		case p.Recipe == "" || len(p.Recipe) > MaxRecipe:
			return fmt.Errorf("recipe id %q: 1 to %d bytes are wanted, it has %d", p.Recipe, MaxRecipe, len(p.Recipe))
		case !utf8.ValidString(p.Recipe):
			return fmt.Errorf("recipe id %q is not UTF-8", p.Recipe)
		case !p.Shown.IsZero():
			return errors.New("a slate of a dish with a time")
		case p.Title != "" && (len(p.Title) != markLen && len(p.Title) != oldMark || strings.Trim(p.Title, digits) != ""):
			return fmt.Errorf("mark %q of a title: %d of the letters A to Z and digits are wanted", p.Title, markLen)
		}
	case Clock:
		tenths := p.Shown.UnixMilli() / 100
		_, east := p.Shown.Zone()
		switch {
		case p.Recipe != "" || p.Title != "":
			return errors.New("a clock with a recipe")
		case p.Shown.IsZero() || p.Shown.Before(time.Unix(0, 0)) || tenths >= tenthsSpace:
			return fmt.Errorf("time %v: one from 1970 to 4453 is wanted", p.Shown)
		case east%60 != 0 || max(east, -east)/60 > zoneBias:
			return fmt.Errorf("zone %d s east of UTC: whole minutes are wanted, %d at most", east, zoneBias)
		}
	default:
		return fmt.Errorf("a payload of kind %q", rune(p.Kind))
	}
	return nil
}

// String is the text of the code, "" where Check has something against p.
func (p Payload) String() string {
	if p.Check() != nil {
		return ""
	}
	if len(p.Title) == markLen {
		text := string(rune(firstHead+len(p.Shoot)-1)) + p.Shoot + p.Title + written(p.Recipe)
		return text + checkOf(text)
	}
	var b strings.Builder
	b.WriteByte(magic)
	b.WriteByte(byte(p.Kind))
	if p.Title != "" {
		b.WriteByte(titled)
	} else {
		b.WriteByte(version)
	}
	b.WriteString(p.Shoot)
	switch p.Kind {
	case Dish:
		b.WriteByte('/')
		b.WriteString(p.Title)
		b.WriteString(written(p.Recipe))
	case Clock:
		b.WriteString(base36(uint64(p.Shown.UnixMilli()/100), tenthsLen))
		_, east := p.Shown.Zone()
		zone := east/60 + zoneBias
		b.WriteByte(alphabet[zone/45])
		b.WriteByte(alphabet[zone%45])
	}
	return b.String() + checkOf(b.String())
}

// Parse reads the text of a code. Each payload has one text: whatever String
// would not write is refused. The error wraps ErrNotOurs.
func Parse(text string) (Payload, error) {
	p, why := parse(text)
	if why == "" && p.String() != text {
		why = "it is not written as we write"
	}
	if why != "" {
		return Payload{}, fmt.Errorf("%w: %s", ErrNotOurs, why)
	}
	return p, nil
}

// parse reads a text that may yet be written otherwise than String does it;
// why says what is wrong with it.
func parse(text string) (p Payload, why string) {
	if len(text) < headLen+checkLen || len(text) > maxText {
		return p, "its length"
	}
	body := text[:len(text)-checkLen]
	right := checkOf(body) == text[len(body):]
	if long := int(text[0]) - firstHead + 1; long >= 1 && long <= MaxShoot {
		if !right {
			return p, "its check"
		}
		if body = body[1:]; len(body) < long+markLen {
			return p, "its length"
		}
		p.Kind, p.Shoot, p.Title = Dish, body[:long], body[long:][:markLen]
		var ok bool
		if p.Recipe, ok = unwritten(body[long+markLen:]); !ok {
			return p, "its recipe"
		}
		return p, ""
	}
	if text[0] != magic || text[1] != byte(Dish) && text[1] != byte(Clock) {
		return p, "its beginning"
	}
	if text[2] != version && (text[2] != titled || text[1] != byte(Dish)) {
		return p, "a version that this program does not know"
	}
	if !right {
		return p, "its check"
	}
	p.Kind, body = Kind(text[1]), body[headLen:]
	if p.Kind == Dish {
		shoot, id, ok := strings.Cut(body, "/")
		if p.Shoot = shoot; !ok {
			return p, "it names no recipe"
		}
		if text[2] == titled {
			if len(id) < oldMark {
				return p, "its title"
			}
			p.Title, id = id[:oldMark], id[oldMark:]
		}
		if p.Recipe, ok = unwritten(id); !ok {
			return p, "its recipe"
		}
		return p, ""
	}
	at := len(body) - zoneLen - tenthsLen
	if at < 0 {
		return p, "it tells no time"
	}
	p.Shoot = body[:at]
	tenths, err := strconv.ParseUint(body[at:at+tenthsLen], 36, 64)
	high, low := strings.IndexByte(alphabet, body[at+tenthsLen]), strings.IndexByte(alphabet, body[at+tenthsLen+1])
	if err != nil || high < 0 || low < 0 {
		return p, "its time"
	}
	east := (high*45 + low - zoneBias) * 60
	p.Shown = time.UnixMilli(int64(tenths) * 100).In(time.FixedZone("", east))
	return p, ""
}

// checkOf is the check of all before it.
func checkOf(body string) string {
	return base36(uint64(crc32.ChecksumIEEE([]byte(body))%checkSpace), checkLen)
}

// base36 is v in so many digits 0 … 9, A … Z.
func base36(v uint64, digits int) string {
	s := strings.ToUpper(strconv.FormatUint(v, 36))
	return strings.Repeat("0", max(0, digits-len(s))) + s
}

// plain are the characters of a recipe's id that need no Base45.
const plain = digits + ".-"

// written is a recipe's id as it stands in the text.
func written(id string) string {
	if strings.Trim(id, plain) == "" {
		return id
	}
	return "$" + base45(id)
}

// unwritten is the inverse of written; ok tells whether s is such.
func unwritten(s string) (id string, ok bool) {
	if coded, is := strings.CutPrefix(s, "$"); is {
		return unbase45(coded)
	}
	return s, strings.Trim(s, plain) == ""
}

// alphabet is that of QR's alphanumeric mode and of Base45.
const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

// base45 is RFC 9285's: two bytes become three characters, a last one two, the
// lowest digit first.
func base45(s string) string {
	var b strings.Builder
	for len(s) >= 2 {
		n := int(s[0])<<8 | int(s[1])
		b.Write([]byte{alphabet[n%45], alphabet[n/45%45], alphabet[n/45/45]})
		s = s[2:]
	}
	if len(s) == 1 {
		b.Write([]byte{alphabet[s[0]%45], alphabet[s[0]/45]})
	}
	return b.String()
}

// unbase45 is the inverse of base45; ok tells whether s is Base45.
func unbase45(s string) (out string, ok bool) {
	var b strings.Builder
	for len(s) > 0 {
		part := s[:min(3, len(s))]
		s = s[len(part):]
		n, unit := 0, 1
		for i := range len(part) {
			digit := strings.IndexByte(alphabet, part[i])
			if digit < 0 {
				return "", false
			}
			n, unit = n+digit*unit, unit*45
		}
		switch {
		case len(part) == 3 && n <= 0xffff:
			b.WriteByte(byte(n >> 8))
		case len(part) == 2 && n <= 0xff:
		default:
			return "", false
		}
		b.WriteByte(byte(n))
	}
	return b.String(), true
}

package curve

import "strings"

// A Link is the requirement for one fuse link of type K (fast) or T (slow) by ANSI C37.42: gates at
// 300 s (600 s above 100 A), 10 s and 0.1 s, at 25 °C without preload. They are gates, not the link's curve.
//
// Source: ANSI C37.43-1969, later C37.42-1996, as reprinted in textbooks; from memory.
type Link struct {
	Name      string // 65T
	Preferred bool
	Long      Gate
	Ten       Gate // Least is 0 for links below 6 A: no minimum is known
	Tenth     Gate
	// Unsure: a figure could not be checked within the table (30K: the largest current at 0.1 s;
	// links below 6 A: all).
	Unsure bool
}

// Gates are the three requirements.
func (l Link) Gates() []Gate { return []Gate{l.Long, l.Ten, l.Tenth} }

// FindLink returns the requirement of a link by name, as "65T", "65 T" or "65t".
func FindLink(name string) (Link, bool) {
	plain := strings.ToUpper(strings.Join(strings.Fields(name), ""))
	for _, l := range Links {
		if l.Name == plain {
			return l, true
		}
	}
	return Link{}, false
}

// Links are the links of the table, in its order.
var Links = []Link{
	{"6K", true, Gate{300, 12.0, 14.4}, Gate{10, 13.5, 20.5}, Gate{0.1, 72, 86}, false},
	{"10K", true, Gate{300, 19.5, 23.4}, Gate{10, 22.5, 34}, Gate{0.1, 128, 154}, false},
	{"15K", true, Gate{300, 31, 37.2}, Gate{10, 37, 55}, Gate{0.1, 215, 258}, false},
	{"25K", true, Gate{300, 50, 60}, Gate{10, 60, 90}, Gate{0.1, 350, 420}, false},
	{"40K", true, Gate{300, 80, 96}, Gate{10, 98, 146}, Gate{0.1, 565, 680}, false},
	{"65K", true, Gate{300, 128, 153}, Gate{10, 159, 237}, Gate{0.1, 918, 1100}, false},
	{"100K", true, Gate{300, 200, 240}, Gate{10, 258, 388}, Gate{0.1, 1520, 1820}, false},
	{"140K", true, Gate{600, 310, 372}, Gate{10, 430, 650}, Gate{0.1, 2470, 2970}, false},
	{"200K", true, Gate{600, 480, 576}, Gate{10, 760, 1150}, Gate{0.1, 3880, 4650}, false},
	{"8K", false, Gate{300, 15, 18}, Gate{10, 18, 27}, Gate{0.1, 97, 116}, false},
	{"12K", false, Gate{300, 25, 30}, Gate{10, 29.5, 44}, Gate{0.1, 166, 199}, false},
	{"20K", false, Gate{300, 39, 47}, Gate{10, 48, 71}, Gate{0.1, 273, 328}, false},
	{"30K", false, Gate{300, 63, 76}, Gate{10, 77.5, 115}, Gate{0.1, 447, 546}, true},
	{"50K", false, Gate{300, 101, 121}, Gate{10, 126, 188}, Gate{0.1, 719, 862}, false},
	{"80K", false, Gate{300, 160, 192}, Gate{10, 205, 307}, Gate{0.1, 1180, 1420}, false},
	{"6T", true, Gate{300, 12.0, 14.4}, Gate{10, 15.3, 23.0}, Gate{0.1, 120, 144}, false},
	{"10T", true, Gate{300, 19.5, 23.4}, Gate{10, 26.5, 40}, Gate{0.1, 224, 269}, false},
	{"15T", true, Gate{300, 31, 37.2}, Gate{10, 44.5, 67}, Gate{0.1, 388, 466}, false},
	{"25T", true, Gate{300, 50, 60}, Gate{10, 73.5, 109}, Gate{0.1, 635, 762}, false},
	{"40T", true, Gate{300, 80, 96}, Gate{10, 120, 178}, Gate{0.1, 1040, 1240}, false},
	{"65T", true, Gate{300, 128, 153}, Gate{10, 195, 291}, Gate{0.1, 1650, 1975}, false},
	{"100T", true, Gate{300, 200, 240}, Gate{10, 319, 475}, Gate{0.1, 2620, 3150}, false},
	{"140T", true, Gate{600, 310, 372}, Gate{10, 520, 775}, Gate{0.1, 4000, 4800}, false},
	{"200T", true, Gate{600, 480, 576}, Gate{10, 850, 1275}, Gate{0.1, 6250, 7470}, false},
	{"8T", false, Gate{300, 15, 18}, Gate{10, 20.5, 31}, Gate{0.1, 166, 199}, false},
	{"12T", false, Gate{300, 25, 30}, Gate{10, 34.5, 52}, Gate{0.1, 296, 355}, false},
	{"20T", false, Gate{300, 39, 47}, Gate{10, 57, 85}, Gate{0.1, 496, 595}, false},
	{"30T", false, Gate{300, 63, 76}, Gate{10, 93, 138}, Gate{0.1, 812, 975}, false},
	{"50T", false, Gate{300, 101, 121}, Gate{10, 152, 226}, Gate{0.1, 1310, 1570}, false},
	{"80T", false, Gate{300, 160, 192}, Gate{10, 248, 370}, Gate{0.1, 2080, 2500}, false},
	{"1K", false, Gate{300, 2.0, 2.4}, Gate{10, 0, 10}, Gate{0.1, 0, 58}, true},
	{"2K", false, Gate{300, 4.0, 4.8}, Gate{10, 0, 10}, Gate{0.1, 0, 58}, true},
	{"3K", false, Gate{300, 6.0, 7.2}, Gate{10, 0, 10}, Gate{0.1, 0, 58}, true},
	{"1T", false, Gate{300, 2.0, 2.4}, Gate{10, 0, 11}, Gate{0.1, 0, 100}, true},
	{"2T", false, Gate{300, 4.0, 4.8}, Gate{10, 0, 11}, Gate{0.1, 0, 100}, true},
	{"3T", false, Gate{300, 6.0, 7.2}, Gate{10, 0, 11}, Gate{0.1, 0, 100}, true},
}

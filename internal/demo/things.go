package demo

import "wreath/internal/determination"

// What happens at the bench beside a plain weighing.
const (
	bubbleLeft  = "a bubble stays on the item, and nobody sees it"
	bubbleSeen  = "a bubble is seen, and the reading set aside"
	warmGuess   = "the temperature is typed from memory"
	swapped     = "spirit stands in the vessel of the water bench"
	slip        = "two digits are typed the wrong way round, found later and corrected"
	lateClaim   = "the stamp is read again after weighing began"
	touched     = "the item touched the vessel; that reading is set aside"
	soaked      = "a porous casting, weighed full of oil"
	leftOpen    = "all readings are taken, nothing is concluded"
	halfDone    = "the item waits for its second immersion"
	justBegun   = "the tray stands ready, nothing is weighed"
	notSigned   = "recorded, and nobody has signed yet"
	oneImmersed = "one immersion only"
)

// Findings, as the truth of an item may allow them.
var (
	right = []string{"met", "undecided"}     // the claim is true
	wrong = []string{"not met", "undecided"} // the claim is false, and density may show it
	doubt = []string{"undecided"}            // whatever is true, this weighing can't tell
	none  = []string{"none"}                 // nothing is claimed
)

// Thing is one item of the demo, as it came over the counter and as it is.
type Thing struct {
	Key         string
	Day         int // days before today
	At          place
	Description string
	Marks       string
	Colour      string
	Stones      *bool
	Hollow      *bool
	Claim       *determination.Claim
	Barcode     string
	Picture     string // what is drawn of it: ring, chain, coin, bar, spoon or stone
	Deal        string // kind of the deal that is wanted; without one it is measured and goes home

	Is      string // its true nature, in words
	Pieces  []Piece
	VoidCm3 float64 // sealed space in it
	Trouble string
	May     []string // findings that its nature and its weighing allow
}

func of(metal string, fineness float64, family string) *determination.Claim {
	return &determination.Claim{Metal: metal, Fineness: &fineness, Family: family, MadeBy: "stamp"}
}

// said is a claim that somebody makes who is not a stamp.
func said(by string, c *determination.Claim) *determination.Claim { c.MadeBy = by; return c }

func ofStone(key string) *determination.Claim {
	return &determination.Claim{Stone: key, MadeBy: "seller"}
}

func all(grams float64, m Material) []Piece { return []Piece{{grams, m}} }

// Alloys of the demo. The compositions are rows of the recipes of package alloy, which names their
// sources; dental is an invented one of the usual kind.
var (
	fineGold     = melt("Au=999.9,Ag=0.1")
	bar995       = melt("Au=995,Ag=3,Cu=2")
	yellow750    = melt("Au=750,Ag=125,Cu=125")
	pale750      = melt("Au=750,Ag=155,Cu=95")
	red750       = melt("Au=750,Ag=50,Cu=200")
	whitePd750   = melt("Au=750,Ag=100,Pd=150")
	whiteNi750   = melt("Au=750,Cu=22.3,Zn=54.7,Ni=173")
	yellow585    = melt("Au=583,Ag=104,Cu=313")
	pale585      = melt("Au=585,Ag=252.5,Cu=162.5")
	red585       = melt("Au=583,Ag=21,Cu=396")
	yellow375    = melt("Au=375,Ag=100,Cu=450,Zn=75")
	rich375      = melt("Au=375,Ag=312.5,Cu=312.5")
	yellow333    = melt("Au=333,Ag=200,Cu=400,Zn=67")
	gold916      = melt("Au=916.7,Ag=55,Cu=28.3")
	coin916      = melt("Au=916.67,Cu=83.33")
	coin900      = melt("Au=900,Cu=100")
	dental       = melt("Au=720,Ag=140,Cu=90,Pd=40,Zn=10")
	fineSilver   = melt("Ag=1000")
	sterling     = melt("Ag=925,Cu=75")
	silver900    = melt("Ag=900,Cu=100")
	silver800    = melt("Ag=800,Cu=200")
	platinum950  = melt("Pt=950,Ru=50")
	palladium950 = melt("Pd=950,Ru=50")
	tungsten     = melt("W=1000")
	brass        = melt("Cu=700,Zn=300")
)

var yes, no = p(true), p(false)

// Things are the items of the demo in the order in which they come.
var Things = []Thing{
	{Key: "band", Day: 9, At: bench, Description: "plain band, inside flat", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Barcode: "TRAY-01", Picture: "ring", Deal: "buy", Is: "18 ct yellow 3N, sound", Pieces: all(7.4205, yellow750), May: right},
	{Key: "chain", Day: 9, At: bench, Description: "curb chain, 45 cm, lobster clasp", Marks: "585", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 585, "gold-yellow"),
		Barcode: "TRAY-02", Picture: "chain", Deal: "buy", Is: "14 ct yellow with little silver", Pieces: all(12.8112, yellow585), May: right},
	{Key: "coin-900", Day: 9, At: bench, Description: "old gold coin of the 21.6 carat kind, 21 mm", Marks: "worn", Colour: "red", Stones: no, Hollow: no, Claim: said("coin list", of("gold", 900, "gold-red")),
		Picture: "coin", Deal: "pledge", Is: "coinage gold, a tenth copper", Pieces: all(6.4497, coin900), May: right},
	{Key: "spoon", Day: 9, At: counter, Description: "serving spoon, bead edge", Marks: "925", Colour: "white", Stones: no, Hollow: no, Claim: of("silver", 925, "silver-copper"),
		Picture: "spoon", Deal: "buy", Is: "sterling silver", Pieces: all(48.217, sterling), May: right},

	{Key: "child-ring", Day: 8, At: counter, Description: "child's ring, very light", Marks: "750", Colour: "yellow", Stones: no, Claim: of("gold", 750, "gold-yellow"),
		Is: "18 ct yellow 3N; the balance is too coarse for it", Pieces: all(2.05, yellow750), May: doubt},
	{Key: "fork", Day: 8, At: bench, Description: "dinner fork, thread pattern", Marks: "925, struck over", Colour: "white", Stones: no, Hollow: no, Claim: of("silver", 925, "silver-copper"),
		Deal: "measure-only", Is: "800 silver under a later stamp", Pieces: all(62.318, silver800), May: wrong},
	{Key: "sunk", Day: 8, At: bench, Description: "rope chain, 42 cm", Marks: "585", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 585, "gold-yellow"),
		Is: "9 ct yellow with zinc, sold as 14 ct", Pieces: all(8.8124, yellow375), May: wrong},
	{Key: "sapphire", Day: 8, At: spirit, Description: "loose blue stone, oval, 5 by 4 mm", Claim: ofStone("corundum"),
		Picture: "stone", Is: "sapphire", Pieces: all(0.4213, stone("corundum")), May: right},

	{Key: "bracelet", Day: 7, At: bench, Description: "flat link bracelet, 19 cm", Marks: "585", Colour: "red", Stones: no, Hollow: no, Claim: of("gold", 585, "gold-red"),
		Picture: "chain", Deal: "buy", Is: "14 ct red", Pieces: all(21.3065, red585), May: right},
	{Key: "pendant", Day: 7, At: bench, Description: "heart pendant, plain", Marks: "333", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 333, "gold-yellow"),
		Barcode: "TRAY-03", Deal: "buy", Is: "8 ct yellow", Pieces: all(4.1108, yellow333), May: right},
	{Key: "two-stones", Day: 7, At: bench, Description: "ring with two white stones, claws", Marks: "750", Colour: "white", Stones: yes, Hollow: no, Claim: of("gold", 750, "gold-white-palladium"),
		Picture: "ring", Is: "palladium white gold with two cubic zirconias", Pieces: []Piece{{5.7330, whitePd750}, {0.1500, stone("cubic-zirconia")}}, May: doubt},
	{Key: "bar", Day: 7, At: receiving, Description: "cast bar, 12.4 kg, number INV-0001", Marks: "INV-0001", Colour: "yellow", Stones: no, Claim: said("bar list", of("gold", 995, "gold-fine")),
		Picture: "bar", Deal: "measure-only", Is: "gold bar of 995, rest silver and copper", Pieces: all(12442.86, bar995), May: right},
	{Key: "cored-bar", Day: 7, At: receiving, Description: "cast bar, 12.4 kg, number INV-0002", Marks: "INV-0002", Colour: "yellow", Stones: no, Claim: said("bar list", of("gold", 995, "gold-fine")),
		Deal: "measure-only", Is: "a third of its mass is tungsten, which density can't tell from gold", Pieces: []Piece{{8280.40, bar995}, {4151.20, tungsten}}, May: wrong},

	{Key: "platinum", Day: 6, At: bench, Description: "half-round band, heavy", Marks: "950", Colour: "white", Stones: no, Hollow: no, Claim: of("platinum", 950, "platinum-ruthenium"),
		Deal: "buy", Is: "platinum with ruthenium", Pieces: all(8.9044, platinum950), May: right},
	{Key: "white-band", Day: 6, At: bench, Description: "matt band, rhodium worn off", Marks: "750", Colour: "white", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-white-nickel"),
		Deal: "buy", Is: "nickel white gold", Pieces: all(6.4119, whiteNi750), May: right},
	{Key: "warm", Day: 6, At: bench, Description: "signet ring, initials worn", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Is: "18 ct yellow 2N, weighed with a temperature that nobody read", Pieces: all(9.8330, pale750), Trouble: warmGuess, May: right},
	{Key: "swapped", Day: 6, At: bench, Description: "wide band, engraved", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Is: "9 ct yellow with zinc; computed as if in water it has the density of 18 ct", Pieces: all(6.0231, yellow375), Trouble: swapped, May: wrong},
	{Key: "topaz", Day: 6, At: spirit, Description: "loose yellow stone, cushion", Claim: ofStone("topaz"),
		Is: "citrine", Pieces: all(0.8810, stone("quartz")), May: wrong},

	{Key: "bubble", Day: 5, At: bench, Description: "engraved ring with a deep pattern", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Is: "18 ct yellow 3N with a bubble of 2.4 mm in the pattern", Pieces: all(3.2141, yellow750), Trouble: bubbleLeft, May: doubt},
	{Key: "bubble-seen", Day: 5, At: bench, Description: "open-work ring", Marks: "585", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 585, "gold-yellow"),
		Deal: "buy", Is: "14 ct pale yellow", Pieces: all(4.9027, pale585), Trouble: bubbleSeen, May: right},
	{Key: "dental", Day: 5, At: bench, Description: "dental gold, three crowns, cleaned", Colour: "yellow", Stones: no,
		Deal: "buy", Is: "dental alloy; composition invented, of the usual kind", Pieces: all(8.1542, dental), May: none},
	{Key: "slip", Day: 5, At: bench, Description: "plain band, 5 mm, court shape", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Barcode: "TRAY-04", Deal: "buy", Is: "18 ct yellow 3N", Pieces: all(12.4424, yellow750), Trouble: slip, May: right},
	{Key: "late", Day: 5, At: bench, Description: "thin band, stamp half gone", Marks: "5?5", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Deal: "buy", Is: "14 ct yellow with little silver", Pieces: all(2.9917, yellow585), Trouble: lateClaim, May: right},

	{Key: "bangle", Day: 4, At: bench, Description: "bangle, rings when tapped, no opening seen", Marks: "750", Colour: "yellow", Stones: no, Hollow: yes, Claim: of("gold", 750, "gold-yellow"),
		Is: "18 ct yellow 3N with a sealed hollow", Pieces: all(16.720, yellow750), VoidCm3: 0.62, May: doubt},
	{Key: "casting", Day: 4, At: bench, Description: "cast blank, pores seen under the glass", Colour: "yellow", Stones: no, Claim: said("caster", of("gold", 750, "gold-yellow")),
		Is: "18 ct yellow 3N with 3 % of open pores", Pieces: all(23.1480, yellow750), Trouble: soaked, May: right},
	{Key: "silver-coin", Day: 4, At: bench, Description: "silver coin, 38 mm", Marks: "worn", Colour: "white", Stones: no, Hollow: no, Claim: said("coin list", of("silver", 900, "silver-copper")),
		Picture: "coin", Deal: "buy", Is: "coin silver, a tenth copper", Pieces: all(26.7290, silver900), May: right},
	{Key: "silver-bar", Day: 4, At: bench, Description: "small silver bar, 100 g", Marks: "999", Colour: "white", Stones: no, Hollow: no, Claim: of("silver", 999, "silver-fine"),
		Picture: "bar", Deal: "buy", Is: "fine silver", Pieces: all(100.0062, fineSilver), May: right},
	{Key: "touched", Day: 4, At: bench, Description: "signet ring, lapis gone", Marks: "585", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 585, "gold-yellow"),
		Deal: "buy", Is: "14 ct yellow with little silver", Pieces: all(7.7718, yellow585), Trouble: touched, May: right},

	{Key: "ounce", Day: 3, At: bench, Description: "small gold bar, one ounce", Marks: "999.9", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 999.9, "gold-fine"),
		Deal: "consign", Is: "fine gold", Pieces: all(31.1042, fineGold), May: right},
	{Key: "cored-ounce", Day: 3, At: bench, Description: "small gold bar, one ounce, card opened", Marks: "999.9", Colour: "yellow", Stones: no, Claim: of("gold", 999.9, "gold-fine"),
		Is: "tungsten under a skin of gold", Pieces: []Piece{{6.220, fineGold}, {24.889, tungsten}}, May: wrong},
	{Key: "bangle-916", Day: 3, At: bench, Description: "solid bangle, 22 carat", Marks: "916", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 916, "gold-yellow"),
		Deal: "buy", Is: "22 ct yellow", Pieces: all(18.2204, gold916), May: right},
	{Key: "chains", Day: 3, At: counter, Description: "bag of chain ends, all stamped", Marks: "585", Colour: "yellow", Stones: no, Claim: of("gold", 585, "gold-yellow"),
		Barcode: "BAG-11", Deal: "buy", Is: "14 ct yellow with little silver", Pieces: all(35.62, yellow585), May: right},
	{Key: "studs", Day: 3, At: spirit, Description: "pair of ear studs, plain balls", Marks: "585", Colour: "yellow", Stones: no, Claim: of("gold", 585, "gold-yellow"),
		Is: "14 ct pale yellow, hollow inside and sealed", Pieces: all(1.1034, pale585), VoidCm3: 0.021, Trouble: oneImmersed, May: doubt},

	{Key: "plated", Day: 2, At: bench, Description: "curb bracelet, colour rubbed at the links", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Is: "brass under a gold plate", Pieces: []Piece{{14.9800, brass}, {0.0700, yellow750}}, May: wrong},
	{Key: "ring-375", Day: 2, At: spirit, Description: "slim ring, pale", Marks: "375", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 375, "gold-yellow"),
		Deal: "buy", Is: "9 ct rich yellow", Pieces: all(3.3126, rich375), May: right},
	{Key: "spoons", Day: 2, At: bench, Description: "six tea spoons, weighed together", Marks: "800", Colour: "white", Stones: no, Hollow: no, Claim: of("silver", 800, "silver-copper"),
		Barcode: "BAG-12", Deal: "buy", Is: "800 silver", Pieces: all(141.882, silver800), May: right},
	{Key: "not-platinum", Day: 2, At: bench, Description: "band said to be platinum", Marks: "950", Colour: "white", Stones: no, Hollow: no, Claim: said("seller", of("platinum", 950, "platinum-ruthenium")),
		Is: "palladium white gold", Pieces: all(5.5502, whitePd750), May: wrong},

	{Key: "palladium", Day: 1, At: bench, Description: "wide band, grey white", Marks: "Pd 950", Colour: "white", Stones: no, Hollow: no, Claim: of("palladium", 950, ""),
		Is: "palladium with ruthenium", Pieces: all(5.1209, palladium950), May: right},
	{Key: "coin-916", Day: 1, At: bench, Description: "gold coin of the 22 carat kind, 22 mm", Marks: "worn", Colour: "red", Stones: no, Hollow: no, Claim: said("coin list", of("gold", 916.7, "gold-red")),
		Deal: "buy", Is: "coinage gold, a twelfth copper", Pieces: all(7.9808, coin916), May: right},
	{Key: "case", Day: 1, At: bench, Description: "watch case without movement and glass", Marks: "750", Colour: "red", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-red"),
		Deal: "buy", Is: "18 ct red 5N", Pieces: all(23.5031, red750), May: right},
	{Key: "diamond", Day: 1, At: spirit, Description: "loose white stone, round brilliant cut", Claim: ofStone("diamond"),
		Is: "cubic zirconia", Pieces: all(0.9027, stone("cubic-zirconia")), May: wrong},
	{Key: "kilo", Day: 1, At: receiving, Description: "kilogram bar, number INV-0003", Marks: "999.9, INV-0003", Colour: "yellow", Stones: no, Claim: said("bar list", of("gold", 999.9, "gold-fine")),
		Deal: "measure-only", Is: "fine gold; the balance is too coarse for it", Pieces: all(1000.04, fineGold), May: right},

	{Key: "wedding", Day: 0, At: bench, Description: "pair of wedding rings, weighed together", Marks: "585", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 585, "gold-yellow"),
		Barcode: "TRAY-05", Deal: "buy", Is: "14 ct yellow with little silver", Pieces: all(9.2064, yellow585), May: right},
	{Key: "cream-spoon", Day: 0, At: counter, Description: "cream spoon, gilt bowl", Marks: "925", Colour: "white", Stones: no, Claim: of("silver", 925, "silver-copper"),
		Is: "sterling silver", Pieces: all(31.47, sterling), Trouble: notSigned, May: right},
	{Key: "ruby", Day: 0, At: spirit, Description: "loose red stone, round, 6 mm", Claim: ofStone("corundum"), Barcode: "TRAY-06",
		Is: "flame-fusion spinel", Pieces: all(0.7921, stone("spinel-synthetic")), Trouble: notSigned, May: wrong},
	{Key: "red-chain", Day: 0, At: bench, Description: "anchor chain, 60 cm", Marks: "750", Colour: "red", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-red"),
		Barcode: "TRAY-07", Picture: "chain", Is: "18 ct red 5N", Pieces: all(16.4018, red750), Trouble: leftOpen, May: right},
	{Key: "open-ring", Day: 0, At: bench, Description: "band with a brick pattern", Marks: "750", Colour: "yellow", Stones: no, Hollow: no, Claim: of("gold", 750, "gold-yellow"),
		Barcode: "TRAY-08", Picture: "ring", Is: "18 ct yellow 3N", Pieces: all(5.0186, yellow750), Trouble: halfDone, May: doubt},
	{Key: "on-tray", Day: 0, At: counter, Description: "cuff links, one pair", Marks: "925", Colour: "white", Stones: no, Claim: of("silver", 925, "silver-copper"),
		Barcode: "TRAY-09", Is: "sterling silver", Pieces: all(14.29, sterling), Trouble: justBegun, May: none},
}

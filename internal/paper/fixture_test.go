package paper

import (
	"strings"
	"time"
)

// Everybody and everything here is invented.

var issued = time.Date(2026, time.March, 12, 0, 0, 0, 0, time.UTC)

func testHead(number string) Head {
	return Head{
		Workshop: Workshop{
			Name: "Three Gullies Box Works", Owner: "Ines Harrowgate", Address: []string{"14 Slab Hut Road", "Upper Gullies QLD 4999"},
			Phone: "0491 570 156", Email: "book@threegullies.example", BusinessNumber: "ABN 51 824 753 556", TaxRegistered: true,
		},
		Number: number, Issued: issued,
	}
}

var testBuyer = Party{Name: "Zoë Grünewald-Núñez", Address: []string{"3 Quarry Lane", "Mount Ember QLD 4998"}, Phone: "0491 570 110", Email: "zoe@example.org"}

var testDrawing = &BoxDrawing{LengthMM: 280, WidthMM: 200, WallMM: 35, EntranceMM: 13, EntranceIn: 1, EaveMM: 20,
	Sections: []DrawnSection{{"floor", 20}, {"brood, lower", 90}, {"brood, upper", 90}, {"honey", 60}, {"roof", 35}},
	Note:     "Inside 210 × 130 mm. Sections are held by two lugs and a strap."}

func testQuote() QuoteDoc {
	return QuoteDoc{
		Head: testHead("Q-0042"), Revision: 2, Replaces: "Q-0039", Buyer: testBuyer,
		Site:       Place{Name: "School garden", Address: []string{"Ridge Street", "Mount Ember"}, Note: "brick wall, faces north-east"},
		Subject:    "Two hive boxes of hoop pine, one with a colony",
		ValidUntil: "Thu 26 March 2026",
		Alternatives: []Alternative{
			{Letter: "A", Title: "Box with one honey section, painted", EachHead: "Each, incl. GST",
				Lines: []Line{
					{What: "Hive box, 35 mm hoop pine, one honey section", Detail: []string{"painted outside, two coats, stone grey; cured before bees go in"}, Quantity: "2", Each: "$310.00", Tax: "$56.36", Amount: "$620.00"},
					{What: "Wall mount, hardwood, with locking screw", Quantity: "2", Each: "$48.50", Tax: "$8.82", Amount: "$97.00"},
					{What: "Colony of Tetragonula carbonaria, settled", Quantity: "1", Each: "$395.00", Tax: "$35.91", Amount: "$395.00"},
					{What: "Delivery and setting up at dusk", Detail: []string{"38 km, one journey"}, Quantity: "1", Each: "$88.00", Tax: "$8.00", Amount: "$88.00"},
				},
				Totals:  []Total{{"Net", "$1,090.91", false}, {"GST 10 %", "$109.09", false}, {"Total to pay", "$1,200.00", true}},
				Deposit: "$240.00 (20 %)",
				Promised: []Promise{{"Both boxes", "Fri 17 April 2026", "bench time and timber are held until the quote lapses"},
					{"Colony for the first box", "Sat 31 October 2026", "8 chances in 10; the place in the line is the third"}},
				Drawing: testDrawing},
			{Letter: "B", Title: "The same without honey section, oiled", EachHead: "Each, incl. GST",
				Lines: []Line{
					{What: "Hive box, 35 mm hoop pine, no honey section", Quantity: "2", Each: "$265.00", Tax: "$48.18", Amount: "$530.00"},
					{What: "Wall mount, hardwood, with locking screw", Quantity: "2", Each: "$48.50", Tax: "$8.82", Amount: "$97.00"},
				},
				Totals:   []Total{{"Net", "$570.00", false}, {"GST 10 %", "$57.00", false}, {"Total to pay", "$627.00", true}},
				Deposit:  "$125.00",
				Promised: []Promise{{"Both boxes", "Fri 10 April 2026", ""}}},
		},
		PayWays: []PayWay{{"Bank transfer", "BSB 000-000, account 1234 5678, with the number of this quote"}, {"Cash", "at handover, against a receipt"}},
	}
}

func testOrder() OrderDoc {
	q := testQuote()
	return OrderDoc{Head: testHead("O-0031"), Buyer: testBuyer, Site: q.Site, Quote: "Q-0042", Accepted: "Mon 16 March 2026",
		Lines: q.Alternatives[0].Lines, EachHead: "Each, incl. GST", Totals: q.Alternatives[0].Totals, Deposit: "$240.00", Balance: "$960.00",
		Received: []Payment{{"Tue 17 March 2026", "bank transfer", "$240.00"}},
		Units:    []Promise{{"1  Box with colony", "box Fri 17 April 2026\ncolony Sat 31 October 2026", ""}, {"2  Box", "Fri 17 April 2026", ""}},
		PayWays:  q.PayWays, Drawing: testDrawing}
}

func testInvoice() InvoiceDoc {
	q := testQuote()
	return InvoiceDoc{Head: testHead("I-0107"), Buyer: testBuyer, Order: "O-0031", Supplied: "Fri 17 April 2026", Subject: "Two hive boxes with mounts",
		Lines: q.Alternatives[0].Lines, EachHead: "Each, incl. GST", Totals: q.Alternatives[0].Totals,
		TaxInside: "Every line is taxed; the total includes GST of $109.09.",
		Received:  []Payment{{"Tue 17 March 2026", "deposit, bank transfer", "$240.00"}}, Due: "$960.00", DueOn: "Fri 1 May 2026", PayWays: q.PayWays}
}

func testReceipt() ReceiptDoc {
	return ReceiptDoc{Head: testHead("R-0066"), From: testBuyer, Amount: "$310.00", How: "cash", On: "Thu 12 March 2026", For: "A box from the shelf",
		Lines:   []Line{{What: "Hive box, 35 mm hoop pine, one honey section", Quantity: "1", Amount: "$310.00"}},
		Totals:  []Total{{"of which GST", "$28.18", false}, {"Received with thanks", "$310.00", true}},
		Serials: []string{"10427"}, Balance: "nothing"}
}

func testJobCard() JobCardDoc {
	return JobCardDoc{Head: testHead("B-0019"), Build: "4 boxes, one honey section, hoop pine", Model: "Two-section box, revision 3",
		For: []string{"O-0031 units 1 and 2", "shelf 2"}, Due: "Fri 10 April 2026", Timber: "hoop pine, 35 mm dressed, 11 to 13 % moisture", Finish: "two coats stone grey, outside only",
		Parts: []JobPart{{"side, brood", "90 × 35", 280, 16, ""}, {"end, brood", "90 × 35", 130, 16, "rebate both ends 10 × 17.5"},
			{"side, honey", "60 × 35", 280, 8, ""}, {"end, honey", "60 × 35", 130, 8, ""}, {"roof board", "240 × 35", 320, 4, "grain along"}, {"floor", "200 × 20", 280, 4, ""}},
		KerfMM: 3, PlanNote: "Shortest plan, proved.",
		Boards: []CutBoard{
			{Name: "lot 114", Place: "rack 2, upper", BoardSize: "90 × 35", LengthMM: 2400, Times: 2, TrimMM: 10,
				Cuts: []Cut{{"side, brood", 280}, {"side, brood", 280}, {"side, brood", 280}, {"side, brood", 280}, {"side, brood", 280}, {"side, brood", 280}, {"side, brood", 280}, {"side, brood", 280}}, OffcutMM: 116},
			{Name: "lot 115", Place: "rack 2, lower", BoardSize: "90 × 35", LengthMM: 2700, TrimMM: 10,
				Cuts: []Cut{{"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}, {"end, brood", 130}}, OffcutMM: 1350, OffcutKept: true, OffcutName: "as X-31"},
			{Name: "offcut X-12", BoardSize: "60 × 35", LengthMM: 900, WasAnOffcut: true, Cuts: []Cut{{"side, honey", 280}, {"side, honey", 280}, {"side, honey", 280}}, OffcutMM: 51},
		},
		Unplaced: []string{"1 × roof board, 320 mm of 240 × 35"},
		Gauges:   []Gauge{{"section, outside length", 280, 279.7, 280.3, "", "at both ends, with the brass rule"}, {"section, outside width", 200, 199.7, 200.3, "", ""}, {"rebate depth", 10, 9.8, 10.1, "", ""}},
		Checks:   []Gauge{{"diagonals of a section, difference", 0, 0, 0, "at most 1.0", ""}, {"flatness on the plate", 0, 0, 0, "at most 0.3", "feeler under each corner"}},
		Operations: []Operation{{"Cut to length", "cross-cut saw", 15, 64, 0, ""}, {"Cut rebates", "router table", 20, 48, 0, ""}, {"Glue and screw", "clamps", 10, 80, 720, ""},
			{"Paint, first coat", "", 10, 40, 1440, ""}, {"Paint, second coat", "", 10, 40, 14400, "cured before bees go in"}},
		Note: "Keep the two for the shelf unpainted inside the lugs."}
}

func testSawing() SawingDoc {
	return SawingDoc{Head: testHead("L-0088"), Log: "L-0088", Species: "hoop pine", SmallEndMM: 410, LargeEndMM: 465, LengthMM: 2450, KerfMM: 2.4, HeartBoxMM: 80,
		SweepMM: 12, From: "Harrow Hill windfall", Felled: "Mon 2 March 2026", MillBy: "Wed 8 April 2026", Warnings: []string{"There may be metal in it. No saw before a detector."},
		Boards: []SawnBoard{{"B", "100 × 38", -60, 140, 110, 42, 1500, 0}, {"B", "100 × 38", -60, 140, 110, 42, 900, 1500}, {"A", "225 × 38", -120, 95.6, 240, 42, 2450, 0}, {"A", "225 × 38", -100, 51.2, 240, 42, 2450, 0},
			{"B", "100 × 38", -160, -40, 42, 110, 2450, 0}, {"A", "225 × 38", -120, -87, 240, 42, 2450, 0}, {"A", "225 × 38", -120, -131.4, 240, 42, 2450, 0}},
		SawHeights:  []SawHeight{{182, "slab off"}, {137.6, ""}, {93.2, ""}, {70, "turn after this"}, {-45, ""}, {-89.4, ""}, {-133.8, ""}},
		PithAboveMM: 232, Recovery: "51 %", Note: "a nail hole at 600 mm from the butt"}
}

func testBoxLabels() BoxLabelsDoc {
	return BoxLabelsDoc{Head: testHead("B-0019"), Sheet: A4Labels(), Labels: []BoxLabel{
		{"10427", "Two-section box, revision 3", "hoop pine", "Tetragonula carbonaria", "made April 2026", "https://book.example/b/10427?k=Jw4nq8ZtT0yJ3mV1cQ7sLg"},
		{"10435", "Two-section box, revision 3", "hoop pine", "", "made April 2026", ""},
		{"10443", "Two-section box with an uncommonly long name that no label could ever hold in one line, revision 3", "hoop pine", "", "made April 2026", "https://book.example/b/10443?k=Jw4nq8ZtT0yJ3mV1cQ7sLg"},
	}}
}

func testPartLabels() PartLabelsDoc {
	sheet := A4Labels()
	sheet.Outline = true
	return PartLabelsDoc{Head: testHead("B-0019"), Sheet: sheet, Labels: []PartLabel{
		{"side, brood", "280 × 90 × 35 mm", "16 pieces", "B-0019", "two-section box, revision 3", ""},
		{"end, brood", "130 × 90 × 35 mm", "16 pieces", "B-0019", "two-section box, revision 3", "rebate both ends"}}}
}

func testRun() RunDoc {
	return RunDoc{Head: testHead("N-0012"), On: "Sat 18 April 2026", Driver: "Ines", From: "workshop", Leave: "16:30", KM: "about 84 km there and back", Dusk: "17:52", Colony: true,
		Load: []string{"box 10427 with colony C-17, strapped", "box 10435", "two mounts, drill, level, mesh, tape"},
		Stops: []Stop{{Name: "Zoë Grünewald-Núñez", Phone: "0491 570 110", Address: []string{"School garden, Ridge Street", "Mount Ember"}, At: "about 17:20", Load: []string{"box 10427 with colony", "box 10435", "2 mounts"}, Note: "gate code from the caretaker", Colony: true},
			{Name: "Old Tallow Creek Community Garden", Phone: "0491 570 157", Address: []string{"Creek Road 88"}, At: "about 18:40", Load: []string{"fetch: empty box 10211 for repair"}}}}
}

func testSite() SiteDoc {
	return SiteDoc{Head: testHead("O-0031"), Buyer: testBuyer, Site: testQuote().Site, Order: "O-0031", Coming: "Sat 18 April 2026, about 17:20", HasBees: true,
		Brings: []string{"box 10427 with its colony", "box 10435, empty", "two hardwood mounts with locking screws"}, Facing: "brick, faces north-east, eave 450 mm out",
		MountMM: "300 mm wide, 600 mm high, bottom about 1.2 m above the ground", LoadKG: "about 14 kg each when full", Fixings: "4 screws 8 × 80 mm with plugs in brick",
		Sun: []string{"21 December: sun on the front until 9:10, then shade", "21 June: sun on the front from 7:00 to 12:40"}, Day: []string{"You are stop 2 of 3 stops that day.", "Dusk at your place that day is at 17:52."}, ToPay: "$960.00 still to pay.", PayWays: testQuote().PayWays}
}

func testHandover() HandoverDoc {
	facts, _ := Species("Tetragonula carbonaria")
	d := HandoverDoc{Head: testHead("H-0024"), Owner: "Zoë Grünewald-Núñez", Serial: "10427", Model: "two-section box, revision 3", Timber: "hoop pine 35 mm", Finish: "painted stone grey",
		Size: "200 × 280 × 295 mm outside", EmptyMass: "6.2 kg", FullMass: "about 14 kg", Site: testQuote().Site, HandedOn: time.Date(2026, time.April, 18, 0, 0, 0, 0, time.UTC), DuskAt: "17:52",
		Colony: &HandedColony{Number: "C-17", Species: facts, Sure: true, Origin: "split of C-04 in October 2025", Housed: "14 October 2025", NoSplit: "October 2027"},
		Sun:    []string{"21 December: sun on the front until 9:10", "21 June: 7:00 to 12:40"}, Mount: "Hardwood mount, four screws in brick", Fixing: "a locking screw from below and a serial punched into the wood",
		RingHours: "any day 7:00 to 20:00", Guarantee: []string{"Two years on joints and mount."}}
	d.Link = "https://book.example/b/10427?k=Jw4nq8ZtT0yJ3mV1cQ7sLg"
	return d
}

// long is a text that has to be wrapped many times, with one endless word in it.
func long(words int) string {
	return strings.Repeat("Gräfin-Wüstenrot-Émile ", words) + strings.Repeat("x", 180)
}

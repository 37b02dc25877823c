package paper

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden texts anew")

func TestPapersSay(t *testing.T) {
	t.Parallel()
	every := []string{"Three Gullies Box Works", "Issued Thu 12 March 2026", "page 1 of", "0491 570 156"}
	tests := []struct {
		name   string
		pages  int
		want   []string
		not    []string
		source string
	}{
		{"quote", 2, []string{"Quote, revision 2", "No. Q-0042", "In place of Q-0039", "Zoë Grünewald-Núñez", "A. Box with one honey section", "B. The same",
			"$1,200.00", "GST 10 %", "Deposit to confirm $240.00", "Fri 17 April 2026", "Sat 31 October 2026", "Valid until", "Thu 26 March 2026",
			"Not included", "What could delay it", "Guarantee", "Ways to pay", "Terms", "scale 1 :", "295", "280", "wall 35"}, []string{"No GST is charged", "margin", "cost price"}, "issue 2, point 3"},
		{"order", 2, []string{"Order confirmation", "on quote Q-0042", "Still to pay $960.00", "colony Sat 31 October 2026"}, nil, "issue 2, point 4"},
		{"invoice", 1, []string{"Tax invoice", "ABN 51 824 753 556", "the total includes GST of $109.09", "Still to pay by Fri 1 May 2026 $960.00"}, []string{"No GST is charged"}, "design, section 5"},
		{"receipt", 1, []string{"Receipt", "Received with thanks $310.00", "Serial of the box 10427"}, nil, "issue 2, point 4"},
		{"jobcard", 2, []string{"Job card", "side, brood", "1 to 8 side, brood, each 280 mm; waste 116 mm", "keep as X-31", "1350", "279.7 to 280.3", "at most 1.0", "Real minutes", "337", "kickback", "1 mg/m³", "No board was found"}, []string{"$"}, "issue 2, point 5; together = 65 set-up + 272 work"},
		{"sawing", 1, []string{"Sawing card", "410 mm small", "+137.6", "−133.8", "98.2", "240 × 42", "225 × 38", "B 1500 + B 900", "Harrow Hill", "No saw before a detector"}, []string{"$"}, "98.2 = 232 - 133.8"},
		{"run", 1, []string{"Run sheet", "Ring 0491 570 110", "Ridge Street", "closed at", "opened at", "box 10435"}, []string{"$"}, "design, section 5"},
		{"site", 2, []string{"Site sheet", "about 14 kg each when full", "asbestos", "not an approval", "arborist"}, nil, "design, section 8"},
		{"register", 1, []string{"Register of boxes", "No. B0004", "Box 10427", "Bram Oakshott", "Since Mon 1 February 2027", "punched into the front", "handed over with order O-0031", "QP 2612345", "Photo of Sat 18", "no legal title by itself"}, []string{"$", "Quarry Lane", "0491 570 110"}, "design, section 4, Box: dated owners; the words are ours"},
		{"movements", 1, []string{"Movement record", "Wed 1 July 2026", "4 colonies in 2 moves", "HB 2026/118", "C-04, C-09", "to Zoë", "________", "Local rules come first", "form, register or online notice"}, []string{"$"}, "design, section 8: movement records"},
		{"handover", 2, []string{"Tonight", "Dusk here today: 17:52", "Tomorrow", "First two – Do not open", "This is not", "Whom to ring: Ines Harrowgate, 0491 570 156",
			"Say the serial: 10427", "split of C-04", "Law first", "42 to 43 °C", "0.5, 1 or 2 km", "Not before October 2027", "not an approval"}, []string{"two leaves"}, "issue 2, point 7"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			pdf, err := all[tt.name]()
			require.NoError(t, err)
			list := pages(t, pdf)
			require.Len(t, list, tt.pages)
			text := strings.Join(list, " ")
			for _, want := range append(every, tt.want...) {
				require.Contains(t, text, want)
			}
			for _, not := range tt.not {
				require.NotContains(t, text, not)
			}
			for i, p := range list {
				require.Contains(t, p, fmt.Sprintf("page %d of %d", i+1, tt.pages))
			}
			requireTidy(t, pdf)
			requireGolden(t, tt.name, list)
		})
	}
}

// requireGolden compares with testdata/golden, word by word; run with -update
// after a change that is meant, and look at the difference.
func requireGolden(t *testing.T, name string, list []string) {
	t.Helper()
	got := strings.Join(list, "\n--- page ---\n") + "\n"
	file := filepath.Join("testdata", "golden", name+".txt")
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
		require.NoError(t, os.WriteFile(file, []byte(got), 0o600))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

func TestInvoiceTitle(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name       string
		registered bool
		credits    string
		want       string
		noTax      bool
		source     string
	}{
		{"registered", true, "", "Tax invoice", false, "design, section 4, Time and Sizes: unregistered says Invoice"},
		{"not registered", false, "", "Invoice", true, "same"},
		{"credit of a registered one", true, "I-1", "Adjustment note", false, "A New Tax System (GST) Act 1999, s 29-75, from memory"},
		{"credit", false, "I-1", "Credit note", true, "common practice, no source"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			d := testInvoice()
			d.Workshop.TaxRegistered, d.Credits, d.TaxInside = tt.registered, tt.credits, ""
			pdf, err := Invoice(d)
			require.NoError(t, err)
			text := pages(t, pdf)[0]
			require.Contains(t, text, tt.want)
			if !tt.registered {
				require.NotContains(t, strings.ToLower(text), "tax invoice")
			}
			require.Equal(t, tt.noTax, strings.Contains(text, "No GST is charged"))
		})
	}
}

// Every paper with nothing in it: optional fields leave no gap, no error.
func TestEmptyPapers(t *testing.T) {
	t.Parallel()
	empty := map[string]func() ([]byte, error){
		"quote":    func() ([]byte, error) { return Quote(QuoteDoc{}) },
		"order":    func() ([]byte, error) { return Order(OrderDoc{}) },
		"invoice":  func() ([]byte, error) { return Invoice(InvoiceDoc{}) },
		"receipt":  func() ([]byte, error) { return Receipt(ReceiptDoc{}) },
		"jobcard":  func() ([]byte, error) { return JobCard(JobCardDoc{}) },
		"sawing":   func() ([]byte, error) { return Sawing(SawingDoc{}) },
		"run":      func() ([]byte, error) { return Run(RunDoc{}) },
		"site":     func() ([]byte, error) { return Site(SiteDoc{}) },
		"handover": func() ([]byte, error) { return Handover(HandoverDoc{}) },
		"register": func() ([]byte, error) { return Register(RegisterDoc{}) },
		"movement": func() ([]byte, error) { return Movements(MovementsDoc{}) },
	}
	for name, draw := range empty {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			pdf, err := draw()
			require.NoError(t, err)
			two, err := draw()
			require.NoError(t, err)
			require.Equal(t, string(pdf), string(two), "an unset date must not become today's")
			text := strings.Join(pages(t, pdf), " ")
			require.Contains(t, text, "page 1 of")
			require.NotContains(t, text, "<no value>")
			require.NotContains(t, text, "0001")
			requireTidy(t, pdf)
		})
	}
}

// Very long names and words, many lines and letters of many kinds.
func TestHardPapers(t *testing.T) {
	t.Parallel()
	party := Party{Name: long(6), Contact: long(3), Address: []string{long(4), "Straße ½ m³"}, Phone: long(1), Email: strings.Repeat("e", 90) + "@example.org"}
	lines := make([]Line, 50)
	for i := range lines {
		lines[i] = Line{What: fmt.Sprintf("from%02d %s upto%02d", i, strings.Repeat("Gräte ", 30), i), Detail: []string{long(2)},
			Quantity: "1000000.5 m³", Each: "$1,000,000.00", Tax: "$100,000.00", Amount: "$12,345,678.90"}
	}
	head := testHead(strings.Repeat("N-12345", 9))
	head.Workshop.Name, head.Workshop.Owner, head.Workshop.Email = long(4), long(2), strings.Repeat("w", 120)
	deadly := Place{Name: long(5), Address: []string{long(9)}, Note: long(4)}
	q := QuoteDoc{Head: head, Buyer: party, Site: deadly, Subject: long(9), Note: long(40), ValidUntil: long(3),
		Alternatives: []Alternative{{Letter: "A", Title: long(5), Lines: lines, Totals: []Total{{long(10), "$12,345,678.90", true}}, Deposit: long(9),
			Promised: []Promise{{long(10), long(5), long(20)}}, Drawing: &BoxDrawing{LengthMM: 4000, WidthMM: 3000, WallMM: 25, EntranceMM: 12, Note: long(10),
				Sections: []DrawnSection{{long(2), 100}, {"m³", 2000}}}}},
		PayWays: []PayWay{{long(2), long(9)}}, NotIncluded: []string{long(90)}, Guarantee: []string{"½ ü é Ω Ж"}}
	job := testJobCard()
	job.Head, job.Build, job.Timber = head, long(8), long(8)
	for i := range 50 {
		job.Parts = append(job.Parts, JobPart{fmt.Sprintf("from%02d %s upto%02d", i, long(2), i), long(1), 123456.5, 9999, long(3)})
		job.Boards = append(job.Boards, CutBoard{Name: long(2), Place: long(3), LengthMM: 300 + 100*float64(i), Cuts: []Cut{{long(1), 100}, {"x", 3}}, OffcutMM: 20})
	}
	saw := testSawing()
	saw.Head, saw.Note, saw.Species = head, long(20), long(4)
	for i := range 60 {
		saw.SawHeights = append(saw.SawHeights, SawHeight{float64(i) - 30, long(1)})
	}
	run := testRun()
	run.Head = head
	for i := range 40 {
		run.Stops = append(run.Stops, Stop{Name: fmt.Sprintf("from%02d %s", i, long(2)), Phone: long(1), Address: []string{long(3)}, At: long(1),
			Load: []string{long(3)}, Note: long(3), Pay: fmt.Sprintf("upto%02d", i), Colony: true})
	}
	site := testSite()
	site.Head, site.Buyer, site.Site, site.Brings, site.MountMM = head, party, deadly, []string{long(30), long(2)}, long(12)
	hand := testHandover()
	hand.Head, hand.Owner, hand.Site, hand.Law, hand.Mount, hand.RingName, hand.RingHours = head, long(6), deadly, []string{long(30), long(50)}, long(20), long(4), long(9)
	hand.Link = "https://book.example/b/10427?k=" + strings.Repeat("k", 200)
	tests := map[string]func() ([]byte, error){
		"quote": func() ([]byte, error) { return Quote(q) },
		"order": func() ([]byte, error) {
			return Order(OrderDoc{Head: head, Buyer: party, Site: deadly, Lines: lines, Units: q.Alternatives[0].Promised, Deposit: long(3)})
		},
		"invoice": func() ([]byte, error) {
			return Invoice(InvoiceDoc{Head: head, Buyer: party, Lines: lines, Due: "$12,345,678.90", DueOn: long(4), Received: []Payment{{long(3), long(3), "$1.00"}}})
		},
		"receipt": func() ([]byte, error) {
			return Receipt(ReceiptDoc{Head: head, From: party, Amount: "$12,345,678.90", For: long(9), Serials: []string{long(2)}})
		},
		"jobcard":  func() ([]byte, error) { return JobCard(job) },
		"sawing":   func() ([]byte, error) { return Sawing(saw) },
		"run":      func() ([]byte, error) { return Run(run) },
		"site":     func() ([]byte, error) { return Site(site) },
		"handover": func() ([]byte, error) { return Handover(hand) },
	}
	for name, draw := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			pdf, err := draw()
			require.NoError(t, err)
			if *papersDir != "" {
				require.NoError(t, os.WriteFile(filepath.Join(*papersDir, "hard-"+name+".pdf"), pdf, 0o600))
			}
			requireTidy(t, pdf)
			list := pages(t, pdf)
			require.Greater(t, len(list), 0)
			for i := range 50 {
				requireWholeRow(t, list, fmt.Sprintf("from%02d", i), fmt.Sprintf("upto%02d", i))
			}
		})
	}
}

// requireWholeRow fails when a row begins on one page and ends on another.
func requireWholeRow(t *testing.T, list []string, from, upto string) {
	t.Helper()
	for i, p := range list {
		require.Equal(t, strings.Count(p, from), strings.Count(p, upto), "page %d: row %s is cut in two", i+1, from)
	}
}

func TestTableRepeatsItsHead(t *testing.T) {
	t.Parallel()
	d := testInvoice()
	d.Lines = nil
	for i := range 120 {
		d.Lines = append(d.Lines, Line{What: fmt.Sprintf("goods%03d", i), Quantity: "1", Amount: "$1.00"})
	}
	pdf, err := Invoice(d)
	require.NoError(t, err)
	list := pages(t, pdf)
	require.Greater(t, len(list), 3)
	seen := 0
	for _, p := range list {
		if n := strings.Count(p, "goods"); n > 0 {
			seen += n
			require.Equal(t, 1, strings.Count(p, "What Quantity"), p)
		}
	}
	require.Equal(t, 120, seen)
}

// A row that no page can hold goes on over the page and loses nothing.
func TestRowLongerThanAPage(t *testing.T) {
	t.Parallel()
	d := testInvoice()
	var what strings.Builder
	for i := range 900 {
		fmt.Fprintf(&what, "w%04d ", i)
	}
	d.Lines = []Line{{What: "before", Amount: "$1.00"}, {What: what.String(), Amount: "$2.00"}, {What: "after", Amount: "$3.00"}}
	pdf, err := Invoice(d)
	require.NoError(t, err)
	text := strings.Join(pages(t, pdf), " ")
	for i := range 900 {
		require.Contains(t, text, fmt.Sprintf("w%04d", i))
	}
	requireTidy(t, pdf)
}

func TestLetters(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, in, want, source string }{
		{"plain", "m³ ½ ü é × – °C", "m³ ½ ü é × – °C", "brief of the paper"},
		{"decomposed", "Gru\u0308newald", "Grünewald", "Unicode NFC"},
		{"not in the fonts", "蜂 box 🐝", "? box ?", "our choice"},
		{"control", "a\x00b\tc\u202ed\u200be", "a b cde", "our choice"},
		{"broken bytes", "a\xffb", "a?b", "our choice"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, tt.want, clean(tt.in))
			d := testReceipt()
			d.Note = tt.in
			pdf, err := Receipt(d)
			require.NoError(t, err)
			require.Contains(t, pages(t, pdf)[0], strings.Join(strings.Fields(tt.want), " "))
		})
	}
}

// The file carries the date of the record, so a reprint on another day is the same.
func TestDatesInTheFile(t *testing.T) {
	t.Parallel()
	d := testReceipt()
	d.Issued = time.Date(2025, time.July, 9, 23, 30, 0, 0, time.UTC)
	pdf, err := Receipt(d)
	require.NoError(t, err)
	require.Contains(t, string(pdf), "/CreationDate (D:20250709233000)")
	require.Contains(t, string(pdf), "/ModDate (D:20250709233000)")
	require.Contains(t, pages(t, pdf)[0], "Issued Wed 9 July 2025")
}

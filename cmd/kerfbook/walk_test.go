package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"kerfbook/internal/eyes"
	"kerfbook/internal/postgres/pgtest"
)

// maker is the one who walks through the book with a phone or at a desk, by the words
// that stand on the pages. Every page passed is looked at.
type maker struct {
	*eyes.Browser
	t    *testing.T
	size eyes.Size
	seen int
	// serial of the box that is built for the order
	serial string
}

// see looks at the page as it is: the words are there, the rules of axe-core hold, the
// console is quiet, nothing is wider than the screen or too small for a thumb. With
// KERFBOOK_TEST_PICTURES set to a folder, a picture of each page is left there.
func (m *maker) see(words ...string) *maker {
	m.t.Helper()
	for _, w := range words {
		m.Has(w)
	}
	m.Look()
	if dir := os.Getenv("KERFBOOK_TEST_PICTURES"); dir != "" {
		m.seen++
		name := strings.Trim(regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(m.Path(), "-"), "-")
		m.Picture(filepath.Join(dir, fmt.Sprintf("%s-%02d-%.40s.png", m.size.Name, m.seen, name)))
	}
	return m
}

// to opens a page of the contents.
func (m *maker) to(page string) *maker {
	m.t.Helper()
	m.Press(page)
	return m
}

// send fills a form by the labels of its fields and presses its button.
func (m *maker) send(button string, pairs ...string) *maker {
	m.t.Helper()
	m.Send(button, pairs...)
	return m
}

// press taps a link or button.
func (m *maker) press(words string) *maker {
	m.t.Helper()
	m.Press(words)
	return m
}

// paper fetches the PDF behind a link of the page.
func (m *maker) paper(link string) {
	m.t.Helper()
	got := eyes.Eval[string](m.Browser, fmt.Sprintf(`(async () => {
	const a = [...document.querySelectorAll('a[href]')].find(a => a.textContent.trim() === %q);
	if (!a) return 'no link of these words';
	const r = await fetch(a.href);
	const head = new TextDecoder().decode((await r.arrayBuffer()).slice(0, 5));
	return r.status + ' ' + r.headers.get('content-type') + ' ' + head;
})()`, link))
	require.Equal(m.t, "200 application/pdf %PDF-", got, "%s on %s", link, m.Path())
}

// find gives the first match of a pattern in the text of the page.
func (m *maker) find(pattern string) string {
	m.t.Helper()
	got := regexp.MustCompile(pattern).FindString(m.Text())
	require.NotEmpty(m.t, got, "%s on %s:\n%s", pattern, m.Path(), m.Text())
	return got
}

// day is a date field's value so many days from today in Brisbane, where there is no
// daylight saving.
func day(days int) string {
	return time.Now().In(time.FixedZone("Brisbane", 10*3600)).AddDate(0, 0, days).Format(time.DateOnly)
}

const makersWords = "stringybark and wax"

// One job from the empty book to the handover, the way a maker goes it.
func TestWalkOfAJob(t *testing.T) {
	t.Parallel()
	for _, size := range []eyes.Size{eyes.Phone, eyes.Desk} {
		t.Run(size.Name, func(t *testing.T) {
			t.Parallel()
			env := []string{"KERFBOOK_DATABASE_URL=" + pgtest.EmptyURL(t), "KERFBOOK_LISTEN=127.0.0.1:0"}
			url, _ := start(t, env, "serve")
			m := &maker{Browser: eyes.Open(t, url, size), t: t, size: size}
			m.openTheBook()
			m.typeInTheStock()
			m.typeInTheOld()
			m.takeTheCalls()
			m.answer()
			m.quote()
			m.declinedQuote()
			m.order()
			m.build()
			m.houseTheBees()
			m.handOver()
			m.sellFromTheShelf()
			m.orderWithoutAQuote()
			m.findThings()
			m.daySheet()
			m.helperSeesNoPrices()
		})
	}
}

// openTheBook is the set-up of an empty book.
func (m *maker) openTheBook() {
	m.Go("/")
	m.see("The book is empty").send("Open the book", "Name of the workshop", "Stringybark Boxes", "Your name", "Rowan Heath", "Phone number buyers ring", "07 5550 1234", "Town", "Kenilworth",
		"Business number (ABN), if you have one", "51 824 753 556", "Are you registered for GST?", "Yes", "Its list price, before tax", "180", "Name you sign in with", "rowan", "Password", makersWords, "Password once more", makersWords)
	m.see("Day sheet", "Not in the book yet?", "Boxes on the shelf or sold long ago")
}

// typeInTheStock is what lies in the shed when the book begins: boards, fittings, a
// colony in a log. Of the roof boards there are too few.
func (m *maker) typeInTheStock() {
	m.to("Timber").see("No board is on the rack").to("Day sheet")
	for i, size := range []string{"90", "60", "100", "40", "125"} {
		length, count := "2440", "12"
		if size == "125" {
			length, count = "620", "1"
		}
		if i == 0 {
			m.press("Boards on the rack").see()
		} else {
			m.press("Put down more boards")
		}
		m.send("Put them down", "Timber", "Hoop pine", "Width", size, "Thickness", "25", "Length", length, "How many", count, "Where they lie", "north wall", "Cost of a metre", "4.20").Has("lie there now")
	}
	m.see("there before the book")
	m.press("Put down more boards").send("Put them down", "Width", "20", "Thickness", "12", "Length", "1800", "How many", "20")
	m.to("Timber").see("90 × 25").press("Fittings").see("Entrance tube")
	for _, name := range []string{"Entrance tube", "Strap", "Wall mount"} {
		m.to("Timber").press("Fittings").press(name).send("Post the count", "There are", "12").Has("On hand")
	}
	m.see("there are 12")
	m.to("Bees").see("No colony is in the book yet").press("Enter a colony").see()
	m.send("Enter it", "Kind of bee", "Tetragonula carbonaria", "I am sure of the kind", "yes", "It lives in", "A log", "Where it stands", "under the mango", "Or since about", "about 2019", "Settled since", day(-200), "Where it comes from", "fallen ironbark, with the owner's leave").see("C0001 is in the book", "ready")
}

// typeInTheOld is what was sold and agreed before the book: a box with its owner, an
// order with a deposit, a box on the shelf.
func (m *maker) typeInTheOld() {
	m.to("Bench").see("No build is open").press("Boxes").press("Register a box").see("For boxes sold long ago")
	m.send("Register it", "Model", "Two-tier 230", "Timber", "Hoop pine", "Made or come here on", day(-300), "Where it is", "shelf by the door").see("It is box", "on the shelf")
	m.to("Orders").see("No open orders").press("Type in an old order").see()
	m.send("Put it into the book", "Name", "Hale Brooker", "Phone number", "0491 570 006", "Agreed on", day(-120), "Box", "Two-tier 230", "How many", "1", "Agreed price", "198", "Box promised for", day(-3), "Paid so far", "50").see("Typed in as", "Late:", "148.00")
	m.to("Bench").press("Boxes").press("Register a box").send("Register it", "Or what box it is", "old long box", "Made or come here on", day(-2000), "It is not ours any more", "yes", "Owner's phone number", "0491 570 006").see("It is box", "with its owner").press("Hale Brooker").see("0491 570 006")
}

// takeTheCalls is a buyer with a number nobody knows, then one of a number that the book
// knows already and that rings again later.
func (m *maker) takeTheCalls() {
	m.press("A buyer is asking").see()
	m.send("Note it and answer", "Phone number", "0491 570 156", "Name", "Ada Quill", "Place", "Maleny", "Box", "Two-tier 230", "How many", "1", "Timber", "Hoop pine", "Bees", "Tetragonula carbonaria", "In the buyer's own words", "wants it by the kitchen garden", "How they found the workshop", "a neighbour").see("Ada Quill", "with GST")
	m.press("A buyer is asking").send("Look the number up", "Phone number", "+61 491 570 006").see("Who is it?", "Hale Brooker")
	m.send("Note it and answer", "Hale Brooker", "yes", "How many", "2", "In the buyer's own words", "one more for the sister", "Ring again on", day(0)).see("Enquiry of Hale Brooker", "ring again on")
	m.to("Enquiries").see("Ada Quill", "Hale Brooker", "ring again")
}

// answer changes the options, hides the cost and shows it again.
func (m *maker) answer() {
	m.press("Ada Quill").see("$198.00", "What it costs today", "has no list price")
	m.press("Prices").see("A new price").send("Keep the price", "What for", "Colony of Tetragonula carbonaria", "Each, ex tax", "300").see("The price is kept")
	m.to("Enquiries").press("Ada Quill").Has("$528.00") // 480.00 and a tenth
	m.send("Answer", "How many", "2", "Finish", "Painted outside").see("2 × Two-tier 230", "Painted outside", "Short:")
	m.press("Hide cost and margin").see("Show cost and margin")
	require.NotContains(m.t, m.Text(), "What it costs today")
	m.press("Show cost and margin").see("What it costs today")
	m.send("Answer", "How many", "1", "Finish", "Oiled outside", "Mount", "Wall mount").press("Keep these options with the enquiry").see("These options are kept")
}

// quote is a draft of two alternatives that is issued, looked at, and of which one is
// taken.
func (m *maker) quote() {
	m.press("Make a quote of this").see("Draft quote for Ada Quill")
	m.press("Ask for a further alternative").send("Answer", "Bees", "No bees").send("Make a quote of this", "Add it as an alternative to", "The draft of").see("A:", "B:")
	m.send("Issue the quote", "Title of A", "With bees", "Title of B", "Box only", "A few words in front", "Thank you for ringing.", "Deposit, with tax", "100").see("Issued as Q0001", "With bees", "Valid until", "Short text to copy")
	m.paper("Quote (PDF)")
	text := eyes.Eval[string](m.Browser, `document.querySelector('#quote-text').value`)
	require.Contains(m.t, text, "Q0001")
	m.press("They say yes to A").see("It is an order now: S0002", "Short for this order", "125 x 25")
}

// declinedQuote is one to which the buyer says no.
func (m *maker) declinedQuote() {
	m.to("Enquiries").press("Hale Brooker").press("Make a quote of this").see("Draft quote for Hale Brooker").press("Issue the quote").Has("Issued as Q0002")
	m.send("They say no", "Why, in a few words", "too dear").see("declined", "too dear")
	m.to("Enquiries").press("Quotes").see("accepted", "declined")
}

// order takes the deposit of the order and looks at what is short.
func (m *maker) order() {
	m.to("Orders").see("Ada Quill", "S0002").press("S0002").see("to be built", "Short for this order", "Colony C0001")
	m.paper("Order confirmation (PDF)")
	m.send("Take it, with a receipt", "How", "Bank transfer").see("Still to pay: $459.00", "deposit, transfer")
	m.paper("Receipt (PDF)")
	m.to("Timber").press("Put boards on the rack").send("Put them down", "Timber", "Hoop pine", "Width", "125", "Thickness", "25", "Length", "2440", "How many", "6", "They come from", "Bought").see("6 of 2400 mm lie there now")
	m.to("Orders").press("S0002").press("Put aside what there is now").see("What there is stands aside now")
	require.NotContains(m.t, m.Text(), "Short for this order")
}

// build is the work at the bench for the order, from the parts to the serial.
func (m *maker) build() {
	m.to("Orders").press("S0002").press("Make a build for the ticked pieces").see("Build B0001", "Operations", "Parts", "Gauge sizes", "Cutting 90 × 25")
	m.paper("Job card (PDF)")
	m.press("Put its boards aside").see("The boards are put aside")
	m.press("Put aside what came in").see("put aside")
	m.press("Start my time on dock").see("Your time runs", "Stop").to("Bench").see("Your time runs on dock of B0001", "B0001").press("Stop").see("Stopped:")
	m.press("dock is done").Has("Done.")
	m.send("Write it down", "Operation", "assemble", "Minutes, ending now", "45").see("45 min written down")
	m.to("Bench").press("Plan of the bench").see("No plan is in force").send("Propose a plan", "Why", "new week").see("is proposed").press("Put it in force").see("It is in force")
	m.to("Bench").press("B0001").send("Finish it", "Where they stand now", "paint bench").see("It is finished", "Punch the serials:")
	m.paper("Labels (PDF)")
	m.serial = strings.TrimPrefix(m.find(`Punch the serials: \d+`), "Punch the serials: ")
	m.press("box "+m.serial).see("Box "+m.serial, "promised to an order", "made here")
	m.paper("Label (PDF)")
}

// houseTheBees moves the colony of the order into its box and notes its mass.
func (m *maker) houseTheBees() {
	m.to("Bees").see("C0001").press("C0001").send("It lives there now", "Serial of the box", m.serial).see("It lives there now", "box "+m.serial)
	m.send("Note it", "What", "Weighed", "Mass of the whole hive", "7.5").see("weighed, 7.5 kg")
	m.to("Orders").press("S0002").see("ready", "Box "+m.serial, "Colony C0001")
}

// handOver gives the box with its bees to the buyer.
func (m *maker) handOver() {
	m.press("Hand over").see("Who received it", "asbestos")
	m.send("Handed over", "Who received it", "Ada Quill", "Bees in", "24", "Bees out", "22", "How it is fixed", "two coach screws in the brick pier").see("Handed over", "24 bees in and 22 out in a minute", "Asked afterwards")
	m.paper("The sheet as it was handed over (PDF)")
	m.to("Runs").see("Handed over lately", "H0001").press("Plan a run").see()
	m.to("Orders").press("All orders").press("S0002").see("handed over").send("Issue the invoice", "Days to pay", "14").see("Tax invoice I0001")
	m.paper("Invoice (PDF)")
	m.to("Books").see("I0001", "P0002")
}

// sellFromTheShelf sells a box to somebody at the gate.
func (m *maker) sellFromTheShelf() {
	m.to("Bench").press("Start a build").see("for the shelf").send("Start it", "Model", "Two-tier 230", "Timber", "Hoop pine", "How many", "1").see("Build B0002").send("Finish it", "Where they stand now", "shelf by the door").Has("Punch the serials")
	serial := strings.TrimPrefix(m.find(`Punch the serials: \d+`), "Punch the serials: ")
	m.to("Orders").press("Sell from the shelf now").see(serial).send("Sold: print the receipt", serial, "yes", "Paid by", "Cash", "Name", "Juno Farrow").see("Sold and handed over", "$198.00")
	m.paper("Receipt (PDF)")
}

// orderWithoutAQuote is taken in one step, promised anew, and cancelled with its deposit decided.
func (m *maker) orderWithoutAQuote() {
	m.to("Orders").press("An order without a quote").see()
	m.send("Make the order", "Name", "Wren Ashby", "Phone number", "0491 570 110", "Box", "Two-tier 230", "How many", "2", "Timber", "Hoop pine", "Deposit asked for", "80").see("Ordered: S0004", "$396.00")
	m.send("Take it, with a receipt").Has("Still to pay: $316.00")
	m.to("Orders").press("S0004").send("Change the promise", "Which piece", "piece 1", "New day", day(60), "Why, as the buyer is told", "rain in the shed").see("The promise is changed")
	m.send("Cancel", "Why", "they are moving away", "What becomes of what was paid", "A part goes back", "Of it goes back", "50", "It goes back by", "Cash").see("Cancelled", "part returned")
	m.to("Orders").see("Hale Brooker")
	require.NotContains(m.t, m.Text(), "Wren Ashby")
}

// findThings looks for records by name, number of a phone, number of a paper, serial.
func (m *maker) findThings() {
	for _, f := range []struct{ asked, shown string }{{"Quill", "Ada Quill"}, {"0491570156", "Ada Quill"}, {"Q0001", "Quote Q0001"}, {m.serial, "Box " + m.serial}, {"C0001", "Colony C0001"}} {
		if m.size == eyes.Phone {
			m.press("Find").send("Find", "Name, phone number, document number or serial", f.asked)
		} else {
			m.send("Find", "Find", f.asked)
		}
		m.see(f.shown)
	}
}

// daySheet sees what the day asks, notes one line as done and puts another off.
func (m *maker) daySheet() {
	m.to("Day sheet").see("Late:", "S0001", "Hale Brooker", "Done").press("Done: Order S0001").see("Done and off the sheet", "Hale Brooker")
	require.NotContains(m.t, m.Text(), "S0001")
	m.press("In a week").see("Put off to", "Nothing asks for you today")
}

// helperSeesNoPrices lets a helper sign in: bench, timber and runs, no prices, no books.
func (m *maker) helperSeesNoPrices() {
	m.to("Settings").see().press("People who sign in").see("Add somebody").send("Add", "Name", "Jo Pike", "Name to sign in with", "jo", "Role", "helper", "First password", makersWords).see("Jo Pike")
	m.press("Sign out").see().send("Sign in", "Name", "jo", "Password", makersWords)
	for _, page := range []string{"Day sheet", "Bench", "Timber", "Runs"} {
		m.to(page).see()
		m.noMoney()
	}
	m.to("Bench").press("Finished builds").press("B0001").see("Parts")
	m.noMoney()
	m.to("Timber").press("90 × 25").see("On hand").noMoney()
	require.NotContains(m.t, m.Text(), "A buyer is asking")
	for _, path := range []string{"/books", "/prices", "/orders/2", "/quotes/1", "/books/payments/2/pdf"} {
		require.Equal(m.t, 403, int(eyes.Eval[float64](m.Browser, fmt.Sprintf(`fetch(%q).then(r => r.status)`, path))), path)
	}
	m.Problems() // the console tells of every 403
}

// noMoney fails when the page shows an amount or a way to the books.
func (m *maker) noMoney() {
	m.t.Helper()
	text := m.Text()
	require.NotContains(m.t, text, "$", m.Path())
	require.NotContains(m.t, text, "Books", m.Path())
	require.NotContains(m.t, text, "margin", m.Path())
}

package web

import (
	"fmt"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/books"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

type taxReportView struct {
	From, To, Basis, Span, Problem    string
	Bases                             []Choice
	Sums                              []taxSumRow
	Rows                              []taxDocRow
	More, Due, DueWord, How, Deposits string
	Rounding                          string
	Registered                        bool
}

type taxSumRow struct{ What, Net, Tax string }

type taxDocRow struct{ On, What, Href, Who, Code, Net, Tax string }

var taxReportPage = definePage[taxReportView]("tax-report")

// taxRows is how many documents the page shows; the file holds all of them.
const taxRows = 60

var (
	taxBases = []Choice{{Value: books.Cash, Text: "When money moves (cash)"}, {Value: books.Accrual, Text: "When invoiced (accrual)"}}
	taxHow   = map[string]string{
		books.Cash:    "By cash, a sale counts when money comes in, up to the price; a purchase when it is paid.",
		books.Accrual: "By accrual, a sale counts when it is invoiced, or when money comes in before that; a purchase when it came in or was paid, whichever was first.",
	}
	depositsCount = map[string]string{
		"security":     "Deposits are held as security: they count when the first piece is handed over, or when they are kept.",
		"part payment": "Deposits are part payments: they count when they come in.",
	}
	taxPlaces = map[string]string{"invoice": "invoice", "payment": "payment"}
)

// lastQuarter is the last whole quarter of the year before day.
func lastQuarter(day time.Time) (from, to time.Time) {
	start := time.Date(day.Year(), (day.Month()-1)/3*3+1, 1, 0, 0, 0, 0, time.UTC)
	return start.AddDate(0, -3, 0), start.AddDate(0, 0, -1)
}

func (s *Server) handleTaxReport(c echo.Context) error {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	today := set.Today(s.DB.Now())
	from, to := lastQuarter(today)
	v := taxReportView{Bases: taxBases, Basis: books.Cash}
	if b := c.QueryParam("basis"); b != "" {
		v.Basis = b
	}
	for name, day := range map[string]*time.Time{"from": &from, "to": &to} {
		if d, err := time.Parse(time.DateOnly, c.QueryParam(name)); err == nil {
			*day = d
		} else if c.QueryParam(name) != "" {
			v.Problem = "Write both days."
		}
	}
	v.From, v.To = show.ISODate(from), show.ISODate(to)
	r, err := s.Books.TaxReport(ctx, from, to, v.Basis)
	if fault.Is(err, fault.Invalid) {
		v.Problem = err.Error()
		return taxReportPage.show(s, c, "Tax report", v)
	}
	if err != nil {
		return err
	}
	tax, err := house.TaxIn(ctx, s.DB, today)
	if err != nil {
		return err
	}
	v.Registered, v.How, v.Deposits, v.Rounding = tax.Registered, taxHow[v.Basis], depositsCount[set.DepositIs], r.Rounding
	v.Span = "From " + show.Date(from) + " to " + show.Date(to) + ", both days with it"
	v.lay(r, currency(set))
	return taxReportPage.show(s, c, "Tax report", v)
}

func (v *taxReportView) lay(r books.TaxReport, cur show.Currency) {
	for _, side := range []struct {
		word string
		list []books.TaxSum
	}{{"Sold", r.Sales}, {"Bought", r.Purchases}} {
		for _, sum := range side.list {
			v.Sums = append(v.Sums, taxSumRow{side.word + ", " + sum.TaxCode, cur.Money(sum.PriceExTaxMinor), cur.Money(sum.TaxMinor)})
		}
	}
	due := r.TaxDueMinor()
	v.DueWord, v.Due = "Tax on sales less tax on purchases: to pay", cur.Money(due)
	if due < 0 {
		v.DueWord, v.Due = "Tax on purchases less tax on sales: to come back", cur.Money(-due)
	}
	for i, d := range r.Documents {
		if i == taxRows {
			v.More = fmt.Sprintf("%d more stand in the file.", len(r.Documents)-taxRows)
			break
		}
		row := taxDocRow{On: show.Date(d.On), What: d.Kind + " " + d.Number, Who: d.Who, Code: d.TaxCode, Net: cur.Money(d.PriceExTaxMinor), Tax: cur.Money(d.TaxMinor)}
		if row.Href = "/timber/purchases/" + idText(d.DocumentID); taxPlaces[d.Kind] != "" {
			row.Href = hrefOf(taxPlaces[d.Kind], d.DocumentID)
		}
		v.Rows = append(v.Rows, row)
	}
}

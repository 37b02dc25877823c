package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

// unfetchedLine is what the order's page says of what stands ready.
type unfetchedLine struct {
	Since, Href string
	Due         bool
}

func (s *Server) unfetchedOf(c echo.Context, order int64) (*unfetchedLine, error) {
	u, err := s.Answer.UnfetchedGet(c.Request().Context(), order)
	if err != nil || u == nil {
		return nil, err
	}
	return &unfetchedLine{show.Date(u.ReadyOn), hrefOf("order", order) + "/fetch", u.Due != nil}, nil
}

type fetchView struct {
	Form                                    *Form
	Lead, Who, Words, Ring, Next, OrderHref string
	SMS, Mail                               template.URL
	Waits, Due, Last                        bool
	Told                                    []fetchTold
}

type fetchTold struct{ When, Words string }

var fetchPage = definePage[fetchView]("fetch")

// handleFetch is the reminder for what stands ready and is not fetched.
func (s *Server) handleFetch(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	o, err := s.Sales.OrderGet(ctx, id)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	u, err := s.Answer.UnfetchedGet(ctx, id)
	if err != nil {
		return err
	}
	v := fetchView{Form: formOf(c), Lead: "Nothing of this order waits to be fetched.", OrderHref: hrefOf("order", id)}
	if u != nil {
		v.Waits, v.Who, v.Words, v.Last, v.Due = true, u.Who, u.Words, u.Last, u.Due != nil
		v.Lead = fmt.Sprintf("%s ready since %s: %s.", show.Count(int64(u.Pieces), "piece stands", "pieces stand"), show.Date(u.ReadyOn), show.Count(int64(u.Days), "day", "days"))
		v.Ring, v.SMS, v.Mail = reach(u.Phone, u.Email, "Ready to be fetched", u.Words)
		v.Next = "No further reminder is set."
		if u.Next != nil {
			v.Next = "The next reminder is due on " + show.Date(*u.Next) + "."
		}
		for _, t := range u.Told {
			v.Told = append(v.Told, fetchTold{show.Time(t.ToldAt, set.Location()), t.Words})
		}
	}
	return fetchPage.show(s, c, "Not fetched: order "+o.Number, v)
}

func (s *Server) handleFetchToldPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	if _, err := s.Answer.FetchTold(c.Request().Context(), id); err != nil {
		return again(err, s.handleFetch)
	}
	return goTo(c, hrefOf("order", id)+"/fetch", "Noted: they are reminded.")
}

// handleAfterCare are the figures of guarantee and reminders.
func (s *Server) handleAfterCare(c echo.Context) error {
	a, err := s.House.AfterCareGet(c.Request().Context())
	if err != nil {
		return err
	}
	f := formOf(c)
	f.FillVersion(a.Version)
	f.Fill("guarantee_box_days", strconv.Itoa(a.GuaranteeBoxDays))
	f.Fill("guarantee_colony_days", strconv.Itoa(a.GuaranteeColonyDays))
	var days []string
	for _, d := range a.FetchDays {
		days = append(days, strconv.Itoa(int(d)))
	}
	f.Fill("fetch_days", strings.Join(days, ", "))
	f.Fill("fetch_terms", a.FetchTerms)
	form := sheetForm{Form: f, Action: "/settings/after", Button: "Keep it", Parts: []sheetPart{
		{Legend: "Guarantee", Fields: []kindField{in(f.Field("guarantee_box_days", "For a box", "mode=numeric", "unit=days", "required", "hint=The last day is printed on the handover sheet, below your words.")), in(f.Field("guarantee_colony_days", "For a colony", "mode=numeric", "unit=days", "required", "hint=A colony lost within it opens a claim by itself."))}},
		{Legend: "Ready, but not fetched", Fields: []kindField{in(f.Field("fetch_days", "Remind after so many days", "hint=Such as 3, 10, 24. The last reminder prints the terms.")), area(f.Field("fetch_terms", "Terms that the last reminder prints"))}}}}
	return s.showSheet(c, "After the handover", sheetView{Lead: "How long your guarantee runs, and when buyers are reminded.", Forms: []sheetForm{form},
		Links:    []sheetLink{{"Words of the guarantee", "/settings/wording"}, {"Days to ask how they are", "/settings/costs"}, {"Wording of the sheets", "/settings/sheets"}},
		Cautions: []string{"Rights under consumer law come first, whatever is printed. What may be done with goods that nobody fetches is a matter of the law of your state: ask before you write terms."}})
}

func (s *Server) handleAfterCarePost(c echo.Context) error {
	f := formOf(c)
	a := house.AfterCare{Version: f.Version, GuaranteeBoxDays: int(f.Int("guarantee_box_days", 0, 36500)), GuaranteeColonyDays: int(f.Int("guarantee_colony_days", 0, 36500)), FetchTerms: f.Text("fetch_terms")}
	for _, part := range strings.FieldsFunc(f.Text("fetch_days"), func(r rune) bool { return r == ',' || r == ' ' || r == ';' }) {
		n, err := strconv.ParseInt(part, 10, 32)
		if err != nil {
			f.Wrong("fetch_days", "Write whole days with commas between them, such as 3, 10, 24.")
			break
		}
		a.FetchDays = append(a.FetchDays, int32(n))
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleAfterCare)
	}
	if _, err := s.House.AfterCarePut(c.Request().Context(), a); err != nil {
		return again(err, s.handleAfterCare)
	}
	return goTo(c, "/settings/after", "Kept.")
}

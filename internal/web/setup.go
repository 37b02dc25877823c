package web

import (
	"context"
	"net/http"
	"slices"
	"strconv"

	"github.com/jackc/pgx/v5"
	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

type setUpView struct {
	Form    *Form
	Zones   []Choice
	Models  []Choice
	Days    []Field
	YesNo   []Choice
	NewUser bool // nobody can sign in yet
}

var setUpPage = definePage[setUpView]("setup")

// zones are offered at set-up; the settings take any other.
var zones = []Choice{
	{Value: "Australia/Brisbane", Text: "Brisbane"}, {Value: "Australia/Sydney", Text: "Sydney, Canberra"},
	{Value: "Australia/Melbourne", Text: "Melbourne"}, {Value: "Australia/Hobart", Text: "Hobart"},
	{Value: "Australia/Adelaide", Text: "Adelaide"}, {Value: "Australia/Darwin", Text: "Darwin"},
	{Value: "Australia/Perth", Text: "Perth"}, {Value: "Australia/Lord_Howe", Text: "Lord Howe Island"},
	{Value: "Pacific/Auckland", Text: "Auckland"}, {Value: "America/Sao_Paulo", Text: "São Paulo"},
	{Value: "America/Merida", Text: "Mérida"}, {Value: "Asia/Kuala_Lumpur", Text: "Kuala Lumpur"},
	{Value: "Africa/Nairobi", Text: "Nairobi"}, {Value: "UTC", Text: "UTC"},
}

var registeredChoices = []Choice{{Value: "", Text: "Choose"}, {Value: "no", Text: "No: invoices without tax"}, {Value: "yes", Text: "Yes: registered for GST"}}

// guesses are the settings whose standard figure is our estimate until the maker has put
// in their own.
var guesses = []string{
	"workshop.hour_cost_minor", "workshop.overhead_pct", "workshop.margin_pct", "workshop.deposit_pct", "workshop.delivery_km_cost_minor",
	"workshop.saw_kerf_mm", "workshop.mill_kerf_mm", "workshop.mill_limit_mm", "workshop.trim_mm", "workshop.keep_offcut_mm", "workshop.guarantee",
	"workshop.planing_mm", "workshop.straighten_width_mm", "workshop.straighten_thickness_mm", "workshop.saw_variation_mm", "workshop.box_mc_pct", "workshop.short_board_mm", "workshop.mill_hour_cost_minor", "workshop.mill_min_m3", "workshop.drying_m3_month_minor",
}

func (s *Server) registerSetUpPages(r *routes) {
	r.open(http.MethodGet, "/set-up", s.handleSetUp)
	r.open(http.MethodPost, "/set-up", s.handleSetUpPost)
}

// setUpState says who may set up: anybody on an empty book, else a signed-in owner.
func (s *Server) setUpState(c echo.Context) (newUser bool, err error) {
	ctx := c.Request().Context()
	set, err := s.settings(c)
	if err != nil {
		return false, err
	}
	any, err := s.Access.AccountAny(ctx)
	if err != nil {
		return false, err
	}
	switch {
	case any && set.SetUpAt != nil:
		return false, fault.New(fault.Conflict, "The workshop is set up already. Change its particulars under Settings.")
	case !any:
		return true, nil
	}
	p, err := door.Who(c.Request(), s.Access)
	if err == nil && p.Role != access.Owner {
		err = fault.New(fault.Signin, "Sign in as the owner to set the workshop up.")
	}
	c.SetRequest(door.As(c.Request(), p))
	return false, err
}

func (s *Server) handleSetUp(c echo.Context) error {
	newUser, err := s.setUpState(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	f.Fill("time_zone", house.Standard().TimeZone)
	f.FillTick("known_phone", true)
	f.Fill("model", hive.Ready()[0].Model.ID)
	f.FillTick("price_guess", true)
	f.FillTick("hours_guess", true)
	f.Fill("hours_from", "08:00")
	f.Fill("hours_to", "16:00")
	v := setUpView{Form: f, Zones: zones, Models: modelChoices(), YesNo: registeredChoices, NewUser: newUser}
	for _, d := range weekdays {
		name := "day_" + strconv.Itoa(d.n)
		f.FillTick(name, d.n >= 1 && d.n <= 5)
		v.Days = append(v.Days, f.Field(name, d.name))
	}
	return setUpPage.show(s, c, "Open the book", v)
}

// modelChoices are the ready models a workshop can begin with, or none.
func modelChoices() []Choice {
	list := []Choice{}
	for _, m := range hive.Ready() {
		list = append(list, Choice{Value: m.Model.ID, Text: m.Name + ": " + m.About})
	}
	return append(list, Choice{Value: "", Text: "None of these: I draw my own later"})
}

func (s *Server) handleSetUpPost(c echo.Context) error {
	newUser, err := s.setUpState(c)
	if err != nil {
		return err
	}
	f := formOf(c)
	in := setUp{newUser: newUser, set: house.Standard(), registered: f.Text("registered") == "yes",
		account: access.NewAccount{SignIn: f.Text("sign_in"), Name: f.Text("maker_name"), Role: access.Owner, Password: f.Secret("password")}}
	in.set.Name, in.set.MakerName, in.set.Phone, in.set.TimeZone = f.Text("name"), f.Text("maker_name"), f.Text("phone"), f.Text("time_zone")
	in.set.Town, in.set.BusinessNumber = f.Text("town"), f.Text("business_number")
	if in.set.Name == "" {
		f.Wrong("name", "Give the workshop a name; it stands on every paper.")
	}
	if f.Text("registered") == "" {
		f.Wrong("registered", "Say whether you are registered; it decides what stands on invoices.")
	}
	if f.Text("model") != "" && f.Text("price") != "" {
		in.priceMinor = f.Money("price", currency(in.set))
	}
	in.week, in.weekGuess = plainWeek(f), f.Ticked("hours_guess")
	in.model, in.priceGuess = f.Text("model"), f.Ticked("price_guess")
	if newUser && f.Secret("password") != f.Secret("password_again") {
		f.Wrong("password_again", "The two passwords are not the same.")
	}
	if err := f.Err(); err != nil {
		return again(err, s.handleSetUp)
	}
	person, err := s.openBook(c.Request().Context(), in)
	if err != nil {
		return again(err, s.handleSetUp)
	}
	if newUser {
		if err := s.openSession(c, person, f.Ticked("known_phone")); err != nil {
			return err
		}
	}
	return c.Redirect(http.StatusSeeOther, "/")
}

// setUp is what an empty book is opened with.
type setUp struct {
	newUser    bool
	set        house.Settings
	registered bool
	account    access.NewAccount
	model      string // id of a ready model; empty: none
	priceMinor int64  // its list price ex tax; 0: none, the answer is cost and margin
	priceGuess bool
	week       workshop.Week // no hours: not known yet
	weekGuess  bool
}

// openBook writes everything in one transaction; two who try at once get one book.
func (s *Server) openBook(ctx context.Context, in setUp) (access.Person, error) {
	var p access.Person
	err := s.DB.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `LOCK TABLE account IN SHARE ROW EXCLUSIVE MODE`); err != nil {
			return err
		}
		any, err := s.Access.AccountAny(ctx)
		if err != nil {
			return err
		}
		if any == in.newUser {
			return fault.New(fault.Conflict, "The workshop was set up meanwhile. Load the page again.")
		}
		now := s.DB.Now()
		in.set.SetUpAt = &now
		if old, err := s.House.SettingsGet(ctx); err == nil {
			in.set.Version = old.Version
		}
		if in.set, err = s.House.SettingsPut(ctx, in.set); err != nil {
			return err
		}
		if err := s.House.TaxRegister(ctx, in.set.Today(now), in.registered, "GST"); err != nil {
			return err
		}
		if err := s.House.GuessMark(ctx, guesses...); err != nil {
			return err
		}
		if in.newUser {
			a, err := s.Access.AccountAddTx(ctx, tx, in.account)
			if err != nil {
				return err
			}
			p = access.Person{ID: a.ID, SignIn: a.SignIn, Name: a.Name, Role: a.Role}
		}
		if err := s.firstWeek(ctx, in); err != nil {
			return err
		}
		if err := s.firstModel(ctx, in); err != nil {
			return err
		}
		begun, err := s.Answer.Begin(ctx)
		if err != nil {
			return err
		}
		return s.House.GuessMark(ctx, begun...)
	})
	return p, err
}

// firstWeek keeps the hours of the week.
func (s *Server) firstWeek(ctx context.Context, in setUp) error {
	if in.weekGuess {
		if err := s.House.GuessMark(ctx, weekGuess); err != nil {
			return err
		}
	}
	if len(in.week.Hours) == 0 {
		return nil
	}
	in.week.FromOn = in.set.Today(s.DB.Now())
	return s.Workshop.WeekSet(ctx, in.week)
}

// firstModel puts the chosen ready model into the book, with its list price.
func (s *Server) firstModel(ctx context.Context, in setUp) error {
	if in.model == "" {
		return nil
	}
	at := slices.IndexFunc(hive.Ready(), func(m hive.ReadyModel) bool { return m.Model.ID == in.model })
	if at < 0 {
		return fault.Bad("/model", "Choose one of the models.")
	}
	ready := hive.Ready()[at]
	m, err := s.Workshop.ModelSave(ctx, workshop.Model{Code: ready.Model.ID, Name: ready.Name})
	if err != nil {
		return err
	}
	if _, err := s.Workshop.RevisionAdd(ctx, workshop.Drawing{ModelID: m.ID, Body: ready.Model, Reason: "ready model of the program"}); err != nil {
		return err
	}
	subject := sales.Subject("model", m.ID)
	if in.priceMinor == 0 {
		return s.House.GuessMark(ctx, "list_price."+subject)
	}
	if _, err := s.Sales.PricePut(ctx, sales.ListPrice{Subject: subject, FromOn: in.set.Today(s.DB.Now()), PriceMinor: in.priceMinor}); err != nil {
		return err
	}
	if in.priceGuess {
		return s.House.GuessMark(ctx, "list_price."+subject)
	}
	return nil
}

package web

import (
	"strconv"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/fault"
	"kerfbook/internal/show"
)

func (s *Server) registerSettingsPages(r *routes) {
	r.get(access.Settings, "/settings", s.handleSettings)
	for _, g := range settingGroups {
		r.get(access.Settings, "/settings/"+g.path, s.showGroup(g))
		r.post(access.Settings, "/settings/"+g.path, s.postGroup(g))
	}
	r.get(access.Settings, "/settings/tax", s.handleTax)
	r.post(access.Settings, "/settings/tax", s.handleTaxPost)
	r.get(access.Settings, "/settings/people", s.handlePeople)
	r.post(access.Settings, "/settings/people", s.handlePeoplePost)
	r.post(access.Settings, "/settings/people/:id", s.handlePersonPost)
	r.get(access.Settings, "/settings/tokens", s.handleTokens)
	r.post(access.Settings, "/settings/tokens/:id", s.handleTokenPost)
	r.get(access.Self, "/me", s.handleMe)
	r.s.plainPost(r, access.Self, "/me", s.handleMePost)
	r.s.plainPost(r, access.Settings, "/settings/tokens", s.handleTokensPost)
}

// plainPost registers a form that is not answered from memory when sent twice: its answer
// holds a secret, or its failure must be counted.
func (s *Server) plainPost(r *routes, area access.Area, path string, h echo.HandlerFunc) {
	r.g.POST(path, s.signedIn(area, s.withForm(false, h)))
}

type settingsView struct {
	Guesses int
	Groups  []settingsRow
}

type settingsRow struct{ Href, Title, About string }

var settingsPage = definePage[settingsView]("settings")

func (s *Server) handleSettings(c echo.Context) error {
	g, err := s.House.GuessList(c.Request().Context())
	if err != nil {
		return err
	}
	v := settingsView{Guesses: len(g)}
	for _, group := range settingGroups {
		v.Groups = append(v.Groups, settingsRow{"/settings/" + group.path, group.title, group.about})
	}
	v.Groups = append(v.Groups, otherSettings...)
	return settingsPage.show(s, c, "Settings", v)
}

// otherSettings are the pages under Settings that are no group of figures; add a line for
// a new one.
var otherSettings = []settingsRow{
	{"/settings/hours", "Hours at the bench", "The hours of the week, and days away"},
	{"/settings/ill", "I am ill", "Away from today, and whom to ring"},
	{"/settings/calendars", "Calendars", "Addresses from which a calendar program reads the bench, runs and promises"},
	{"/settings/tax", "Tax", "Whether you are registered, from which day"},
	{"/settings/bring-in", "Tables in and out", "People, boxes, boards and old orders from a table file, and every list as one"},
	{"/settings/after", "After the handover", "How long the guarantee runs, and reminders to fetch what is ready"},
	{"/settings/sheets", "Wording of the sheets", "What handover sheet, site sheet and the other papers say, in your own words"},
	{"/settings/stand-in", "For who stands in", "What somebody must know who carries the book on, and a sheet to print"},
	{"/settings/people", "People who sign in", "Owner and helpers, and whether they may still come in"},
	{"/settings/tokens", "Tokens of programs", "Ways in for a program of yours"},
}

type peopleView struct {
	Form   *Form
	People []personRow
	Roles  []Choice
}

type personRow struct {
	ID           int64
	Version      int
	Name, SignIn string
	Role, Since  string
	Disabled     bool
	Self, Owner  bool
}

var peoplePage = definePage[peopleView]("people")

func (s *Server) handlePeople(c echo.Context) error {
	list, err := s.Access.AccountList(c.Request().Context())
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := peopleView{Form: formOf(c), Roles: []Choice{{Value: "helper", Text: "Helper: bench, timber, runs; no prices"}, {Value: "owner", Text: "Owner: everything"}}}
	for _, a := range list {
		v.People = append(v.People, personRow{a.ID, a.Version, a.Name, a.SignIn, string(a.Role), show.Time(a.MadeAt, set.Location()), a.DisabledAt != nil, a.ID == person(c).ID, a.Role == access.Owner})
	}
	return peoplePage.show(s, c, "People who sign in", v)
}

func (s *Server) handlePeoplePost(c echo.Context) error {
	f := formOf(c)
	a, err := s.Access.AccountAdd(c.Request().Context(), access.NewAccount{
		SignIn: f.Text("sign_in"), Name: f.Text("name"), Role: access.Role(f.Text("role")), Password: f.Secret("password")})
	if err != nil {
		return again(err, s.handlePeople)
	}
	return goTo(c, "/settings/people", a.Name+" can sign in now.")
}

// handlePersonPost ends or restores somebody's way in.
func (s *Server) handlePersonPost(c echo.Context) error {
	f := formOf(c)
	id, err := pathID(c)
	if err != nil {
		return err
	}
	if role := f.Text("deed"); role == "owner" || role == "helper" {
		a, err := s.Access.AccountRoleSet(c.Request().Context(), id, f.Version, access.Role(role))
		if err != nil {
			return again(err, s.handlePeople)
		}
		return goTo(c, "/settings/people", a.Name+" is "+role+" now.")
	}
	off := f.Text("deed") == "disable"
	a, err := s.Access.AccountDisable(c.Request().Context(), id, f.Version, off)
	if err != nil {
		return again(err, s.handlePeople)
	}
	if off {
		return goTo(c, "/settings/people", a.Name+" can no longer sign in.")
	}
	return goTo(c, "/settings/people", a.Name+" can sign in again.")
}

type tokensView struct {
	Form   *Form
	Secret string // of a token just made; shown once
	Tokens []tokenRow
}

type tokenRow struct {
	ID               int64
	Name, Made, Used string
	Withdrawn        bool
}

var tokensPage = definePage[tokensView]("tokens")

func (s *Server) handleTokens(c echo.Context) error { return s.showTokens(c, "") }

func (s *Server) showTokens(c echo.Context, secret string) error {
	list, err := s.Access.TokenList(c.Request().Context(), 0)
	if err != nil {
		return err
	}
	set, err := s.settings(c)
	if err != nil {
		return err
	}
	v := tokensView{Form: formOf(c), Secret: secret}
	for _, t := range list {
		used := "never"
		if t.UsedAt != nil {
			used = show.Date(t.UsedAt.In(set.Location()))
		}
		v.Tokens = append(v.Tokens, tokenRow{t.ID, t.Name, show.Time(t.MadeAt, set.Location()), used, t.WithdrawnAt != nil})
	}
	return tokensPage.show(s, c, "Tokens of programs", v)
}

// handleTokensPost shows the new secret in its answer: it is stored nowhere.
func (s *Server) handleTokensPost(c echo.Context) error {
	secret, _, err := s.Access.TokenMake(c.Request().Context(), person(c).ID, formOf(c).Text("name"))
	if err != nil {
		return again(err, s.handleTokens)
	}
	c.Set(formIn, nil)
	return s.showTokens(c, secret)
}

func (s *Server) handleTokenPost(c echo.Context) error {
	id, err := pathID(c)
	if err != nil {
		return err
	}
	if err := s.Access.TokenWithdraw(c.Request().Context(), id); err != nil {
		return again(err, s.handleTokens)
	}
	return goTo(c, "/settings/tokens", "The token is withdrawn.")
}

type meView struct{ Form *Form }

var mePage = definePage[meView]("me")

func (s *Server) handleMe(c echo.Context) error {
	return mePage.show(s, c, "My sign-in", meView{formOf(c)})
}

func (s *Server) handleMePost(c echo.Context) error {
	f, p := formOf(c), person(c)
	if f.Secret("password") != f.Secret("password_again") {
		f.Wrong("password_again", "The two passwords are not the same.")
		return again(f.Err(), s.handleMe)
	}
	if err := s.Access.PasswordChange(c.Request().Context(), p.ID, f.Secret("old_password"), f.Secret("password")); err != nil {
		return again(err, s.handleMe)
	}
	if err := s.openSession(c, p, true); err != nil {
		return err
	}
	return c.Redirect(303, "/me")
}

// pathID gives the record's id from the address.
func pathID(c echo.Context) (int64, error) {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil || id < 1 {
		return 0, fault.New(fault.NotFound, "There is no page at this address.")
	}
	return id, nil
}

// Package web is the face of pages: server-rendered HTML in the look of a workshop
// ledger. Handlers read a form, call one room and show a page or redirect; they decide
// nothing and write no failure themselves. Every page works without script.
//
// Start reading at [New] and, to add a page, at [definePage], [routes] and [Form].
package web

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/searches"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// Deps are the rooms the face calls.
type Deps struct {
	DB       *postgres.DB
	Access   *access.Room
	House    *house.Room
	Sales    *sales.Room
	Timber   *timber.Room
	Searches *searches.Room
	Workshop *workshop.Room
	Apiary   *apiary.Room
	Handover *handover.Room
	Books    *books.Room
	Answer   *answer.Room
	Answers  door.Answers
	Finder   *answer.Finder
	DayBook  *answer.DayBook
	Day      DayLines     // nil: nothing is asked
	Log      *slog.Logger // nil: slog.Default()
}

// Server answers everything outside /api.
type Server struct {
	Deps
	echo      *echo.Echo
	templates map[string]*template.Template
	sorry     []byte // the page for our own mistakes, rendered at start so that it cannot fail
	lived     atomic.Bool
}

// New makes the face; it fails when a template cannot be read.
func New(d Deps) (*Server, error) {
	if names := door.Missing(d, "Log", "Day"); len(names) > 0 {
		return nil, fmt.Errorf("web: nobody has built %v", names)
	}
	if d.Log == nil {
		d.Log = slog.Default()
	}
	if d.Day == nil {
		d.Day = answer.NoLines{}
	}
	t, err := parsePages()
	if err != nil {
		return nil, err
	}
	s := &Server{Deps: d, echo: echo.New(), templates: t}
	var sorry bytes.Buffer
	if err := t["sorry"].ExecuteTemplate(&sorry, "bare", nil); err != nil {
		return nil, err
	}
	s.sorry = sorry.Bytes()
	s.echo.HTTPErrorHandler = s.fail
	s.echo.Use(s.recoverPanic)
	s.registerStatic(s.echo)
	r := &routes{s: s, g: s.echo.Group("")}
	for _, register := range s.areas() {
		register(r)
	}
	return s, nil
}

// areas lists what each area registers; add a line for a new one.
func (s *Server) areas() []func(*routes) {
	return []func(*routes){
		s.registerSignInPages,
		s.registerSetUpPages,
		s.registerSettingsPages,
		s.registerHoursPages,
		s.registerHandsPages,
		s.registerCalendarPages,
		s.registerIllPages,
		s.registerFindPages,
		s.registerDayPages,
		s.registerBeesPages,
		s.registerLinePages,
		s.registerMovementPages,
		s.registerTimberPages,
		s.registerBenchPages,
		s.registerRunsPages,
		s.registerCarePages,
		s.registerFoundPages,
		s.registerRegisterPages,
		s.registerSalesPages,
		s.registerServicePages,
		s.registerStandInPages,
		s.registerWordingPages,
		s.registerAfterPages,
		s.registerBringInPages,
		s.registerMailPages,
		s.registerHistoryPages,
		s.registerPhotoPages,
	}
}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.echo.ServeHTTP(w, r) }

// routes registers pages, each with the area a person needs to see it.
type routes struct {
	s *Server
	g *echo.Group
}

// get registers a page that only shows.
func (r *routes) get(area access.Area, path string, h echo.HandlerFunc) {
	r.g.GET(path, r.s.signedIn(area, h))
}

// post registers what a form does. The handler gets the form with [formOf], calls one
// room and gives back [goTo]; on an error [again]. Sent twice with one key, it works once.
func (r *routes) post(area access.Area, path string, h echo.HandlerFunc) {
	r.g.POST(path, r.s.signedIn(area, r.s.withForm(true, h)))
}

// open registers a page that needs no sign-in.
func (r *routes) open(method, path string, h echo.HandlerFunc) {
	if method == http.MethodPost {
		h = r.s.withForm(false, h)
	}
	r.g.Add(method, path, h)
}

// signedIn lets in who may see area, and sends others to sign in.
func (s *Server) signedIn(area access.Area, next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		r := c.Request()
		empty, err := s.emptyBook(r.Context())
		if err != nil {
			return err
		}
		if empty {
			return c.Redirect(http.StatusSeeOther, "/set-up")
		}
		p, err := door.Who(r, s.Access)
		if err != nil && !fault.Is(err, fault.Signin) {
			return err
		}
		if !p.Known() {
			if r.Method != http.MethodGet {
				return fault.New(fault.Signin, "You are signed out. Sign in on another tab, then come back here and send this again: what you typed is still in the page.")
			}
			return c.Redirect(http.StatusSeeOther, signInPath(r.URL.RequestURI()))
		}
		c.SetRequest(door.As(r, p))
		if !p.May(area) {
			return fault.New(fault.Forbidden, "This page is not for your sign-in. Ask the owner of the workshop.")
		}
		if set, err := s.settings(c); err != nil {
			return err
		} else if set.SetUpAt == nil && p.Role == access.Owner && r.Method == http.MethodGet {
			return c.Redirect(http.StatusSeeOther, "/set-up")
		}
		return next(c)
	}
}

// emptyBook reports whether nobody can sign in yet; once somebody can, it is not asked
// again.
func (s *Server) emptyBook(ctx context.Context) (bool, error) {
	if s.lived.Load() {
		return false, nil
	}
	any, err := s.Access.AccountAny(ctx)
	if err != nil {
		return false, err
	}
	s.lived.Store(any)
	return !any, nil
}

// person gives who asks.
func person(c echo.Context) access.Person { return access.PersonFrom(c.Request().Context()) }

// today is the workshop's day.
func (s *Server) today(c echo.Context) (time.Time, error) {
	set, err := s.settings(c)
	return set.Today(s.DB.Now()), err
}

const settingsIn = "settings"

// settings are the workshop's, read once a request; the standard ones on an empty book.
func (s *Server) settings(c echo.Context) (house.Settings, error) {
	if set, ok := c.Get(settingsIn).(house.Settings); ok {
		return set, nil
	}
	set, err := s.House.SettingsGet(c.Request().Context())
	if fault.Is(err, fault.NotFound) {
		set, err = house.Standard(), nil
	}
	if err == nil {
		c.Set(settingsIn, set)
	}
	return set, err
}

// currency is how the workshop's amounts are shown.
func currency(set house.Settings) show.Currency {
	return show.Currency{Code: set.Currency, MinorDigits: set.MinorDigits}
}

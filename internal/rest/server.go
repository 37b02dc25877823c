// Package rest is the JSON face under /api/v1. The contract api/openapi.yaml comes
// first: every request is checked against it before a handler sees it, and a test walks
// every operation and compares every answer with it. Handlers bind, call one room and
// reply; they decide nothing and write no failure themselves.
//
// Start reading at [New]; an area's routes are in the file of its name.
package rest

import (
	"fmt"
	"log/slog"
	"net/http"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/door"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/searches"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// Deps are the rooms the face calls.
type Deps struct {
	DB       *postgres.DB
	Access   *access.Room
	House    *house.Room
	Sales    *sales.Room
	Apiary   *apiary.Room
	Books    *books.Room
	Answer   *answer.Room
	Handover *handover.Room
	Workshop *workshop.Room
	Timber   *timber.Room
	Searches *searches.Room
	Finder   *answer.Finder
	DayBook  *answer.DayBook
	Day      DayLines     // nil: nothing is asked
	Answers  door.Answers // first answers to requests with an Idempotency-Key
	Log      *slog.Logger // nil: slog.Default()
	Version  string       // of the program
}

// Server answers under /api, /healthz and /version.
type Server struct {
	Deps
	echo *echo.Echo
	spec *spec
}

// New makes the face. It panics when the contract cannot be read or a route is not in
// it: both are mistakes of ours, found by any test.
func New(d Deps) *Server {
	if names := door.Missing(d, "Log", "Version", "Day"); len(names) > 0 {
		panic(fmt.Sprintf("rest: nobody has built %v", names))
	}
	if d.Log == nil {
		d.Log = slog.Default()
	}
	if d.Day == nil {
		d.Day = answer.NoLines{}
	}
	s := &Server{Deps: d, echo: echo.New(), spec: loadSpec()}
	s.echo.HTTPErrorHandler = s.fail
	s.echo.Use(s.recoverPanic, s.withOperation, s.withPerson, s.withBody, s.withKey)
	s.registerProgramRoutes(s.echo)
	g := s.echo.Group("/api/v1")
	for _, register := range s.areas() {
		register(g)
	}
	for _, r := range s.echo.Routes() {
		if r.Method != echo.RouteNotFound && s.spec.operations[operationKey(r.Method, r.Path)] == nil {
			panic("rest: route " + r.Method + " " + r.Path + " is not in the contract")
		}
	}
	return s
}

// areas lists what each area registers; add a line for a new one.
func (s *Server) areas() []func(*echo.Group) {
	return []func(*echo.Group){
		s.registerAccessRoutes,
		s.registerCalcRoutes,
		s.registerSearchRoutes,
		s.registerHouseRoutes,
		s.registerDayRoutes,
		s.registerPhotoRoutes,
		s.registerSalesRoutes,
		s.registerTimberRoutes,
		s.registerBenchRoutes,
		s.registerApiaryRoutes,
		s.registerLineRoutes,
		s.registerMovementRoutes,
		s.registerRegisterRoutes,
		s.registerHandoverRoutes,
		s.registerWordingRoutes,
		s.registerAfterRoutes,
	}
}

// Paths are the prefixes under which the face answers, for the one that dispatches.
var Paths = []string{"/api/", "/healthz", "/version"}

// ServeHTTP answers one request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.echo.ServeHTTP(w, r) }

package rest

import (
	"time"

	"github.com/labstack/echo/v4"

	"kerfbook/internal/fault"
)

// registerSalesRoutes are the routes of the sales room, by area in the files sales_*.go.
func (s *Server) registerSalesRoutes(g *echo.Group) {
	s.registerPartyRoutes(g)
	s.registerEnquiryRoutes(g)
	s.registerPriceRoutes(g)
	s.registerQuoteRoutes(g)
	s.registerOrderRoutes(g)
	s.registerDeedRoutes(g)
	s.registerBooksRoutes(g)
	s.registerAheadRoutes(g)
	s.registerServiceRoutes(g)
	s.registerStandInRoutes(g)
	s.registerMailRoutes(g)
	s.registerCalendarRoutes(g)
	s.registerIllRoutes(g)
	s.registerBringInRoutes(g)
}

// val gives what an optional field holds, or nothing of its kind.
func val[T any](p *T) T {
	if p == nil {
		var none T
		return none
	}
	return *p
}

// dayIn reads a business date of a request; the contract has checked its form.
func dayIn(p *string, pointer string) (*time.Time, error) {
	if p == nil {
		return nil, nil
	}
	day, err := time.Parse(time.DateOnly, *p)
	if err != nil {
		return nil, fault.Bad(pointer, "This must be a date such as 2026-03-14.")
	}
	return &day, nil
}

// dayOut writes a business date; nil for none.
func dayOut(day *time.Time) *string {
	if day == nil {
		return nil
	}
	text := day.Format(time.DateOnly)
	return &text
}

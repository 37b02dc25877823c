package main

import (
	"log/slog"
	"net/http"
	"strings"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/door"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/idem"
	"kerfbook/internal/rest"
	"kerfbook/internal/sales"
	"kerfbook/internal/web"
	"kerfbook/internal/workshop"
)

// rooms are all parts above the database, built once.
type rooms struct {
	db       *postgres.DB
	access   *access.Room
	house    *house.Room
	answers  *idem.Keeper
	sales    *sales.Room
	workshop *workshop.Room
}

func newRooms(db *postgres.DB) *rooms {
	return &rooms{db: db, access: access.New(db, access.Options{}), house: house.New(db), answers: idem.New(db),
		sales: sales.New(db), workshop: workshop.New(db)}
}

// handler joins the two faces into one server.
func (r *rooms) handler(cfg Config, log *slog.Logger) (http.Handler, error) {
	api := rest.New(rest.Deps{DB: r.db, Access: r.access, House: r.house, Answers: r.answers, Log: log, Version: programVersion(),
		Sales: r.sales})
	pages, err := web.New(web.Deps{DB: r.db, Access: r.access, House: r.house, Answers: r.answers, Log: log,
		Sales: r.sales, Workshop: r.workshop, Finder: answer.NewFinder(r.db), DayBook: answer.NewDayBook(r.db)})
	if err != nil {
		return nil, err
	}
	both := http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		for _, prefix := range rest.Paths {
			if strings.HasPrefix(q.URL.Path, prefix) {
				api.ServeHTTP(w, q)
				return
			}
		}
		pages.ServeHTTP(w, q)
	})
	return door.Wrap(both, door.Options{Log: log, TrustProxy: cfg.TrustProxy}), nil
}

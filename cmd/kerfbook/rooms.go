package main

import (
	"log/slog"
	"net/http"
	"strings"

	"kerfbook/internal/access"
	"kerfbook/internal/answer"
	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/door"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/mail"
	"kerfbook/internal/postgres"
	"kerfbook/internal/postgres/idem"
	"kerfbook/internal/rest"
	"kerfbook/internal/sales"
	"kerfbook/internal/searches"
	"kerfbook/internal/timber"
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
	timber   *timber.Room
	workshop *workshop.Room
	apiary   *apiary.Room
	handover *handover.Room
	books    *books.Room
	answer   *answer.Room
	searches *searches.Room
}

func newRooms(db *postgres.DB) *rooms {
	r := &rooms{db: db, access: access.New(db, access.Options{}), house: house.New(db), answers: idem.New(db),
		sales: sales.New(db), timber: timber.New(db, timber.AirDry), workshop: workshop.New(db), apiary: apiary.New(db), handover: handover.New(db), books: books.New(db), searches: searches.New(db)}
	r.answer = answer.New(db, answer.Rooms{House: r.house, Sales: r.sales, Timber: r.timber, Workshop: r.workshop, Apiary: r.apiary, Handover: r.handover, Books: r.books, Searches: r.searches})
	return r
}

// handler joins the two faces into one server.
func (r *rooms) handler(cfg Config, log *slog.Logger) (http.Handler, error) {
	r.answer.Words = cfg.words(log)
	if cfg.SMTPURL != "" {
		smtp, err := mail.NewSMTP(cfg.SMTPURL, cfg.MailFrom)
		if err != nil {
			return nil, fault.New(fault.Invalid, "The mail server cannot be used: %s.", err)
		}
		r.answer.Mail = mail.New(r.db, smtp)
	}
	finder, dayBook := answer.NewFinder(r.db), answer.NewDayBook(r.db)
	api := rest.New(rest.Deps{DB: r.db, Access: r.access, House: r.house, Sales: r.sales, Timber: r.timber, Workshop: r.workshop, Apiary: r.apiary, Handover: r.handover, Books: r.books, Answer: r.answer, Searches: r.searches,
		Answers: r.answers, Log: log, Version: programVersion(), Finder: finder, DayBook: dayBook, Day: r.answer})
	pages, err := web.New(web.Deps{DB: r.db, Access: r.access, House: r.house, Sales: r.sales, Timber: r.timber, Workshop: r.workshop, Apiary: r.apiary, Handover: r.handover, Books: r.books, Answer: r.answer, Searches: r.searches,
		Answers: r.answers, Log: log,
		Finder: finder, DayBook: dayBook, Day: r.answer})
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

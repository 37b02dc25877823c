package answer

import (
	"context"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/books"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/mail"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/searches"
	"kerfbook/internal/show"
	"kerfbook/internal/timber"
	"kerfbook/internal/workshop"
)

// Rooms are the record rooms that answers and deeds join.
type Rooms struct {
	House    *house.Room
	Sales    *sales.Room
	Timber   *timber.Room
	Workshop *workshop.Room
	Apiary   *apiary.Room
	Handover *handover.Room
	Books    *books.Room
	Searches *searches.Room
	Mail     *mail.Room
	Words    *paper.Words // wording of papers; nil: the built-in one
}

// Room answers how much and when, and does what touches several rooms at once.
type Room struct {
	db *postgres.DB
	Rooms
	dried   dryMemo
	milled  millMemo
	sawn    patternMemo
	lined   buyersMemo
	livedOn livedMemo
}

// New makes the room on the record rooms given; a room that is nil is made anew on db.
func New(db *postgres.DB, rooms Rooms) *Room {
	r := &Room{db: db, Rooms: rooms}
	if r.House == nil {
		r.House = house.New(db)
	}
	if r.Sales == nil {
		r.Sales = sales.New(db)
	}
	if r.Timber == nil {
		r.Timber = timber.New(db, nil)
	}
	if r.Workshop == nil {
		r.Workshop = workshop.New(db)
	}
	if r.Apiary == nil {
		r.Apiary = apiary.New(db)
	}
	if r.Handover == nil {
		r.Handover = handover.New(db)
	}
	if r.Books == nil {
		r.Books = books.New(db)
	}
	if r.Searches == nil {
		r.Searches = searches.New(db)
	}
	if r.Mail == nil {
		r.Mail = mail.New(db, nil)
	}
	return r
}

// settings gives the workshop's settings and its business date.
func (r *Room) settings(ctx context.Context) (house.Settings, time.Time, error) {
	set, err := house.SettingsIn(ctx, r.db)
	return set, set.Today(r.db.Now()), err
}

// currency is how the workshop's amounts are written.
func currency(set house.Settings) show.Currency {
	return show.Currency{Code: set.Currency, MinorDigits: set.MinorDigits}
}

func ptr[T any](v T) *T { return &v }

// latest gives the later of two days; nil counts as none.
func latest(a, b *time.Time) *time.Time {
	if a == nil || (b != nil && b.After(*a)) {
		return b
	}
	return a
}

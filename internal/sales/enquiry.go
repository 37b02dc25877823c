package sales

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Wish is what a buyer wants, as asked of the answer. It is kept with the enquiry
// and with the alternative of a quote, so that the answer can be worked out anew.
type Wish struct {
	ModelID      int64   `json:"model_id,omitempty"`       // box model; 0: no box
	TimberID     int64   `json:"timber_id,omitempty"`      // timber species; 0: whatever is on the shelf or the workshop's usual
	OptionIDs    []int64 `json:"option_ids,omitempty"`     // mount, finish, further sections; an id twice is two of it
	Count        int     `json:"count,omitempty"`          // boxes, or colonies when no box is wanted; 0 reads as 1
	WithColony   bool    `json:"with_colony,omitempty"`    // a colony in each box
	BeeSpeciesID int64   `json:"bee_species_id,omitempty"` // which bees
	OwnBox       bool    `json:"own_box,omitempty"`        // the colony goes into a box that the buyer has
	Deliver      bool    `json:"deliver,omitempty"`        // brought to the site
	DeliverKM    float64 `json:"deliver_km,omitempty"`     // one way, km; 0 with Deliver: from the coordinates
}

// Pieces is how many are wanted, at least one.
func (w Wish) Pieces() int { return max(1, w.Count) }

// Enquiry is a buyer asking.
type Enquiry struct {
	ID            int64      `db:"id"`
	Version       int        `db:"version"`
	HappenedAt    time.Time  `db:"happened_at"`
	PartyID       *int64     `db:"party_id"`
	Name          string     `db:"name"`
	Number        string     `db:"number"`
	NumberNormal  string     `db:"number_normal"`
	Place         string     `db:"place"`
	Wanted        string     `db:"wanted"`
	FoundBy       string     `db:"found_by"`
	WishJSON      []byte     `db:"wish"`
	RingAgainOn   *time.Time `db:"ring_again_on"`
	ClosedAt      *time.Time `db:"closed_at"`
	ClosedBecause string     `db:"closed_because"`
}

// Wish is what was asked of the answer.
func (e Enquiry) Wish() Wish {
	var w Wish
	_ = json.Unmarshal(e.WishJSON, &w) // written by SetWish; an empty object reads as no wish
	return w
}

// SetWish keeps w with the enquiry.
func (e *Enquiry) SetWish(w Wish) { e.WishJSON = wishJSON(w) }

func wishJSON(w Wish) []byte {
	b, err := json.Marshal(w)
	if err != nil { // a Wish of finite numbers always encodes
		return []byte("{}")
	}
	return b
}

// Called is the name to show.
func (e Enquiry) Called() string {
	if e.Name != "" {
		return e.Name
	}
	return e.Number
}

const enquiryColumns = `id, version, happened_at, party_id, name, number, number_normal, place, wanted, found_by, wish, ring_again_on, closed_at, closed_because`

func (e *Enquiry) check(today time.Time, wasRing *time.Time) error {
	var l fault.List
	e.Name, e.Number = strings.TrimSpace(e.Name), strings.TrimSpace(e.Number)
	l.Check(e.PartyID != nil || e.Name != "" || e.Number != "", "/name", "Give a name or a phone number, so that you can ring back.")
	for p, v := range map[string]string{"/name": e.Name, "/number": e.Number, "/place": e.Place, "/found_by": e.FoundBy, "/closed_because": e.ClosedBecause} {
		checkWords(&l, p, v)
	}
	checkProse(&l, "/wanted", e.Wanted)
	if wasRing == nil || e.RingAgainOn == nil || !wasRing.Equal(*e.RingAgainOn) {
		notPast(&l, "/ring_again_on", e.RingAgainOn, today)
	}
	l.Check(e.HappenedAt.Before(today.AddDate(0, 0, 2)), "/happened_at", "A call cannot have come in the future.")
	return l.Err()
}

// EnquiryPut stores e: new when e.ID is 0, else a change of version e.Version.
func (r *Room) EnquiryPut(ctx context.Context, e Enquiry) (Enquiry, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		now := r.db.Now()
		if e.HappenedAt.IsZero() {
			e.HappenedAt = now
		}
		var wasRing *time.Time
		if e.ID != 0 {
			if err := tx.QueryRow(ctx, `SELECT ring_again_on FROM enquiry WHERE id = $1`, e.ID).Scan(&wasRing); err != nil {
				return err
			}
		}
		if err := e.check(set.Today(now), wasRing); err != nil {
			return err
		}
		e.NumberNormal = PhoneNormal(e.Number, set.Country)
		if len(e.WishJSON) == 0 {
			e.WishJSON = []byte("{}")
		}
		args := []any{e.HappenedAt, e.PartyID, e.Name, e.Number, e.NumberNormal, e.Place, e.Wanted, e.FoundBy, string(e.WishJSON), e.RingAgainOn, e.ClosedAt, e.ClosedBecause}
		if e.ID == 0 {
			return tx.QueryRow(ctx, `INSERT INTO enquiry (happened_at, party_id, name, number, number_normal, place, wanted, found_by, wish, ring_again_on, closed_at, closed_because)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9::jsonb, $10, $11, $12) RETURNING id, version`, args...).Scan(&e.ID, &e.Version)
		}
		err = tx.QueryRow(ctx, `UPDATE enquiry SET happened_at = $1, party_id = $2, name = $3, number = $4, number_normal = $5, place = $6, wanted = $7, found_by = $8, wish = $9::jsonb,
	ring_again_on = $10, closed_at = $11, closed_because = $12 WHERE id = $13 AND version = $14 RETURNING version`, append(args, e.ID, e.Version)...).Scan(&e.Version)
		return postgres.StaleOr(ctx, tx, err, "enquiry", e.ID)
	})
	return e, err
}

// EnquiryGet reads an enquiry.
func (r *Room) EnquiryGet(ctx context.Context, id int64) (Enquiry, error) {
	e, err := postgres.One[Enquiry](ctx, r.db, `SELECT `+enquiryColumns+` FROM enquiry WHERE id = $1`, id)
	return e, postgres.Translate(err)
}

// EnquiryClose ends an enquiry with a reason; it can be opened again by a change.
func (r *Room) EnquiryClose(ctx context.Context, id int64, because string) error {
	e, err := r.EnquiryGet(ctx, id)
	if err != nil {
		return err
	}
	now := r.db.Now()
	e.ClosedAt, e.ClosedBecause = &now, because
	_, err = r.EnquiryPut(ctx, e)
	return err
}

// EnquiryParty gives the party behind an enquiry, making one of its name and number
// when it has none yet.
func (r *Room) EnquiryParty(ctx context.Context, id int64) (Party, error) {
	var p Party
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		e, err := postgres.One[Enquiry](ctx, tx, `SELECT `+enquiryColumns+` FROM enquiry WHERE id = $1 FOR UPDATE`, id)
		if err != nil {
			return err
		}
		if e.PartyID != nil {
			p, err = partyIn(ctx, tx, *e.PartyID)
			return err
		}
		p = Party{Kind: "person", Name: e.Name, Town: e.Place, FoundBy: e.FoundBy}
		if e.Number != "" {
			p.Contacts = []Contact{{Kind: "phone", Value: e.Number}}
		}
		if p, err = r.PartyPut(ctx, p); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE enquiry SET party_id = $2 WHERE id = $1`, id, p.ID)
		return err
	})
	return p, err
}

// EnquiryFilter says which enquiries a list holds.
type EnquiryFilter struct {
	Find     string
	OpenOnly bool
	PartyID  int64 // 0: of anybody
	Limit    int
	After    string
}

// EnquiryList gives enquiries from the newest, and the cursor of the next page.
func (r *Room) EnquiryList(ctx context.Context, f EnquiryFilter) ([]Enquiry, string, error) {
	at, id, err := cursorTime(f.After)
	if err != nil {
		return nil, "", err
	}
	n := postgres.PageSize(f.Limit)
	var w conditions // enquiry_when, enquiry_open, enquiry_party, enquiry_find and enquiry_tail serve these
	w.and(`(happened_at, id) < (?, ?)`, at, id)
	if f.OpenOnly {
		w.and(`closed_at IS NULL`)
	}
	if f.PartyID != 0 {
		w.and(`party_id = ?`, f.PartyID)
	}
	if q := findQuery(f.Find); q != "" {
		if err := w.andWords(ctx, r.db, "enquiry", "id", "find", q); err != nil {
			return nil, "", err
		}
	}
	if d := findDigits(f.Find); d != "" {
		w.and(`reverse(number_normal) LIKE reverse(?) || '%'`, d)
	}
	list, err := postgres.List[Enquiry](ctx, r.db, `SELECT `+enquiryColumns+` FROM enquiry WHERE `+w.String()+fmt.Sprintf(` ORDER BY happened_at DESC, id DESC LIMIT %d`, n+1), w.args...)
	list, next := postgres.CutPage(list, n, func(v Enquiry) postgres.Mark { return timeMark(v.HappenedAt, v.ID) })
	return list, next, err
}

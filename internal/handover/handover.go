package handover

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Handover is a unit given to its buyer, with the evidence.
type Handover struct {
	ID            int64      `db:"id"`
	Version       int        `db:"version"`
	Number        string     `db:"number"`
	UnitID        int64      `db:"order_unit_id"`
	RunStopID     *int64     `db:"run_stop_id"`
	BoxID         *int64     `db:"box_id"`
	ColonyID      *int64     `db:"colony_id"`
	SiteID        *int64     `db:"site_id"`
	HappenedAt    time.Time  `db:"happened_at"`
	ReceivedBy    string     `db:"received_by"`
	BeesIn        *int       `db:"bees_in"`  // in a minute
	BeesOut       *int       `db:"bees_out"` // in a minute
	DocumentID    *int64     `db:"document_id"`
	CareKey       *string    `db:"care_key"`
	Note          string     `db:"note"`
	MassKG        *float64   `db:"mass_kg"`   // of the whole hive, weighed
	Guarantee     string     `db:"guarantee"` // its terms as printed
	BoxUntil      *time.Time `db:"guarantee_box_until"`
	ColonyUntil   *time.Time `db:"guarantee_colony_until"`
	UndoneAt      *time.Time `db:"undone_at"`
	UndoneBecause string     `db:"undone_because"`
}

const handoverColumns = `id, version, number, order_unit_id, run_stop_id, box_id, colony_id, site_id, happened_at, received_by, bees_in, bees_out, document_id, care_key, note, mass_kg::float8 AS mass_kg, guarantee, guarantee_box_until, guarantee_colony_until, undone_at, undone_because`

// Make notes a handover and puts its follow-ups on the days of the settings. pdf is the
// sheet that went with it; draw makes it from the numbered handover and may be nil.
func (r *Room) Make(ctx context.Context, h Handover, draw func(ctx context.Context, h Handover) ([]byte, error)) (Handover, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		now := r.db.Now()
		if h.HappenedAt.IsZero() {
			h.HappenedAt = now
		}
		if err := h.check(now); err != nil {
			return err
		}
		if err := h.guarantee(ctx, tx, set); err != nil {
			return err
		}
		if h.Number, err = house.Number(ctx, tx, "handover", "H"); err != nil {
			return err
		}
		key, err := careKey()
		if err != nil {
			return err
		}
		h.CareKey = &key
		if draw != nil {
			pdf, err := draw(ctx, h)
			if err != nil {
				return err
			}
			doc, err := house.PaperKeep(ctx, tx, "handover", h.Number, 1, now, pdf)
			if err != nil {
				return err
			}
			h.DocumentID = &doc
		}
		if err := tx.QueryRow(ctx, `INSERT INTO handover (number, order_unit_id, run_stop_id, box_id, colony_id, site_id, happened_at, received_by, bees_in, bees_out, document_id, care_key, note, mass_kg, guarantee, guarantee_box_until, guarantee_colony_until)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) RETURNING id, version`,
			h.Number, h.UnitID, h.RunStopID, h.BoxID, h.ColonyID, h.SiteID, h.HappenedAt, h.ReceivedBy, h.BeesIn, h.BeesOut, h.DocumentID, h.CareKey, h.Note, h.MassKG, h.Guarantee, h.BoxUntil, h.ColonyUntil).Scan(&h.ID, &h.Version); err != nil {
			return err
		}
		if h.ColonyID == nil && h.BoxID == nil {
			return nil // goods and services are not asked after
		}
		on := house.DateIn(h.HappenedAt, set.Location())
		_, err = tx.Exec(ctx, `INSERT INTO follow_up (handover_id, due_on) SELECT DISTINCT $1::bigint, $2::date + d FROM unnest($3::int[]) d WHERE d BETWEEN 1 AND 3650`, h.ID, on, followUpDays(set, h.ColonyID != nil))
		return err
	})
	return h, err
}

// guarantee notes the terms that are printed, and their last days.
func (h *Handover) guarantee(ctx context.Context, tx pgx.Tx, set house.Settings) error {
	after, err := house.AfterCareIn(ctx, tx)
	if err != nil {
		return err
	}
	on := house.DateIn(h.HappenedAt, set.Location())
	until := func(thing *int64, days int) *time.Time {
		if thing == nil || days == 0 {
			return nil
		}
		last := on.AddDate(0, 0, days)
		return &last
	}
	h.BoxUntil, h.ColonyUntil = until(h.BoxID, after.GuaranteeBoxDays), until(h.ColonyID, after.GuaranteeColonyDays)
	if h.BoxID != nil || h.ColonyID != nil {
		h.Guarantee = set.Guarantee
	}
	return nil
}

// followUpDays are the days of the settings; an empty box is asked after once.
func followUpDays(set house.Settings, bees bool) []int32 {
	if bees || len(set.FollowUpDays) == 0 {
		return set.FollowUpDays
	}
	return set.FollowUpDays[len(set.FollowUpDays)-1:]
}

func (h *Handover) check(now time.Time) error {
	var l fault.List
	h.ReceivedBy = strings.TrimSpace(h.ReceivedBy)
	l.Check(h.ReceivedBy != "", "/received_by", "Say who received it.")
	l.Text("/received_by", h.ReceivedBy, 200)
	l.Text("/note", h.Note, 20000)
	l.Check(!h.HappenedAt.After(now.Add(time.Hour)), "/happened_at", "A handover is noted when it is done, not before.")
	l.Check(h.MassKG == nil || *h.MassKG > 0 && *h.MassKG < 500, "/mass_kg", "A hive weighs between 0 and 500 kg.")
	for p, n := range map[string]*int{"/bees_in": h.BeesIn, "/bees_out": h.BeesOut} {
		l.Check(n == nil || (*n >= 0 && *n <= 1000), p, "Bees in a minute lie between 0 and 1000.")
	}
	return l.Err()
}

// careKey is 130 random bits in letters and digits that are easy to read out.
func careKey() (string, error) {
	b := make([]byte, 17)
	if _, err := rand.Read(b); err != nil {
		return "", err
	}
	return strings.ToLower(strings.TrimRight(base32.StdEncoding.EncodeToString(b), "=")), nil
}

// Get reads a handover.
func (r *Room) Get(ctx context.Context, id int64) (Handover, error) {
	return postgres.One[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE id = $1`, id)
}

// ByCareKey reads the handover behind a public care page.
func (r *Room) ByCareKey(ctx context.Context, key string) (Handover, error) {
	return postgres.One[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE care_key = $1 AND undone_at IS NULL`, key)
}

// OfUnit reads the handover of a unit that was not undone.
func (r *Room) OfUnit(ctx context.Context, unit int64) (Handover, error) {
	return postgres.One[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE order_unit_id = $1 AND undone_at IS NULL`, unit)
}

// List gives handovers from the newest, and the mark of the next page.
func (r *Room) List(ctx context.Context, limit int, after string) ([]Handover, string, error) {
	m, err := postgres.ReadMark(after)
	if err != nil {
		return nil, "", err
	}
	if after == "" {
		m.ID = 1 << 62
	}
	n := postgres.PageSize(limit)
	list, err := postgres.List[Handover](ctx, r.db, `SELECT `+handoverColumns+` FROM handover WHERE id < $1 ORDER BY id DESC LIMIT $2`, m.ID, n+1)
	list, next := postgres.CutPage(list, n, func(h Handover) postgres.Mark { return postgres.Mark{ID: h.ID} })
	return list, next, err
}

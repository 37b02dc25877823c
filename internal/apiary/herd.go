package apiary

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/waiting"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Standing is a colony of the workshop that is alive, not held back and promised to nobody.
type Standing struct {
	ID        int64
	Number    string
	SpeciesID int64
	Sure      bool // of its kind
	BoxID     *int64
	BoxSerial *string
	Since     time.Time // ready: settled on; settling: since when; kept: rested since
	Weeks     float64   // settling: how long it is expected to take from Since; 0: as usual
}

// Herd is what the workshop has of a kind of bee and nobody has claimed: colonies ready to
// be given, the longest settled first, those that settle, and those kept to be split.
type Herd struct {
	Day                   time.Time
	Ready, Settling, Kept []Standing
}

// Without gives the herd less the ready colonies in taken.
func (h Herd) Without(taken map[int64]bool) Herd {
	h.Ready = slices.DeleteFunc(slices.Clone(h.Ready), func(s Standing) bool { return taken[s.ID] })
	return h
}

// Reckoned is the herd as the reckoning of the line takes it.
func (h Herd) Reckoned() waiting.Herd {
	out := waiting.Herd{Today: h.Day, Ready: len(h.Ready)}
	for _, s := range h.Settling {
		out.Pending = append(out.Pending, waiting.Pending{From: s.Since, Expected: s.Weeks})
	}
	for _, s := range h.Kept {
		out.Mothers = append(out.Mothers, s.Since)
	}
	return out
}

type standingRow struct {
	ID           int64      `db:"id"`
	Number       string     `db:"number"`
	SpeciesID    int64      `db:"bee_species_id"`
	Sure         bool       `db:"sure"`
	BoxID        *int64     `db:"box_id"`
	BoxSerial    *string    `db:"serial"`
	BeganOn      *time.Time `db:"began_on"`
	SettledOn    *time.Time `db:"settled_on"`
	SettlesAbout *time.Time `db:"settles_about"`
	IsSplit      bool       `db:"is_split"`
	Kept         bool       `db:"kept"`
	LastSplitAt  *time.Time `db:"last_split_at"`
}

// herdMost bounds the colonies that are read of a kind.
const herdMost = 1000

// HerdsOf gives the herds on day of the kinds named, or of all kinds where none is. A colony that
// has been split before counts as kept to be split unless it was said otherwise; loc is the
// workshop's zone. The kind is chosen last: a planner that guesses few of a kind would join
// them one by one.
func (r *Room) HerdsOf(ctx context.Context, loc *time.Location, day time.Time, species ...int64) (map[int64]Herd, error) {
	rows, err := postgres.List[standingRow](ctx, r.db, `WITH ours AS MATERIALIZED (
	SELECT DISTINCT ON (c.id) c.id, c.number, h.box_id, c.began_on, c.settled_on, c.settles_about, c.kept_to_split, x.bee_species_id, x.sure
	FROM colony c JOIN colony_owner o ON o.colony_id = c.id AND o.to_at IS NULL AND o.party_id IS NULL LEFT JOIN housing h ON h.colony_id = c.id AND h.to_at IS NULL
		LEFT JOIN colony_species x ON x.colony_id = c.id
	WHERE c.ended_at IS NULL AND c.held_back_because = '' AND NOT EXISTS (SELECT FROM claim l WHERE l.colony_id = c.id AND l.ended_at IS NULL)
	ORDER BY c.id, x.found_on DESC, x.id DESC)
SELECT c.id, c.number, c.bee_species_id, c.sure, c.box_id, b.serial, c.began_on, c.settled_on, c.settles_about,
	EXISTS (SELECT FROM colony_parent p WHERE p.colony_id = c.id AND p.kind = 'split') AS is_split, coalesce(c.kept_to_split, EXISTS (SELECT FROM colony_parent p WHERE p.parent_id = c.id AND p.kind = 'split')) AS kept, s.last AS last_split_at
FROM ours c LEFT JOIN box b ON b.id = c.box_id LEFT JOIN LATERAL (
	SELECT greatest((SELECT max(e.happened_at) FROM colony_event e WHERE e.colony_id = c.id AND e.kind = 'split'),
		(SELECT max(p.happened_on) FROM colony_parent p WHERE p.parent_id = c.id AND p.kind = 'split')) AS last) s ON true
WHERE c.bee_species_id IS NOT NULL AND (cardinality($1::bigint[]) = 0 OR c.bee_species_id = ANY ($1)) ORDER BY c.settled_on NULLS LAST, c.id LIMIT $2`, append([]int64{}, species...), herdMost)
	if err != nil {
		return nil, err
	}
	out := map[int64]Herd{}
	for _, id := range species {
		out[id] = Herd{Day: day}
	}
	for _, row := range rows {
		h := out[row.SpeciesID]
		h.Day = day
		h.place(row, loc)
		out[row.SpeciesID] = h
	}
	return out, nil
}

// place puts a colony where it belongs in the herd.
func (h *Herd) place(row standingRow, loc *time.Location) {
	s := Standing{ID: row.ID, Number: row.Number, SpeciesID: row.SpeciesID, Sure: row.Sure, BoxID: row.BoxID, BoxSerial: row.BoxSerial}
	settled := row.SettledOn != nil && !row.SettledOn.After(h.Day)
	switch {
	case settled && row.Kept:
		s.Since = *row.SettledOn
		if row.LastSplitAt != nil {
			s.Since = house.DateIn(*row.LastSplitAt, loc)
		} else if row.BeganOn != nil {
			s.Since = *row.BeganOn
		}
		h.Kept = append(h.Kept, s)
	case settled:
		s.Since = *row.SettledOn
		h.Ready = append(h.Ready, s)
	case row.SettlesAbout != nil && row.BeganOn != nil && row.SettlesAbout.After(*row.BeganOn):
		s.Since = *row.BeganOn
		if !row.IsSplit { // it does not settle as a split does: what the maker expects holds
			s.Weeks = row.SettlesAbout.Sub(s.Since).Hours() / 24 / 7
		}
		h.Settling = append(h.Settling, s)
	case row.SettlesAbout != nil:
		s.Since, s.Weeks = row.SettlesAbout.AddDate(0, 0, -7*expectedWeeks), expectedWeeks
		h.Settling = append(h.Settling, s)
	case row.BeganOn != nil && row.IsSplit:
		s.Since = *row.BeganOn
		h.Settling = append(h.Settling, s)
	}
}

// expectedWeeks is how long before the day it is expected to settle a colony is taken to
// have begun, where the book does not say; our estimate.
const expectedWeeks = 10

// HerdOf gives the herd of one kind on day.
func (r *Room) HerdOf(ctx context.Context, species int64, loc *time.Location, day time.Time) (Herd, error) {
	all, err := r.HerdsOf(ctx, loc, day, species)
	return all[species], err
}

// KeepToSplit says whether a colony is kept to be split and not given away; nil leaves it
// to the log.
func (r *Room) KeepToSplit(ctx context.Context, colony int64, keep *bool) error {
	note := "Kept to be split, not to be given away."
	switch {
	case keep == nil:
		note = "Whether it is kept to be split is left to the log."
	case !*keep:
		note = "Not kept to be split; it may be given away."
	}
	return r.changeLiving(ctx, Event{ColonyID: colony, Kind: "note", Note: note}, func(ctx context.Context, tx pgx.Tx, _ Colony, _ Event) error {
		_, err := tx.Exec(ctx, `UPDATE colony SET kept_to_split = $2 WHERE id = $1`, colony, keep)
		return err
	})
}

// AskOutOfRange says, in words to be said kindly, that a kind does not live in a region by
// nature and whom to ask; "" where it does, or where either is not known.
func (s Species) AskOutOfRange(region string) string {
	if s.InRange(region) {
		return ""
	}
	return s.Name + " does not live in " + strings.TrimSpace(region) + " by nature. It may not do well there, and taking it there may need a permit or not be allowed: local rules come first. " +
		"Before anything is settled, ask the local authority or the bee inspector there, and a local club which kind belongs."
}

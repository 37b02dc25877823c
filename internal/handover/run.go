package handover

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
)

// Run is a day's deliveries and pick-ups.
type Run struct {
	ID            int64      `db:"id"`
	Version       int        `db:"version"`
	Number        string     `db:"number"`
	RunOn         time.Time  `db:"run_on"`
	Kind          string     `db:"kind"` // delivery, collection, visits
	Driver        string     `db:"driver"`
	KM            *float64   `db:"km"`
	ForecastC     *float64   `db:"forecast_c"`
	DoneAt        *time.Time `db:"done_at"`
	PutOffBecause string     `db:"put_off_because"`
	CancelledAt   *time.Time `db:"cancelled_at"`
	Notes         string     `db:"notes"`
	Loads         string     `db:"loads"` // dawn (entrances are closed the evening before), dusk (the same evening)
	Stops         []Stop     `db:"-"`
}

// Stop is one stop of a run.
type Stop struct {
	ID          int64      `db:"id"`
	Version     int        `db:"version"`
	RunID       int64      `db:"run_id"`
	Position    int        `db:"position"`
	Kind        string     `db:"kind"`         // call; close: entrances are closed after dusk where hives stand
	ClosedByID  *int64     `db:"closed_by_id"` // the stop at which its hive's entrance is closed
	ClosedBy    int        `db:"-"`            // the same by its position, when a run is made; 0: none
	PermitID    *int64     `db:"permit_id"`
	TreeName    string     `db:"tree_name"`
	UnitID      *int64     `db:"order_unit_id"`
	ColonyID    *int64     `db:"colony_id"`
	HostTreeID  *int64     `db:"host_tree_id"`
	SiteID      *int64     `db:"site_id"`
	What        string     `db:"what"`
	MassKG      *float64   `db:"mass_kg"`
	ClosedAt    *time.Time `db:"closed_at"` // entrance closed
	OpenedAt    *time.Time `db:"opened_at"` // entrance opened
	DoneAt      *time.Time `db:"done_at"`
	ToldAt      *time.Time `db:"told_at"`      // of the new day, since the run was put off last
	SeenOpenAt  *time.Time `db:"seen_open_at"` // asked the morning after
	PartyID     *int64     `db:"party_id"`
	PartyName   string     `db:"party_name"`
	PartyPhone  string     `db:"party_phone"`
	PartyEmail  string     `db:"party_email"`
	Address     string     `db:"address"`
	OrderID     *int64     `db:"order_id"`
	OrderNumber *string    `db:"order_number"`
}

const runSelect = `SELECT id, version, number, run_on, kind, driver, km::float8 AS km, forecast_c::float8 AS forecast_c, done_at, put_off_because, cancelled_at, notes, loads FROM run `

const stopSelect = `SELECT s.id, s.version, s.run_id, s.position, s.kind, s.closed_by_id, s.permit_id, coalesce(h.name::text, '') AS tree_name, s.order_unit_id, s.colony_id, s.host_tree_id, s.site_id, s.what, s.mass_kg::float8 AS mass_kg, s.closed_at, s.opened_at, s.done_at, s.told_at, s.seen_open_at,
	p.id AS party_id, coalesce(p.name::text, '') AS party_name, coalesce((SELECT c.value::text FROM contact c WHERE c.party_id = p.id AND c.kind = 'email' AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), '') AS party_email, coalesce((SELECT c.value::text FROM contact c WHERE c.party_id = p.id AND c.kind = 'phone' AND c.put_away_at IS NULL ORDER BY c.id LIMIT 1), '') AS party_phone,
	coalesce(concat_ws(', ', nullif(t.address::text, ''), nullif(t.town::text, ''), nullif(h.place::text, '')), '') AS address, o.id AS order_id, o.number AS order_number
FROM run_stop s LEFT JOIN order_unit u ON u.id = s.order_unit_id LEFT JOIN order_line l ON l.id = u.order_line_id LEFT JOIN sale_order o ON o.id = l.order_id
LEFT JOIN party p ON p.id = o.party_id LEFT JOIN host_tree h ON h.id = s.host_tree_id LEFT JOIN site t ON t.id = coalesce(s.site_id, u.site_id, o.site_id, h.site_id) `

// RunMake makes a run with its stops in the order given. Errors: Invalid for a day that
// is past or more than 200 stops.
func (r *Room) RunMake(ctx context.Context, n Run) (Run, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if n.Kind == "" {
			n.Kind = "delivery"
		}
		if n.Loads == "" {
			n.Loads = "dawn"
		}
		var l fault.List
		l.Check(n.Loads == "dawn" || n.Loads == "dusk", "/loads", "It is loaded at dawn or at dusk.")
		l.Check(n.Kind == "delivery" || n.Kind == "collection" || n.Kind == "visits", "/kind", "A run is a delivery, a collection or visits.")
		l.Check(!n.RunOn.IsZero() && !n.RunOn.Before(set.Today(r.db.Now())), "/run_on", "This day is past. Choose today or later.")
		l.Check(len(n.Stops) > 0, "/stops", "A run needs at least one stop.")
		l.Check(len(n.Stops) <= 200, "/stops", "A run holds at most 200 stops.")
		l.Text("/driver", n.Driver, 200)
		l.Text("/notes", n.Notes, 20000)
		if err := l.Err(); err != nil {
			return err
		}
		if n.Number, err = house.Number(ctx, tx, "run", "R"); err != nil {
			return err
		}
		if err := tx.QueryRow(ctx, `INSERT INTO run (number, run_on, kind, driver, km, forecast_c, notes, loads) VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id, version`,
			n.Number, n.RunOn, n.Kind, n.Driver, n.KM, n.ForecastC, n.Notes, n.Loads).Scan(&n.ID, &n.Version); err != nil {
			return err
		}
		ids := make([]int64, len(n.Stops))
		for i, s := range n.Stops {
			if s.Kind == "" {
				s.Kind = "call"
			}
			if s.ClosedBy > 0 && s.ClosedBy <= i {
				s.ClosedByID = &ids[s.ClosedBy-1]
			}
			if err := tx.QueryRow(ctx, `INSERT INTO run_stop (run_id, position, kind, closed_by_id, order_unit_id, colony_id, host_tree_id, site_id, permit_id, what, mass_kg) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) RETURNING id`,
				n.ID, i+1, s.Kind, s.ClosedByID, s.UnitID, s.ColonyID, s.HostTreeID, s.SiteID, s.PermitID, strings.TrimSpace(s.What), s.MassKG).Scan(&ids[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return Run{}, err
	}
	return r.RunGet(ctx, n.ID)
}

// RunGet reads a run with its stops.
func (r *Room) RunGet(ctx context.Context, id int64) (Run, error) {
	n, err := postgres.One[Run](ctx, r.db, runSelect+`WHERE id = $1`, id)
	if err != nil {
		return n, err
	}
	n.Stops, err = postgres.List[Stop](ctx, r.db, stopSelect+`WHERE s.run_id = $1 ORDER BY s.position`, id)
	return n, err
}

// RunList gives runs without stops: from day on in their order, or before it from the
// newest when past is set; at most limit (see [postgres.PageSize]).
func (r *Room) RunList(ctx context.Context, day time.Time, past bool, limit int) ([]Run, error) {
	if past {
		return postgres.List[Run](ctx, r.db, runSelect+`WHERE run_on < $1 ORDER BY run_on DESC, id DESC LIMIT $2`, day, postgres.PageSize(limit))
	}
	return postgres.List[Run](ctx, r.db, runSelect+`WHERE run_on >= $1 AND cancelled_at IS NULL ORDER BY run_on, id LIMIT $2`, day, postgres.PageSize(limit))
}

// stopMarks are the marks of a stop. A buyer with several stops on the run is told once,
// and bees seen at an open entrance are not closed in any more.
var stopMarks = map[string]string{
	"closed": `UPDATE run_stop SET closed_at = $2 WHERE id = $1 RETURNING run_id`,
	"opened": `UPDATE run_stop SET opened_at = $2 WHERE id = $1 RETURNING run_id`,
	"done":   `UPDATE run_stop SET done_at = $2 WHERE id = $1 RETURNING run_id`,
	"open":   `UPDATE run_stop SET seen_open_at = $2, opened_at = CASE WHEN closed_at IS NULL THEN opened_at ELSE coalesce(opened_at, $2) END WHERE id = $1 RETURNING run_id`,
	"told": `WITH buyer AS (SELECT s.id, s.run_id, o.party_id FROM run_stop s LEFT JOIN order_unit u ON u.id = s.order_unit_id LEFT JOIN order_line l ON l.id = u.order_line_id LEFT JOIN sale_order o ON o.id = l.order_id)
UPDATE run_stop x SET told_at = $2 FROM buyer one, buyer same WHERE one.id = $1 AND same.run_id = one.run_id AND (same.id = one.id OR same.party_id = one.party_id) AND x.id = same.id RETURNING x.run_id`,
}

// StopMark notes what happened at a stop at an instant: closed, opened, done, told (of the
// new day of a run that was put off) or open (seen open the morning after).
func (r *Room) StopMark(ctx context.Context, stop int64, what string, at time.Time) error {
	change, ok := stopMarks[what]
	if !ok {
		return fault.Bad("/what", "A stop is closed, opened, done, told or open.")
	}
	if at.IsZero() {
		at = r.db.Now()
	}
	if at.After(r.db.Now().Add(time.Hour)) {
		return fault.Bad("/happened_at", "This is noted when it is done, not before.")
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		closing, err := postgres.Value[bool](ctx, tx, `SELECT kind = 'close' FROM run_stop WHERE id = $1 FOR UPDATE`, stop)
		if err != nil {
			return err
		}
		if closing {
			if change, err = closeThere(ctx, tx, stop, what, at); err != nil {
				return err
			}
		}
		var run int64
		if err := tx.QueryRow(ctx, change, stop, at).Scan(&run); err != nil {
			return err
		}
		if what == "closed" {
			if err := closingDone(ctx, tx, stop, at); err != nil {
				return err
			}
		}
		_, err = tx.Exec(ctx, `UPDATE run SET done_at = $2 WHERE id = $1 AND done_at IS NULL AND NOT EXISTS (SELECT 1 FROM run_stop WHERE run_id = $1 AND done_at IS NULL)`, run, at)
		return err
	})
}

// RunPutOff moves a run with all its stops to another day, with the reason; what is put
// aside for it stays put aside, and every buyer is to be told. Errors: Invalid for a day
// that is past, the day it is on, or no reason; Conflict for a run that is done or off
// the list; Stale.
func (r *Room) RunPutOff(ctx context.Context, id int64, version int, to time.Time, because string) error {
	because = strings.TrimSpace(because)
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		set, err := house.SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		n, err := r.RunGet(ctx, id)
		if err != nil {
			return err
		}
		if n.DoneAt != nil || n.CancelledAt != nil {
			return fault.New(fault.Conflict, "Run %s is done or off the list; it cannot be put off.", n.Number)
		}
		var l fault.List
		l.Check(!to.Before(set.Today(r.db.Now())), "/run_on", "This day is past. Choose today or later.")
		l.Check(!to.Equal(n.RunOn) || n.Version != version, "/run_on", "The run is on this day already. Choose another.")
		l.Check(because != "", "/because", "Say why; the buyers are told.")
		l.Text("/because", because, 200)
		if err := l.Err(); err != nil {
			return err
		}
		var got int64
		err = tx.QueryRow(ctx, `UPDATE run SET run_on = $3, put_off_because = $4 WHERE id = $1 AND version = $2 RETURNING id`, id, version, to, because).Scan(&got)
		if err := postgres.StaleOr(ctx, tx, err, "run", id); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE run_stop SET told_at = NULL WHERE run_id = $1 AND told_at IS NOT NULL`, id)
		return err
	})
}

// StopOf gives the stop of a unit on a run that is not driven yet; nil when it is on none.
func (r *Room) StopOf(ctx context.Context, unit int64) (*int64, error) {
	return postgres.Value[*int64](ctx, r.db, `SELECT (SELECT s.id FROM run_stop s JOIN run n ON n.id = s.run_id WHERE s.order_unit_id = $1 AND s.done_at IS NULL AND n.cancelled_at IS NULL ORDER BY n.run_on, s.id LIMIT 1)`, unit)
}

// RunForecast notes what heat is forecast for the day of a run, degrees Celsius; nil when
// it is not known. Errors: Invalid below -60 or above 60; Stale.
func (r *Room) RunForecast(ctx context.Context, id int64, version int, c *float64) error {
	if c != nil && (*c < -60 || *c > 60) {
		return fault.Bad("/forecast_c", "A forecast lies between -60 and 60 °C.")
	}
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var got int64
		err := tx.QueryRow(ctx, `UPDATE run SET forecast_c = $3 WHERE id = $1 AND version = $2 RETURNING id`, id, version, c).Scan(&got)
		return postgres.StaleOr(ctx, tx, err, "run", id)
	})
}

// RunCancel takes a run off the list.
func (r *Room) RunCancel(ctx context.Context, id int64, version int) error {
	return r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		var got int64
		err := tx.QueryRow(ctx, `UPDATE run SET cancelled_at = $3 WHERE id = $1 AND version = $2 AND done_at IS NULL RETURNING id`, id, version, r.db.Now()).Scan(&got)
		return postgres.StaleOr(ctx, tx, err, "run", id)
	})
}

// StillClosed gives the stops whose entrance was closed and not opened again.
func (r *Room) StillClosed(ctx context.Context) ([]Stop, error) {
	return postgres.List[Stop](ctx, r.db, stopSelect+`WHERE s.closed_at IS NOT NULL AND s.opened_at IS NULL ORDER BY s.closed_at LIMIT 200`)
}

// StopLock reads a stop and its run, and holds the stop until tx ends.
func (r *Room) StopLock(ctx context.Context, tx pgx.Tx, stop int64) (Run, Stop, error) {
	run, err := postgres.Value[int64](ctx, tx, `SELECT run_id FROM run_stop WHERE id = $1 FOR UPDATE`, stop)
	if err != nil {
		return Run{}, Stop{}, err
	}
	n, err := r.RunGet(ctx, run)
	for _, s := range n.Stops {
		if s.ID == stop {
			return n, s, err
		}
	}
	return n, Stop{}, err
}

// RunOfStop gives the run of a stop.
func (r *Room) RunOfStop(ctx context.Context, stop int64) (int64, error) {
	return postgres.Value[int64](ctx, r.db, `SELECT run_id FROM run_stop WHERE id = $1`, stop)
}

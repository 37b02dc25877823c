package workshop

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
)

// mostTogether is how many builds may be cut together.
const mostTogether = 20

// Cutting is one or several builds whose boards are cut together.
type Cutting struct {
	ID         int64
	Version    int
	LaidAt     time.Time
	AcceptedAt *time.Time
	EndedAt    *time.Time
	Choices    Choices
	Builds     []Build       // still in it
	Plans      []CuttingPlan // in force
	Lots       map[int64]timber.Lot
	Totals     Totals     // of what is not cut yet
	Laid       Totals     // of the plan as it was laid, what was cut since with it
	Best       *Totals    // of the best plan without the maker's choices; nil where he chose nothing
	Cut        []BoardCut // what is cut already, the first first
}

// BoardCut is boards that were really cut.
type BoardCut struct {
	ID      int64     `db:"id"`
	BuildID int64     `db:"build_id"`
	LotID   int64     `db:"lot_id"`
	Words   string    `db:"words"` // the board
	Boards  int       `db:"boards"`
	CutAt   time.Time `db:"cut_at"`
	Parts   []string  `db:"parts"` // "4 x brood-side"
}

type cuttingRow struct {
	ID         int64      `db:"id"`
	Version    int        `db:"version"`
	LaidAt     time.Time  `db:"laid_at"`
	AcceptedAt *time.Time `db:"accepted_at"`
	EndedAt    *time.Time `db:"ended_at"`
	Pinned     []byte     `db:"pinned"`
	LeftOut    []byte     `db:"left_out"`
	Best       []byte     `db:"best"`
	choices    Choices
}

func cuttingRowIn(ctx context.Context, q postgres.Querier, id int64) (cuttingRow, error) {
	c, err := postgres.One[cuttingRow](ctx, q, `SELECT id, version, laid_at, accepted_at, ended_at, pinned, left_out, best FROM cutting WHERE id = $1`, id)
	if err != nil {
		return c, err
	}
	if err := json.Unmarshal(c.Pinned, &c.choices.Pinned); err != nil {
		return c, fmt.Errorf("read cutting %d: %w", id, err)
	}
	if err := json.Unmarshal(c.LeftOut, &c.choices.LeftOut); err != nil {
		return c, fmt.Errorf("read cutting %d: %w", id, err)
	}
	return c, nil
}

// membersIn gives the builds that are in a cutting, by id.
func membersIn(ctx context.Context, q postgres.Querier, id int64) ([]int64, error) {
	return postgres.Column[int64](ctx, q, `SELECT build_id FROM cutting_build WHERE cutting_id = $1 AND left_at IS NULL ORDER BY build_id`, id)
}

// cuttingIDOf gives the cutting that a build is in, else the one that it was in last; 0
// for none.
func cuttingIDOf(ctx context.Context, q postgres.Querier, build int64) (int64, error) {
	ids, err := postgres.Column[int64](ctx, q, `SELECT cutting_id FROM cutting_build WHERE build_id = $1 ORDER BY left_at DESC NULLS FIRST, id DESC LIMIT 1`, build)
	if err != nil || len(ids) == 0 {
		return 0, err
	}
	return ids[0], nil
}

// lockTogether locks builds and all that are cut together with them, by rising id.
func lockTogether(ctx context.Context, tx pgx.Tx, builds []int64) error {
	_, err := tx.Exec(ctx, `SELECT id FROM build WHERE id = ANY ($1) OR id IN (SELECT o.build_id FROM cutting_build m JOIN cutting_build o ON o.cutting_id = m.cutting_id AND o.left_at IS NULL
		WHERE m.build_id = ANY ($1) AND m.left_at IS NULL) ORDER BY id FOR NO KEY UPDATE`, builds)
	return postgres.Translate(err)
}

// cuttingOf brings builds that are locked into one cutting of their own, leaving others,
// and lays it; cuttings that they leave behind are laid anew too.
func (r *Room) cuttingOf(ctx context.Context, tx pgx.Tx, builds []int64, limitMS int) (int64, error) {
	now := r.db.Now()
	left, err := postgres.Column[int64](ctx, tx, `WITH gone AS (UPDATE cutting_build SET left_at = $2 WHERE build_id = ANY ($1) AND left_at IS NULL RETURNING cutting_id)
		SELECT DISTINCT cutting_id FROM gone ORDER BY cutting_id`, builds, now)
	if err != nil {
		return 0, err
	}
	id, err := postgres.Value[int64](ctx, tx, `INSERT INTO cutting (laid_at) VALUES ($1) RETURNING id`, now)
	if err != nil {
		return 0, err
	}
	if _, err := tx.Exec(ctx, `INSERT INTO cutting_build (cutting_id, build_id) SELECT $1, unnest($2::bigint[])`, id, builds); err != nil {
		return 0, postgres.Translate(err)
	}
	if err := r.layCutting(ctx, tx, id, limitMS); err != nil {
		return 0, err
	}
	for _, old := range left {
		if err := r.afterLeaving(ctx, tx, old, true, limitMS); err != nil {
			return 0, err
		}
	}
	return id, nil
}

// afterLeaving ends a cutting that nobody is in any more, or lays the rest of it anew.
func (r *Room) afterLeaving(ctx context.Context, tx pgx.Tx, id int64, relay bool, limitMS int) error {
	rest, err := membersIn(ctx, tx, id)
	switch {
	case err != nil:
		return err
	case len(rest) == 0:
		_, err := tx.Exec(ctx, `UPDATE cutting SET ended_at = $2 WHERE id = $1`, id, r.db.Now())
		return postgres.Translate(err)
	case !relay:
		return nil
	}
	return r.layCutting(ctx, tx, id, limitMS)
}

// leaveCutting takes a build that has ended out of its cutting; relay lays the rest anew,
// for boards they shared are gone.
func (r *Room) leaveCutting(ctx context.Context, tx pgx.Tx, build int64, relay bool) error {
	ids, err := postgres.Column[int64](ctx, tx, `UPDATE cutting_build SET left_at = $2 WHERE build_id = $1 AND left_at IS NULL RETURNING cutting_id`, build, r.db.Now())
	if err != nil {
		return err
	}
	for _, id := range ids {
		rest, err := membersIn(ctx, tx, id)
		if err != nil {
			return err
		}
		if relay && len(rest) > 0 { // what others were to have of its boards is planned anew
			if _, err := tx.Exec(ctx, `UPDATE cutting_plan SET replaced_at = $2 WHERE build_id = $1 AND replaced_at IS NULL`, build, r.db.Now()); err != nil {
				return postgres.Translate(err)
			}
		}
		if err := r.afterLeaving(ctx, tx, id, relay, firstPlanMS); err != nil {
			return err
		}
	}
	return nil
}

// CuttingTogether plans open builds together: one plan for each timber, board size and
// grade, so that one board may serve several. Errors: Invalid, NotFound, Conflict.
func (r *Room) CuttingTogether(ctx context.Context, builds []int64) (Cutting, error) {
	var l fault.List
	l.Check(len(builds) >= 1 && len(builds) <= mostTogether, "/builds", "Choose 1 to %d builds.", mostTogether)
	seen := map[int64]bool{}
	for i, b := range builds {
		l.Check(!seen[b], fmt.Sprintf("/builds/%d", i), "This build stands there twice.")
		seen[b] = true
	}
	if err := l.Err(); err != nil {
		return Cutting{}, err
	}
	builds = slices.Sorted(slices.Values(builds))
	var id int64
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := lockTogether(ctx, tx, builds); err != nil {
			return err
		}
		for _, b := range builds {
			if _, err := buildLock(ctx, tx, b, r.db.Now()); err != nil {
				return err
			}
		}
		var err error
		id, err = r.cuttingOf(ctx, tx, builds, relayMS)
		return err
	})
	if err != nil {
		return Cutting{}, err
	}
	return r.CuttingGet(ctx, id)
}

// CuttingGet reads a cutting whole.
func (r *Room) CuttingGet(ctx context.Context, id int64) (Cutting, error) {
	row, err := cuttingRowIn(ctx, r.db, id)
	if err != nil {
		return Cutting{}, err
	}
	c := Cutting{ID: id, Version: row.Version, LaidAt: row.LaidAt, AcceptedAt: row.AcceptedAt, EndedAt: row.EndedAt, Choices: row.choices, Lots: map[int64]timber.Lot{}}
	if row.Best != nil {
		c.Best = &Totals{}
		if err := json.Unmarshal(row.Best, c.Best); err != nil {
			return c, fmt.Errorf("read cutting %d: %w", id, err)
		}
	}
	members, err := membersIn(ctx, r.db, id)
	if err != nil {
		return c, err
	}
	if c.Plans, err = plansOfCutting(ctx, r.db, id); err != nil {
		return c, err
	}
	for _, p := range c.Plans { // a build that is done still owns boards that others share
		if !slices.Contains(members, p.BuildID) {
			members = append(members, p.BuildID)
		}
	}
	for _, b := range members {
		one, err := r.BuildGet(ctx, b)
		if err != nil {
			return c, err
		}
		c.Builds = append(c.Builds, one)
	}
	if c.Cut, err = postgres.List[BoardCut](ctx, r.db, `SELECT x.id, x.build_id, x.lot_id, s.name || ' ' || trim_scale(z.width_mm) || ' x ' || trim_scale(z.thickness_mm) || ', ' || l.length_mm || ' mm' AS words,
		x.boards, x.cut_at, ARRAY(SELECT p.count || ' x ' || p.part FROM cut_part p WHERE p.board_cut_id = x.id ORDER BY p.id) AS parts
		FROM board_cut x JOIN board_lot l ON l.id = x.lot_id JOIN timber_species s ON s.id = l.species_id JOIN board_size z ON z.id = l.board_size_id
		WHERE x.build_id = ANY ($1) ORDER BY x.id`, members); err != nil {
		return c, err
	}
	return c, r.cuttingTotals(ctx, &c)
}

func (r *Room) cuttingTotals(ctx context.Context, c *Cutting) error {
	s := solving{lots: map[int64]timber.FreeLot{}}
	ids := append([]int64{}, c.Choices.Pinned...)
	for _, o := range c.Choices.LeftOut {
		ids = append(ids, o.LotID)
	}
	for _, p := range c.Plans {
		for _, b := range p.Asked.Boards { // all that were to choose from
			if id, err := strconv.ParseInt(b.ID, 10, 64); err == nil {
				ids = append(ids, id)
			}
		}
		for i := range p.Answered.Layouts {
			id, err := p.Lot(i)
			if err != nil {
				return err
			}
			ids = append(ids, id)
		}
	}
	lots, err := timber.LotsByID(ctx, r.db, ids)
	if err != nil {
		return err
	}
	for _, l := range lots {
		c.Lots[l.ID] = l
		s.lots[l.ID] = timber.FreeLot{LotID: l.ID, LengthMM: l.LengthMM, MetreCostMinor: l.MetreCostMinor}
	}
	if c.Totals, err = s.totals(c.Plans); err != nil {
		return err
	}
	whole := slices.Clone(c.Plans)
	for i := range whole {
		whole[i].Cut = nil
	}
	c.Laid, err = s.totals(whole)
	return err
}

// lockCutting locks an open cutting with its builds.
func (r *Room) lockCutting(ctx context.Context, tx pgx.Tx, id int64) (cuttingRow, error) {
	members, err := membersIn(ctx, tx, id)
	if err != nil {
		return cuttingRow{}, err
	}
	if err := lockTogether(ctx, tx, members); err != nil {
		return cuttingRow{}, err
	}
	c, err := cuttingRowIn(ctx, tx, id)
	if err == nil && c.EndedAt != nil {
		return c, fault.New(fault.Conflict, "This cutting is done: its builds are finished, cancelled or cut with others.")
	}
	return c, err
}

// CuttingChoose lays a cutting anew with the maker's choices in place of earlier ones; its
// boards are meant until it is accepted. Errors: Invalid for lots that are not there,
// NotFound, Conflict.
func (r *Room) CuttingChoose(ctx context.Context, id int64, ch Choices) (Cutting, error) {
	return r.changeCutting(ctx, id, func(ctx context.Context, tx pgx.Tx, c cuttingRow) error {
		if err := ch.check(ctx, tx); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, `UPDATE cutting SET pinned = $2, left_out = $3, accepted_at = NULL WHERE id = $1`, id, rawJSON(append([]int64{}, ch.Pinned...)), rawJSON(append([]LotLeftOut{}, ch.LeftOut...))); err != nil {
			return postgres.Translate(err)
		}
		return r.layCutting(ctx, tx, id, relayMS)
	})
}

// mostChoices bounds the lots that one cutting pins or leaves out.
const mostChoices = 200

func (c Choices) check(ctx context.Context, q postgres.Querier) error {
	var l fault.List
	l.Check(len(c.Pinned) <= mostChoices, "/pinned", "At most %d lots.", mostChoices)
	l.Check(len(c.LeftOut) <= mostChoices, "/left_out", "At most %d lots.", mostChoices)
	if err := l.Err(); err != nil {
		return err
	}
	ids := append([]int64{}, c.Pinned...)
	for _, o := range c.LeftOut {
		ids = append(ids, o.LotID)
	}
	known, err := postgres.Column[int64](ctx, q, `SELECT id FROM board_lot WHERE id = ANY ($1) ORDER BY id`, ids)
	if err != nil {
		return err
	}
	for i, id := range c.Pinned {
		l.Check(slices.Contains(known, id), fmt.Sprintf("/pinned/%d", i), "There is no such lot on the rack.")
	}
	for i, o := range c.LeftOut {
		l.Check(slices.Contains(known, o.LotID), fmt.Sprintf("/left_out/%d/lot_id", i), "There is no such lot on the rack.")
		l.Check(o.Count >= 0 && o.Count <= 100_000, fmt.Sprintf("/left_out/%d/count", i), "The count must lie between 0 (all of the lot) and 100000.")
		l.Check(o.Count > 0 || !slices.Contains(c.Pinned, o.LotID), fmt.Sprintf("/left_out/%d/lot_id", i), "This lot is to be used and left out at once. Choose one of the two.")
	}
	return l.Err()
}

// changeCutting runs body with a cutting locked, and gives the cutting afterwards.
func (r *Room) changeCutting(ctx context.Context, id int64, body func(context.Context, pgx.Tx, cuttingRow) error) (Cutting, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		c, err := r.lockCutting(ctx, tx, id)
		if err != nil {
			return err
		}
		return body(ctx, tx, c)
	})
	if err != nil {
		return Cutting{}, err
	}
	return r.CuttingGet(ctx, id)
}

// CuttingPutAside puts the boards of a cutting's plans aside, for each build its own.
// Errors: NotFound; Conflict when there is no plan, when it is accepted already, or when
// a fact or another build has taken what was meant.
func (r *Room) CuttingPutAside(ctx context.Context, id int64) (Cutting, error) {
	return r.changeCutting(ctx, id, func(ctx context.Context, tx pgx.Tx, c cuttingRow) error { return r.putAside(ctx, tx, c) })
}

func (r *Room) putAside(ctx context.Context, tx pgx.Tx, c cuttingRow) error {
	plans, err := plansOfCutting(ctx, tx, c.ID)
	if err != nil {
		return err
	}
	if err := acceptable(plans, c.AcceptedAt); err != nil {
		return err
	}
	members, err := membersIn(ctx, tx, c.ID)
	if err != nil {
		return err
	}
	var builds []Build
	for _, id := range members {
		b, err := buildIn(ctx, tx, id, r.db.Now())
		if err != nil {
			return err
		}
		builds = append(builds, b)
	}
	if err := r.claimTimber(ctx, tx, builds, plans, claims.PutAside); err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `UPDATE cutting SET accepted_at = $2 WHERE id = $1`, c.ID, r.db.Now()); err != nil {
		return postgres.Translate(err)
	}
	_, err = tx.Exec(ctx, `UPDATE cutting_plan SET accepted_at = $2 WHERE cutting_id = $1 AND replaced_at IS NULL`, c.ID, r.db.Now())
	return postgres.Translate(err)
}

// CuttingLay lays the cutting plans of an open build anew from what is free now, with
// those that are cut together with it; boards that are meant or put aside for them count
// as free. The boards of the new plans are meant, until [Room.CuttingAccept]. Errors:
// NotFound, Conflict.
func (r *Room) CuttingLay(ctx context.Context, buildID int64) (Build, error) {
	return r.ofBuild(ctx, buildID, func(ctx context.Context, tx pgx.Tx, c cuttingRow) error {
		if _, err := tx.Exec(ctx, `UPDATE cutting SET accepted_at = NULL WHERE id = $1`, c.ID); err != nil {
			return postgres.Translate(err)
		}
		return r.layCutting(ctx, tx, c.ID, relayMS)
	})
}

// CuttingAccept is [Room.CuttingPutAside] for the cutting that a build is in.
func (r *Room) CuttingAccept(ctx context.Context, buildID int64) (Build, error) {
	return r.ofBuild(ctx, buildID, func(ctx context.Context, tx pgx.Tx, c cuttingRow) error { return r.putAside(ctx, tx, c) })
}

// ofBuild runs body with the cutting of an open build, all locked.
func (r *Room) ofBuild(ctx context.Context, buildID int64, body func(context.Context, pgx.Tx, cuttingRow) error) (Build, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := lockTogether(ctx, tx, []int64{buildID}); err != nil {
			return err
		}
		if _, err := buildLock(ctx, tx, buildID, r.db.Now()); err != nil {
			return err
		}
		id, err := cuttingIDOf(ctx, tx, buildID)
		if err != nil {
			return err
		}
		c, err := cuttingRowIn(ctx, tx, id)
		if err != nil {
			return err
		}
		return body(ctx, tx, c)
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, buildID)
}

// modelOf is the model of a build with its options.
func modelOf(ctx context.Context, q postgres.Querier, b Build) (hive.Model, error) {
	rev, err := revisionIn(ctx, q, b.RevisionID)
	if err != nil {
		return hive.Model{}, err
	}
	options, err := OptionsByID(ctx, q, b.OptionIDs)
	if err != nil {
		return hive.Model{}, err
	}
	return Compose(rev, options)
}

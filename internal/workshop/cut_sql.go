package workshop

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/house"
	"kerfbook/internal/postgres"
	"kerfbook/internal/timber"
)

// How long a cutting plan may be sought: short inside an order's transaction, longer when
// the maker lays it anew.
const (
	firstPlanMS = 150
	relayMS     = 1000
)

type planRow struct {
	ID          int64           `db:"id"`
	CuttingID   int64           `db:"cutting_id"`
	BuildID     int64           `db:"build_id"`
	SizeID      int64           `db:"board_size_id"`
	WidthMM     decimal.Decimal `db:"width_mm"`
	ThicknessMM decimal.Decimal `db:"thickness_mm"`
	Grade       string          `db:"grade"`
	Asked       []byte          `db:"asked"`
	Answered    []byte          `db:"answered"`
	LaidAt      time.Time       `db:"laid_at"`
	AcceptedAt  *time.Time      `db:"accepted_at"`
}

const selectPlan = `SELECT p.id, coalesce(p.cutting_id, 0) AS cutting_id, p.build_id, p.board_size_id, trim_scale(z.width_mm) AS width_mm, trim_scale(z.thickness_mm) AS thickness_mm,
	p.grade, p.asked, p.answered, p.laid_at, p.accepted_at FROM cutting_plan p JOIN board_size z ON z.id = p.board_size_id `

// plansIn reads the cutting plans of a build that are in force, one a board size and grade.
func plansIn(ctx context.Context, q postgres.Querier, buildID int64) ([]CuttingPlan, error) {
	return readPlans(ctx, q, `WHERE p.build_id = $1 AND p.replaced_at IS NULL ORDER BY p.id`, buildID)
}

// plansOfCutting reads the plans in force of all builds of a cutting.
func plansOfCutting(ctx context.Context, q postgres.Querier, cuttingID int64) ([]CuttingPlan, error) {
	return readPlans(ctx, q, `WHERE p.cutting_id = $1 AND p.replaced_at IS NULL ORDER BY p.id`, cuttingID)
}

func readPlans(ctx context.Context, q postgres.Querier, where string, id int64) ([]CuttingPlan, error) {
	rows, err := postgres.List[planRow](ctx, q, selectPlan+where, id)
	if err != nil {
		return nil, err
	}
	list, ids := make([]CuttingPlan, len(rows)), make([]int64, len(rows))
	for i, r := range rows {
		list[i] = CuttingPlan{ID: r.ID, CuttingID: r.CuttingID, BuildID: r.BuildID, SizeID: r.SizeID, WidthMM: r.WidthMM, ThicknessMM: r.ThicknessMM, Grade: r.Grade, LaidAt: r.LaidAt, AcceptedAt: r.AcceptedAt}
		ids[i] = r.ID
		if err := json.Unmarshal(r.Asked, &list[i].Asked); err != nil {
			return nil, fmt.Errorf("read cutting plan %d: %w", r.ID, err)
		}
		if err := json.Unmarshal(r.Answered, &list[i].Answered); err != nil {
			return nil, fmt.Errorf("read cutting plan %d: %w", r.ID, err)
		}
		list[i].Cut = make([]int, len(list[i].Answered.Layouts))
	}
	type cutRow struct {
		PlanID int64 `db:"plan_id"`
		Layout int   `db:"layout"`
		Boards int   `db:"boards"`
	}
	done, err := postgres.List[cutRow](ctx, q, `SELECT plan_id, layout, sum(boards)::int AS boards FROM board_cut WHERE plan_id = ANY ($1) GROUP BY plan_id, layout ORDER BY plan_id, layout`, ids)
	for _, d := range done {
		if p := &list[slices.Index(ids, d.PlanID)]; d.Layout < len(p.Cut) {
			p.Cut[d.Layout] = d.Boards
		}
	}
	return list, err
}

// partsCut gives how many of each part of builds are cut already.
func partsCut(ctx context.Context, q postgres.Querier, builds []int64) (map[int64]map[string]int, error) {
	type row struct {
		BuildID int64  `db:"build_id"`
		Part    string `db:"part"`
		Count   int    `db:"count"`
	}
	list, err := postgres.List[row](ctx, q, `SELECT build_id, part::text AS part, sum(count)::int AS count FROM cut_part WHERE build_id = ANY ($1) GROUP BY build_id, part ORDER BY build_id, part`, builds)
	out := map[int64]map[string]int{}
	for _, r := range list {
		if out[r.BuildID] == nil {
			out[r.BuildID] = map[string]int{}
		}
		out[r.BuildID][r.Part] = r.Count
	}
	return out, err
}

// relayAttempts is how often a plan is laid again when somebody else took its boards in
// the meantime.
const relayAttempts = 4

// layCutting plans every build of a cutting, all of them locked, and re-lays their timber
// claims. The rack is read without locks, for the search may take a while; when somebody
// took boards meanwhile it is undone to a savepoint and laid again.
func (r *Room) layCutting(ctx context.Context, tx pgx.Tx, cuttingID int64, limitMS int) error {
	for n := 1; ; n++ {
		err := pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error { return r.layOnce(ctx, tx, cuttingID, limitMS) })
		if n == relayAttempts || !fault.Is(err, fault.Conflict) {
			return err
		}
	}
}

func (r *Room) layOnce(ctx context.Context, tx pgx.Tx, cuttingID int64, limitMS int) error {
	now := r.db.Now()
	c, err := cuttingRowIn(ctx, tx, cuttingID)
	if err != nil {
		return err
	}
	s, err := r.solvingOf(ctx, tx, c, limitMS)
	if err != nil {
		return err
	}
	ids := make([]int64, len(s.builds))
	for i, b := range s.builds {
		ids[i] = b.ID
	}
	if _, err := tx.Exec(ctx, `UPDATE cutting_plan SET replaced_at = $2 WHERE build_id = ANY ($1) AND replaced_at IS NULL`, ids, now); err != nil {
		return postgres.Translate(err)
	}
	plans, err := r.solveWalls(ctx, tx, s)
	if err != nil {
		return err
	}
	var best []byte
	if c.choices.any() {
		if best, err = s.bestOf(ctx, tx); err != nil {
			return err
		}
	}
	if _, err := tx.Exec(ctx, `UPDATE cutting SET laid_at = $2, best = $3 WHERE id = $1`, cuttingID, now, best); err != nil {
		return postgres.Translate(err)
	}
	for i := range plans {
		p := &plans[i]
		if p.ID, err = postgres.Value[int64](ctx, tx, `INSERT INTO cutting_plan (cutting_id, build_id, board_size_id, grade, asked, answered, laid_at, accepted_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id`, cuttingID, p.BuildID, p.SizeID, p.Grade, rawJSON(p.Asked), rawJSON(p.Answered), now, c.AcceptedAt); err != nil {
			return err
		}
	}
	strength := claims.Meant
	if c.AcceptedAt != nil {
		strength = claims.PutAside
	}
	if err := r.claimTimber(ctx, tx, s.builds, plans, strength); err != nil {
		return err
	}
	for _, b := range s.builds {
		if err := r.claimPacks(ctx, tx, b, plansOf(plans, b.ID)); err != nil {
			return err
		}
	}
	return nil
}

// plansOf are the plans of one build.
func plansOf(plans []CuttingPlan, build int64) []CuttingPlan {
	return slices.DeleteFunc(slices.Clone(plans), func(p CuttingPlan) bool { return p.BuildID != build })
}

func (r *Room) solvingOf(ctx context.Context, tx pgx.Tx, c cuttingRow, limitMS int) (*solving, error) {
	s := &solving{choices: c.choices, limitMS: limitMS}
	ids, err := membersIn(ctx, tx, c.ID)
	if err != nil {
		return nil, err
	}
	if s.set, err = house.SettingsIn(ctx, tx); err != nil {
		return nil, err
	}
	s.today = s.set.Today(r.db.Now())
	if s.done, err = partsCut(ctx, tx, ids); err != nil {
		return nil, err
	}
	for _, id := range ids {
		b, err := buildIn(ctx, tx, id, r.db.Now())
		if err != nil {
			return nil, err
		}
		s.builds = append(s.builds, b)
	}
	return s, nil
}

// solveWalls solves, and once more where the true thickness of the boards changes the
// lengths of parts.
func (r *Room) solveWalls(ctx context.Context, tx pgx.Tx, s *solving) ([]CuttingPlan, error) {
	plans, err := s.solve(ctx, tx)
	if err != nil {
		return nil, err
	}
	again := false
	for i := range s.builds {
		b := &s.builds[i]
		m, err := modelOf(ctx, tx, *b)
		if err != nil {
			return nil, err
		}
		changed, err := s.fitWalls(b, m, plans)
		if err != nil {
			return nil, err
		}
		if !changed {
			continue
		}
		again = true
		if _, err := tx.Exec(ctx, `UPDATE build SET parts = $2, true_wall_mm = $3 WHERE id = $1`, b.ID, rawJSON(b.Parts), b.TrueWallMM); err != nil {
			return nil, postgres.Translate(err)
		}
	}
	if !again {
		return plans, nil
	}
	return s.solve(ctx, tx)
}

// bestOf gives, encoded, what the best plan without the maker's choices would take.
func (s *solving) bestOf(ctx context.Context, tx pgx.Tx) ([]byte, error) {
	free := &solving{builds: s.builds, done: s.done, set: s.set, today: s.today, limitMS: s.limitMS}
	plans, err := free.solve(ctx, tx)
	if err != nil {
		return nil, err
	}
	t, err := free.totals(plans)
	return rawJSON(t), err
}

// packWaste is what boards still drying are reckoned to take beyond the parts themselves
// (our estimate).
const packWaste = 1.15

// claimPacks means boards of drying packs for the parts that found no board on the rack,
// the soonest pack first; what was meant before is laid anew.
func (r *Room) claimPacks(ctx context.Context, tx pgx.Tx, b Build, plans []CuttingPlan) error {
	open, err := claims.OpenFor(ctx, tx, claims.Build(b.ID))
	if err != nil {
		return err
	}
	var old []int64
	for _, c := range open {
		if c.Thing.Kind == claims.PackKind {
			old = append(old, c.ID)
		}
	}
	if _, err := claims.End(ctx, tx, r.db.Now(), old, claims.Relaid, "cutting plan laid anew"); err != nil {
		return err
	}
	if b.SpeciesID == nil {
		return nil
	}
	var wants []claims.Want
	for _, p := range plans {
		missing, longest := p.missingMM()
		if missing == 0 {
			continue
		}
		packs, err := timber.DryingPacks(ctx, tx, *b.SpeciesID, []int64{p.SizeID})
		if err != nil {
			return err
		}
		for _, w := range packBoards(packs, float64(missing)*packWaste, longest) {
			w.For, w.PromisedOn = claims.Build(b.ID), b.DueOn
			wants = append(wants, w)
		}
	}
	_, err = claims.Put(ctx, tx, r.db.Now(), wants)
	return err
}

// packBoards chooses boards of packs, in their order, until they are as long as needMM
// together; packs without a board of longestMM are passed over.
func packBoards(packs []timber.DryingPack, needMM float64, longestMM int64) []claims.Want {
	var wants []claims.Want
	for _, p := range packs {
		if needMM <= 0 {
			break
		}
		if int64(p.LongestMM) < longestMM || p.Free < 1 || p.FreeMM < 1 {
			continue
		}
		each := float64(p.FreeMM) / float64(p.Free)
		n := min(p.Free, int(math.Ceil(needMM/each)))
		needMM -= float64(n) * each
		wants = append(wants, claims.Want{Thing: claims.Pack(p.PackID), Quantity: n, Strength: claims.Meant})
	}
	return wants
}

// claimTimber ends the claims of builds on boards and makes those of the plans, of each
// build its share.
func (r *Room) claimTimber(ctx context.Context, tx pgx.Tx, builds []Build, plans []CuttingPlan, strength claims.Strength) error {
	var old []int64
	var things []claims.Thing
	var wants []claims.Want
	for _, b := range builds {
		open, err := claims.OpenFor(ctx, tx, claims.Build(b.ID))
		if err != nil {
			return err
		}
		for _, c := range open {
			if c.Thing.Kind == claims.LotKind {
				old = append(old, c.ID)
				things = append(things, c.Thing)
			}
		}
		used := map[int64]int{}
		for _, p := range plansOf(plans, b.ID) {
			one, err := p.lotsLeft()
			if err != nil {
				return err
			}
			for id, n := range one {
				used[id] += n
			}
		}
		for id, n := range used {
			wants = append(wants, claims.Want{For: claims.Build(b.ID), Thing: claims.Lot(id), Quantity: n, Strength: strength, PromisedOn: b.DueOn})
			things = append(things, claims.Lot(id))
		}
	}
	slices.SortFunc(wants, func(a, b claims.Want) int {
		if a.Thing.ID != b.Thing.ID {
			return int(a.Thing.ID - b.Thing.ID)
		}
		return int(a.For.BuildID - b.For.BuildID)
	})
	if _, err := claims.Lock(ctx, tx, things); err != nil { // old and new together, in order
		return err
	}
	if _, err := claims.End(ctx, tx, r.db.Now(), old, claims.Relaid, "cutting plan laid anew"); err != nil {
		return err
	}
	_, err := claims.Put(ctx, tx, r.db.Now(), wants)
	if fault.Is(err, fault.Conflict) {
		return fault.Wrap(err, fault.Conflict, "Somebody else took boards while the plan was laid. Lay it again.")
	}
	return err
}

// thicknessWarnings says where the boards of an open build's plans are not as thick as
// its part lengths are reckoned with.
func thicknessWarnings(ctx context.Context, q postgres.Querier, b Build) ([]string, error) {
	var ids []int64
	for _, p := range b.Plans {
		left, err := p.lotsLeft()
		if err != nil {
			return nil, err
		}
		for id := range left {
			ids = append(ids, id)
		}
	}
	type row struct {
		Nominal decimal.Decimal `db:"nominal"`
		Low     decimal.Decimal `db:"low"`
		High    decimal.Decimal `db:"high"`
	}
	list, err := postgres.List[row](ctx, q, `SELECT trim_scale(z.thickness_mm) AS nominal, trim_scale(min(l.thickness_true_mm)) AS low, trim_scale(max(l.thickness_true_mm)) AS high
		FROM board_lot l JOIN board_size z ON z.id = l.board_size_id WHERE l.id = ANY ($1) GROUP BY z.thickness_mm ORDER BY z.thickness_mm`, ids)
	if err != nil {
		return nil, err
	}
	warn := []string{}
	for _, z := range list {
		meant := z.Nominal
		if m, err := modelOf(ctx, q, b); err == nil && b.TrueWallMM != nil && z.Nominal.Equal(decimal.NewFromFloat(m.WallMM)) {
			meant = *b.TrueWallMM
		}
		switch {
		case !z.Low.Equal(z.High):
			warn = append(warn, fmt.Sprintf("The boards of %s mm are mixed: truly %s to %s mm thick. Part lengths are reckoned for %s mm; sort the boards or plane them alike before the ends are cut.", z.Nominal, z.Low, z.High, meant))
		case !z.Low.Equal(meant):
			warn = append(warn, fmt.Sprintf("The boards of %s mm are truly %s mm thick; part lengths are reckoned for %s mm.", z.Nominal, z.Low, meant))
		}
	}
	return warn, nil
}

func acceptable(plans []CuttingPlan, acceptedAt *time.Time) error {
	boards := 0
	for _, p := range plans {
		boards += p.Answered.BoardsUsed
	}
	switch {
	case boards == 0:
		return fault.New(fault.Conflict, "The plan has no boards to put aside. Bring timber to the rack, then lay it anew.")
	case acceptedAt != nil:
		return fault.New(fault.Conflict, "The boards are put aside already.")
	}
	return nil
}

// cutsOf gives the parts of a layout for one build, by id.
func (p CuttingPlan) cutsOf(layout int, build int64) map[string]int {
	out := map[string]int{}
	for _, c := range p.Answered.Layouts[layout].Cuts {
		if owner, part := p.PartOf(c.Part); owner == build {
			out[part] += c.Count
		}
	}
	return out
}

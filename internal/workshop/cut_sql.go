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

	"kerfbook/internal/calc/cutting"
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
	SizeID      int64           `db:"board_size_id"`
	WidthMM     decimal.Decimal `db:"width_mm"`
	ThicknessMM decimal.Decimal `db:"thickness_mm"`
	Asked       []byte          `db:"asked"`
	Answered    []byte          `db:"answered"`
	LaidAt      time.Time       `db:"laid_at"`
	AcceptedAt  *time.Time      `db:"accepted_at"`
}

// plansIn reads the cutting plans of a build that are in force, one a board size.
func plansIn(ctx context.Context, q postgres.Querier, buildID int64) ([]CuttingPlan, error) {
	rows, err := postgres.List[planRow](ctx, q, `SELECT p.id, p.board_size_id, trim_scale(z.width_mm) AS width_mm, trim_scale(z.thickness_mm) AS thickness_mm,
		p.asked, p.answered, p.laid_at, p.accepted_at FROM cutting_plan p JOIN board_size z ON z.id = p.board_size_id
		WHERE p.build_id = $1 AND p.replaced_at IS NULL ORDER BY p.id`, buildID)
	if err != nil {
		return nil, err
	}
	list := make([]CuttingPlan, len(rows))
	for i, r := range rows {
		list[i] = CuttingPlan{ID: r.ID, SizeID: r.SizeID, WidthMM: r.WidthMM, ThicknessMM: r.ThicknessMM, LaidAt: r.LaidAt, AcceptedAt: r.AcceptedAt}
		if err := json.Unmarshal(r.Asked, &list[i].Asked); err != nil {
			return nil, fmt.Errorf("read cutting plan %d: %w", r.ID, err)
		}
		if err := json.Unmarshal(r.Answered, &list[i].Answered); err != nil {
			return nil, fmt.Errorf("read cutting plan %d: %w", r.ID, err)
		}
	}
	return list, nil
}

// CuttingLay lays the cutting plans of an open build anew from what is free now; boards
// that are meant or put aside for the build count as free for it. The boards of the new
// plans are meant for it, until [Room.CuttingAccept]. Errors: NotFound, Conflict.
func (r *Room) CuttingLay(ctx context.Context, buildID int64) (Build, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := buildLock(ctx, tx, buildID, r.db.Now()); err != nil {
			return err
		}
		return r.layCutting(ctx, tx, buildID, relayMS)
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, buildID)
}

// relayAttempts is how often a plan is laid again when somebody else took its boards in
// the meantime.
const relayAttempts = 4

// layCutting plans every board size of a locked build and re-lays its timber claims. The
// rack is read without locks, for the search may take a while; when somebody took boards
// meanwhile it is undone to a savepoint and laid again.
func (r *Room) layCutting(ctx context.Context, tx pgx.Tx, buildID int64, limitMS int) error {
	for n := 1; ; n++ {
		err := pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error { return r.layOnce(ctx, tx, buildID, limitMS) })
		if n == relayAttempts || !fault.Is(err, fault.Conflict) {
			return err
		}
	}
}

func (r *Room) layOnce(ctx context.Context, tx pgx.Tx, buildID int64, limitMS int) error {
	now := r.db.Now()
	b, err := buildIn(ctx, tx, buildID, now)
	if err != nil {
		return err
	}
	set, err := house.SettingsIn(ctx, tx)
	if err != nil {
		return err
	}
	if _, err := tx.Exec(ctx, `UPDATE cutting_plan SET replaced_at = $2 WHERE build_id = $1 AND replaced_at IS NULL`, buildID, now); err != nil {
		return postgres.Translate(err)
	}
	keys, by := partsBySize(b.Parts)
	var plans []CuttingPlan
	for _, key := range keys {
		p, err := r.layOne(ctx, tx, b, key, by[key], set, limitMS)
		if err != nil {
			return err
		}
		plans = append(plans, p)
	}
	if err := r.claimTimber(ctx, tx, b, plans, claims.Meant); err != nil {
		return err
	}
	return r.claimPacks(ctx, tx, b, plans)
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

// layOne plans one board size and stores the plan.
func (r *Room) layOne(ctx context.Context, tx pgx.Tx, b Build, key string, parts []cutting.Part, set house.Settings, limitMS int) (CuttingPlan, error) {
	first := b.Parts[slices.IndexFunc(b.Parts, func(p BuildPart) bool { return sizeKey(p.WidthMM, p.ThicknessMM) == key })]
	size, err := timber.SizeTx(ctx, tx, first.WidthMM, first.ThicknessMM)
	if err != nil {
		return CuttingPlan{}, err
	}
	var free []timber.FreeLot
	if b.SpeciesID != nil {
		if free, err = timber.FreeBoards(ctx, tx, *b.SpeciesID, []int64{size.ID}, b.ID); err != nil {
			return CuttingPlan{}, err
		}
	}
	in, tooLong := question(parts, free, set, set.Today(r.db.Now()), limitMS)
	p := CuttingPlan{SizeID: size.ID, WidthMM: size.WidthMM, ThicknessMM: size.ThicknessMM, Asked: in, Answered: CutAnswer{TooLong: tooLong, Asked: parts}}
	if len(in.Parts) > 0 {
		if p.Answered.Out, err = planBoards(ctx, in); err != nil {
			return p, refused(err)
		}
	}
	p.ID, err = postgres.Value[int64](ctx, tx, `INSERT INTO cutting_plan (build_id, board_size_id, asked, answered, laid_at) VALUES ($1, $2, $3, $4, $5) RETURNING id`,
		b.ID, size.ID, rawJSON(in), rawJSON(p.Answered), r.db.Now())
	return p, err
}

// claimTimber ends the build's claims on boards and makes those of the plans.
func (r *Room) claimTimber(ctx context.Context, tx pgx.Tx, b Build, plans []CuttingPlan, strength claims.Strength) error {
	open, err := claims.OpenFor(ctx, tx, claims.Build(b.ID))
	if err != nil {
		return err
	}
	var old []int64
	var things []claims.Thing
	for _, c := range open {
		if c.Thing.Kind == claims.LotKind {
			old = append(old, c.ID)
			things = append(things, c.Thing)
		}
	}
	used := map[int64]int{}
	for _, p := range plans {
		one, err := p.lotsUsed()
		if err != nil {
			return err
		}
		for id, n := range one {
			used[id] += n
		}
	}
	var wants []claims.Want
	for id, n := range used {
		wants = append(wants, claims.Want{For: claims.Build(b.ID), Thing: claims.Lot(id), Quantity: n, Strength: strength, PromisedOn: b.DueOn})
		things = append(things, claims.Lot(id))
	}
	slices.SortFunc(wants, func(a, b claims.Want) int { return int(a.Thing.ID - b.Thing.ID) })
	if _, err := claims.Lock(ctx, tx, things); err != nil { // old and new together, in order
		return err
	}
	if _, err := claims.End(ctx, tx, r.db.Now(), old, claims.Relaid, "cutting plan laid anew"); err != nil {
		return err
	}
	_, err = claims.Put(ctx, tx, r.db.Now(), wants)
	if fault.Is(err, fault.Conflict) {
		return fault.Wrap(err, fault.Conflict, "Somebody else took boards while the plan was laid. Lay it again.")
	}
	return err
}

// CuttingAccept puts the boards of a build's cutting plans aside. Errors: Conflict when
// there is no plan, when it is accepted already, or when a fact has broken what was meant.
func (r *Room) CuttingAccept(ctx context.Context, buildID int64) (Build, error) {
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b, err := buildLock(ctx, tx, buildID, r.db.Now())
		if err != nil {
			return err
		}
		plans, err := plansIn(ctx, tx, buildID)
		if err != nil {
			return err
		}
		if err := acceptable(plans); err != nil {
			return err
		}
		if err := r.claimTimber(ctx, tx, b, plans, claims.PutAside); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `UPDATE cutting_plan SET accepted_at = $2 WHERE build_id = $1 AND replaced_at IS NULL`, buildID, r.db.Now())
		return postgres.Translate(err)
	})
	if err != nil {
		return Build{}, err
	}
	return r.BuildGet(ctx, buildID)
}

func acceptable(plans []CuttingPlan) error {
	boards, accepted := 0, 0
	for _, p := range plans {
		boards += p.Answered.BoardsUsed
		if p.AcceptedAt != nil {
			accepted++
		}
	}
	switch {
	case boards == 0:
		return fault.New(fault.Conflict, "The plan has no boards to put aside. Bring timber to the rack, then lay it anew.")
	case accepted == len(plans):
		return fault.New(fault.Conflict, "The boards are put aside already.")
	}
	return nil
}

package workshop

import (
	"context"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/cutting"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/house"
	"kerfbook/internal/timber"
)

// solving is one search for the plans of builds that are cut together.
type solving struct {
	builds  []Build
	done    map[int64]map[string]int // parts that are cut already, by build
	choices Choices
	set     house.Settings
	today   time.Time
	limitMS int
	lots    map[int64]timber.FreeLot // every lot that was offered
	left    map[int64]int            // boards of it that no plan of this search takes yet
}

// solve plans every timber, board size and grade. Boards of a better grade than a part
// asks for may serve it, after the parts that need them.
func (s *solving) solve(ctx context.Context, tx pgx.Tx) ([]CuttingPlan, error) {
	s.lots, s.left = map[int64]timber.FreeLot{}, map[int64]int{}
	ids := make([]int64, len(s.builds))
	for i, b := range s.builds {
		ids[i] = b.ID
	}
	var plans []CuttingPlan
	for _, g := range groups(s.builds, s.done) {
		size, err := timber.SizeTx(ctx, tx, g.width, g.thickness)
		if err != nil {
			return nil, err
		}
		free, err := timber.FreeBoardsFor(ctx, tx, g.speciesID, []int64{size.ID}, ids)
		if err != nil {
			return nil, err
		}
		list, err := s.solveGroup(ctx, g, free)
		if err != nil {
			return nil, err
		}
		for i := range list {
			list[i].SizeID = size.ID
		}
		plans = append(plans, list...)
	}
	return plans, nil
}

func (s *solving) solveGroup(ctx context.Context, g *group, free []timber.FreeLot) ([]CuttingPlan, error) {
	in, tooLong := s.question(g, free)
	out := cutting.Out{Layouts: []cutting.Layout{}, Unplaced: []cutting.PartCount{}}
	if len(in.Parts) > 0 {
		var err error
		if out, err = planBoards(ctx, in); err != nil {
			return nil, refused(err)
		}
	}
	for _, l := range out.Layouts {
		id, err := strconv.ParseInt(l.Board, 10, 64)
		if err != nil {
			return nil, err
		}
		s.left[id] -= l.Times
		if slices.Contains(s.choices.Pinned, id) {
			g.pinnedMM += float64(s.lots[id].LengthMM * l.Times)
		}
	}
	return g.share(in, out, tooLong), nil
}

// question makes the input of the calculation for a group: the parts that a free board is
// long enough for, and aside from it those that none is. Where the maker pinned lots that
// fit, their boards cost nothing and every other board its length: so they are used first.
func (s *solving) question(g *group, free []timber.FreeLot) (cutting.In, []cutting.PartCount) {
	trim, keep := s.set.TrimMM.InexactFloat64(), float64(s.set.KeepOffcutMM)
	limit := s.limitMS
	in := cutting.In{KerfMM: s.set.SawKerfMM.InexactFloat64(), TrimMM: trim, KeepOffcutMM: &keep, TimeLimitMS: &limit, Boards: []cutting.Board{}, Parts: []cutting.Part{}}
	longest, pinned := 0.0, false
	for _, f := range free {
		n := s.offer(g, f)
		if n <= 0 || float64(f.LengthMM) <= 2*trim {
			continue
		}
		pinned = pinned || slices.Contains(s.choices.Pinned, f.LotID)
		age := max(0, s.today.Sub(f.FirstInOn).Hours()/24)
		in.Boards = append(in.Boards, cutting.Board{ID: strconv.FormatInt(f.LotID, 10), LengthMM: float64(f.LengthMM), Count: n, Offcut: f.Offcut, AgeDays: age})
		longest = max(longest, float64(f.LengthMM)-2*trim)
	}
	if pinned {
		for i, b := range in.Boards {
			cost := decimal.NewFromFloat(b.LengthMM)
			if id, _ := strconv.ParseInt(b.ID, 10, 64); slices.Contains(s.choices.Pinned, id) {
				cost = decimal.Zero
			}
			in.Boards[i].Cost = cutting.NewCost(cost)
		}
	}
	tooLong := []cutting.PartCount{}
	for _, p := range g.parts {
		if p.LengthMM > longest {
			tooLong = append(tooLong, cutting.PartCount{Part: p.ID, Count: p.Count})
			continue
		}
		in.Parts = append(in.Parts, p)
	}
	return in, tooLong
}

// offer gives how many boards of a lot a group may take, and notes the lot.
func (s *solving) offer(g *group, f timber.FreeLot) int {
	if _, seen := s.left[f.LotID]; !seen {
		out := s.choices.of(f.LotID, f.Free)
		s.left[f.LotID] = f.Free - out
	}
	s.lots[f.LotID] = f
	if !serves(f.Grade, g.grade) {
		return 0
	}
	g.chosen = g.chosen || s.choices.of(f.LotID, f.Free) > 0 || slices.Contains(s.choices.Pinned, f.LotID)
	return s.left[f.LotID]
}

// totals sums what plans take.
func (s *solving) totals(plans []CuttingPlan) (Totals, error) {
	var t Totals
	cost := decimal.Zero
	for _, p := range plans {
		missing, _ := p.missingMM()
		t.MissingMM += missing
		left, err := p.lotsLeft()
		if err != nil {
			return t, err
		}
		for id, n := range left {
			lot := s.lots[id]
			t.Boards += n
			t.LengthMM += int64(lot.LengthMM * n)
			cost = cost.Add(decimal.NewFromInt(lot.MetreCostMinor).Mul(decimal.NewFromInt(int64(lot.LengthMM * n))).Div(decimal.NewFromInt(1000)))
		}
	}
	t.CostMinor = cost.Round(0).IntPart()
	return t, nil
}

// wallThickness gives the true thickness of the boards that a build's walls come from,
// when all are alike; ok is false when it has none, or they differ.
func (s *solving) wallThickness(b Build, wallMM float64, plans []CuttingPlan) (t decimal.Decimal, ok bool) {
	for _, p := range plans {
		if !p.ThicknessMM.Equal(decimal.NewFromFloat(wallMM)) {
			continue
		}
		for i, l := range p.Answered.Layouts {
			mine := slices.ContainsFunc(l.Cuts, func(c cutting.PartCount) bool { owner, _ := p.PartOf(c.Part); return owner == b.ID })
			id, err := p.Lot(i)
			if !mine || err != nil {
				continue
			}
			one := s.lots[id].ThicknessTrueMM
			if ok && !one.Equal(t) {
				return t, false
			}
			t, ok = one, true
		}
	}
	return t, ok
}

// fitWalls reckons the part lengths of a build anew when all boards of its walls have one
// true thickness other than the one reckoned with, and nothing of it is cut yet. It
// reports whether a part changed.
func (s *solving) fitWalls(b *Build, m hive.Model, plans []CuttingPlan) (bool, error) {
	was := m.WallMM
	if b.TrueWallMM != nil {
		was = b.TrueWallMM.InexactFloat64()
	}
	t, ok := s.wallThickness(*b, m.WallMM, plans)
	if !ok || len(s.done[b.ID]) > 0 || math.Abs(t.InexactFloat64()-was) < 0.05 {
		return false, nil
	}
	parts, _, err := buildParts(m, t.InexactFloat64(), b.Makes, b.Piece, b.Quantity)
	if err != nil {
		return false, nil // such as walls that leave no room: the drawing's own lengths stand
	}
	b.Parts, b.TrueWallMM = parts, &t
	return true, nil
}

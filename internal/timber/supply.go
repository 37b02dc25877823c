package timber

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"kerfbook/internal/postgres"
)

// FreeLot is boards that can still be promised.
type FreeLot struct {
	LotID           int64           `db:"id"`
	SizeID          int64           `db:"board_size_id"`
	LengthMM        int             `db:"length_mm"`
	Grade           string          `db:"grade"`
	ThicknessTrueMM decimal.Decimal `db:"thickness_true_mm"`
	Place           string          `db:"place"`
	Offcut          bool            `db:"offcut"`
	FirstInOn       time.Time       `db:"first_in_on"`
	MetreCostMinor  int64           `db:"metre_cost_minor"`
	Free            int             `db:"free"`
}

// FreeBoards gives the lots of a species in the given board sizes with boards that
// nobody has claimed, the shortest first. boards that a build has claimed for itself
// count as free for it: forBuild is that build, 0 for nobody. The index board_lot_rack
// serves it.
func FreeBoards(ctx context.Context, q postgres.Querier, speciesID int64, sizeIDs []int64, forBuild int64) ([]FreeLot, error) {
	return FreeBoardsFor(ctx, q, speciesID, sizeIDs, []int64{forBuild})
}

// FreeBoardsFor is [FreeBoards] for several builds that are cut together: what any of
// them has claimed counts as free.
func FreeBoardsFor(ctx context.Context, q postgres.Querier, speciesID int64, sizeIDs, builds []int64) ([]FreeLot, error) {
	return postgres.List[FreeLot](ctx, q, `SELECT id, board_size_id, length_mm, grade, thickness_true_mm, place, offcut, first_in_on, metre_cost_minor, free FROM (
		SELECT l.id, l.board_size_id, l.length_mm, l.grade, trim_scale(l.thickness_true_mm) AS thickness_true_mm, l.place, l.offcut, l.first_in_on,
			coalesce(l.metre_cost_minor, round(s.metre_cost_minor * z.width_mm * z.thickness_mm / 2800))::bigint AS metre_cost_minor,
			l.on_hand - (SELECT coalesce(sum(c.quantity), 0) FROM claim c WHERE c.lot_id = l.id AND c.ended_at IS NULL AND coalesce(c.build_id, -1) <> ALL ($3::bigint[]))::int AS free
		FROM board_lot l JOIN timber_species s ON s.id = l.species_id JOIN board_size z ON z.id = l.board_size_id
		WHERE l.on_hand > 0 AND l.species_id = $1 AND l.board_size_id = ANY ($2)) lots
		WHERE free > 0 ORDER BY board_size_id, length_mm, id`, speciesID, sizeIDs, builds)
}

// FreeBoards is [FreeBoards] on the room's own database.
func (r *Room) FreeBoards(ctx context.Context, speciesID int64, sizeIDs []int64) ([]FreeLot, error) {
	return FreeBoards(ctx, r.db, speciesID, sizeIDs, 0)
}

// DryingPack is a pack whose boards will be dressed to a board size, and when.
type DryingPack struct {
	PackID     int64      `db:"id"`
	Number     string     `db:"number"`
	SizeID     int64      `db:"size_id"` // dressed, where that is known, else green
	ReadyOn    *time.Time `db:"ready_on"`
	ReadyOnP80 *time.Time `db:"ready_on_p80"`
	Free       int        `db:"free"` // boards nobody has claimed
	FreeMM     int64      `db:"free_mm"`
	LongestMM  int        `db:"longest_mm"`
}

// DryingPacks gives the packs of a species that will give the board sizes, have boards
// that nobody has claimed and a date by which they are dry, the soonest first. FreeMM is
// the pack's length shared evenly over its boards.
func DryingPacks(ctx context.Context, q postgres.Querier, speciesID int64, sizeIDs []int64) ([]DryingPack, error) {
	return postgres.List[DryingPack](ctx, q, `SELECT id, number, size_id, ready_on, ready_on_p80, free, (total_mm * free / boards)::bigint AS free_mm, longest_mm FROM (
		SELECT p.id, p.number, coalesce(p.dresses_to_id, p.board_size_id) AS size_id, p.ready_on, p.ready_on_p80, c.boards, c.total_mm, c.longest_mm,
			c.boards - (SELECT coalesce(sum(q.quantity), 0) FROM claim q WHERE q.pack_id = p.id AND q.ended_at IS NULL)::int AS free
		FROM pack p JOIN LATERAL (SELECT coalesce(sum(count), 0)::int AS boards, coalesce(sum(count::bigint * length_mm), 0) AS total_mm,
			coalesce(max(length_mm) FILTER (WHERE count > 0), 0) AS longest_mm FROM pack_content WHERE pack_id = p.id) c ON true
		WHERE p.finished_at IS NULL AND NOT p.never_dry AND p.ready_on_p80 IS NOT NULL AND p.species_id = $1 AND coalesce(p.dresses_to_id, p.board_size_id) = ANY ($2)) packs
		WHERE free > 0 ORDER BY ready_on_p80, id LIMIT 500`, speciesID, sizeIDs)
}

// DryingPacks is [DryingPacks] on the room's own database.
func (r *Room) DryingPacks(ctx context.Context, speciesID int64, sizeIDs []int64) ([]DryingPack, error) {
	return DryingPacks(ctx, r.db, speciesID, sizeIDs)
}

// MetreCost is the standard cost of a metre of a species in a board size, minor units,
// for boards that are not on the rack yet.
func (r *Room) MetreCost(ctx context.Context, speciesID int64, widthMM, thicknessMM decimal.Decimal) (int64, error) {
	standard, err := postgres.Value[int64](ctx, r.db, `SELECT metre_cost_minor FROM timber_species WHERE id = $1`, speciesID)
	if err != nil {
		return 0, err
	}
	// Standard costs are for a section of 100 x 28 mm.
	return decimal.NewFromInt(standard).Mul(widthMM).Mul(thicknessMM).DivRound(decimal.NewFromInt(2800), 0).IntPart(), nil
}

// Shortage is how much of a board size is missing.
type Shortage struct {
	SpeciesName          string
	WidthMM, ThicknessMM decimal.Decimal
	MissingMM            int64 // length of all parts that found no board, end to end
	LongestMM            int64 // a board must be at least so long; 0: any
}

// String says it plainly, such as "3.6 m of 100 x 28 hoop pine short".
func (s Shortage) String() string {
	m := decimal.NewFromInt(s.MissingMM).Div(decimal.NewFromInt(1000)).RoundUp(1)
	return fmt.Sprintf("%s m of %s x %s %s short", m.StringFixed(1), s.WidthMM, s.ThicknessMM, s.SpeciesName)
}

// Shortages joins several into one sentence; "" when nothing is short.
func Shortages(list []Shortage) string {
	s := make([]string, len(list))
	for i, one := range list {
		s[i] = one.String()
	}
	return strings.Join(s, "; ")
}

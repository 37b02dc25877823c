package answer

import (
	"context"
	"time"

	"kerfbook/internal/postgres"
)

// usualTimber is the timber that most boards on the rack are of, else the one used last
// in a build, else the first by name; 0 when there is none.
func (r *Room) usualTimber(ctx context.Context) (int64, error) {
	ids, err := postgres.Column[int64](ctx, r.db, `SELECT s.id FROM timber_species s
	LEFT JOIN (SELECT species_id, sum(on_hand::bigint * length_mm) AS mm FROM board_lot WHERE on_hand > 0 GROUP BY species_id) l ON l.species_id = s.id
	LEFT JOIN (SELECT timber_species_id, max(id) AS last FROM build GROUP BY timber_species_id) b ON b.timber_species_id = s.id
WHERE s.put_away_at IS NULL AND (l.mm IS NOT NULL OR b.last IS NOT NULL OR s.metre_cost_minor > 0)
ORDER BY l.mm DESC NULLS LAST, b.last DESC NULLS LAST, lower(s.name::text), s.id LIMIT 1`)
	if err != nil || len(ids) == 0 {
		return 0, err
	}
	return ids[0], nil
}

// held is what unanswered quotes keep for their buyers.
type held struct {
	minutes  float64                    // at the bench
	own      float64                    // of them, of the owner alone
	boards   map[int64]map[size]float64 // mm by timber and board size
	boxes    map[int64]string           // box on the shelf: the quote that keeps it
	outputs  []OutputNeed
	colonies map[int64]int // places in the line by kind of bee
}

// size is a board size in mm.
type size struct{ width, thickness float64 }

type heldRow struct {
	QuoteID       int64  `db:"quote_id"`
	Number        string `db:"number"`
	AlternativeID int64  `db:"alternative_id"`
	Needs         []byte `db:"needs"`
}

// readHeld sums what issued quotes hold on day that are not answered and not marked as
// dated at acceptance. Of a quote's alternatives only one will be taken, so the one that
// takes most of the bench counts. except and its other revisions do not count. The index
// quote_valid serves it.
func (r *Room) readHeld(ctx context.Context, day time.Time, except int64) (held, error) {
	h := held{boards: map[int64]map[size]float64{}, boxes: map[int64]string{}, colonies: map[int64]int{}}
	rows, err := postgres.List[heldRow](ctx, r.db, `SELECT q.id AS quote_id, q.number, a.id AS alternative_id, l.needs
FROM quote q JOIN quote_alternative a ON a.quote_id = q.id JOIN quote_line l ON l.alternative_id = a.id
WHERE q.issued_at IS NOT NULL AND q.valid_until >= $1 AND NOT q.date_at_acceptance AND l.needs <> '{}'
	AND NOT EXISTS (SELECT 1 FROM quote_event e WHERE e.quote_id = q.id)
	AND NOT EXISTS (SELECT 1 FROM quote x WHERE x.id = $2 AND x.number = q.number)
	AND NOT EXISTS (SELECT 1 FROM quote x JOIN quote y ON y.id = x.revises_id WHERE x.id = $2 AND y.number = q.number)
ORDER BY q.id, a.id, l.id LIMIT 2000`, day, except)
	if err != nil {
		return h, err
	}
	for start := 0; start < len(rows); {
		end := start
		for end < len(rows) && rows[end].QuoteID == rows[start].QuoteID {
			end++
		}
		h.add(rows[start].Number, largest(rows[start:end]))
		start = end
	}
	return h, nil
}

// largest gives the needs of the alternative that takes most.
func largest(rows []heldRow) []Needs {
	var best, now []Needs
	weigh := func(list []Needs) (sum float64) {
		for _, n := range list {
			sum += n.minutes(n.Fresh) + 60*float64(n.Colonies+len(n.Shelf)+len(n.Outputs))
		}
		return sum
	}
	for i, row := range rows {
		if i > 0 && row.AlternativeID != rows[i-1].AlternativeID {
			now = nil
		}
		now = append(now, readNeeds(row.Needs))
		if best == nil || weigh(now) >= weigh(best) {
			best = append([]Needs{}, now...)
		}
	}
	return best
}

func (h *held) add(number string, list []Needs) {
	for _, n := range list {
		h.minutes += n.minutes(n.Fresh)
		h.own += n.ownMinutes(n.Fresh)
		for _, b := range n.Boards {
			if h.boards[n.SpeciesID] == nil {
				h.boards[n.SpeciesID] = map[size]float64{}
			}
			h.boards[n.SpeciesID][size{b.WidthMM, b.ThicknessMM}] += b.LengthMM
		}
		for _, id := range n.Shelf {
			h.boxes[id] = number
		}
		h.outputs = append(h.outputs, n.Outputs...)
		h.colonies[n.BeeSpeciesID] += n.Colonies
	}
}

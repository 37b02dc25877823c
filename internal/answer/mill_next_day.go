package answer

import (
	"context"
	"fmt"
	"sync"

	"kerfbook/internal/access"
	"kerfbook/internal/postgres"
)

// millAhead is how many days before its day a board size to saw stands on the Day sheet.
const millAhead = 31

// mill: the board size that must be sawn first, when its day is near or past.
func (s *sheet) mill(ctx context.Context) error {
	sizes, err := s.millOfToday(ctx)
	if err != nil {
		return err
	}
	for _, z := range sizes {
		short := z.First()
		if short == nil || short.SawBy == nil || short.SawBy.After(s.day.AddDate(0, 0, millAhead)) {
			continue
		}
		s.add("mill", access.Timber, fmt.Sprintf("mill:%d:%s", z.SpeciesID, z.Size()), "/timber/mill-next", z.Sentence(), *short.SawBy, short.Late)
		break
	}
	return nil
}

// millMemo keeps what was reckoned last with the state of the book it follows from.
type millMemo struct {
	mu    sync.Mutex
	state string
	sizes []MillSize
}

// bookStateRows is how many of the latest changes name a state of the book: more than one,
// so that a change that was begun earlier and ended later is seen as well.
const bookStateRows = 200

// bookState names what the book holds: two equal names are the same records, for every
// record that counts here keeps its history.
func (r *Room) bookState(ctx context.Context) (string, error) {
	return postgres.Value[string](ctx, r.db, `SELECT coalesce(string_agg(id::text, ','), '') FROM (SELECT id FROM history ORDER BY id DESC LIMIT $1) h`, bookStateRows)
}

// millOfToday is what the sizes come to, reckoned once for each state of the book and day,
// because the Day sheet is looked at more often than anything else. The state is read
// first: what changes meanwhile is found the next time.
func (s *sheet) millOfToday(ctx context.Context) ([]MillSize, error) {
	book, err := s.bookState(ctx)
	if err != nil {
		return nil, err
	}
	state := s.set.Today(s.db.Now()).String() + book
	if sizes, ok := s.milled.get(state); ok {
		return sizes, nil
	}
	next, _, err := s.millSizes(ctx, 0)
	if err != nil {
		return nil, err
	}
	s.milled.put(state, next.Sizes)
	return next.Sizes, nil
}

func (m *millMemo) get(state string) ([]MillSize, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.sizes, m.state == state
}

func (m *millMemo) put(state string, sizes []MillSize) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.state, m.sizes = state, sizes
}

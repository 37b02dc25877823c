package answer

import (
	"context"
	"fmt"

	"kerfbook/internal/access"
)

// millAhead is how many days before its day a board size to saw stands on the Day sheet.
const millAhead = 31

// mill: the board size that must be sawn first, when its day is near or past.
func (s *sheet) mill(ctx context.Context) error {
	next, _, err := s.millSizes(ctx, 0)
	if err != nil {
		return err
	}
	for _, z := range next.Sizes {
		short := z.First()
		if short == nil || short.SawBy == nil || short.SawBy.After(s.day.AddDate(0, 0, millAhead)) {
			continue
		}
		s.add("mill", access.Timber, fmt.Sprintf("mill:%d:%s", z.SpeciesID, z.Size()), "/timber/mill-next", z.Sentence(), *short.SawBy, short.Late)
		break
	}
	return nil
}

package answer

import (
	"context"
	"fmt"
	"time"

	"kerfbook/internal/access"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

// How long the Day sheet speaks of a stolen box, in days; our choices.
const (
	stolenBack = 90 // since it was stolen
	askedBack  = 14 // since its serial was last typed into the public page
)

// stolen: boxes that are missing, loudest where somebody has read the serial off one.
func (s *sheet) stolen(ctx context.Context) error {
	list, err := s.Workshop.StolenNow(ctx)
	if err != nil {
		return err
	}
	on := func(t time.Time) time.Time { return house.DateIn(t, s.set.Location()) }
	for _, x := range list {
		href, since := s.path("/bench/boxes/", x.BoxID), on(x.StolenAt)
		switch {
		case x.AskedAt != nil && !on(*x.AskedAt).Before(s.day.AddDate(0, 0, -askedBack)):
			asked := on(*x.AskedAt)
			s.add("stolen", access.Bench, fmt.Sprintf("box:%d:asked:%s", x.BoxID, asked.Format(time.DateOnly)), href,
				fmt.Sprintf("Somebody typed the serial of stolen box %s into the public page, last on %s. They may ring: ask where it stands.", x.Serial, show.Time(*x.AskedAt, s.set.Location())), asked, true)
		case since.Before(s.day.AddDate(0, 0, -stolenBack)):
		case x.PoliceReference == "":
			s.add("stolen", access.Bench, fmt.Sprintf("box:%d:stolen", x.BoxID), href, fmt.Sprintf("Box %s was stolen on %s and has no police reference yet. Ask for it, and look out for the box.", x.Serial, show.Date(since)), since, false)
		default:
			s.add("stolen", access.Bench, fmt.Sprintf("box:%d:stolen", x.BoxID), href, fmt.Sprintf("Box %s is missing since %s (police %s). Look out for it, and look at serials of boxes that are offered.", x.Serial, show.Date(since), x.PoliceReference), since, false)
		}
	}
	return nil
}

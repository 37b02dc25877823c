package answer

import (
	"context"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/workshop"
)

// FoundBox is what a stranger may know who has read a serial off a box: no name of an
// owner, no place, no box.
type FoundBox struct {
	State    string     // [workshop.FoundStolen], [workshop.FoundNot], [workshop.FoundNotOurs]
	StolenOn *time.Time // business date
	Workshop string     // whom to ring
	Phone    string
}

// FoundBox answers a finder. Errors: Invalid for what cannot be a serial.
func (r *Room) FoundBox(ctx context.Context, serial string) (FoundBox, error) {
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return FoundBox{}, err
	}
	out := FoundBox{Workshop: set.Name, Phone: set.Phone}
	state, since, err := r.Workshop.Found(ctx, serial)
	if err != nil {
		return out, err
	}
	if out.State = state; state == workshop.FoundStolen {
		out.StolenOn = ptr(house.DateIn(*since, set.Location()))
	}
	return out, nil
}

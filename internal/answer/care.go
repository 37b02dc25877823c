package answer

import (
	"context"

	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/show"
)

// Care is what the public page behind a care key says: how to keep the hive, without
// anybody's name or place.
type Care struct {
	Serial   string
	Kind     string // of bees; empty for a box alone
	Model    string
	Workshop string
	Phone    string // of the workshop
	Stolen   bool   // reported stolen
	StolenOn string // day
	Text     []paper.Passage
}

// CareByKey gives the care page behind an unguessable key; NotFound for any other.
func (r *Room) CareByKey(ctx context.Context, key string) (Care, error) {
	h, err := r.Handover.ByCareKey(ctx, key)
	if err != nil {
		return Care{}, err
	}
	d, err := r.handoverDoc(ctx, h, "")
	if err != nil {
		return Care{}, err
	}
	// Nothing personal: no buyer, no place, no times at the place.
	d.Owner, d.Receiver, d.Site, d.DuskAt, d.Sun, d.Law = "", "", paper.Place{}, "", nil, nil
	out := Care{Serial: d.Serial, Model: d.Model, Workshop: d.Workshop.Name, Phone: d.Workshop.Phone}
	if d.Colony != nil {
		d.Colony.Origin = ""
		out.Kind = d.Colony.Species.Name
	}
	if h.BoxID != nil {
		b, err := r.Workshop.BoxGet(ctx, *h.BoxID)
		if err != nil {
			return out, err
		}
		if out.Stolen = b.StolenAt != nil; out.Stolen {
			set, err := house.SettingsIn(ctx, r.db)
			if err != nil {
				return out, err
			}
			out.StolenOn = show.Date(house.DateIn(*b.StolenAt, set.Location()))
		}
	}
	out.Text, err = paper.HandoverPassages(d)
	return out, err
}

package answer

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/postgres"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// wallAdvice is what holds in a wall, by a word that tells what it is made of; the first
// that is found counts. Common practice, no source; whoever may judge the wall comes first.
var wallAdvice = []struct {
	words  []string
	advice string
}{
	{[]string{"fibro", "asbestos", "cement sheet"}, "no holes: this sheet may hold asbestos until a test has said otherwise; have a post or a stand ready instead"},
	{[]string{"brick", "block", "concrete", "stone", "masonry"}, "anchors for masonry, set in sound brick or concrete and not in the joints"},
	{[]string{"weatherboard", "timber", "wood", "plywood", "board"}, "screws into the studs or posts behind, not into the boards alone: mark where the studs are"},
	{[]string{"metal", "sheet", "iron", "steel"}, "screws into the frame behind the sheet, not into the sheet alone: mark where the frame is"},
	{[]string{"post", "pole", "stump"}, "bolts or straps right round the post, and the post sound in the ground"},
}

// fixingsFor says what is to be ready to fix a mount to a wall.
func fixingsFor(mount, wall string, with []string) string {
	words := filled(mount)
	if len(with) > 0 {
		words = append(words, "we bring "+strings.Join(with, ", "))
	}
	lower := strings.ToLower(wall)
	for _, w := range wallAdvice {
		for _, word := range w.words {
			if strings.Contains(lower, word) {
				return strings.Join(append(words, w.advice), "; ")
			}
		}
	}
	return strings.Join(append(words, "tell us what the wall or post is made of, so that the right screws or anchors are there"), "; ")
}

// siteFixings fills in the fixings for the first open box with a mount, or for a box
// without one.
func (r *Room) siteFixings(ctx context.Context, d *paper.SiteDoc, o sales.Order, wall string) error {
	for _, l := range o.Lines {
		if openQuantity(l) == 0 || l.Kind != "box" {
			continue
		}
		options, err := workshop.OptionsByID(ctx, r.db, l.Options())
		if err != nil {
			return err
		}
		mount, with := "", []string{}
		for _, opt := range options {
			if opt.Kind != "mount" {
				continue
			}
			mount = strings.ToLower(opt.Name)
			for _, f := range opt.Fittings {
				names, err := postgres.Column[string](ctx, r.db, `SELECT name FROM item WHERE code = $1`, f.ID)
				if err != nil {
					return err
				}
				if len(names) > 0 && !strings.EqualFold(names[0], opt.Name) {
					with = append(with, fmt.Sprintf("%d × %s", f.Count, strings.ToLower(names[0])))
				}
			}
		}
		d.Fixings = fixingsFor(mount, wall, with)
		return nil
	}
	return nil
}

// siteDay says what the day will look like, from the run where one is planned.
func (r *Room) siteDay(ctx context.Context, d *paper.SiteDoc, o sales.Order, site *sales.Site, set house.Settings) error {
	list, err := postgres.List[struct {
		ID   int64  `db:"id"`
		Kind string `db:"kind"`
	}](ctx, r.db, `SELECT n.id, n.kind FROM run_stop s JOIN run n ON n.id = s.run_id JOIN order_unit u ON u.id = s.order_unit_id JOIN order_line l ON l.id = u.order_line_id
WHERE l.order_id = $1 AND s.done_at IS NULL AND n.cancelled_at IS NULL AND n.done_at IS NULL ORDER BY n.run_on, s.id LIMIT 1`, o.ID)
	if err != nil {
		return err
	}
	on := time.Time{}
	if o.NextOn != nil {
		on = *o.NextOn
	}
	if len(list) == 0 {
		d.Day = append(d.Day, "The hour is agreed by phone the day before.")
	} else if list[0].Kind == "collection" {
		n, err := r.Handover.RunGet(ctx, list[0].ID)
		if err != nil {
			return err
		}
		on = n.RunOn
		d.Coming = paper.Day(on) + ", fetched by you"
		d.Day = append(d.Day, "You fetch it: ring before you set out. A full hive travels upright, strapped and shaded, with its entrance shut and an air way open.")
	} else if on, err = r.runDay(ctx, d, o, list[0].ID); err != nil {
		return err
	}
	if !on.IsZero() {
		dusk, err := DuskAt(ctx, set, site, on)
		if err != nil {
			return err
		}
		if !dusk.IsZero() && d.HasBees {
			where := "at your place"
			if site == nil || site.Latitude == nil {
				where = "at the workshop"
			}
			d.Day = append(d.Day, fmt.Sprintf("Dusk %s that day is at %s.", where, dusk.Format("15:04")))
		}
	}
	if d.HasBees {
		d.Day = append(d.Day, "The bees are shut in for the drive. Their entrance is opened as soon as the box is fixed: stay a few metres away then, children and pets too.")
	}
	d.Day = append(d.Day, fmt.Sprintf("Fixing and setting up take about %d minutes. Then we go through the handover sheet together.", stopMinutes))
	return nil
}

// runDay says when the run comes by, and gives its day.
func (r *Room) runDay(ctx context.Context, d *paper.SiteDoc, o sales.Order, id int64) (time.Time, error) {
	n, err := r.Handover.RunGet(ctx, id)
	if err != nil {
		return time.Time{}, err
	}
	d.Coming = paper.Day(n.RunOn)
	care, err := r.RunCare(ctx, n)
	if err != nil {
		return n.RunOn, err
	}
	minutes, known := 0.0, true
	for i, c := range care.Stops {
		if c.LegKM == nil {
			known = false
		} else {
			minutes += *c.LegKM * detour / driveKMH * 60
		}
		if n.Stops[i].OrderID != nil && *n.Stops[i].OrderID == o.ID {
			if len(n.Stops) > 1 {
				d.Day = append(d.Day, fmt.Sprintf("You are stop %d of %d that day.", i+1, len(n.Stops)))
			}
			break
		}
		minutes += stopMinutes
	}
	if known {
		d.Day = append(d.Day, fmt.Sprintf("We ring when we set out; from then it is about %.0f minutes until we are with you.", max(10, math.Ceil(minutes/10)*10)))
	} else {
		d.Day = append(d.Day, "We ring when we set out.")
	}
	return n.RunOn, nil
}

// sunUnknown is said where the hours of sun cannot be reckoned.
const sunUnknown = "How many hours of sun reach the front in summer and winter is not known: the place, the way the wall faces and its eave were not measured"

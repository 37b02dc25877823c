package answer

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"kerfbook/internal/apiary"
	"kerfbook/internal/calc/hive"
	"kerfbook/internal/calc/sun"
	"kerfbook/internal/fault"
	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/paper"
	"kerfbook/internal/sales"
	"kerfbook/internal/workshop"
)

// drawHandover draws the sheet of a handover that has its number and key.
func (r *Room) drawHandover(ctx context.Context, h handover.Handover, fixing string) ([]byte, error) {
	doc, err := r.handoverDoc(ctx, h, fixing)
	if err != nil {
		return nil, err
	}
	pdf, err := paper.Handover(doc)
	if err != nil {
		return nil, fmt.Errorf("draw handover sheet %s: %w", h.Number, err)
	}
	return pdf, nil
}

func (r *Room) handoverDoc(ctx context.Context, h handover.Handover, fixing string) (paper.HandoverDoc, error) {
	set, today, err := r.settings(ctx)
	if err != nil {
		return paper.HandoverDoc{}, err
	}
	tax, err := house.TaxIn(ctx, r.db, today)
	if err != nil {
		return paper.HandoverDoc{}, err
	}
	o, err := r.Sales.OrderOfUnit(ctx, h.UnitID)
	if err != nil {
		return paper.HandoverDoc{}, err
	}
	_, unit := unitIn(o, h.UnitID)
	d := paper.HandoverDoc{Head: r.head(set, tax, h.Number, h.HappenedAt), Owner: o.PartyName, OwnBox: unit.OwnBox, HandedOn: house.DateIn(h.HappenedAt, set.Location()),
		Country: set.Country, Hemisphere: hemisphere(set.Latitude), Guarantee: guaranteeOf(h, set), Fixing: fixing, RingName: set.MakerName}
	d.Words = r.wording(ctx, h.Number)
	if !strings.EqualFold(h.ReceivedBy, o.PartyName) {
		d.Receiver = h.ReceivedBy
	}
	if set.PublicURL != "" && h.CareKey != nil {
		d.Link = strings.TrimRight(set.PublicURL, "/") + "/care/" + *h.CareKey
	}
	if h.BoxID != nil {
		if err := r.boxFacts(ctx, &d, *h.BoxID); err != nil {
			return d, err
		}
	}
	if h.ColonyID != nil {
		if d.Colony, err = r.colonyFacts(ctx, *h.ColonyID, d.HandedOn); err != nil {
			return d, err
		}
	}
	if h.SiteID != nil {
		s, err := r.Sales.SiteGet(ctx, *h.SiteID)
		if err != nil {
			return d, err
		}
		siteFacts(ctx, &d, s)
	}
	if len(d.Sun) == 0 {
		d.Sun = []string{sunUnknown}
	}
	if d.DuskAt == "" { // the place has no coordinates
		at, err := DuskAt(ctx, set, nil, d.HandedOn)
		if err != nil {
			return d, err
		}
		if !at.IsZero() {
			d.DuskAt = at.Format("15:04") + " at the workshop"
		}
	}
	return d, nil
}

// guaranteeOf is the terms that go with a handover; of one from before those were kept,
// today's terms.
func guaranteeOf(h handover.Handover, set house.Settings) []string {
	if h.Guarantee == "" {
		return sentences(set.Guarantee)
	}
	return PrintedTerms(h)
}

// PrintedTerms are the terms of the guarantee as they were printed on a handover, with
// their last days; none of a handover from before those were kept.
func PrintedTerms(h handover.Handover) []string {
	list := sentences(h.Guarantee)
	if h.Guarantee == "" {
		return list
	}
	var until []string
	if h.BoxUntil != nil {
		until = append(until, "box until "+h.BoxUntil.Format("2 January 2006"))
	}
	if h.ColonyUntil != nil {
		until = append(until, "colony until "+h.ColonyUntil.Format("2 January 2006"))
	}
	if len(until) > 0 {
		last := strings.Join(until, ", ")
		list = append(list, strings.ToUpper(last[:1])+last[1:]+".")
	}
	return list
}

func hemisphere(latitude *float64) string {
	if latitude != nil && *latitude > 0 {
		return "northern"
	}
	return "southern"
}

// boxFacts fills in what the sheet says about the box.
func (r *Room) boxFacts(ctx context.Context, d *paper.HandoverDoc, id int64) error {
	b, err := r.Workshop.BoxGet(ctx, id)
	if err != nil {
		return err
	}
	d.Serial, d.Timber = b.Serial, strings.ToLower(b.SpeciesName)
	d.Model = b.ModelName
	if d.Model == "" {
		d.Model = b.Description
	} else {
		d.Model = fmt.Sprintf("%s, revision %d", b.ModelName, b.Revision)
	}
	if b.RevisionID == nil {
		return nil
	}
	rev, options, err := r.builtAs(ctx, b)
	if err != nil {
		return err
	}
	for _, o := range options {
		switch o.Kind {
		case "finish":
			d.Finish = strings.ToLower(o.Name)
		case "mount":
			d.Mount = strings.ToLower(o.Name)
		}
	}
	model, err := workshop.Compose(rev, options)
	if err != nil {
		return err
	}
	out, err := r.measure(ctx, model, b.SpeciesID)
	if err != nil {
		return err
	}
	d.Size = fmt.Sprintf("%s × %s × %s mm outside", round0(out.OutsideLengthMM), round0(out.OutsideWidthMM), round0(out.OutsideHeightMM))
	if out.EmptyMassKg > 0 {
		d.EmptyMass, d.FullMass = fmt.Sprintf("%.1f kg", out.EmptyMassKg), fmt.Sprintf("about %.0f kg", math.Ceil(out.FullMassKg))
	}
	return nil
}

func round0(v float64) string { return trimmed(math.Round(v)) }

// builtAs gives the revision and options of a box as it was built.
func (r *Room) builtAs(ctx context.Context, b workshop.Box) (workshop.Revision, []workshop.Option, error) {
	rev, err := r.Workshop.RevisionGet(ctx, *b.RevisionID)
	if err != nil {
		return rev, nil, err
	}
	var ids []int64
	err = r.db.QueryRow(ctx, `SELECT coalesce((SELECT array_agg(v::bigint ORDER BY n) FROM jsonb_array_elements_text(options) WITH ORDINALITY e (v, n)), '{}') FROM box WHERE id = $1`, b.ID).Scan(&ids)
	if err != nil {
		return rev, nil, err
	}
	options, err := workshop.OptionsByID(ctx, r.db, ids)
	return rev, options, err
}

// measure works a model out in its timber; without a density there are sizes and no mass.
func (r *Room) measure(ctx context.Context, m hive.Model, species *int64) (hive.HiveOut, error) {
	if species != nil {
		s, err := r.Timber.SpeciesGet(ctx, *species)
		if err != nil {
			return hive.HiveOut{}, err
		}
		if density, _, ok := s.Basis(); ok {
			// Conductivity plays no part in sizes and masses; 0.12 W/(m K) is about that
			// of dry softwood (from memory).
			return hive.Measure(m, m.WallMM, hive.Timber{DensityKgM3: density, ConductivityWMK: 0.12})
		}
		if out, err := hive.Hive(ctx, hive.HiveIn{Model: m, Species: s.Code}); err == nil {
			return out, nil
		} // a timber of which nothing is known
	}
	out, err := hive.Measure(m, m.WallMM, hive.Timber{DensityKgM3: 500, ConductivityWMK: 0.12})
	out.EmptyMassKg, out.FullMassKg = 0, 0
	return out, err
}

// colonyFacts is what the sheet says about the colony.
func (r *Room) colonyFacts(ctx context.Context, id int64, on time.Time) (*paper.HandedColony, error) {
	c, err := r.Apiary.ColonyGet(ctx, id)
	if err != nil {
		return nil, err
	}
	out := &paper.HandedColony{Number: c.Number, Origin: c.Origin, Sure: c.SpeciesSure != nil && *c.SpeciesSure}
	if c.HousedAt != nil {
		out.Housed = c.HousedAt.Format("January 2006")
	}
	parents, err := r.Apiary.ParentsOf(ctx, id)
	if err != nil {
		return nil, err
	}
	if out.Origin == "" && len(parents) > 0 {
		out.Origin = parents[0].Kind + " of " + parents[0].Number
	}
	if c.SpeciesID == nil {
		return out, nil
	}
	s, err := r.Apiary.SpeciesGet(ctx, *c.SpeciesID)
	if fault.Is(err, fault.NotFound) {
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	out.Species = speciesFacts(s)
	if s.SplitIntervalMonths != nil {
		out.NoSplit = on.AddDate(0, *s.SplitIntervalMonths, 0).Format("January 2006")
	}
	return out, nil
}

// speciesFacts are the figures of the book; where it has none, those on record.
func speciesFacts(s apiary.Species) paper.SpeciesFacts {
	f, _ := paper.Species(s.Name)
	f.Name, f.Common = s.Name, s.CommonName
	if s.FlightMinC != nil {
		f.FlyAboveC = *s.FlightMinC
	}
	if s.HeatLimitC != nil {
		f.HeatAboveC = *s.HeatLimitC
	}
	if s.NaturalRange != "" {
		f.Range = s.NaturalRange
	}
	return f
}

// siteFacts fills in the place, dusk there that day, and the sun under the eave.
func siteFacts(ctx context.Context, d *paper.HandoverDoc, s sales.Site) {
	d.Site = placeOf(s)
	if s.Latitude != nil && s.Longitude != nil {
		d.Hemisphere = hemisphere(s.Latitude)
		d.DuskAt = duskAt(ctx, s, d.HandedOn)
	}
	d.Sun = sunUnderEave(ctx, s, d.HandedOn)
}

// duskAt is the end of civil twilight at a site, such as 18:42; "" where there is none.
func duskAt(ctx context.Context, s sales.Site, on time.Time) string {
	at, err := DuskAt(ctx, house.Settings{}, &s, on)
	if err != nil || at.IsZero() {
		return ""
	}
	return at.Format("15:04")
}

// sunUnderEave says how long the sun reaches the front at midsummer and midwinter; nothing
// where wall or eave is not known.
func sunUnderEave(ctx context.Context, s sales.Site, on time.Time) []string {
	if s.Latitude == nil || s.Longitude == nil || s.WallFacesDeg == nil || s.EaveOutMM == nil || s.EaveAboveMM == nil {
		return nil
	}
	var list []string
	for _, day := range []time.Time{nextDay(on, time.December, 21), nextDay(on, time.June, 21)} {
		out, err := sun.Eave(ctx, sun.EaveIn{Latitude: *s.Latitude, Longitude: *s.Longitude, EaveOutMM: *s.EaveOutMM, EaveAboveMM: *s.EaveAboveMM, WallFaces: *s.WallFacesDeg, On: day.Format(time.DateOnly)})
		if err != nil {
			continue
		}
		text := "no sun on the front"
		if len(out.Spells) > 0 {
			spells := make([]string, len(out.Spells))
			for i, p := range out.Spells {
				spells[i] = p.From + " to " + p.To
			}
			text = fmt.Sprintf("sun on the front for %.1f h, %s by the sun", out.SunHours, strings.Join(spells, " and "))
		}
		season := "Midsummer"
		if (day.Month() == time.June) == (*s.Latitude <= 0) {
			season = "Midwinter"
		}
		list = append(list, season+", "+day.Format("2 January")+": "+text)
	}
	return list
}

// nextDay is the next such day of the year, on itself included.
func nextDay(on time.Time, m time.Month, day int) time.Time {
	t := time.Date(on.Year(), m, day, 0, 0, 0, 0, time.UTC)
	if t.Before(on) {
		return t.AddDate(1, 0, 0)
	}
	return t
}

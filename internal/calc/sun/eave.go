package sun

import (
	"context"
	"fmt"
	"math"
	"sort"

	"kerfbook/internal/calc/contract"
)

// EaveIn describes a box on a wall under an eave.
type EaveIn struct {
	Latitude    float64 `json:"latitude" need:"yes"`       // degrees, -90 to 90
	Longitude   float64 `json:"longitude,omitempty"`       // degrees, -180 to 180; fixes the instant of noon
	EaveOutMM   float64 `json:"eave_out_mm" need:"yes"`    // how far the eave stands out beyond the box front, 0 to 50000
	EaveAboveMM float64 `json:"eave_above_mm" need:"yes"`  // eave's edge above the middle of the front, 0 to 50000
	WallFaces   float64 `json:"wall_faces_deg" need:"yes"` // where the front looks, from north, clockwise, 0 to 360
	On          string  `json:"on" need:"yes"`             // date, YYYY-MM-DD
}

// Spell is a stretch of sunshine in true solar time, "HH:MM"; To may be "24:00".
type Spell struct {
	From string `json:"from"`
	To   string `json:"to"`
}

// EaveOut tells how long the sun reaches the middle of the front.
type EaveOut struct {
	SunHours      float64 `json:"sun_hours"`
	NoonElevation float64 `json:"noon_elevation_deg"` // 90 - |latitude - declination|
	Spells        []Spell `json:"spells"`
}

// Eave gives the hours of sun on the middle of a box front on a clear day, under
// an eave that runs level along the wall and is long on both sides. The sun
// reaches the point while it stands above the true horizon, in front of the
// wall, and below the eave's edge:
//
//	sin e > 0,  cos e cos(A - wall) > 0,  out sin e < above cos e cos(A - wall)
//
// With the declination of that day's noon, all three are of the form
// p cos H + q sin H + r > 0 in the hour angle H, so their ends are exact. A day
// may hold two spells. A bad place, size or date gives a *contract.Error.
func Eave(_ context.Context, in EaveIn) (EaveOut, error) {
	var c contract.Checks
	checkPlace(&c, in.Latitude, in.Longitude)
	c.Number("/eave_out_mm", in.EaveOutMM, 0, 50000)
	c.Number("/eave_above_mm", in.EaveAboveMM, 0, 50000)
	c.Number("/wall_faces_deg", in.WallFaces, 0, 360)
	on := checkDate(&c, in.On)
	if err := c.Err(); err != nil {
		return EaveOut{}, err
	}
	noon := nearestNoon(julian(on)+0.5-in.Longitude/360, in.Longitude)
	dec := geocentric(noon).declination
	out := EaveOut{
		NoonElevation: 90 - math.Abs(in.Latitude-dec),
		Spells:        []Spell{},
	}
	for _, s := range sunny(in, dec) {
		out.SunHours += (s[1] - s[0]) / 15
		from, to := clock(s[0]), clock(s[1])
		if from != to { // shorter than a minute is counted but cannot be written
			out.Spells = append(out.Spells, Spell{From: from, To: to})
		}
	}
	return out, nil
}

// wave is p cos H + q sin H + r.
type wave struct{ p, q, r float64 }

func (w wave) at(h float64) float64 {
	s, c := math.Sincos(rad(h))
	return w.p*c + w.q*s + w.r
}

// zeros gives the hour angles in degrees, -180 up to 180, at which w is 0.
func (w wave) zeros() []float64 {
	size := math.Hypot(w.p, w.q)
	if size == 0 || math.Abs(w.r) > size {
		return nil
	}
	peak, half := deg(math.Atan2(w.q, w.p)), deg(math.Acos(-w.r/size))
	return []float64{halfTurn(peak - half), halfTurn(peak + half)}
}

// sunny gives the spells of hour angle, in degrees and in order, in which the
// sun of declination dec reaches the point.
func sunny(in EaveIn, dec float64) [][2]float64 {
	sphi, cphi := math.Sincos(rad(in.Latitude))
	sd, cd := math.Sincos(rad(dec))
	sw, cw := math.Sincos(rad(in.WallFaces))
	up := wave{cphi * cd, 0, sphi * sd}
	// The sun's direction has the parts north cphi sd - sphi cd cos H and east -cd sin H.
	front := wave{-cw * sphi * cd, -sw * cd, cw * cphi * sd}
	under := wave{
		in.EaveAboveMM*front.p - in.EaveOutMM*up.p,
		in.EaveAboveMM*front.q - in.EaveOutMM*up.q,
		in.EaveAboveMM*front.r - in.EaveOutMM*up.r,
	}
	waves := []wave{up, front}
	if in.EaveOutMM > 0 { // without an eave the third says the same as the second
		waves = append(waves, under)
	}
	cuts := []float64{-180, 180}
	for _, w := range waves {
		cuts = append(cuts, w.zeros()...)
	}
	sort.Float64s(cuts)
	var spells [][2]float64
	for i := 1; i < len(cuts); i++ {
		from, to := cuts[i-1], cuts[i]
		if to-from < 1e-9 || !all(waves, (from+to)/2) {
			continue
		}
		if n := len(spells); n > 0 && from-spells[n-1][1] < 1e-9 {
			spells[n-1][1] = to
		} else {
			spells = append(spells, [2]float64{from, to})
		}
	}
	return spells
}

func all(waves []wave, h float64) bool {
	for _, w := range waves {
		if w.at(h) <= 0 {
			return false
		}
	}
	return true
}

// clock writes an hour angle as solar time to the minute.
func clock(h float64) string {
	minutes := int(math.Round((h + 180) * 4))
	return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
}

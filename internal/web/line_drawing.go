package web

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"kerfbook/internal/answer"
	"kerfbook/internal/show"
)

// lineCurve is the chance that a place in the line is served, drawn over the months ahead.
type lineCurve struct {
	Line      string // points
	CertainY  string // four in five
	CertainTY string
	Levels    []curveMark
	Days      []curveMark
	Likely    *curveMark
	Promised  *curveMark
	Title     string
	Said      string
}

// lineMonths is the least that is drawn.
const lineMonths = 6

// drawLineCurve draws one place; nil where nobody waits.
func drawLineCurve(v *answer.PlaceView) *lineCurve {
	if v == nil || len(v.Curve) < 2 {
		return nil
	}
	last := v.Day.AddDate(0, lineMonths, 0)
	for _, d := range []*time.Time{v.LikelyOn, v.PromisedOn} {
		if d != nil && d.AddDate(0, 4, 0).After(last) {
			last = d.AddDate(0, 4, 0)
		}
	}
	end := v.Curve[len(v.Curve)-1].On
	if v.LikelyOn == nil || last.After(end) {
		last = end
	}
	k := curveScale{from: v.Day, days: last.Sub(v.Day).Hours() / 24, mostPct: 100}
	d := &lineCurve{CertainY: at(k.y(80)), CertainTY: at(k.y(80) - 4), Title: fmt.Sprintf("Place %d, %s", v.Place, v.Who)}
	var points []string
	for i, p := range v.Curve {
		if p.On.After(last) {
			before := v.Curve[i-1] // the curve leaves the drawing between two points
			share := last.Sub(before.On).Hours() / p.On.Sub(before.On).Hours()
			points = append(points, at(k.x(last))+","+at(k.y(100*(before.Chance+share*(p.Chance-before.Chance)))))
			break
		}
		points = append(points, at(k.x(p.On))+","+at(k.y(100*p.Chance)))
	}
	d.Line = strings.Join(points, " ")
	for pct := 0; pct <= 100; pct += 20 {
		y := k.y(float64(pct))
		d.Levels = append(d.Levels, curveMark{Y: at(y), TextY: at(y + 4), Text: strconv.Itoa(pct)})
	}
	d.months(k, last)
	d.Said = d.Title + ": " + v.Words(show.Date) + "."
	if v.LikelyOn != nil {
		d.Likely = dateMark(k, *v.LikelyOn, "likely "+show.Date(*v.LikelyOn), 14)
	}
	if v.PromisedOn != nil && !v.PromisedOn.Before(v.Day) {
		d.Promised = dateMark(k, *v.PromisedOn, "promised "+show.Date(*v.PromisedOn), 30)
		if v.PromiseChance != nil {
			d.Said += fmt.Sprintf(" By the promised %s the chance is %d in 100.", show.Date(*v.PromisedOn), int(math.Round(100**v.PromiseChance)))
		}
	}
	return d
}

// dateMark is an upright line at a day with its words, kept inside the drawing.
func dateMark(k curveScale, on time.Time, words string, textY float64) *curveMark {
	x := k.x(on)
	m := &curveMark{X: at(x), TextX: at(x + 3), TextY: at(textY), Anchor: "start", Text: words}
	if x > curveLeft+(curveWide-curveLeft)/2 {
		m.Anchor, m.TextX = "end", at(x-3)
	}
	return m
}

func (d *lineCurve) months(k curveScale, last time.Time) {
	step := 1 + int(k.days)/150
	month := time.Date(k.from.Year(), k.from.Month()+1, 1, 0, 0, 0, 0, time.UTC)
	year := 0
	for ; !month.After(last); month = month.AddDate(0, step, 0) {
		if x := k.x(month); x < curveWide-34 {
			text := month.Format("Jan")
			if month.Year() != year {
				text, year = month.Format("Jan 06"), month.Year()
			}
			d.Days = append(d.Days, curveMark{X: at(x), TextX: at(x + 2), TextY: at(curveHigh - 8), Text: text})
		}
	}
}

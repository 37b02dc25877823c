package web

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"kerfbook/internal/show"
	"kerfbook/internal/workshop"
)

// The drawing of the bench: a column of labels, then days or weeks; in units that are
// pixels on a phone of 360.
const (
	drawLabels   = 68.0
	drawWide     = 320.0
	drawRow      = 22.0
	drawHead     = 30.0
	drawRowsMost = 24
	fortnight    = 14
	weeksAfter   = 10
)

// benchDrawing is the work of builds over days, one row a build, to scale: a day's column
// is its hours, a bar what of them the build takes.
type benchDrawing struct {
	Title, Words         string
	Width, Height, Below float64
	Columns              []drawColumn
	Rows                 []drawRowOf
}

type drawColumn struct {
	X, TextX, Width float64
	Top, Under      string
	Closed          bool
}

type drawRowOf struct {
	Label                          string
	Late                           bool
	TextY, TopY, BarY, LineY, DueX float64
	Bars                           []drawBar
}

type drawBar struct{ X, Width float64 }

// tenths keeps a drawing's figures short.
func tenths(v float64) float64 { return math.Round(v*10) / 10 }

// drawBench draws jobs over days; with weeks a column is seven of them.
func drawBench(title string, jobs []workshop.BenchJob, days []workshop.BenchDay, weeks bool) (benchDrawing, bool) {
	d := benchDrawing{Title: title, Width: drawWide}
	wide := (drawWide - drawLabels) / float64(len(days))
	month := time.Month(0)
	for i, day := range days {
		if weeks && i%7 > 0 {
			continue
		}
		col := drawColumn{X: tenths(drawLabels + wide*float64(i)), Width: tenths(wide), Closed: !weeks && day.OpenMin == 0}
		col.TextX = tenths(col.X + 2)
		col.Under = fmt.Sprint(day.On.Day())
		col.Top = day.On.Format("Mon")[:1]
		if weeks {
			col.Top = ""
			if day.On.Month() != month {
				col.Top, month = day.On.Format("Jan"), day.On.Month()
			}
		}
		d.Columns = append(d.Columns, col)
	}
	end := days[len(days)-1].On
	for _, j := range jobs {
		if len(d.Rows) == drawRowsMost {
			break
		}
		y := drawHead + drawRow*float64(len(d.Rows))
		row := drawRowOf{Label: j.Number, Late: j.LateDays > 0, TextY: y + 15, TopY: y + 2, BarY: y + 5, LineY: y + drawRow}
		for i, day := range days {
			for _, w := range day.Work {
				if w.BuildID == j.BuildID && day.LongMin > 0 {
					x := drawLabels + wide*(float64(i)+float64(w.From)/float64(day.LongMin))
					row.Bars = append(row.Bars, drawBar{tenths(x), tenths(max(1, wide*float64(w.To-w.From)/float64(day.LongMin)))})
				}
			}
		}
		if len(row.Bars) == 0 {
			continue
		}
		if j.DueOn != nil && !j.DueOn.After(end) && !j.DueOn.Before(days[0].On) {
			row.DueX = tenths(drawLabels + wide*(j.DueOn.Sub(days[0].On).Hours()/24+1) - 1)
		}
		d.Rows = append(d.Rows, row)
	}
	d.Height = drawHead + drawRow*float64(len(d.Rows)) + 2
	d.Below = d.Height - drawHead
	d.Words = fmt.Sprintf("%s: %s drawn as bars; the table says the same in words.", title, show.Count(int64(len(d.Rows)), "build", "builds"))
	return d, len(d.Rows) > 0
}

// drawings are the coming fortnight by day and the weeks after it, with the days in words.
func drawings(v *sheetView, b *workshop.Bench, jobs []workshop.BenchJob, today time.Time) {
	days := b.Days(jobs, today, fortnight)
	if d, ok := drawBench("The coming fortnight by day; a bar is work, an upright line the day it is due", jobs, days, false); ok {
		v.Drawings = append(v.Drawings, d)
	}
	after := b.Days(jobs, today.AddDate(0, 0, fortnight), 7*weeksAfter)
	if d, ok := drawBench("The weeks after, each from the day that stands above it", jobs, after, true); ok {
		v.Drawings = append(v.Drawings, d)
	}
	v.Tables = append(v.Tables, daysTable(days, jobs), weeksTable(after, jobs))
}

// work sums the minutes of each build over some days, in the order of the jobs.
func workIn(days []workshop.BenchDay, jobs []workshop.BenchJob) (words string, sum, open int64) {
	minutes := map[int64]int64{}
	for _, d := range days {
		open += d.OpenMin
		for _, w := range d.Work {
			minutes[w.BuildID] += w.To - w.From
			sum += w.To - w.From
		}
	}
	var list []string
	for _, j := range jobs {
		if minutes[j.BuildID] > 0 {
			list = append(list, j.Number+" "+show.Minutes(minutes[j.BuildID]))
		}
	}
	return strings.Join(list, ", "), sum, open
}

func daysTable(days []workshop.BenchDay, jobs []workshop.BenchJob) sheetTable {
	t := sheetTable{Title: "Day by day in words", Fold: true, Heads: heads("Day", "Work", "Hours taken"), Empty: "No work is laid for these days."}
	for i := range days {
		words, sum, open := workIn(days[i:i+1], jobs)
		if sum > 0 || open > 0 {
			t.add(cellOf(days[i].On.Format("Mon")+" "+show.Date(days[i].On)), cellOf(words), cellOf(show.Minutes(sum)+" of "+show.Minutes(open)))
		}
	}
	return t
}

func weeksTable(days []workshop.BenchDay, jobs []workshop.BenchJob) sheetTable {
	t := sheetTable{Title: "Week by week in words", Fold: true, Heads: heads("Week from", "Work", "Hours taken"), Empty: "No work is laid for these weeks."}
	for week := range slices.Chunk(days, 7) {
		if words, sum, open := workIn(week, jobs); sum > 0 {
			t.add(cellOf(show.Date(week[0].On)), cellOf(words), cellOf(show.Minutes(sum)+" of "+show.Minutes(open)))
		}
	}
	return t
}

// dueWords says by when a build must be done at the bench, and how that stands.
func dueWords(j workshop.BenchJob) sheetCell {
	c := cellOf(show.DateOr(j.DueOn, "no date"))
	switch {
	case j.DueOn == nil:
	case j.LateDays > 0:
		c.Late = show.Count(int64(j.LateDays), "day", "days") + " late:"
	case j.RiskDays > 0 && j.EndsP80 == nil:
		c.Text += ", at risk: hours may not reach"
	case j.RiskDays > 0:
		c.Text += fmt.Sprintf(", at risk: only by %s in four of five", show.Date(*j.EndsP80))
	}
	return c
}

// wasWords says from when a build would move.
func wasWords(now time.Time, was *time.Time) string {
	if was == nil || was.Equal(now) {
		return show.Date(now)
	}
	return show.Date(now) + ", was " + show.Date(*was)
}

package web

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"kerfbook/internal/answer"
	"kerfbook/internal/calc/sawing"
)

// logEnd is the end of a log with every board in it, drawn to scale.
type logEnd struct {
	Height         string
	Rounds         []drawnRound
	Boxes          []drawnBox
	Words          []drawnWord
	About, Caption string
}

type drawnRound struct {
	X, Y, R string
	Broken  bool
}

type drawnBox struct {
	X, Y, W, H string
	Broken     bool
}

type drawnWord struct{ X, Y, Text string }

// The drawing is as wide as a phone's page, so that its type is as large there as it is
// written here.
const (
	logEndWide  = 328.0
	logEndEdge  = 3.0
	logEndType  = 13.0
	wordPerType = 0.56 // width of a letter by the size of type
)

func drawn(v float64) string { return fmt.Sprintf("%.1f", v) }

// logEndOf draws what a log gives.
func logEndOf(y answer.LogYield) *logEnd {
	small, large := y.Log.SmallEndMM.InexactFloat64(), y.Log.LargeEndMM.InexactFloat64()
	scale := (logEndWide - 2*logEndEdge) / large
	mid := logEndWide / 2
	d := &logEnd{Height: drawn(logEndWide), Caption: "The small end, to scale. The broken circle is the large end; the cross is the pith."}
	d.Rounds = []drawnRound{{drawn(mid), drawn(mid), drawn(small / 2 * scale), false}}
	if large > small {
		d.Rounds = append(d.Rounds, drawnRound{drawn(mid), drawn(mid), drawn(large / 2 * scale), true})
	}
	behind, bare := false, []string{}
	for _, b := range y.Out.Layout {
		box := drawnBox{drawn(mid + b.XMM*scale), drawn(mid - (b.YMM+b.ThicknessMM)*scale), drawn(b.WidthMM * scale), drawn(b.ThicknessMM * scale), b.FromButtMM > 0}
		d.Boxes = append(d.Boxes, box)
		if b.FromButtMM > 0 {
			behind = true
			continue
		}
		text := boardWord(y, b, b.WidthMM*scale)
		if b.ThicknessMM*scale < logEndType-2 {
			text = ""
		}
		if text == "" && !slices.Contains(bare, y.KeyOf(b.ID)) {
			bare = append(bare, y.KeyOf(b.ID))
		}
		if text != "" {
			d.Words = append(d.Words, drawnWord{drawn(mid + (b.XMM+b.WidthMM/2)*scale), drawn(mid - (b.YMM+b.ThicknessMM/2)*scale + logEndType*0.36), text})
		}
	}
	if half := y.HeartBoxMM / 2 * scale; half > 0 {
		d.Boxes = append(d.Boxes, drawnBox{drawn(mid - half), drawn(mid - half), drawn(2 * half), drawn(2 * half), true})
		d.Caption += " No board enters the broken square."
	}
	if behind {
		d.Caption += " A broken board lies behind another, towards the small end."
	}
	if len(bare) > 0 {
		d.Caption += " Too small for a letter: " + strings.Join(bare, ", ") + "."
	}
	d.Caption += " A number beside a letter is a shorter board's length in metres."
	d.Boxes = append(d.Boxes, drawnBox{drawn(mid - 4), drawn(mid), "8", "0.1", false}, drawnBox{drawn(mid), drawn(mid - 4), "0.1", "8", false})
	d.About = fmt.Sprintf("The end of the log with %d boards in it; the table below counts them.", len(y.Out.Layout))
	return d
}

// boardWord is a board's letter, with its length when it is shorter than the log and there
// is room.
func boardWord(y answer.LogYield, b sawing.Laid, wide float64) string {
	key := y.KeyOf(b.ID)
	full := key
	if b.LengthMM < y.Out.Layout[0].LengthMM-1 || b.LengthMM < y.Log.LengthMM.InexactFloat64()-1 {
		full = fmt.Sprintf("%s %.1f", key, math.Floor(b.LengthMM/100)/10)
	}
	for _, text := range []string{full, key} {
		if float64(len(text))*logEndType*wordPerType < wide-2 {
			return text
		}
	}
	return ""
}

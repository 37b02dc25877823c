package hive

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"kerfbook/internal/calc/contract"
)

// Parts gives every part of m with its length, in the model's order, for walls truly
// wallMM thick. Lengths are exact: sums of whole hundredths and halves of them. A
// model that Model.Check refuses is an error, and so is a length outside 0 to 20 m. Of a
// part that is glued of strips the strips are given, longer by GluedTrimMM.
func Parts(m Model, wallMM float64) ([]CutPart, error) {
	if err := m.Check("/model", wallMM); err != nil {
		return nil, err
	}
	heights := map[string]float64{"": 0} // "": of all sections together
	for _, s := range m.Sections {
		heights[s.ID] = s.HeightMM
		heights[""] += s.HeightMM * float64(s.Count)
	}
	var c contract.Checks
	parts := make([]CutPart, len(m.Parts))
	for i, p := range m.Parts {
		f := p.Length
		length := halves(f.Length)*fine(m.LengthMM) + halves(f.Width)*fine(m.WidthMM) +
			halves(f.Wall)*fine(wallMM) + halves(f.Height)*fine(heights[p.Section]) + 2*fine(f.PlusMM)
		count, strips, panel := p.Count, 0, 0.0
		if p.Strips != nil {
			length += 2 * fine(GluedTrimMM)
			count, strips, panel = p.Count*p.Strips.Count, p.Strips.Count, p.Strips.WidthMM
		}
		if length <= 0 || length > 200*mostLengthMM {
			c.Add(fmt.Sprintf("/model/parts/%d/length", i), "comes to %g mm; it must lie between 0 and %d", toMM(length), mostLengthMM)
		}
		parts[i] = CutPart{ID: p.ID, Name: p.Name, Section: p.Section, BoardSize: p.BoardSize, LengthMM: toMM(length), Count: count, Grade: p.Grade, Strips: strips, PanelWidthMM: panel}
	}
	return parts, c.Err()
}

// halves gives twice a factor, a whole number.
func halves(factor float64) int64 { return int64(math.Round(2 * factor)) }

// LengthTenths gives the part's length in whole tenths of a millimetre, as the record
// keeps it, rounded up so that no part comes out short.
func (p CutPart) LengthTenths() int64 {
	return int64(math.Ceil(p.LengthMM*10 - 1e-6))
}

// BoardNeed is what a list of parts takes of one board size, end to end and without
// kerfs: the least there can be.
type BoardNeed struct {
	BoardSize
	Pieces    int     `json:"pieces"`
	Metres    float64 `json:"metres"`
	VolumeM3  float64 `json:"volume_m3"`  // by the board size's own thickness
	LongestMM float64 `json:"longest_mm"` // longest single part
}

// Boards sums parts by board size, the widest first, then the thickest.
func Boards(parts []CutPart) []BoardNeed {
	needs := []BoardNeed{}
	at := map[BoardSize]int{}
	for _, p := range parts {
		i, ok := at[p.BoardSize]
		if !ok {
			i = len(needs)
			at[p.BoardSize] = i
			needs = append(needs, BoardNeed{BoardSize: p.BoardSize})
		}
		n := &needs[i]
		n.Pieces += p.Count
		n.Metres += p.LengthMM * float64(p.Count) / 1000
		n.LongestMM = max(n.LongestMM, p.LengthMM)
	}
	for i := range needs {
		needs[i].VolumeM3 = needs[i].Metres * needs[i].WidthMM * needs[i].ThicknessMM / 1e6
	}
	slices.SortFunc(needs, func(a, b BoardNeed) int {
		return cmp.Or(cmp.Compare(b.WidthMM, a.WidthMM), cmp.Compare(b.ThicknessMM, a.ThicknessMM))
	})
	return needs
}

// WorkMinutes gives the hands-on minutes of n boxes in one batch: set-up once, the
// rest for each. Waits are not work and are left out.
func WorkMinutes(operations []Operation, n int) float64 {
	total := 0.0
	for _, o := range operations {
		total += o.SetupMinutes + o.PieceMinutes*float64(n)
	}
	return total
}

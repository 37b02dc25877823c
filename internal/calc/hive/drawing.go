package hive

import "fmt"

// Rect is one rectangle of a drawing in millimetres, its lower left corner at X, Y.
type Rect struct {
	Name     string
	Kind     string // kind of the section, or "room" for the space inside
	XMM, YMM float64
	WidthMM  float64
	HeightMM float64
}

// Drawing is a plain drawing of a box in three views. All have their origin at the
// lower left corner of the box as it stands, or of the walls seen from above.
type Drawing struct {
	LengthMM, WidthMM, HeightMM float64 // over all, of the walls
	Front                       []Rect  // across the width: every section, from the ground up
	Side                        []Rect  // along the length: the same, with the rooms that a cut would show
	Plan                        []Rect  // from above: the walls' outline, then the room
}

// Draw gives the drawing of m with walls truly wallMM thick. A model that Model.Check
// refuses is an error.
func Draw(m Model, wallMM float64) (Drawing, error) {
	if err := m.Check("/model", wallMM); err != nil {
		return Drawing{}, err
	}
	a, b := m.inner(wallMM)
	d := Drawing{LengthMM: a + 2*wallMM, WidthMM: b + 2*wallMM}
	for _, s := range m.Sections {
		for i := range s.Count {
			name := s.ID
			if s.Count > 1 {
				name = fmt.Sprintf("%s %d", s.ID, i+1)
			}
			front := Rect{name, s.Kind, 0, d.HeightMM, d.WidthMM, s.HeightMM}
			side := front
			side.WidthMM = d.LengthMM
			d.Front, d.Side = append(d.Front, front), append(d.Side, side)
			if s.roomy() {
				d.Side = append(d.Side, Rect{name, "room", wallMM, d.HeightMM, a, s.HeightMM})
			}
			d.HeightMM += s.HeightMM
		}
	}
	d.Plan = []Rect{{"walls", "other", 0, 0, d.LengthMM, d.WidthMM}, {"room", "room", wallMM, wallMM, a, b}}
	return d, nil
}

package travel

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"time"

	"kerfbook/internal/calc/contract"
)

// Stop is a place to call at.
type Stop struct {
	ID        string  `json:"id" need:"yes"`
	Latitude  float64 `json:"latitude" need:"yes"`  // degrees, -90 to 90
	Longitude float64 `json:"longitude" need:"yes"` // degrees, -180 to 180, east positive
}

// Mark names a stop: by its id, or with a matrix by its whole number from 0.
type Mark struct {
	ID     string
	Index  int
	Number bool // Index counts, not ID
}

// MarshalJSON writes the id as a string or the index as a number.
func (m Mark) MarshalJSON() ([]byte, error) {
	if m.Number {
		return []byte(strconv.Itoa(m.Index)), nil
	}
	return json.Marshal(m.ID)
}

// UnmarshalJSON reads either. Anything else becomes a mark that names no stop,
// so that the refusal can say where it stands.
func (m *Mark) UnmarshalJSON(raw []byte) error {
	*m = Mark{Index: -1, Number: true}
	if json.Unmarshal(raw, &m.Index) == nil {
		return nil
	}
	m.Index = -1
	var id string
	if json.Unmarshal(raw, &id) == nil {
		*m = Mark{ID: id}
	}
	return nil
}

// RunIn is a day's stops, with places or with a table of distances.
type RunIn struct {
	Stops        []Stop      `json:"stops,omitempty"`         // 1 to 2000, the start among them
	MatrixKM     [][]float64 `json:"matrix_km,omitempty"`     // row from, column to; 0 to 1e6 km; need not be the same both ways
	Start        Mark        `json:"start" need:"yes"`        // where the run begins
	Return       *bool       `json:"return,omitempty"`        // end at the start; true when left out
	DetourFactor *float64    `json:"detour_factor,omitempty"` // road over straight line, 1 to 10; 1.3 when left out; not on a matrix
	Before       [][]Mark    `json:"before,omitempty"`        // pairs: the first is called at before the second
	TimeLimitMS  *int        `json:"time_limit_ms,omitempty"` // 1 to 60000; 1000 when left out
}

// RunOut is the order found.
type RunOut struct {
	Order   []Mark  `json:"order"`    // from the start; the way back is not repeated
	KM      float64 `json:"km"`       // with the way back, where there is one
	Proved  bool    `json:"proved"`   // no order is shorter
	BoundKM float64 `json:"bound_km"` // no order is shorter than this
}

const (
	maxStops      = 2000
	defaultDetour = 1.3 // common practice, no source: country roads over the straight line
	exactMatrix   = 600 // stops up to which the search uses geodesics; above, chords
)

// Run gives a short order of the stops. The shortest and proved up to 16 stops
// besides the start; above that see the package comment. Distances between
// places are geodesics times the detour factor. Two runs on the same input give
// the same answer, unless the time was out before the work was. Bad input, among
// it a circle in before, gives a *contract.Error.
func Run(ctx context.Context, in RunIn) (RunOut, error) {
	limit := 1000
	if in.TimeLimitMS != nil {
		limit = *in.TimeLimitMS
	}
	ctx, cancel := context.WithTimeout(ctx, time.Duration(limit)*time.Millisecond)
	defer cancel()
	t, marks, err := readRun(in)
	if err != nil {
		return RunOut{}, err
	}
	found := t.solve(ctx)
	if err := t.check(found.order); err != nil {
		return RunOut{}, fmt.Errorf("order of %d stops: %w", t.n, err)
	}
	out := RunOut{Order: make([]Mark, t.n), Proved: found.proved}
	for i, s := range found.order {
		out.Order[i] = marks[s]
	}
	out.KM = in.length(t, found.order)
	out.BoundKM = math.Min(found.bound, out.KM)
	if found.proved {
		out.BoundKM = out.KM
	}
	return out, nil
}

// length measures an order anew from the input, whatever the search used.
func (in RunIn) length(t *task, order []int) float64 {
	if in.MatrixKM != nil {
		return t.length(order)
	}
	total := 0.0
	for i, to := range order {
		from := order[(i+t.n-1)%t.n]
		if i == 0 && !t.back {
			continue
		}
		a, b := in.Stops[from], in.Stops[to]
		total += geodesicM(a.Latitude, a.Longitude, b.Latitude, b.Longitude)
	}
	return total / 1000 * in.detour()
}

func (in RunIn) detour() float64 {
	if in.DetourFactor == nil {
		return defaultDetour
	}
	return *in.DetourFactor
}

// readRun checks the input and makes the task of it.
func readRun(in RunIn) (*task, []Mark, error) {
	var c contract.Checks
	if in.TimeLimitMS != nil {
		c.Number("/time_limit_ms", float64(*in.TimeLimitMS), 1, 60000)
	}
	if in.DetourFactor != nil {
		c.Number("/detour_factor", *in.DetourFactor, 1, 10)
	}
	var marks []Mark
	switch {
	case in.Stops != nil && in.MatrixKM != nil:
		c.Add("/matrix_km", "give either stops or a matrix, not both")
	case in.MatrixKM != nil:
		marks = in.checkMatrix(&c)
	default:
		marks = in.checkStops(&c)
	}
	if err := c.Err(); err != nil {
		return nil, nil, err
	}
	where := map[Mark]int{}
	for i, m := range marks {
		where[m] = i
	}
	t := &task{n: len(marks), back: in.Return == nil || *in.Return}
	start, ok := where[in.Start]
	if !ok {
		c.Add("/start", "is none of the stops")
	}
	t.start = start
	t.before = in.checkBefore(&c, where)
	if err := c.Err(); err != nil {
		return nil, nil, err
	}
	if bad := t.circle(); bad >= 0 {
		return nil, nil, contract.Bad(fmt.Sprintf("/before/%d", bad), "goes round in a circle: these stops would each have to come before themselves")
	}
	t.cost = in.costs(t.n)
	t.finish()
	return t, marks, nil
}

func (in RunIn) checkStops(c *contract.Checks) []Mark {
	if n := len(in.Stops); n == 0 || n > maxStops {
		c.Add("/stops", "a run has 1 to %d stops, not %d", maxStops, n)
		return nil
	}
	seen := map[string]bool{}
	marks := make([]Mark, len(in.Stops))
	for i, s := range in.Stops {
		at := fmt.Sprintf("/stops/%d", i)
		if s.ID == "" {
			c.Add(at+"/id", "every stop needs an id")
		} else if seen[s.ID] {
			c.Add(at+"/id", "the id %q stands twice in the list", s.ID)
		}
		seen[s.ID] = true
		c.Number(at+"/latitude", s.Latitude, -90, 90)
		c.Number(at+"/longitude", s.Longitude, -180, 180)
		marks[i] = Mark{ID: s.ID}
	}
	return marks
}

func (in RunIn) checkMatrix(c *contract.Checks) []Mark {
	n := len(in.MatrixKM)
	if n == 0 || n > maxStops {
		c.Add("/matrix_km", "a run has 1 to %d stops, not %d", maxStops, n)
		return nil
	}
	if in.DetourFactor != nil && *in.DetourFactor != 1 {
		c.Add("/detour_factor", "a matrix holds road distances already: leave the factor out")
	}
	marks := make([]Mark, n)
	for i, row := range in.MatrixKM {
		marks[i] = Mark{Index: i, Number: true}
		if len(row) != n {
			c.Add(fmt.Sprintf("/matrix_km/%d", i), "has %d numbers where the matrix has %d rows", len(row), n)
			return nil
		}
		for j, v := range row {
			if !c.Number(fmt.Sprintf("/matrix_km/%d/%d", i, j), v, 0, 1e6) {
				return nil // one is enough: there may be millions
			}
		}
	}
	return marks
}

// checkBefore gives the pairs as indices, without those that the start meets anyway.
func (in RunIn) checkBefore(c *contract.Checks, where map[Mark]int) [][2]int {
	const maxPairs = 10000
	if len(in.Before) > maxPairs {
		c.Add("/before", "has more than %d pairs", maxPairs)
		return nil
	}
	var pairs [][2]int
	for i, p := range in.Before {
		at := fmt.Sprintf("/before/%d", i)
		if len(p) != 2 {
			c.Add(at, "write a pair: the stop that comes first, then the other")
			continue
		}
		first, ok1 := where[p[0]]
		then, ok2 := where[p[1]]
		switch {
		case !ok1:
			c.Add(at+"/0", "is none of the stops")
		case !ok2:
			c.Add(at+"/1", "is none of the stops")
		case first == then:
			c.Add(at, "a stop cannot come before itself")
		case p[1] == in.Start:
			c.Add(at+"/1", "nothing can come before the start")
		}
		pairs = append(pairs, [2]int{first, then})
	}
	return pairs
}

// costs gives the table of the search. Above exactMatrix stops it holds straight
// chords through the Earth instead of geodesics: never longer, so that bounds
// stay true, and for neighbouring stops the same to a few parts in a million.
func (in RunIn) costs(n int) []float64 {
	cost := make([]float64, n*n)
	if in.MatrixKM != nil {
		for i, row := range in.MatrixKM {
			copy(cost[i*n:], row)
		}
		return cost
	}
	factor := in.detour() / 1000
	point := make([][3]float64, n)
	for i, s := range in.Stops {
		point[i] = cartesian(s.Latitude, s.Longitude)
	}
	for i := range n {
		for j := range i {
			var d float64
			if n <= exactMatrix {
				a, b := in.Stops[i], in.Stops[j]
				d = geodesicM(a.Latitude, a.Longitude, b.Latitude, b.Longitude)
			} else {
				x, y, z := point[i][0]-point[j][0], point[i][1]-point[j][1], point[i][2]-point[j][2]
				d = math.Sqrt(x*x + y*y + z*z)
			}
			cost[i*n+j], cost[j*n+i] = d*factor, d*factor
		}
	}
	return cost
}

// cartesian gives a place on the ellipsoid in metres from the Earth's middle.
func cartesian(lat, lon float64) [3]float64 {
	s, c := math.Sincos(radians(lat))
	so, co := math.Sincos(radians(lon))
	r := equatorM / math.Sqrt(1-ecc2*s*s)
	return [3]float64{r * c * co, r * c * so, r * (1 - ecc2) * s}
}

package cutting

// In is one day's cutting of one board size.
type In struct {
	// KerfMM is the width of the saw cut in mm, 0 to 100, no more than the
	// shortest part.
	KerfMM float64 `json:"kerf_mm" need:"yes"`
	// TrimMM is cut off each end of each board before anything else, mm.
	TrimMM float64 `json:"trim_mm,omitempty"`
	// Boards are what the rack offers; none at all leaves everything unplaced.
	Boards []Board `json:"boards" need:"yes"`
	// Parts are what the day needs; at least one.
	Parts []Part `json:"parts" need:"yes"`
	// KeepOffcutMM is the shortest offcut worth putting back, mm. Nil or 0: any.
	KeepOffcutMM *float64 `json:"keep_offcut_mm,omitempty"`
	// TimeLimitMS ends the search by the clock, 1 to 600000 ms. Nil: 1000.
	TimeLimitMS *int `json:"time_limit_ms,omitempty"`
	// WorkLimit ends the search after so many elementary steps, the same on every
	// machine. Nil: so many that a desk computer needs most of the time limit.
	WorkLimit *int `json:"work_limit,omitempty"`
}

// Board is a lot of equal boards.
type Board struct {
	ID       string  `json:"id" need:"yes"`
	LengthMM float64 `json:"length_mm" need:"yes"` // mm, above 0, at most three decimals
	Count    int     `json:"count" need:"yes"`     // boards, 1 to 1000000
	// Cost of one board; on every board or on none. Zero is allowed.
	Cost    *Cost   `json:"cost,omitempty"`
	Offcut  bool    `json:"offcut,omitempty"`
	AgeDays float64 `json:"age_days,omitempty"` // days on the rack, 0 or more
}

// Part is a length that is wanted so many times.
type Part struct {
	ID       string  `json:"id" need:"yes"`
	LengthMM float64 `json:"length_mm" need:"yes"` // mm, above 0, at most three decimals
	Count    int     `json:"count" need:"yes"`     // pieces, 1 to 100000
}

// Out is a cutting plan.
type Out struct {
	BoardsUsed   int     `json:"boards_used"`
	LengthUsedMM float64 `json:"length_used_mm"` // whole boards, trim and offcuts included
	Cost         *Cost   `json:"cost,omitempty"` // where boards have one
	// Bound is what no plan that places as much can go below: a cost, mm, or boards.
	Bound Bound `json:"bound"`
	// BoundUnit says which: "cost", "mm" or "boards".
	BoundUnit string `json:"bound_unit"`
	// Proved is true when the plan meets Bound and no plan places more.
	Proved  bool     `json:"proved"`
	Layouts []Layout `json:"layouts"`
	// Unplaced lists the parts for which there is no room. The plan then places
	// the greatest total length of parts that was found, then the most parts.
	Unplaced []PartCount `json:"unplaced"`
	// UnplacedMM is the length of these parts, LeastUnplacedMM what no plan leaves less of.
	UnplacedMM      float64 `json:"unplaced_mm"`
	LeastUnplacedMM float64 `json:"least_unplaced_mm"`
	// KeptOffcutMM is the longest offcut of at least keep_offcut_mm, 0 for none.
	KeptOffcutMM float64 `json:"kept_offcut_mm"`
	// Work is the number of elementary steps the search took.
	Work int `json:"work"`
}

// Layout is one way of cutting a board, done on Times boards of one lot. Cuts
// run from the long part to the short one.
type Layout struct {
	Board    string      `json:"board"`
	Times    int         `json:"times"`
	Cuts     []PartCount `json:"cuts"`
	OffcutMM float64     `json:"offcut_mm"` // what comes back from each board, after the last kerf
}

// PartCount is so many of one part.
type PartCount struct {
	Part  string `json:"part"`
	Count int    `json:"count"`
}

// Units of Bound.
const (
	UnitCost   = "cost"
	UnitMM     = "mm"
	UnitBoards = "boards"
)

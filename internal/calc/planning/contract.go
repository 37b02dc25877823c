package planning

import "kerfbook/internal/calc/contract"

// Batch says that neighbouring steps with the same key share one set-up.
type Batch struct {
	Key          string `json:"key" need:"yes"`
	SetupMinutes int64  `json:"setup_minutes" need:"yes"` // 0 or more
}

// Step is work of one hand without a change of hands.
type Step struct {
	Minutes     int64    `json:"minutes" need:"yes"`     // of work, set-up not included; 0 for a mere wait
	WaitMinutes int64    `json:"wait_minutes,omitempty"` // by the clock, before the next step
	LowMinutes  *int64   `json:"low_minutes,omitempty"`  // a good day; at most Minutes
	HighMinutes *int64   `json:"high_minutes,omitempty"` // a bad day; at least Minutes
	Needs       []string `json:"needs,omitempty"`        // resource ids, held while the step runs; twice for two of it
	Unbroken    bool     `json:"unbroken,omitempty"`     // may not pause at the end of a spell
	Batch       *Batch   `json:"batch,omitempty"`
}

// Job is one build: either Minutes of work or Steps in their order.
type Job struct {
	ID               string   `json:"id" need:"yes"`
	Minutes          *int64   `json:"minutes,omitempty"`
	Steps            []Step   `json:"steps,omitempty"`
	ReleaseMinute    int64    `json:"release_minute,omitempty"`
	DueMinute        int64    `json:"due_minute" need:"yes"` // 0 or more
	Weight           float64  `json:"weight" need:"yes"`     // of a late minute; 0 or more
	Predecessors     []string `json:"predecessors,omitempty"`
	FixedStartMinute *int64   `json:"fixed_start_minute,omitempty"` // the first step starts then
}

// Spell is a stretch of time in which Hands people work; the contract's hands
// count when it is left out.
type Spell struct {
	FromMinute int64 `json:"from_minute" need:"yes"`
	ToMinute   int64 `json:"to_minute" need:"yes"` // the first minute after it
	Hands      *int  `json:"hands,omitempty"`
}

// Resource is a limited thing: clamps, the paint rack, the owner's own hands. With Hours
// it is there only then: a step that needs it works in those hours of the calendar alone
// and pauses between them; meanwhile it keeps its resources, but no hand of the calendar.
type Resource struct {
	ID    string    `json:"id" need:"yes"`
	Count int       `json:"count" need:"yes"`
	Hours []Stretch `json:"hours,omitempty"` // left out (nil): whenever the calendar is open
}

// Stretch is time from one minute to before another.
type Stretch struct {
	FromMinute int64 `json:"from_minute" need:"yes"`
	ToMinute   int64 `json:"to_minute" need:"yes"` // the first minute after it
}

// In is the input of Plan.
type In struct {
	Jobs        []Job      `json:"jobs" need:"yes"`
	Hands       *int       `json:"hands,omitempty"`    // default 1
	Calendar    []Spell    `json:"calendar,omitempty"` // left out (nil): always open
	Resources   []Resource `json:"resources,omitempty"`
	TimeLimitMS *int64     `json:"time_limit_ms,omitempty"` // default 1000
}

// StepPlan is when a step runs, and on which hand (from 1).
type StepPlan struct {
	StartMinute  int64 `json:"start_minute"`
	EndMinute    int64 `json:"end_minute"`
	Hand         int   `json:"hand"`          // 0 for a step of no minutes
	SetupMinutes int64 `json:"setup_minutes"` // of the batch, paid inside this step
}

// JobPlan is when a job runs.
type JobPlan struct {
	ID           string     `json:"id"`
	StartMinute  int64      `json:"start_minute"` // of its first step, set-up included
	EndMinute    int64      `json:"end_minute"`   // of its last step; a wait after it does not count
	TardyMinutes int64      `json:"tardy_minutes"`
	EndP80Minute *int64     `json:"end_p80_minute,omitempty"` // done by then in 4 of 5 cases, see Spread; only where steps have low or high minutes
	Steps        []StepPlan `json:"steps"`
}

// Out is a plan. Jobs stand in the order of the input.
type Out struct {
	Order             []string  `json:"order"` // ids by start
	Jobs              []JobPlan `json:"jobs"`
	WeightedTardiness float64   `json:"weighted_tardiness"`
	Bound             float64   `json:"bound"`  // no plan is below this
	Proved            bool      `json:"proved"` // the plan meets the bound
}

// Topics lists the calculations of this room.
func Topics() []contract.Topic {
	return []contract.Topic{contract.New("planning",
		"steps, hours, waits and due dates laid out as a plan",
		`{"jobs": [
  {"id": "b1", "due_minute": 600, "weight": 3, "steps": [
    {"minutes": 90, "wait_minutes": 120, "batch": {"key": "rebate", "setup_minutes": 20}},
    {"minutes": 60, "needs": ["clamps"], "unbroken": true}]},
  {"id": "b2", "due_minute": 480, "weight": 1, "release_minute": 30, "steps": [
    {"minutes": 45, "batch": {"key": "rebate", "setup_minutes": 20}},
    {"minutes": 30, "needs": ["clamps"]}]},
  {"id": "b3", "minutes": 120, "due_minute": 2000, "weight": 2, "predecessors": ["b1"]}],
 "calendar": [{"from_minute": 0, "to_minute": 240, "hands": 1}, {"from_minute": 300, "to_minute": 540, "hands": 1},
              {"from_minute": 1440, "to_minute": 1920, "hands": 2}],
 "resources": [{"id": "clamps", "count": 1}]}`, Plan)}
}

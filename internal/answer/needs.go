package answer

import (
	"encoding/json"
	"errors"

	"kerfbook/internal/calc/hive"
	"kerfbook/internal/fault"
	"kerfbook/internal/workshop"
)

// Needs is what a line takes, as worked out; it is stored with the line of a quote or an
// order. A quote that holds its place holds this.
type Needs struct {
	SetupMinutes float64        `json:"setup_minutes,omitempty"`     // once for the boxes built anew
	PieceMinutes float64        `json:"piece_minutes,omitempty"`     // each
	WaitMinutes  float64        `json:"wait_minutes,omitempty"`      // without hands
	OwnSetup     float64        `json:"own_setup_minutes,omitempty"` // of SetupMinutes, by the owner alone
	OwnPiece     float64        `json:"own_piece_minutes,omitempty"` // of PieceMinutes, by the owner alone
	Fresh        int            `json:"fresh,omitempty"`             // boxes to be built anew
	SpeciesID    int64          `json:"timber_species_id,omitempty"`
	Boards       []BoardNeed    `json:"boards,omitempty"`   // of the boxes built anew
	Fittings     []hive.Fitting `json:"fittings,omitempty"` // of the boxes built anew
	Shelf        []int64        `json:"shelf,omitempty"`    // boxes from the shelf
	Outputs      []OutputNeed   `json:"outputs,omitempty"`  // pieces of builds under way
	Colonies     int            `json:"colonies,omitempty"` // places in the line
	BeeSpeciesID int64          `json:"bee_species_id,omitempty"`
	OwnBox       bool           `json:"own_box,omitempty"`
	Parts        []PartNeed     `json:"parts,omitempty"` // of one box
	Cost         []CostNeed     `json:"cost,omitempty"`
}

// BoardNeed is how much of a board size the plan uses, waste included.
type BoardNeed struct {
	WidthMM     float64 `json:"width_mm"`
	ThicknessMM float64 `json:"thickness_mm"`
	LengthMM    float64 `json:"length_mm"`
}

// OutputNeed is one piece of a build under way.
type OutputNeed struct {
	BuildID int64 `json:"build_id"`
	N       int   `json:"n"`
}

// PartNeed is a part of one box.
type PartNeed struct {
	Name        string  `json:"name"`
	WidthMM     float64 `json:"width_mm"`
	ThicknessMM float64 `json:"thickness_mm"`
	LengthMM    float64 `json:"length_mm"`
	Count       int     `json:"count"`
}

// CostNeed is what something cost when it was worked out, in minor units.
type CostNeed struct {
	Kind      string `json:"kind"`
	What      string `json:"what"`
	CostMinor int64  `json:"cost_minor"`
}

// readNeeds reads what a line takes; a line without figures needs nothing known.
func readNeeds(raw []byte) Needs {
	var n Needs
	if len(raw) > 0 && json.Unmarshal(raw, &n) != nil {
		return Needs{} // typed in from elsewhere: no figures of ours
	}
	return n
}

func (n Needs) raw() []byte {
	b, err := json.Marshal(n)
	if err != nil { // finite figures always encode
		return []byte("{}")
	}
	return b
}

// minutes is the hands-on time of n boxes in one batch.
func (n Needs) minutes(boxes int) float64 {
	if boxes <= 0 {
		return 0
	}
	return n.SetupMinutes + n.PieceMinutes*float64(boxes)
}

// ownMinutes is what of minutes is the owner's alone.
func (n Needs) ownMinutes(boxes int) float64 {
	return Needs{SetupMinutes: n.OwnSetup, PieceMinutes: n.OwnPiece}.minutes(boxes)
}

// lump is work of which no more is known than how much of it is the owner's alone.
func lump(minutes, own float64) workshop.Ask {
	return workshop.Ask{Minutes: minutes, Parts: []workshop.AskPart{{Minutes: minutes - own}, {Minutes: own, OwnerOnly: true}}}
}

func asFault(err error, e **fault.Error) bool { return errors.As(err, e) }

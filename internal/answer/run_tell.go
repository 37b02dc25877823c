package answer

import (
	"context"
	"fmt"
	"strings"

	"kerfbook/internal/handover"
	"kerfbook/internal/house"
	"kerfbook/internal/show"
)

// RunMessage is what one buyer is to hear of a run that was put off.
type RunMessage struct {
	StopID int64 // marking this stop told tells the buyer of all pieces on the run
	Name   string
	Phone  string
	Email  string
	Text   string
	Told   bool
}

// RunMessages words a message for each buyer of a run that was put off; none for a run
// that is on its first day, done or off the list.
func (r *Room) RunMessages(ctx context.Context, n handover.Run) ([]RunMessage, error) {
	if n.PutOffBecause == "" || n.DoneAt != nil || n.CancelledAt != nil {
		return nil, nil
	}
	set, err := house.SettingsIn(ctx, r.db)
	if err != nil {
		return nil, err
	}
	var out []RunMessage
	of := map[int64]int{}
	var things [][]string
	for _, s := range n.Stops {
		if s.PartyID == nil || s.DoneAt != nil {
			continue
		}
		at, ok := of[*s.PartyID]
		if !ok {
			at = len(out)
			of[*s.PartyID] = at
			out = append(out, RunMessage{StopID: s.ID, Name: s.PartyName, Phone: s.PartyPhone, Email: s.PartyEmail, Told: s.ToldAt != nil})
			things = append(things, nil)
		}
		things[at] = append(things[at], filled(s.What)...)
	}
	for i := range out {
		out[i].Text = putOffWords(n, out[i].Name, things[i], set)
	}
	return out, nil
}

// putOffWords is the message: who is meant, the new day, why, and who writes.
func putOffWords(n handover.Run, name string, things []string, set house.Settings) string {
	what := strings.Join(things, " and ")
	if what == "" {
		what = "your order"
	}
	day := "We now come on " + show.Date(n.RunOn)
	if n.Kind == "collection" {
		day = "Please fetch it on " + show.Date(n.RunOn)
	}
	return fmt.Sprintf("Hello %s, we have to move the day for %s. %s. The reason: %s. It stays put aside for you. If the new day does not suit you, tell us. %s",
		name, what, day, strings.TrimRight(n.PutOffBecause, "."), strings.Join(filled(set.Name, set.Phone), ", "))
}

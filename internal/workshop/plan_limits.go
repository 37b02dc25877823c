package workshop

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"kerfbook/internal/calc/planning"
	"kerfbook/internal/postgres"
)

// ownerHands is the resource of the plan that stands for the owner.
const ownerHands = "the owner's own hands"

// limits are what work waits for beside free hands: the limited things, and the owner.
type limits struct {
	counts map[string]int     // of each thing by its key; 0 when it is put away
	names  map[string]string  // of each by its key
	own    []planning.Stretch // when the owner is at the bench; nil: whenever anybody is

	noOwner bool // the owner never is, though others are
}

func newLimits() limits { return limits{counts: map[string]int{}, names: map[string]string{}} }

// limitsIn reads the limited things.
func limitsIn(ctx context.Context, q postgres.Querier) (limits, error) {
	l := newLimits()
	list, err := postgres.List[Thing](ctx, q, `SELECT `+thingColumns+`, false AS used FROM limited_thing ORDER BY id`)
	for _, t := range list {
		l.set(t)
	}
	return l, err
}

func (l limits) set(t Thing) {
	key := thingKey(t.Name)
	l.names[key], l.counts[key] = t.Name, t.There()
}

// resources gives the limits as the planning calculation takes them.
func (l limits) resources() []planning.Resource {
	out := []planning.Resource{{ID: ownerHands, Count: 1, Hours: l.own}}
	if l.noOwner {
		out[0] = planning.Resource{ID: ownerHands}
	}
	for key, count := range l.counts {
		out = append(out, planning.Resource{ID: key, Count: count})
	}
	slices.SortFunc(out, func(a, b planning.Resource) int { return strings.Compare(a.ID, b.ID) })
	return out
}

// known adds things that a need names and no record does, one of each.
func (l limits) known(needs []string) {
	for _, need := range needs {
		if name, count := thingNamed(need); l.names[thingKey(need)] == "" {
			l.set(Thing{Name: name, Count: count})
		}
	}
}

// needs gives what an operation waits for, as resources of the plan.
func (o Operation) needs() []string {
	var out []string
	for _, need := range o.Needs {
		out = append(out, thingKey(need))
	}
	if o.OwnerOnly {
		out = append(out, ownerHands)
	}
	return out
}

// lack notes at each build what it needs and there is not, or too few of.
func (l limits) lack(list []work) {
	for i := range list {
		w := &list[i]
		for _, o := range w.todo() {
			l.known(o.Needs)
			wanted := map[string]int{}
			for _, need := range o.needs() {
				if wanted[need]++; need == ownerHands || w.Lacks != "" {
					continue
				}
				switch have := l.counts[need]; {
				case have == 0:
					w.Lacks = fmt.Sprintf("Its operation %q needs %s, and there is none: put away.", o.Name, l.names[need])
				case wanted[need] > have:
					w.Lacks = fmt.Sprintf("Its operation %q needs %d of %s at once; the book has %d.", o.Name, wanted[need], l.names[need], have)
				}
			}
		}
	}
}

// fewerThan says of which things there are fewer than when a plan was laid.
func (l limits) fewerThan(planned planning.In) []string {
	var out []string
	for _, r := range planned.Resources {
		if name, ok := l.names[r.ID]; ok && l.counts[r.ID] < r.Count {
			out = append(out, fmt.Sprintf("Of %s there were %d when the plan was laid, now %d.", name, r.Count, l.counts[r.ID]))
		}
	}
	return out
}

// blocked tells that a build cannot be laid at all as things stand.
func (w work) blocked() bool { return w.NeverDry != "" || w.Lacks != "" }

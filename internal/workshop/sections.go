package workshop

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/claims"
	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// SectionStep says that the section at a place of one box went to a place of another;
// places count from the bottom.
type SectionStep struct {
	Place   int
	ToPlace int // 0: the same place
}

// SectionsMove says which sections went from one box to another, as at a split.
type SectionsMove struct {
	FromBoxID, ToBoxID int64
	Steps              []SectionStep
	Exchange           bool // what sat there came back in its place; else it was taken out
	At                 time.Time
	Why                string // such as "split of C0007"
}

// SectionMoved is one section that went, and the one that came back for it.
type SectionMoved struct {
	Section        string
	Place, ToPlace int
	Back           string // "" when none did
}

// Words says it, such as "honey super from place 3 to place 3, and honey super came back".
func (m SectionMoved) Words() string {
	called := func(id string) string { return strings.ReplaceAll(id, "-", " ") }
	s := fmt.Sprintf("%s from place %d to place %d", called(m.Section), m.Place, m.ToPlace)
	if m.Back != "" {
		s += ", and " + called(m.Back) + " came back"
	}
	return s
}

// SerialPlace is the place of the section that bears the serial, which makes the box; 0
// where the book does not know it.
func (r *Room) SerialPlace(ctx context.Context, b Box) (int, error) {
	if b.RevisionID == nil {
		return 0, nil
	}
	rev, err := revisionIn(ctx, r.db, *b.RevisionID)
	if err != nil {
		return 0, err
	}
	for _, s := range b.Sections {
		if s.ToAt == nil && s.Section == rev.SerialSection {
			return s.Place, nil // the lowest: sections come from the bottom
		}
	}
	return 0, nil
}

// SectionsMoveTx moves sections with what they are: each row of the old box ends, and one
// begins in the new box that knows where it came from. Errors: Invalid for a place where
// nothing sits, that is named twice, or whose section bears the serial.
func (r *Room) SectionsMoveTx(ctx context.Context, tx pgx.Tx, m SectionsMove) ([]SectionMoved, error) {
	var l fault.List
	l.Check(m.FromBoxID != m.ToBoxID, "/box_id", "The sections went to another box than they came from.")
	l.Past("/happened_at", m.At, r.db.Now())
	if err := l.Err(); err != nil {
		return nil, err
	}
	if _, err := claims.Lock(ctx, tx, []claims.Thing{claims.Box(m.FromBoxID), claims.Box(m.ToBoxID)}); err != nil {
		return nil, err
	}
	from, err := boxIn(ctx, tx, `WHERE b.id = $1`, m.FromBoxID)
	if err != nil {
		return nil, err
	}
	to, err := boxIn(ctx, tx, `WHERE b.id = $1`, m.ToBoxID)
	if err != nil {
		return nil, err
	}
	serial, err := r.SerialPlace(ctx, from)
	if err != nil {
		return nil, err
	}
	taken := map[int]bool{}
	moved := make([]SectionMoved, len(m.Steps))
	for i, step := range m.Steps {
		at := fmt.Sprintf("/sections/%d", i)
		if step.ToPlace == 0 {
			step.ToPlace = step.Place
		}
		row := sittingAt(from, step.Place)
		switch {
		case row == nil:
			return nil, fault.Bad(at+"/place", "By the book nothing sits at place %d of box %s.", step.Place, from.Serial)
		case step.ToPlace < 1 || step.ToPlace > 50:
			return nil, fault.Bad(at+"/to_place", "The place must lie between 1 and 50, from the bottom.")
		case step.Place == serial:
			return nil, fault.Bad(at+"/place", "The section at place %d bears the serial %s: where it is, the box is. Choose the sections that went away from it.", step.Place, from.Serial)
		case taken[step.ToPlace] || taken[-step.Place]:
			return nil, fault.Bad(at, "Two sections cannot go from or to one place.")
		}
		taken[step.ToPlace], taken[-step.Place] = true, true
		if moved[i], err = m.step(ctx, tx, *row, sittingAt(to, step.ToPlace), step); err != nil {
			return nil, err
		}
	}
	return moved, nil
}

func sittingAt(b Box, place int) *BoxSection {
	for i, s := range b.Sections {
		if s.ToAt == nil && s.Place == place {
			return &b.Sections[i]
		}
	}
	return nil
}

// step moves one section, and back what sat where it went.
func (m SectionsMove) step(ctx context.Context, tx pgx.Tx, row BoxSection, there *BoxSection, step SectionStep) (SectionMoved, error) {
	out := SectionMoved{Section: row.Section, Place: row.Place, ToPlace: step.ToPlace}
	ends := []BoxSection{row}
	if there != nil {
		ends = append(ends, *there)
	}
	for _, e := range ends {
		if m.At.Before(e.FromAt) {
			return out, fault.Bad("/happened_at", "By the book the section at place %d came there later, on %s. Write a later time.", e.Place, e.FromAt.Format("2 January 2006"))
		}
		if _, err := tx.Exec(ctx, `UPDATE box_section SET to_at = $2 WHERE id = $1`, e.ID, m.At); err != nil {
			return out, postgres.Translate(err)
		}
	}
	if err := m.sit(ctx, tx, m.ToBoxID, step.ToPlace, row); err != nil {
		return out, err
	}
	switch {
	case there == nil:
		return out, nil
	case !m.Exchange:
		_, err := tx.Exec(ctx, `UPDATE box_section SET note = $2 WHERE id = $1`, there.ID, "taken out: "+m.Why)
		return out, postgres.Translate(err)
	}
	out.Back = there.Section
	return out, m.sit(ctx, tx, m.FromBoxID, row.Place, *there)
}

// sit puts a section that sat elsewhere at a place of a box.
func (m SectionsMove) sit(ctx context.Context, tx pgx.Tx, box int64, place int, was BoxSection) error {
	_, err := tx.Exec(ctx, `INSERT INTO box_section (box_id, section, place_in_box, from_at, note, came_from_id) VALUES ($1, $2, $3, $4, $5, $6)`, box, was.Section, place, m.At, m.Why, was.ID)
	return postgres.Translate(err)
}

package workshop

import (
	"context"
	"slices"
	"strings"

	"kerfbook/internal/fault"
	"kerfbook/internal/postgres"
)

// SerialTyped leaves the digits of a serial as a person types it, with spaces, dots or
// dashes between them; "" when there is anything else.
func SerialTyped(text string) string {
	digits := strings.Map(func(r rune) rune {
		if strings.ContainsRune(" .-\t\u00a0", r) {
			return -1
		}
		return r
	}, text)
	if strings.Trim(digits, "0123456789") != "" {
		return ""
	}
	return digits
}

// SerialForms gives what a serial that was read off a box may be meant for: what was typed,
// when it has the form of a serial, then with its check digit left out, one digit wrong,
// two neighbours swapped, one digit left out or one too many. Nothing for a text that has
// not 3 to 9 digits. Each has the right check digit, so there are few.
func SerialForms(typed string) []string {
	typed = SerialTyped(typed)
	if len(typed) < 3 || len(typed) > 9 {
		return nil
	}
	forms := []string{}
	add := func(s string) {
		if SerialOK(s) && !slices.Contains(forms, s) {
			forms = append(forms, s)
		}
	}
	add(typed)
	check, _ := CheckDigit(typed) // digits only
	add(typed + string(check))
	for i := range typed {
		for d := '0'; d <= '9'; d++ {
			add(typed[:i] + string(d) + typed[i+1:])
		}
	}
	for i := range len(typed) - 1 {
		add(typed[:i] + typed[i+1:i+2] + typed[i:i+1] + typed[i+2:])
	}
	for i := range len(typed) + 1 {
		for d := '0'; d <= '9'; d++ {
			add(typed[:i] + string(d) + typed[i:])
		}
	}
	for i := range typed {
		add(typed[:i] + typed[i+1:])
	}
	return forms
}

// BoxesLike gives the boxes a typed serial may be meant for, the likeliest first: the one
// that bears it alone when there is one. Errors: Invalid for what cannot be a serial.
func (r *Room) BoxesLike(ctx context.Context, typed string) ([]Box, error) {
	forms := SerialForms(typed)
	if len(forms) == 0 {
		return nil, fault.Bad("/serial", "A serial has 4 to 8 digits. Look at the box again.")
	}
	list, err := postgres.List[Box](ctx, r.db, selectBox+`WHERE b.serial = ANY($1) ORDER BY array_position($1::text[], b.serial) LIMIT 20`, forms)
	if len(list) > 0 && list[0].Serial == SerialTyped(typed) {
		list = list[:1]
	}
	return list, err
}

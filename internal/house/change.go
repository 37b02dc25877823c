package house

import (
	"context"
	"reflect"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"kerfbook/internal/calc/costing"
	"kerfbook/internal/fault"
)

// SettingsChange is SettingsPut after which the figures that changed, and those named in
// own, are guesses no more. Names are columns, such as hour_cost_minor.
func (r *Room) SettingsChange(ctx context.Context, s Settings, own ...string) (Settings, error) {
	var out Settings
	err := r.db.WithTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		old, err := SettingsIn(ctx, tx)
		if err != nil {
			return err
		}
		if s.BusinessNumber != old.BusinessNumber {
			if err := checkBusinessNumber(ctx, s); err != nil {
				return err
			}
		}
		if out, err = r.SettingsPut(ctx, s); err != nil {
			return err
		}
		var known []string
		for _, name := range append(changed(old, out), own...) {
			known = append(known, "workshop."+name)
		}
		return r.GuessClear(ctx, known...)
	})
	return out, err
}

// checkBusinessNumber refuses a number that is no Australian Business Number in a workshop
// there; elsewhere any is taken as typed.
func checkBusinessNumber(ctx context.Context, s Settings) error {
	if s.Country != "AU" || strings.TrimSpace(s.BusinessNumber) == "" {
		return nil
	}
	out, err := costing.BusinessNumber(ctx, costing.BusinessNumberIn{ABN: s.BusinessNumber})
	if err != nil || !out.Valid {
		return fault.Bad("/business_number", "This is no business number (ABN): it has eleven digits, of which two check the others. Look for a wrong or swapped one.")
	}
	return nil
}

// changed gives the columns in which two settings differ.
func changed(a, b Settings) []string {
	var names []string
	va, vb := reflect.ValueOf(a), reflect.ValueOf(b)
	for i := range va.NumField() {
		x, y := va.Field(i).Interface(), vb.Field(i).Interface()
		same := reflect.DeepEqual(x, y)
		if d, ok := x.(decimal.Decimal); ok {
			same = d.Equal(y.(decimal.Decimal))
		}
		if name := va.Type().Field(i).Tag.Get("db"); !same && name != "version" {
			names = append(names, name)
		}
	}
	return names
}

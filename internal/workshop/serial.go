package workshop

import (
	"context"
	"fmt"
	"strconv"

	"github.com/jackc/pgx/v5"

	"kerfbook/internal/fault"
	"kerfbook/internal/house"
)

// damm is a totally anti-symmetric quasigroup of order 10 with zeros on its diagonal.
// Source: H. M. Damm, Total anti-symmetrische Quasigruppen, dissertation, Marburg 2004,
// p. 111, rows and columns rearranged as is usual.
var damm = [10][10]byte{
	{0, 3, 1, 7, 5, 9, 8, 6, 4, 2},
	{7, 0, 9, 2, 1, 5, 4, 8, 6, 3},
	{4, 2, 0, 6, 8, 7, 1, 3, 5, 9},
	{1, 7, 5, 0, 9, 8, 3, 4, 2, 6},
	{6, 1, 2, 3, 0, 4, 5, 9, 7, 8},
	{3, 6, 7, 4, 2, 0, 9, 5, 8, 1},
	{5, 8, 6, 9, 7, 2, 0, 1, 3, 4},
	{8, 9, 4, 5, 3, 6, 2, 0, 1, 7},
	{9, 4, 3, 8, 6, 1, 7, 2, 0, 5},
	{2, 5, 8, 1, 4, 3, 6, 7, 9, 0},
}

// CheckDigit gives the digit that guards a number against one wrong digit and against
// two neighbours swapped. digits holds digits only; ok is false otherwise.
func CheckDigit(digits string) (check byte, ok bool) {
	for i := range len(digits) {
		d := digits[i] - '0'
		if d > 9 {
			return 0, false
		}
		check = damm[check][d]
	}
	return check + '0', true
}

// SerialOK says whether s has the form of a serial: 4 to 8 digits, the last of which is
// the right check digit.
func SerialOK(s string) bool {
	if len(s) < 4 || len(s) > 8 {
		return false
	}
	check, ok := CheckDigit(s)
	return ok && check == '0'
}

// Serials start at 100 and a check digit, so that all have four digits or more.
const firstSerial = 100

// nextSerial takes the next serial in tx. Numbers that old boxes already bear are
// passed over.
func nextSerial(ctx context.Context, tx pgx.Tx) (string, error) {
	for range 10_000 {
		n, err := house.NextNumber(ctx, tx, "box")
		if err != nil {
			return "", err
		}
		digits := strconv.FormatInt(firstSerial-1+n, 10)
		check, _ := CheckDigit(digits) // digits only
		serial := digits + string(check)
		var taken bool
		if err := tx.QueryRow(ctx, `SELECT EXISTS (SELECT FROM box WHERE serial = $1)`, serial).Scan(&taken); err != nil {
			return "", fmt.Errorf("look for serial %s: %w", serial, err)
		}
		if !taken {
			return serial, nil
		}
	}
	return "", fault.New(fault.Conflict, "The next ten thousand serials are all taken. Something is wrong with the counter.")
}

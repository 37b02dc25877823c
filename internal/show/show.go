// Package show writes amounts, dates, sizes and counts the way the pages and papers of
// the workshop have them. It calculates nothing and rounds nothing but what it shows.
package show

import (
	"strconv"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// signs are the currencies that have a sign of their own here; others show their code.
var signs = map[string]string{"AUD": "$", "NZD": "$", "USD": "$", "CAD": "$", "SGD": "$", "EUR": "€", "GBP": "£", "JPY": "¥"}

// Currency is how amounts are shown: an ISO 4217 code and the decimals of its minor unit.
type Currency struct {
	Code        string
	MinorDigits int
}

// Money shows minor units, such as $1,234.50; a minus stands in front of the sign.
func (c Currency) Money(minor int64) string {
	text := c.Plain(minor)
	minus := ""
	if strings.HasPrefix(text, "-") {
		minus, text = "-", text[1:]
	}
	whole, cents, _ := strings.Cut(text, ".")
	text = group(whole)
	if cents != "" {
		text += "." + cents
	}
	if sign, ok := signs[c.Code]; ok {
		return minus + sign + text
	}
	return minus + c.Code + "\u00a0" + text
}

// Plain writes minor units as digits only, such as 1234.50, for forms and CSV.
func (c Currency) Plain(minor int64) string {
	return decimal.New(minor, -int32(c.MinorDigits)).StringFixed(int32(c.MinorDigits))
}

// Parse reads an amount a person typed, such as 1,234.50 or $ 80, into minor units; false
// when it is no amount, has more decimals than the currency, or is beyond all bounds.
func (c Currency) Parse(text string) (int64, bool) {
	text = strings.NewReplacer(",", "", " ", "", "\u00a0", "").Replace(strings.TrimPrefix(strings.TrimSpace(text), c.Code))
	if sign := signs[c.Code]; sign != "" {
		text = strings.TrimPrefix(text, sign)
	}
	d, ok := parseDecimal(text)
	if !ok {
		return 0, false
	}
	d = d.Shift(int32(c.MinorDigits))
	if !d.IsInteger() || d.Abs().Cmp(decimal.New(1, 15)) > 0 {
		return 0, false
	}
	return d.IntPart(), true
}

// Decimal reads a number a person typed, with at most so many decimals; a comma may stand
// for the point. False when it is no plain number.
func Decimal(text string, places int32) (decimal.Decimal, bool) {
	text = strings.Replace(strings.TrimSpace(text), ",", ".", 1)
	d, ok := parseDecimal(text)
	return d, ok && d.Exponent() >= -places
}

// parseDecimal takes digits with a point and a minus only: no exponents, which could
// stand for numbers too large to hold.
func parseDecimal(text string) (decimal.Decimal, bool) {
	if text == "" || len(text) > 30 || strings.Trim(text, "-.0123456789") != "" {
		return decimal.Decimal{}, false
	}
	d, err := decimal.NewFromString(text)
	return d, err == nil
}

// Date shows a business date, such as Tue 3 Mar 2026; nothing for the zero date.
func Date(day time.Time) string {
	if day.IsZero() {
		return ""
	}
	return day.Format("Mon 2 Jan 2006")
}

// DateOr is Date for a date that may be missing.
func DateOr(day *time.Time, otherwise string) string {
	if day == nil {
		return otherwise
	}
	return Date(*day)
}

// ISODate writes a date for a form's date field: 2026-03-03.
func ISODate(day time.Time) string {
	if day.IsZero() {
		return ""
	}
	return day.Format(time.DateOnly)
}

// Time shows an instant in the workshop's zone, such as Tue 3 Mar 2026, 14:05.
func Time(at time.Time, loc *time.Location) string {
	if at.IsZero() {
		return ""
	}
	return at.In(loc).Format("Mon 2 Jan 2006, 15:04")
}

// MM shows millimetres with at most one decimal: 245 or 245.5.
func MM(size decimal.Decimal) string { return size.Round(1).String() }

// BoardSize shows width x thickness, such as 190 x 25 mm.
func BoardSize(width, thickness decimal.Decimal) string {
	return MM(width) + " × " + MM(thickness) + " mm"
}

// Count shows a number of things: 1 box, 2 boxes.
func Count(n int64, one, many string) string {
	if n == 1 || n == -1 {
		return strconv.FormatInt(n, 10) + " " + one
	}
	return group(strconv.FormatInt(n, 10)) + " " + many
}

// Pct shows a percentage with at most one decimal.
func Pct(p decimal.Decimal) string { return p.Round(1).String() + " %" }

// Minutes shows a time of work: 45 min, 1 h 30 min, 2 h.
func Minutes(n int64) string {
	h, m := n/60, n%60
	switch {
	case h == 0:
		return strconv.FormatInt(m, 10) + " min"
	case m == 0:
		return strconv.FormatInt(h, 10) + " h"
	}
	return strconv.FormatInt(h, 10) + " h " + strconv.FormatInt(m, 10) + " min"
}

// group puts a comma between thousands; digits with a minus at most.
func group(digits string) string {
	minus := strings.HasPrefix(digits, "-")
	digits = strings.TrimPrefix(digits, "-")
	var b strings.Builder
	for i, r := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteByte(',')
		}
		b.WriteRune(r)
	}
	if minus {
		return "-" + b.String()
	}
	return b.String()
}

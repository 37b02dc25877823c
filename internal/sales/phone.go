package sales

import (
	"strings"

	"github.com/nyaruka/phonenumbers"
)

// PhoneNormal gives a typed phone number in E.164 (such as +61755500101), read in
// country (ISO 3166-1 alpha-2) where it has no country of its own. What cannot be a
// phone number comes back as its digits, so that it can still be found.
// Source of the form: ITU-T E.164.
func PhoneNormal(typed, country string) string {
	typed = strings.TrimSpace(typed)
	if typed == "" {
		return ""
	}
	if n, err := phonenumbers.Parse(typed, country); err == nil && phonenumbers.IsPossibleNumber(n) {
		return phonenumbers.Format(n, phonenumbers.E164)
	}
	return digits(typed)
}

// PhonePretty gives an E.164 number as people of country write it.
func PhonePretty(normal, country string) string {
	n, err := phonenumbers.Parse(normal, country)
	if err != nil {
		return normal
	}
	if phonenumbers.GetRegionCodeForNumber(n) == country {
		return phonenumbers.Format(n, phonenumbers.NATIONAL)
	}
	return phonenumbers.Format(n, phonenumbers.INTERNATIONAL)
}

func digits(s string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
}
